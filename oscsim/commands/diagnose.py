"""``oscsim diagnose``: is it healthy for what it is, and if not, what is it?"""

from __future__ import annotations

import argparse
from pathlib import Path

import oscsim
from oscsim.commands.bench import add_lift_angle, add_readings, add_required_design, readings_of
from oscsim.commands.options import Commands, add_command, add_number, add_output, answered


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "diagnose",
        "diagnose dockhand readings.csv --report page.pdf", _run,
    )  # fmt: skip
    add_required_design(parser)
    add_readings(parser)
    add_lift_angle(parser)
    parser.add_argument("--robust", action="store_true", help="let single bad readings weigh less")
    add_number(
        parser, "--tolerance", "S_PER_DAY",
        "how far apart the vertical rates may lie at the design's floor, s/day (default: 10)", default=10.0,
    )  # fmt: skip
    parser.add_argument("--report", type=Path, metavar="FILE.pdf", help="write a page to be printed")
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    from oscsim.show.bench_report import check_report_name, report_figure
    from oscsim.show.plots import save_figure

    if options.report is not None:
        check_report_name(options.report)
    found: list[oscsim.Diagnose] = []

    def ask() -> oscsim.Diagnose:
        readings = readings_of(options.readings, options.lift_angle)
        movement = oscsim.load(options.design)
        found.append(
            oscsim.diagnose(movement, readings, robust=options.robust, tolerance_s_per_day=options.tolerance)
        )
        return found[0]

    text = answered(options, ask)
    if options.report is not None:
        save_figure(report_figure(found[0]), options.report, found[0].origin())
    return text
