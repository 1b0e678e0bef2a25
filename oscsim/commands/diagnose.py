"""``oscsim diagnose``: is it low because something is wrong, or because it was made so, and what is it?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.commands.bench import (
    add_findings,
    add_lift_angle,
    add_readings,
    add_report,
    add_what,
    check_report,
    readings_of,
    with_options,
    write_report,
)
from oscsim.commands.options import Commands, add_command, add_number, add_output, answered


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "diagnose",
        "diagnose dockhand readings.csv --report page.pdf", _run,
    )  # fmt: skip
    add_what(parser)
    add_readings(parser)
    add_lift_angle(parser)
    add_findings(parser)
    add_number(
        parser, "--worth", "DEG",
        "loss of amplitude worth opening the movement for, deg (default: 20)", default=20.0,
    )  # fmt: skip
    add_report(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    check_report(options)
    found: list[oscsim.Diagnose] = []
    sets: dict[str, oscsim.Readings] = {}

    def ask() -> oscsim.Diagnose:
        sets["readings"] = with_options(readings_of(options.readings, options.lift_angle), options)
        found.append(oscsim.diagnose(options.what, sets["readings"], worth_deg=options.worth))
        return found[0]

    text = answered(options, ask)
    write_report(options, found[0], sets)
    return text
