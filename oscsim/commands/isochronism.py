"""``oscsim isochronism``: how does the rate follow the amplitude?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.commands.options import (
    Commands,
    add_amplitudes,
    add_command,
    add_number,
    add_output,
    add_positions,
    add_regulation,
    regulated,
)
from oscsim.commands.points import add_around, around
from oscsim.commands.several import add_designs, add_together, answered_each


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "isochronism",
        "isochronism dockhand --positions CH 12H --amplitudes 180 220 260 300", _run,
    )  # fmt: skip
    add_designs(parser)
    add_positions(parser, "CH")
    add_amplitudes(parser, "120 to 330 by 5")
    add_number(
        parser, "--torque-ceiling", "X",
        "greatest torque allowed, as a multiple of that at full wind (default: 2)", default=2.0,
    )  # fmt: skip
    add_around(parser)
    add_regulation(parser)
    add_output(parser)
    add_together(parser)


def _run(options: argparse.Namespace) -> str:
    def ask(design: str) -> oscsim.Isochronism:
        setting = oscsim.Setting(positions=options.positions or ("CH",), **around(options))
        movement = regulated(oscsim.load(design), options)
        return oscsim.isochronism(
            movement, setting, options.amplitudes, torque_ceiling=options.torque_ceiling
        )

    return answered_each(options, ask)
