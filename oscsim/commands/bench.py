"""What the bench's commands share: a design and readings taken of it."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import Any

import oscsim
from oscsim.commands.options import number
from oscsim.errors import InputError

#: Said of a lift angle that nobody knows.
UNKNOWN = "unknown"

READINGS_HELP = (
    "a CSV file with the headings position, hours and any of amplitude_deg, rate_s_per_day, beat_error_ms, or a TOML "
    "file, or the name of bundled readings (oscsim designs --readings)"
)


def add_required_design(parser: argparse.ArgumentParser) -> None:
    """The design, which readings cannot do without."""
    parser.add_argument("design", metavar="DESIGN", help="a design file, or the name of a bundled design")


def add_what(parser: argparse.ArgumentParser) -> None:
    """A design, a fitted one, a sketch or a slip."""
    parser.add_argument(
        "what", metavar="WHAT",
        help="what is known: a design file, the name of a bundled design, a sketch, or a slip of what a bench knows",
    )  # fmt: skip


def add_readings(parser: argparse.ArgumentParser, name: str = "readings", text: str = READINGS_HELP) -> None:
    parser.add_argument(name, metavar=f"{name.upper()}.csv", help=text)


def add_lift_angle(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--lift-angle", metavar="DEG", type=_lift,
        help="lift angle the instrument was told, deg, or unknown (default: the file's, else the design's own)",
    )  # fmt: skip


def _lift(text: str) -> float | str:
    return UNKNOWN if text.strip().lower() in (UNKNOWN, "?") else number(text)


def readings_of(path: str, lift_angle_deg: Any) -> oscsim.Readings:
    """The readings, with the lift angle as the options have it; raises InputError."""
    from oscsim.setting import LIFT_ANGLE

    if lift_angle_deg == UNKNOWN:
        return oscsim.load_readings(path, lift_known=False)
    if lift_angle_deg is not None:
        LIFT_ANGLE.check("--lift-angle", lift_angle_deg)
    return oscsim.load_readings(path, lift_angle_deg)


def add_findings(parser: argparse.ArgumentParser) -> None:
    """What was found beside the readings."""
    parser.add_argument(
        "--sister", action="append", default=[], metavar="READINGS.csv",
        help="readings of another movement of the kind that is known to be in order; may be given several times",
    )  # fmt: skip
    parser.add_argument(
        "--looked", action="append", default=[], metavar="NAME=VALUE",
        help="what was looked at or measured: lock_deg=2.1, barrel_torque_n_mm=6.2, escape_torque_un_m=2.4, "
        "balance_mass_mg=61, usual_amplitude_deg=280, pivot_sides_worn=true",
    )  # fmt: skip


def findings_of(options: argparse.Namespace) -> oscsim.Findings:
    """The findings that the options give; raises InputError."""
    from oscsim.slips.findings import findings_from
    from oscsim.slips.reading_files import sister_of

    looked: dict[str, Any] = {}
    for word in options.looked:
        name, sign, value = word.partition("=")
        if not sign:
            raise InputError(f"--looked {word}: must be NAME=VALUE, such as lock_deg=2.1")
        truth = {"true": True, "yes": True, "false": False, "no": False}
        looked[name.strip()] = truth.get(value.strip().lower(), number(value))
    return findings_from({"looked": looked}, "--looked", tuple(sister_of(path) for path in options.sister))


def add_about(parser: argparse.ArgumentParser) -> None:
    """What a printed page says of the job."""
    for name, text in (
        ("date", "date of the job"),
        ("job", "number of the job"),
        ("name", "whose watch it is, or what it is called"),
        ("remarks", "remarks"),
    ):
        parser.add_argument(
            f"--{name}", metavar="TEXT", help=f"{text}, for the report (default: the readings file's)"
        )


def with_options(readings: oscsim.Readings, options: argparse.Namespace) -> oscsim.Readings:
    """The readings with findings and words for the report as the options have them; raises InputError."""
    from oscsim.slips.findings import check_sisters, merged

    found = (
        merged(readings.findings, findings_of(options)) if hasattr(options, "sister") else readings.findings
    )
    check_sisters(found, readings.rows)
    told = {
        key: value for key in ("date", "job", "name", "remarks") if (value := getattr(options, key, None))
    }
    return replace(readings, findings=found, about=replace(readings.about, **told))


def add_report(parser: argparse.ArgumentParser) -> None:
    """The page to be printed, and what it says of the job."""
    parser.add_argument("--report", type=Path, metavar="FILE.pdf", help="write a page to be printed")
    add_about(parser)


def check_report(options: argparse.Namespace) -> None:
    """Raise InputError, before anything is computed, when the report's file must not be written."""
    from oscsim.show.report import check_report_name

    if options.report is not None:
        check_report_name(options.report)


def write_report(options: argparse.Namespace, answer: Any, sets: dict[str, oscsim.Readings]) -> None:
    """Write the report of an answer about these readings, by what they are called, if one is asked for."""
    from oscsim.show.report import report_pages, save_report

    if options.report is not None:
        about = with_options(next(iter(sets.values())), options).about
        save_report(report_pages(answer, sets, about), options.report, answer.origin())
