"""``oscsim hairspring``: what does the shape of the hairspring do?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.commands.options import Commands, add_amplitudes, add_command, add_numbers, add_output
from oscsim.commands.several import add_designs, answered_each

#: The default one among those of the bundled designs whose spring is drawn: a flat spring, which breathes to one side.
_DRAWN = "dinghy"


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "hairspring",
        "hairspring tidewaiter --amplitudes 180 220 270 --plot hairspring.png", _run,
    )  # fmt: skip
    add_designs(parser, _DRAWN)
    add_numbers(parser, "--angles", "DEG", "angles of the balance, deg (default: 0, ±90, ±180, ±270, ±330)")
    add_amplitudes(parser, "120 to 320")
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask(design: str) -> oscsim.HairspringShape:
        return oscsim.hairspring(oscsim.load(design), options.angles, options.amplitudes)

    return answered_each(options, ask)
