"""Every command on any file and any arguments: exit code 0, or 2 with one line; never a traceback, a warning, a hang.

Source: the contract in README.md. Warnings are errors here (pyproject.toml), so they would come out as tracebacks.
"""

from __future__ import annotations

import argparse
import io
import signal
from collections.abc import Iterator, Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from oscsim import cli

from ..extremes.draw import extreme
from ..sizes import size
from .mangled import SOUND, files, words, write

pytestmark = pytest.mark.usefixtures("briefly")
#: What hangs is stopped after so many seconds; nothing else is timed here.
HANGS = 300
#: A command line for every file that a command reads; FILE stands for it.
READ = {
    "settle FILE --hours 0": "design with everything",
    "settle FILE --positions CH --hours 0 --format json": "design",
    "check FILE": "design with everything",
    "trace FILE": "design",
    "budget FILE --hours 0": "design with everything",
    "change FILE --oil-age 5 --positions CH": "design",
    "rates FILE --positions 12H --hours 0 --regulate": "design",
    "isochronism FILE --amplitudes 200 250": "design with everything",
    "compare FILE packet --positions CH --hours 0": "design",
    "tolerance FILE --examples 20 --no-sobol --positions CH --hours 0": "design with everything",
    "whatif FILE --vary balance.viscous_q 100 300 3": "design",
    "sketch FILE": "design with everything",
    "diagnose dinghy FILE": "readings",
    "poise dinghy FILE": "readings",
    "progress dinghy FILE packet_cleaned": "readings",
    "fit dinghy FILE --free balance.viscous_q": "readings in TOML",
    "swap dockhand --springs FILE": "springs",
    "compare dockhand packet --positions CH --hours 0 --groups FILE": "groups",
}
slow = settings(
    # shrinking a slow command takes long, and what is found can be run as it is
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[
        HealthCheck.function_scoped_fixture,
        HealthCheck.too_slow,
        HealthCheck.data_too_large,
    ],
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder of its own to work in, and an alarm in case something hangs."""
    monkeypatch.chdir(tmp_path)

    def alarm(*_: Any) -> None:
        raise TimeoutError("hangs")

    if not hasattr(signal, "setitimer"):
        yield tmp_path
        return
    before = signal.signal(signal.SIGALRM, alarm)
    yield tmp_path
    signal.setitimer(signal.ITIMER_REAL, 0)
    signal.signal(signal.SIGALRM, before)


def run(arguments: Sequence[str]) -> int:
    """Runs the command line on terminals of their own and holds it to the contract; returns the exit code."""
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, HANGS)
    out = io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True)
    err = io.TextIOWrapper(io.BytesIO(), "utf-8", "backslashreplace", write_through=True)
    with redirect_stdout(out), redirect_stderr(err):
        try:
            code = cli.main(list(arguments))
        except SystemExit as end:  # --help and --version
            code = end.code  # type: ignore[assignment]
    told, complaint = (stream.buffer.getvalue().decode() for stream in (out, err))  # type: ignore[attr-defined]
    if code == 0:
        assert complaint == ""
        assert told.strip()
    elif arguments[0] == "check" and told:  # its findings are its answer
        assert code == 2
        assert complaint == ""
    else:
        assert code == 2
        assert told == ""
        assert complaint.startswith("oscsim: ")
        assert complaint.endswith("\n")
        assert complaint[:-1].isprintable(), complaint
        assert len(complaint) < 1000
    return code


@pytest.mark.parametrize("line", READ)
def test_what_is_in_order_is_answered(line: str, folder: Path) -> None:
    kind = READ[line]
    name = write(folder, "sound", kind, SOUND[kind][1].encode())
    assert run(line.replace("FILE", name).split()) == 0


@given(data=st.data())
@slow
def test_any_file(data: st.DataObject, folder: Path) -> None:
    line = data.draw(st.sampled_from(sorted(READ)))
    name = write(folder, "any", READ[line], data.draw(files(READ[line])))
    run(line.replace("FILE", name).split())


#: Options left out: they would start processes, or make a great many examples.
_LEFT_OUT = ("--workers", "--examples")


def _options(parser: argparse.ArgumentParser) -> list[str]:
    names = [name for action in parser._actions for name in action.option_strings]
    return sorted(name for name in names if name not in _LEFT_OUT)


@st.composite
def command_lines(draw: st.DrawFn) -> list[str]:
    """A command with words in its places and options of its own, or nearly, with any values."""
    parsers = cli.parser_of_all()
    command = draw(st.sampled_from([*sorted(parsers), "setle", "", "-h"]))
    line = [command]
    line += draw(st.lists(st.sampled_from(["dinghy", "packet_cleaned", "."]) | words(), max_size=2))
    known = _options(parsers[command]) if command in parsers else ["--hours"]
    for _ in range(draw(st.integers(0, 3))):
        option = draw(st.sampled_from(known) | st.sampled_from(known).map(lambda name: name[:-1]))
        values = draw(st.lists(words(), max_size=4))
        if option in ("--plot", "--report", "--output", "--store") and values:
            values = [draw(st.sampled_from(["x.png", "x.toml", "x.svg", "x.gif", "x", "no/x.pdf"]) | words())]
        line += [f"{option}={values[0]}"] if len(values) == 1 and draw(st.booleans()) else [option, *values]
    return line


@given(command_lines())
@slow
def test_any_arguments(folder: Path, line: list[str]) -> None:
    run(line)


#: Commands that are tried on watches at the ends of every range; {} stands for the design file.
ON_EXTREMES = (
    "settle {}", "rundown {} --positions CH 12H --step 100", "rates {} --shares", "isochronism {}",
    "ratemap {} --amplitudes 150 200 250 300", "band {}", "trace {}", "trace {} --from 90 --duration 3",
    "budget {} --hours 0 24", "compare {} dockhand --positions CH",
    "whatif {} --vary escapement.lock_deg 1 3 3", "whatif {} --sensitivities", "change {} --oil-age 5",
    "swap {} --height 1.3 --thickness 0.1 --length 300", "tolerance {} --examples 20 --hours 0", "check {}",
    "diagnose {} packet_cleaned", "poise {} packet_cleaned", "progress {} packet_dirty_pivots packet_cleaned",
    "fit {} packet_cleaned --free balance.viscous_q",
)  # fmt: skip


@pytest.mark.parametrize("command", ON_EXTREMES)
def test_extreme_designs(command: str, folder: Path) -> None:
    """Source of the designs: tests/extremes; each command gets other ones."""
    import oscsim

    place, each = ON_EXTREMES.index(command), size(1, 3)
    for number in range(3 * place, 3 * place + each):
        oscsim.save(extreme(number).movement, folder / "extreme.toml")
        run(command.replace("{}", "extreme.toml").split())
