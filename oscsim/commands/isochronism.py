"""``oscsim isochronism``: how does the rate follow the amplitude?"""

from __future__ import annotations

import argparse

from oscsim.answers.isochronism import AMPLITUDES, Isochronism, isochronism
from oscsim.commands.options import (
    Commands,
    add_command,
    add_number,
    add_output,
    add_positions,
    add_regulation,
    regulated,
)
from oscsim.commands.points import add_around, around
from oscsim.commands.several import add_designs, answered_each
from oscsim.files import load
from oscsim.setting import Setting


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "isochronism", "rate against amplitude, whole and cause by cause",
        "isochronism dockhand --positions CH 12H --amplitudes 180 220 260 300", _run,
    )  # fmt: skip
    add_designs(parser)
    add_positions(parser, "CH")
    span = f"{AMPLITUDES[0]:g} to {AMPLITUDES[-1]:g} by {AMPLITUDES[1] - AMPLITUDES[0]:g}"
    add_number(parser, "--amplitudes", "DEG", f"amplitudes, deg (default: {span})", nargs="+")
    add_number(
        parser, "--torque-ceiling", "X",
        "greatest torque allowed, as a multiple of that at full wind (default: 2)", default=2.0,
    )  # fmt: skip
    add_around(parser)
    add_regulation(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask(design: str) -> Isochronism:
        setting = Setting(positions=options.positions or ("CH",), **around(options))
        amplitudes = AMPLITUDES if options.amplitudes is None else options.amplitudes
        movement = regulated(load(design), options)
        return isochronism(movement, setting, amplitudes, torque_ceiling=options.torque_ceiling)

    return answered_each(options, ask)
