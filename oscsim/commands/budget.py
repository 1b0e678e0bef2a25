"""``oscsim budget``: where does the energy go, and what does each share cost?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.commands.options import Commands, add_command, add_output
from oscsim.commands.points import add_points, setting_of
from oscsim.commands.several import add_designs, answered_each


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "budget",
        "budget dockhand --positions CH 12H --hours 0 24 --plot budget.png", _run,
    )  # fmt: skip
    add_designs(parser)
    add_points(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask(design: str) -> oscsim.Budget:
        return oscsim.budget(oscsim.load(design), setting_of(options))

    return answered_each(options, ask)
