"""``oscsim designs``: the bundled designs, to be listed or copied."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import Any

import oscsim
from oscsim.commands.options import Commands, add_command, add_output
from oscsim.designs import (
    DEFAULT_DESIGN,
    bundled,
    bundled_readings,
    bundled_readings_text,
    bundled_text,
)
from oscsim.errors import InputError
from oscsim.output import csv_text, json_text

_DESIGN_HINT = "oscsim designs NAME prints a design's file, to be copied and edited."
_READINGS_HINT = "oscsim designs --readings NAME prints a file, to be copied and edited."


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "designs",
        "designs dockhand > mine.toml", _run,
    )  # fmt: skip
    parser.add_argument("name", nargs="?", metavar="NAME", help="print this design's file")
    parser.add_argument(
        "--readings", nargs="?", const="", metavar="NAME",
        help="list the bundled demo readings, or print these",
    )  # fmt: skip
    add_output(parser, plot=False)


def _run(options: argparse.Namespace) -> str:
    form = options.format
    if options.readings is not None:
        if options.name is not None:
            raise InputError("NAME, --readings: give one of the two, not both")
        if not options.readings:
            return _listed(_readings(), form, _READINGS_HINT)
        text = bundled_readings_text(options.readings)  # a CSV file as it is
        if form == "json":
            return json_text([vars(row) for row in oscsim.load_readings(options.readings).rows])
        return text
    if options.name is None:
        return _listed(_designs(), form, _DESIGN_HINT)
    text = bundled_text(options.name)
    if form == "json":
        return json_text({"name": options.name, "tables": oscsim.load(options.name).tables(), "file": text})
    if form == "csv":
        return csv_text(
            [{"key": key, "value": value} for key, value in _flat(oscsim.load(options.name).tables())]
        )
    return text


def _designs() -> list[dict[str, Any]]:
    found = []
    for name in bundled():
        movement = oscsim.load(name)
        told = f"{movement.name}. {movement.story.split('. ')[0].rstrip('.')}."
        found.append({"name": name, "default": name == DEFAULT_DESIGN, "story": told})
    return found


def _readings() -> list[dict[str, Any]]:
    """The bundled readings, each with the first line of its own comment."""
    return [
        {"name": name, "story": bundled_readings_text(name).split("\n")[0].removeprefix("#").strip()}
        for name in bundled_readings()
    ]


def _listed(rows: Sequence[dict[str, Any]], form: str, hint: str) -> str:
    if form == "json":
        return json_text(rows)
    if form == "csv":
        return csv_text(rows)
    mark = " (used when no design is named)"
    lines = [f"{row['name']}{mark * bool(row.get('default'))}\n    {row['story']}" for row in rows]
    return "\n".join([*lines, "", hint])


def _flat(tables: dict[str, Any], path: str = "") -> list[tuple[str, Any]]:
    """Dotted names and values of nested tables."""
    found: list[tuple[str, Any]] = []
    for key, value in tables.items():
        found += _flat(value, f"{path}{key}.") if isinstance(value, dict) else [(f"{path}{key}", value)]
    return found
