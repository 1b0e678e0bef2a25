"""What the bench's commands share: a design and readings taken of it."""

from __future__ import annotations

import argparse
from typing import Any

import oscsim
from oscsim.commands.options import add_number

READINGS_HELP = (
    "a CSV file with the headings position, hours and any of amplitude_deg, rate_s_per_day, beat_error_ms, or a TOML "
    "file, or the name of bundled readings (oscsim designs --readings)"
)


def add_required_design(parser: argparse.ArgumentParser) -> None:
    """The design, which readings cannot do without."""
    parser.add_argument("design", metavar="DESIGN", help="a design file, or the name of a bundled design")


def add_readings(parser: argparse.ArgumentParser, name: str = "readings", text: str = READINGS_HELP) -> None:
    parser.add_argument(name, metavar=f"{name.upper()}.csv", help=text)


def add_lift_angle(parser: argparse.ArgumentParser) -> None:
    add_number(
        parser, "--lift-angle", "DEG",
        "lift angle the instrument was told, deg (default: the file's, else the design's own)",
    )  # fmt: skip


def readings_of(path: str, lift_angle_deg: Any) -> oscsim.Readings:
    """The readings, with the lift angle as the options have it; raises InputError."""
    from oscsim.setting import LIFT_ANGLE

    if lift_angle_deg is not None:
        LIFT_ANGLE.check("--lift-angle", lift_angle_deg)
    return oscsim.load_readings(path, lift_angle_deg)
