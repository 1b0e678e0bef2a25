"""Options of the commands that answer at chosen positions and hours, in a chosen condition."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar

import oscsim
from oscsim.commands.options import add_number, add_numbers, add_positions, add_temperature, add_tilt, number
from oscsim.errors import InputError, nearest, shown

InUse = TypeVar("InUse", "oscsim.Compare", "oscsim.Swap", "oscsim.WhatIf")
#: What a condition is made of; a test holds that it is all of ``oscsim.Condition``, which loads NumPy.
CONDITION = (
    "drive",
    "mainspring",
    "pivot_vertical",
    "pivot_flat",
    "drag",
    "pallet_friction",
    "worn_brass",
    "lock_deg",
    "unbalance_ug_cm",
    "heavy_point_deg",
    "out_of_beat_deg",
    "regulation_s_per_day",
    "cubic_stiffness",
    "oil_age_years",
)

#: Units of numbers by the end of their name; a number with its unit behind it is understood.
_ENDINGS = {"beats_per_hour": "beats/h", "_mm": "mm", "_deg": "deg", "_mg": "mg", "_s_per_day": "s/day"}


def add_points(parser: argparse.ArgumentParser, *, condition: bool = True) -> None:
    """Positions, hours, tilt, temperature and, unless the command has its own, the condition."""
    add_positions(parser, "CH 12H")
    add_hours(parser)
    add_around(parser, condition=condition)


def add_hours(parser: argparse.ArgumentParser) -> None:
    add_numbers(parser, "--hours", "H", "hours since full wind (default: 0 24)")


def add_around(parser: argparse.ArgumentParser, *, condition: bool = True) -> None:
    """Tilt, temperature and condition: what an answer depends on beside design, position and wind."""
    add_tilt(parser)
    add_temperature(parser)
    if condition:
        add_condition(parser)


def add_morning(parser: argparse.ArgumentParser) -> None:
    """Ask the answer in use."""
    add_number(
        parser, "--morning", "HOURS_WORN",
        "add what each shows in the morning of a usual day, worn so many hours (default: 14) and laid dial up",
        nargs="?", const=14.0,
    )  # fmt: skip


def in_use(options: argparse.Namespace, answer: InUse) -> InUse | oscsim.Morning:
    """The answer, asked in use where ``add_morning`` asked for it."""
    return answer if options.morning is None else oscsim.morning(answer, hours_worn=options.morning)


def add_condition(parser: argparse.ArgumentParser) -> None:
    add_assignments(parser, "--condition", "wear, oil and faults beside the design, such as oil_age_years=5")


def around(options: argparse.Namespace) -> dict[str, Any]:
    """What ``add_around`` asked for, as ``Setting`` takes it; raises InputError."""
    return {
        "tilt_deg": options.tilt,
        "temperature_c": options.temperature,
        "condition": condition_of("--condition", options.condition),
    }


def add_assignments(parser: argparse.ArgumentParser, name: str, text: str) -> None:
    parser.add_argument(name, nargs="+", default=(), metavar="NAME=VALUE", help=text)


def setting_of(options: argparse.Namespace, condition: oscsim.Condition | None = None) -> oscsim.Setting:
    """The setting that the options ask for; raises InputError."""
    about = around(options) | ({} if condition is None else {"condition": condition})
    return oscsim.Setting(
        positions=options.positions or ("CH", "12H"), hours=options.hours or (0.0, 24.0), **about
    )


def assigned(option: str, words: Sequence[str]) -> dict[str, Any]:
    """NAME=VALUE words as a table: whole numbers, numbers, lists in brackets, 'none', or text for the check that knows
    better."""
    found: dict[str, Any] = {}
    for word in words:
        name, equals, text = word.partition("=")
        if not equals or not name or not text:
            raise InputError(f"{option} {shown(word)}: expected NAME=VALUE")
        if "," in text and "=" in text:
            raise InputError(f"{option} {shown(word)}: expected NAME=VALUE; several are parted by spaces")
        if name in found:
            raise InputError(f"{option}: {name} is given twice")
        found[name] = _value(name, text)
    return found


def _value(name: str, text: str) -> Any:
    if text.lower() == "none":
        return None
    if text.startswith("["):  # lists of numbers are written alike in TOML and JSON
        try:
            return json.loads(text)
        except (ValueError, RecursionError):
            return text
    for kind in (int, float):
        try:
            return kind(text)
        except ValueError:
            continue
    return number(text, next((unit for ending, unit in _ENDINGS.items() if name.endswith(ending)), None))


def condition_of(
    option: str, words: Sequence[str], before: oscsim.Condition | None = None
) -> oscsim.Condition:
    """The condition ``before`` (default: as designed) with what NAME=VALUE words change; raises InputError."""
    found = assigned(option, words)
    known = [f.name for f in fields(oscsim.Condition)]
    for name in found:
        if name not in known:
            raise InputError(f"{option}: {shown(name)}: unknown; {nearest(name, known)}")
    return replace(before or oscsim.Condition(), **found)
