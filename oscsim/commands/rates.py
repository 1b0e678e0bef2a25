"""``oscsim rates``: how do the positions rate?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.answers.without import WITHOUT
from oscsim.commands.options import (
    Commands,
    add_command,
    add_number,
    add_output,
    add_positions,
    add_regulation,
    regulated,
)
from oscsim.commands.points import add_around, add_hours, around
from oscsim.commands.several import add_designs, answered_each
from oscsim.units import POSITIONS


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "rates",
        "rates dockhand --regulate --shares", _run,
    )  # fmt: skip
    add_designs(parser)
    add_positions(parser, "all six")
    add_hours(parser)
    add_number(parser, "--lift-angle", "DEG", "lift angle the instrument is told, deg")
    add_around(parser)
    add_regulation(parser)
    parser.add_argument("--shares", action="store_true", help="also show what each cause adds to every rate")
    parser.add_argument(
        "--without", nargs="+", default=(), metavar="CAUSE",
        help=f"take causes out of the movement, before it is regulated: {', '.join(WITHOUT)}",
    )  # fmt: skip
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask(design: str) -> oscsim.Rates:
        setting = oscsim.Setting(
            positions=options.positions or tuple(POSITIONS),
            hours=options.hours or (0.0, 24.0),
            lift_angle_deg=options.lift_angle,
            **around(options),
        )
        movement = oscsim.without(oscsim.load(design), options.without)
        return oscsim.rates(regulated(movement, options), setting, shares=options.shares)

    return answered_each(options, ask)
