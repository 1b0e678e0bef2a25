"""``oscsim designs``: the bundled designs, to be listed or copied."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import oscsim
from oscsim.commands.options import Commands, add_command, add_output
from oscsim.designs import (
    DEFAULT_DESIGN,
    bundled,
    bundled_diaries,
    bundled_diary_text,
    bundled_readings,
    bundled_readings_text,
    bundled_series,
    bundled_series_text,
    bundled_text,
)
from oscsim.errors import InputError
from oscsim.output import csv_text, json_text

_DESIGN_HINT = "oscsim designs NAME prints a design's file, to be copied and edited."


class _Kind(NamedTuple):
    """What is bundled beside designs: words, names, text of one, and its rows as a program wants them."""

    words: str
    names: Callable[[], list[str]]
    text: Callable[[str], str]
    rows: Callable[[str], list[dict[str, Any]]]


_KINDS = {
    "readings": _Kind(
        "demo readings", bundled_readings, bundled_readings_text,
        lambda name: [dict(vars(row)) for row in oscsim.load_readings(name).rows],
    ),
    "series": _Kind(
        "series of amplitudes", bundled_series, bundled_series_text,
        lambda name: _pairs(oscsim.load_series(name)),
    ),
    "diary": _Kind(
        "diaries", bundled_diaries, bundled_diary_text,
        lambda name: [dict(vars(row)) for row in oscsim.load_diary(name)],
    ),
}  # fmt: skip


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "designs",
        "designs dockhand > mine.toml", _run,
    )  # fmt: skip
    parser.add_argument("name", nargs="?", metavar="NAME", help="print this design's file")
    for kind, one in _KINDS.items():
        parser.add_argument(
            f"--{kind}", nargs="?", const="", metavar="NAME",
            help=f"list the bundled {one.words}, or print the one of this name",
        )  # fmt: skip
    add_output(parser, plot=False)


def _run(options: argparse.Namespace) -> str:
    form = options.format
    asked = [kind for kind in _KINDS if getattr(options, kind) is not None]
    if len(asked) + (options.name is not None) > 1:
        told = ", ".join(["NAME"] * (options.name is not None) + [f"--{kind}" for kind in asked])
        raise InputError(f"{told}: give one of them")
    if asked:
        return _beside(asked[0], getattr(options, asked[0]), form)
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


def _beside(kind: str, name: str, form: str) -> str:
    """The bundled ones of a kind, each with the first line of its own comment, or the one of that name: a CSV file as
    it is, or its rows."""
    one = _KINDS[kind]
    if name:
        text = one.text(name)
        return json_text(one.rows(name)) if form == "json" else text
    rows = [
        {"name": known, "story": one.text(known).split("\n")[0].removeprefix("#").strip()}
        for known in one.names()
    ]
    return _listed(rows, form, f"oscsim designs --{kind} NAME prints a file, to be copied and edited.")


def _pairs(series: oscsim.Series) -> list[dict[str, Any]]:
    pairs = zip(series.time_s, series.amplitude_deg, strict=True)
    return [{"time_s": float(time), "amplitude_deg": float(swing)} for time, swing in pairs]


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
