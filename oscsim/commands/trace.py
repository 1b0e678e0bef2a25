"""``oscsim trace``: what happens within a beat, and how does the watch start or die away?"""

from __future__ import annotations

import argparse
from collections.abc import Callable

import oscsim
from oscsim.commands.options import (
    Commands,
    add_command,
    add_number,
    add_output,
    number,
)
from oscsim.commands.points import add_around, around, assigned
from oscsim.commands.several import add_designs, answered_each
from oscsim.errors import InputError
from oscsim.units import POSITIONS

_BEATS, _SAMPLES = 2, 60
_LONG, _EVERY = 1800.0, 5.0


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
    add_number(
        parser, "--duration", "S",
        "with --from: follow swing after swing for this time, s; with --ripple: how long is read (default: 1800)",
    )  # fmt: skip
    parser.add_argument(
        "--ripple", nargs="*", metavar="NAME=PERCENT",
        help="the amplitude over minutes as a bench would see it: sound teeth, and faults by name in per cent of "
        "torque, half of peak to peak, such as fourth=3 or 'second hand=2'",
    )  # fmt: skip
    add_number(
        parser, "--every", "S", f"with --ripple: time from one reading to the next, s (default: {_EVERY:g})"
    )
    add_number(parser, "--noise", "DEG", "with --ripple: noise of one reading, deg (default: 0)")
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

    if options.ripple is not None:
        return _breathing(options, setting)
    for name in ("every", "noise"):
        if getattr(options, name) is not None:
            raise InputError(f"--{name}: give --ripple with it")
    if options.duration is None:
        return answered_each(options, beats)
    if options.start is None:
        raise InputError("--duration: give the swing at the start with it, --from DEG")
    if options.beats is not None or options.samples is not None:
        raise InputError("--duration, --beats, --samples: give a duration, or beats and samples, not both")
    return answered_each(options, swings)


def _breathing(options: argparse.Namespace, setting: Callable[[], oscsim.Setting]) -> str:
    for name in ("start", "beats", "samples"):
        if getattr(options, name) is not None:
            raise InputError(f"--ripple, --{'from' if name == 'start' else name}: give one of them, not both")
    faults = assigned("--ripple", options.ripple)

    def ask(design: str) -> oscsim.Breathing:
        return oscsim.breathing(
            oscsim.load(design),
            setting(),
            faults_percent=faults,
            duration_s=_LONG if options.duration is None else options.duration,
            every_s=_EVERY if options.every is None else options.every,
            noise_deg=0.0 if options.noise is None else options.noise,
        )

    return answered_each(options, ask)
