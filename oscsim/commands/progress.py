"""``oscsim progress``: what did the work change, and is it what was predicted?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.commands.bench import (
    add_lift_angle,
    add_readings,
    add_report,
    add_what,
    check_report,
    readings_of,
    write_report,
)
from oscsim.commands.options import Commands, add_command, add_number, add_output, answered


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "progress",
        "progress dockhand before.csv after.csv --done mainspring oil", _run,
    )  # fmt: skip
    add_what(parser)
    add_readings(parser, "before", "readings before the work, as for diagnose")
    add_readings(
        parser, "after", "readings after the work, at the same positions and hours as far as possible"
    )
    parser.add_argument(
        "--done", nargs="+", metavar="CAUSE",
        help="what was put right, names of causes as diagnose gives them, such as mainspring, oil, pivot_vertical, "
             "unbalance (default: the likeliest cause before)",
    )  # fmt: skip
    add_lift_angle(parser)
    add_number(
        parser, "--lift-angle-after", "DEG",
        "lift angle the instrument was told after the work, deg (default: as before)",
    )  # fmt: skip
    add_report(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    check_report(options)
    found: list[oscsim.Progress] = []
    sets: dict[str, oscsim.Readings] = {}

    def ask() -> oscsim.Progress:
        sets["before"] = readings_of(options.before, options.lift_angle)
        told = options.lift_angle_after if options.lift_angle_after is not None else options.lift_angle
        sets["after"] = readings_of(options.after, told)
        found.append(oscsim.progress(options.what, sets["before"], sets["after"], done=options.done))
        return found[0]

    text = answered(options, ask)
    write_report(options, found[0], sets)
    return text
