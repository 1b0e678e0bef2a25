"""``oscsim band``: how low is still sound?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.commands.options import (
    Commands,
    add_command,
    add_number,
    add_output,
    add_regulation,
    add_temperature,
    regulated,
)
from oscsim.commands.points import add_condition, condition_of
from oscsim.commands.several import add_designs, answered_each


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "band",
        "band dockhand --tolerance 5 --unbalance 8", _run,
    )  # fmt: skip
    add_designs(parser)
    add_number(
        parser, "--tolerance", "S_PER_DAY", "how far apart the vertical rates may lie, s/day (default: 10)",
        default=10.0,
    )  # fmt: skip
    add_number(parser, "--unbalance", "UG_CM", "want of poise, µg·cm (default: the design's)")
    add_number(
        parser, "--heavy-point", "DEG",
        "where the heavy point rests, deg clockwise from 12 o'clock (default: where the spread is greatest)",
    )  # fmt: skip
    add_temperature(parser)
    add_condition(parser)
    add_regulation(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask(design: str) -> oscsim.Band:
        return oscsim.band(
            regulated(oscsim.load(design), options),
            options.tolerance,
            oscsim.Setting(
                temperature_c=options.temperature, condition=condition_of("--condition", options.condition)
            ),
            unbalance_ug_cm=options.unbalance,
            heavy_point_deg=options.heavy_point,
        )

    return answered_each(options, ask)
