"""``oscsim sketch``: a plausible complete design from what a bench knows."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import Any

import oscsim
from oscsim.commands.bench import READINGS_HELP, add_lift_angle, readings_of
from oscsim.commands.options import (
    Commands,
    add_command,
    add_number,
    add_output,
    add_written,
    answered,
    check_written,
    number,
)
from oscsim.commands.points import add_assignments, assigned
from oscsim.errors import InputError
from oscsim.typical.families import FAMILIES, WINDINGS
from oscsim.units import position
from oscsim.whole import write_whole

#: Options that are single numbers of a design, and those that are facts of the bench.
_NUMBERS = {
    "beats": ("balance.beats_per_hour", "N", "beats per hour"),
    "jewels": ("train.jewels", "N", "jewels counted"),
    "teeth": ("escapement.teeth", "N", "teeth of the escape wheel, counted"),
}
_FACTS = {
    "movement_diameter": ("movement_diameter_mm", "MM", "diameter of the movement, mm"),
    "balance_diameter": ("balance_diameter_mm", "MM", "outer diameter of the balance, mm"),
    "reserve": ("reserve_hours", "H", "hours it ran from full wind to the stop"),
}
_SEVERAL = {
    "mainspring": ("height_mm", "thickness_mm", "length_mm"),
    "barrel": ("inner_diameter_mm", "arbor_diameter_mm"),
}


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "sketch",
        "sketch --beats 21600 --movement-diameter 25.6 --jewels 17 --reading CH 0 262 --output mine.toml", _run,
    )  # fmt: skip
    parser.add_argument(
        "slip", nargs="?", type=Path, metavar="SLIP.toml",
        help="a design file with gaps, which may have a table [bench] and tables [[reading]]; options go before it",
    )  # fmt: skip
    for table in (_NUMBERS, _FACTS):
        for name, (_, metavar, text) in table.items():
            add_number(parser, f"--{name.replace('_', '-')}", metavar, text)
    add_number(
        parser,
        "--mainspring",
        ("HEIGHT", "THICKNESS", "LENGTH"),
        "the strip's sizes, mm",
        nargs=3,
    )
    add_number(parser, "--barrel", ("INNER", "ARBOR"), "barrel inside and its arbor: diameters, mm", nargs=2)
    add_assignments(parser, "--set", "any other number of a design, such as escapement.lift_angle_deg=50")
    parser.add_argument(
        "--family", metavar="NAME", help=f"one of {', '.join(FAMILIES)} (default: by beat and size)"
    )
    parser.add_argument(
        "--winding", metavar="|".join(WINDINGS), help="by hand or self-winding (default: the family's)"
    )
    parser.add_argument(
        "--reading", nargs=3, action="append", default=[], metavar=("POS", "H", "DEG"),
        help="an amplitude shown: position, hours since full wind, deg; may be given several times",
    )  # fmt: skip
    parser.add_argument("--readings", metavar="READINGS.csv", help=READINGS_HELP)
    add_lift_angle(parser)
    parser.add_argument(
        "--name", metavar="NAME", help="what the movement is called; '(sketch)' is put behind it"
    )
    add_written(parser, "FILE.toml", "write the design file")
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    check_written(options, ".toml")
    found: list[oscsim.Sketch] = []

    def ask() -> oscsim.Sketch:
        found.append(oscsim.sketch(_slip(options)))
        return found[0]

    text = answered(options, ask)
    if options.output is not None:
        write_whole(options.output, found[0].file_text().encode())
    if options.format != "text":
        return text
    last = "--output FILE.toml writes the design." if options.output is None else f"Written: {options.output}"
    return f"{text}\n\n{last}"


def _slip(options: argparse.Namespace) -> oscsim.Slip:
    """The slip in the file, if there is one, with what the options say; raises InputError."""
    slip = oscsim.load_slip(options.slip) if options.slip is not None else oscsim.Slip()
    given: dict[str, Any] = {key: _whole(value) for key, value in assigned("--set", options.set).items()}
    for name, (key, _, _) in _NUMBERS.items():
        if (value := getattr(options, name)) is not None:
            given[key] = _whole(value)
    for table, keys in _SEVERAL.items():
        if (values := getattr(options, table)) is not None:
            given |= {f"{table}.{key}": value for key, value in zip(keys, values, strict=True)}
    facts = {
        key: value for name, (key, _, _) in _FACTS.items() if (value := getattr(options, name)) is not None
    }
    changes = {
        key: value for key in ("family", "winding", "name") if (value := getattr(options, key)) is not None
    }
    return slip.with_(given=given, facts=facts, readings=_readings(options, slip.readings), **changes)


def _whole(value: Any) -> Any:
    """A whole number as one, so that 21600 jewels or beats are no fractions."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _readings(options: argparse.Namespace, own: oscsim.Readings | None) -> oscsim.Readings | None:
    """Readings of the options, or the slip's own, with the lift angle as the options have it."""
    if options.reading and options.readings is not None:
        raise InputError("--reading, --readings: give one of the two, not both")
    if options.readings is not None:
        return readings_of(options.readings, options.lift_angle)
    if options.reading:
        rows = tuple(_reading(*words) for words in options.reading)
        return oscsim.Readings(rows, options.lift_angle, "--reading")
    if own is None and options.lift_angle is not None:
        raise InputError("--lift-angle: is what the instrument was told, give readings with it; "
                         "the movement's own is --set escapement.lift_angle_deg=DEG")  # fmt: skip
    return (
        own if own is None or options.lift_angle is None else replace(own, lift_angle_deg=options.lift_angle)
    )


def _reading(place: str, hours: str, amplitude: str) -> oscsim.Reading:
    from oscsim.setting import HOURS
    from oscsim.slips.readings import READ

    symbol = position(place).symbol
    values = {"hours": number(hours), "amplitude_deg": number(amplitude)}
    HOURS.check("--reading hours", values["hours"])
    READ["amplitude_deg"].check("--reading amplitude", values["amplitude_deg"])
    return oscsim.Reading(symbol, float(values["hours"]), float(values["amplitude_deg"]))
