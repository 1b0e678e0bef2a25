"""docs/what-if.md: what it shows is what the commands print, and what it lists is what there is."""

import re
import shlex
import tomllib
from dataclasses import fields
from pathlib import Path

import pytest

from oscsim.answers.attribution import READY
from oscsim.answers.budget import PLACES
from oscsim.commands.compare import read_groups
from oscsim.condition import Condition
from oscsim.escapements import detent, lever
from oscsim.oil import LEAST, MIDDLE, MOST

PAGE = (Path(__file__).parents[1] / "docs" / "what-if.md").read_text("utf-8")
SHOWN = re.findall(r"^```text\n\$ (oscsim [^\n]*)\n\.\.\.\n(.*?)^```", PAGE, re.MULTILINE | re.DOTALL)


def _rows(heading):
    """Cells of the table under this heading line."""
    rows = PAGE.split(f"\n{heading}\n| --- ")[1].split("\n\n")[0].splitlines()[1:]
    return [[cell.strip() for cell in row.strip("| ").split(" | ")] for row in rows]


@pytest.mark.parametrize(("line", "lines"), SHOWN)
def test_shown_lines_are_printed(line, lines, command):
    code, out, err = command(*shlex.split(line)[1:])
    assert (code, err) == (0, "")
    assert lines in f"{out}\n"


def test_enough_is_shown():
    assert len(SHOWN) == 8


def test_places_and_their_words():
    rows = _rows("| key | in the table | what it is |")
    own = lever.WORDS.keys() | (PLACES.keys() - detent.WORDS.keys())
    assert {cells[0].strip("`"): cells[1] for cells in rows} == {p: w for p, w in PLACES.items() if p in own}


def test_causes():
    told = " ".join(cells[0] for cells in _rows("| cause | what is taken away |"))
    for cause in lever.REMOVALS:
        assert cause.removeprefix("balance drag ") in told


def test_groups():
    rows = _rows("| group | within it |")
    assert [cells[0] for cells in rows] == list(READY)
    assert [tuple(cells[1].split("; ")) for cells in rows] == list(READY.values())


def test_the_groups_file(tmp_path):
    example = re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL).group(1)
    path = tmp_path / "groups.toml"
    path.write_text(example, "utf-8")
    assert list(read_groups(path)) == list(tomllib.loads(example))


def test_every_condition_is_listed_with_its_default():
    rows = _rows("| condition | what it does | default | from |")
    told = {name: cells[2] for cells in rows for name in re.findall(r"`(\w+)`", cells[0])}
    assert told == {f.name: "absent" if f.default is None else f"{f.default:g}" for f in fields(Condition)}
    for kind in ("stone", "brass", "drag"):
        low, middle, high = (getattr(dry, kind) for dry in (LEAST, MIDDLE, MOST))
        assert f"{middle:.2f} times ({low:.2f} to {high:.2f})" in " ".join(PAGE.split())
