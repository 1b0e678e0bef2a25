"""``oscsim ageing``: what do years without service do?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.commands.options import (
    Commands,
    add_command,
    add_number,
    add_numbers,
    add_output,
    add_temperature,
    answered,
)
from oscsim.commands.points import add_condition, condition_of
from oscsim.commands.several import add_designs, expanded


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "ageing", "ageing dockhand packet --years 0 1 2 5 10 --plot years.png", _run
    )
    add_designs(parser)
    add_numbers(parser, "--years", "Y", "years without service (default: 0 1 2 5 10)")
    add_number(
        parser, "--limit", "DEG", "amplitude 12 up after a day below which it needs service, deg (default: 180)",
        default=180.0,
    )  # fmt: skip
    add_temperature(parser)
    add_condition(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask() -> oscsim.Ageing:
        setting = oscsim.Setting(
            temperature_c=options.temperature, condition=condition_of("--condition", options.condition)
        )
        years = (0.0, 1.0, 2.0, 5.0, 10.0) if options.years is None else options.years
        designs = [oscsim.load(design) for design in expanded(options.designs)]
        return oscsim.ageing(designs, setting, years=years, limit_deg=options.limit)

    return answered(options, ask)
