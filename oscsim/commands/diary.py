"""``oscsim diary``: what does a diary of daily errors tell?"""

from __future__ import annotations

import argparse
from pathlib import Path

import oscsim
from oscsim.commands.days import add_wearer, wearer
from oscsim.commands.options import Commands, add_command, add_output, answered
from oscsim.commands.points import add_condition, condition_of


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "diary",
        "diary dockhand dockhand_september", _run,
    )  # fmt: skip
    parser.add_argument("design", metavar="DESIGN", help="a design file, or the name of a bundled design")
    parser.add_argument(
        "diary",
        type=Path,
        metavar="DIARY.csv",
        help="day or date, error_s, hours_worn, set; or a bundled one by name",
    )
    add_wearer(parser)
    add_condition(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    return answered(
        options,
        lambda: oscsim.diary(
            oscsim.load(options.design),
            oscsim.load_diary(options.diary),
            condition=condition_of("--condition", options.condition),
            **wearer(options),
        ),
    )
