"""``oscsim rundown``: how does the amplitude fall until the watch stops?"""

from __future__ import annotations

import argparse

import oscsim
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
from oscsim.commands.several import add_designs, add_together, answered_each
from oscsim.units import POSITIONS


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "rundown",
        "rundown dockhand --plot rundown.png", _run,
    )  # fmt: skip
    add_designs(parser)
    add_positions(parser, "all six")
    add_number(parser, "--step", "H", "hours between points (default: 1)", default=1.0)
    add_around(parser)
    add_regulation(parser)
    add_output(parser)
    add_together(parser)


def _run(options: argparse.Namespace) -> str:
    def ask(design: str) -> oscsim.RunDown:
        setting = oscsim.Setting(positions=options.positions or tuple(POSITIONS), **around(options))
        return oscsim.rundown(regulated(oscsim.load(design), options), setting, step_h=options.step)

    return answered_each(options, ask)
