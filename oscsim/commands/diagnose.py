"""``oscsim diagnose``: is it low because something is wrong, or because it was made so, and what is it?"""

from __future__ import annotations

import argparse
from pathlib import Path

import oscsim
from oscsim.commands.bench import add_lift_angle, add_readings, add_what, readings_of
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
    add_worth(parser)
    parser.add_argument("--report", type=Path, metavar="FILE.pdf", help="write a page to be printed")
    add_output(parser)


def add_worth(parser: argparse.ArgumentParser) -> None:
    add_number(
        parser,
        "--worth",
        "DEG",
        "loss of amplitude worth opening the movement for, deg (default: 20)",
        default=20.0,
    )


def _run(options: argparse.Namespace) -> str:
    from oscsim.show.bench_report import check_report_name, report_figure
    from oscsim.show.plots import save_figure

    if options.report is not None:
        check_report_name(options.report)
    found: list[oscsim.Diagnose] = []

    def ask() -> oscsim.Diagnose:
        readings = readings_of(options.readings, options.lift_angle)
        found.append(oscsim.diagnose(options.what, readings, worth_deg=options.worth))
        return found[0]

    text = answered(options, ask)
    if options.report is not None:
        save_figure(report_figure(found[0]), options.report, found[0].origin())
    return text
