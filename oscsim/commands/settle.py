"""``oscsim settle``: what amplitude should this movement show?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.commands.options import (
    Commands,
    add_command,
    add_number,
    add_numbers,
    add_output,
    add_positions,
    add_regulation,
    regulated,
)
from oscsim.commands.points import add_around, add_hours, around
from oscsim.commands.several import add_designs, add_together, answered_each
from oscsim.errors import InputError


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "settle",
        "settle dockhand --positions CH 12H --hours 0 24", _run,
    )  # fmt: skip
    add_designs(parser)
    add_positions(parser, "CH 12H")
    add_hours(parser)
    add_numbers(parser, "--turns", "N", "turns wound, in place of hours")
    add_number(parser, "--lift-angle", "DEG", "lift angle the instrument is told, deg")
    add_around(parser)
    add_regulation(parser)
    add_output(parser)
    add_together(parser)


def _run(options: argparse.Namespace) -> str:
    if options.hours and options.turns:
        raise InputError("--hours, --turns: give one of the two, not both")

    def ask(design: str) -> oscsim.Settle:
        setting = oscsim.Setting(
            positions=options.positions or ("CH", "12H"),
            hours=options.hours or ((0.0,) if options.turns else (0.0, 24.0)),
            turns=options.turns,
            lift_angle_deg=options.lift_angle,
            **around(options),
        )
        return oscsim.settle(regulated(oscsim.load(design), options), setting)

    return answered_each(options, ask)
