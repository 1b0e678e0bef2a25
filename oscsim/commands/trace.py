"""``oscsim trace``: what happens within a beat, and how does the watch start or die away?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.commands.options import (
    Commands,
    add_command,
    add_number,
    add_output,
    number,
)
from oscsim.commands.points import add_around, around
from oscsim.commands.several import add_designs, answered_each
from oscsim.errors import InputError
from oscsim.units import POSITIONS

_BEATS, _SAMPLES = 2, 60


def _count(text: str) -> int | float | str:
    """A whole number; anything else goes on to the check that knows the range."""
    try:
        return int(text)
    except ValueError:
        return number(text)


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "trace",
        "trace dockhand --position 12H --from 30 --duration 60 --plot start.png", _run,
    )  # fmt: skip
    add_designs(parser)
    parser.add_argument(
        "--position", metavar="POS", default="CH",
        help=f"one of {' '.join(POSITIONS)} (ISO 3158) or plain words such as 'dial up' (default: CH)",
    )  # fmt: skip
    add_number(parser, "--hours", "H", "hours since full wind (default: 0)", default=0.0)
    add_around(parser)
    add_number(
        parser, "--from", "DEG",
        "swing at the start, deg, on the left: a start by hand, or beyond the knock limit a shock "
        "(default: the settled swing)", dest="start",
    )  # fmt: skip
    parser.add_argument("--beats", type=_count, metavar="N", help=f"beats to be followed (default: {_BEATS})")
    parser.add_argument(
        "--samples", type=_count, metavar="N", help=f"samples of each phase (default: {_SAMPLES})"
    )
    add_number(parser, "--duration", "S", "with --from: follow swing after swing for this time, s")
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def setting() -> oscsim.Setting:
        return oscsim.Setting(positions=options.position, hours=options.hours, **around(options))

    def swings(design: str) -> oscsim.Transient:
        return oscsim.transient(
            oscsim.load(design), setting(), swing_deg=options.start, duration_s=options.duration
        )

    def beats(design: str) -> oscsim.Trace:
        return oscsim.trace(
            oscsim.load(design),
            setting(),
            beats=_BEATS if options.beats is None else options.beats,
            swing_deg=options.start,
            samples=_SAMPLES if options.samples is None else options.samples,
        )

    if options.duration is None:
        return answered_each(options, beats)
    if options.start is None:
        raise InputError("--duration: give the swing at the start with it, --from DEG")
    if options.beats is not None or options.samples is not None:
        raise InputError("--duration, --beats, --samples: give a duration, or beats and samples, not both")
    return answered_each(options, swings)
