"""``oscsim ratemap``: where does a poise fault show, and where does it hide?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.commands.options import (
    Commands,
    add_amplitudes,
    add_command,
    add_number,
    add_output,
    add_regulation,
    regulated,
)
from oscsim.commands.points import add_around, around
from oscsim.commands.several import add_designs, answered_each


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "ratemap",
        "ratemap dockhand --unbalance 10 --plot map.png", _run,
    )  # fmt: skip
    add_designs(parser)
    parser.add_argument("--position", default="12H", metavar="POS", help="vertical position (default: 12H)")
    add_number(parser, "--unbalance", "UG_CM", "want of poise, µg·cm (default: the design's)")
    add_amplitudes(parser, "60 from 120 to 330")
    add_around(parser)
    add_regulation(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask(design: str) -> oscsim.RateMap:
        setting = oscsim.Setting(positions=options.position, **around(options))
        movement = regulated(oscsim.load(design), options)
        return oscsim.ratemap(
            movement, setting, amplitudes_deg=options.amplitudes, unbalance_ug_cm=options.unbalance
        )

    return answered_each(options, ask)
