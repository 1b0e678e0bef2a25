"""Files of any bytes: read, or refused in one line. Nothing else comes out of a reader, a warning included.

Source: the contract in README.md. The commands that read the files are tried in test_any_command.py.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import oscsim
from oscsim.answers.candidates import read_candidates
from oscsim.commands.compare import read_groups
from oscsim.slips.reading_files import load_readings

from .mangled import SOUND, files, write

READERS: dict[str, Callable[[str], object]] = {
    "design": oscsim.load,
    "design with everything": oscsim.load,
    "readings": load_readings,
    "readings in TOML": load_readings,
    "springs": read_candidates,
    "groups": lambda path: read_groups(Path(path)),
}
in_a_folder = settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])


@contextmanager
def one_line() -> Iterator[None]:
    """Holds a refusal to the rules: one short printable line."""
    try:
        yield
    except oscsim.InputError as error:
        line = str(error)
        assert line.isprintable(), line
        assert 0 < len(line) < 1000


@pytest.mark.parametrize("kind", READERS)
def test_what_is_in_order_is_read(kind: str, tmp_path: Path) -> None:
    READERS[kind](str(tmp_path / write(tmp_path, "sound", kind, SOUND[kind][1].encode())))


@pytest.mark.parametrize("kind", READERS)
@given(data=st.data())
@in_a_folder
def test_any_file_is_read_or_refused_in_one_line(kind: str, data: st.DataObject, tmp_path: Path) -> None:
    content = data.draw(files(kind))
    with one_line():
        READERS[kind](str(tmp_path / write(tmp_path, "any", kind, content)))


@given(data=st.data())
@in_a_folder
def test_what_is_read_can_be_written_and_read_again(data: st.DataObject, tmp_path: Path) -> None:
    content = data.draw(files("design with everything"))
    with one_line():
        movement = oscsim.load(tmp_path / write(tmp_path, "any", "design", content))
        oscsim.save(movement, tmp_path / "again.toml")
        assert oscsim.load(tmp_path / "again.toml") == movement
