"""``oscsim sketch``: a plausible complete design from what a bench knows."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import oscsim
from oscsim.commands.bench import (
    READINGS_HELP,
    UNKNOWN,
    add_findings,
    add_lift_angle,
    findings_of,
    readings_of,
)
from oscsim.commands.options import (
    Commands,
    add_command,
    add_number,
    add_output,
    add_written,
    answered,
    check_written,
    number,
    write_text,
)
from oscsim.commands.points import add_assignments, assigned
from oscsim.errors import InputError
from oscsim.typical.families import FAMILIES, WINDINGS
from oscsim.units import position, trade_number

#: Options that are single numbers of a design, and those that are facts of the bench.
_NUMBERS = {
    "beats": ("balance.beats_per_hour", "BEATS", "beats per hour"),
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
        "--family",
        metavar="NAME",
        help=f"one of {', '.join(FAMILIES)} (default: weighed by beat, size and winding)",
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
    parser.add_argument(
        "--ask", action="store_true",
        help="ask for what the bench knows, one question at a time; the answers are written to SLIP.toml",
    )  # fmt: skip
    add_findings(parser)
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
        write_text(options.output, found[0].file_text())
    if options.format != "text":
        return text
    last = "--output FILE.toml writes the design." if options.output is None else f"Written: {options.output}"
    return f"{text}\n\n{last}"


def _slip(options: argparse.Namespace) -> oscsim.Slip:
    """The slip in the file, if there is one, with what the options say; raises InputError."""
    if options.ask:
        slip = _asked(options)
    else:
        slip = oscsim.load_slip(options.slip) if options.slip is not None else oscsim.Slip()
    given: dict[str, Any] = {key: _whole(value) for key, value in assigned("--set", options.set).items()}
    for name, (key, _, _) in _NUMBERS.items():
        if (value := getattr(options, name)) is not None:
            given[key] = _whole(_in_trade_words(f"--{name}", value, key))
    for table, keys in _SEVERAL.items():
        if (values := getattr(options, table)) is not None:
            given |= {f"{table}.{key}": value for key, value in zip(keys, values, strict=True)}
    facts = {
        key: _in_trade_words(f"--{name.replace('_', '-')}", value, f"bench.{key}")
        for name, (key, _, _) in _FACTS.items()
        if (value := getattr(options, name)) is not None
    }
    changes = {
        key: value for key in ("family", "winding", "name") if (value := getattr(options, key)) is not None
    }
    from oscsim.slips.findings import merged

    found = merged(slip.findings, findings_of(options))
    readings = _readings(options, slip.readings)
    return slip.with_(given=given, facts=facts, readings=readings, findings=found, **changes)


def _asked(options: argparse.Namespace) -> oscsim.Slip:
    """The slip from answers, written to the file named for it when all are given; raises InputError."""
    from oscsim.commands.ask import ask_slip
    from oscsim.slips.slip import slip_text

    path: Path | None = options.slip
    if path is None:
        raise InputError(
            "--ask: name the file that the answers are to be written to, such as: sketch --ask mine.toml"
        )
    if path.exists() and not options.overwrite:
        raise InputError(f"{path}: is there already; --overwrite writes over it")

    def say(line: str) -> None:
        sys.stderr.write(f"{line}\n")

    def read(words: str) -> str:
        sys.stderr.write(words)
        sys.stderr.flush()
        line = sys.stdin.readline()
        if not line:
            raise InputError("--ask: the answers ended before the questions; nothing was written")
        return line

    slip = ask_slip(read, say)
    write_text(path, slip_text(slip))
    say(f"Written: {path}")
    return slip


def _in_trade_words(option: str, value: Any, key: str) -> Any:
    """A number as it is, or one with a unit of the trade behind it."""
    if not isinstance(value, str):
        return value
    unit = "beats/h" if key == "balance.beats_per_hour" else "h" if key.endswith("_hours") else "mm"
    return trade_number(option, value, unit if key.startswith("bench.") or unit == "beats/h" else "")


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
        return _told(oscsim.Readings(rows, source="--reading"), options.lift_angle)
    if own is None and options.lift_angle is not None:
        raise InputError("--lift-angle: is what the instrument was told, give readings with it; "
                         "the movement's own is --set escapement.lift_angle_deg=DEG")  # fmt: skip
    return own if own is None else _told(own, options.lift_angle)


def _told(readings: oscsim.Readings, lift_angle_deg: Any) -> oscsim.Readings:
    """The readings with the lift angle as the options have it."""
    from oscsim.slips.readings import LIFT_UNKNOWN

    if lift_angle_deg is None:
        return readings
    if lift_angle_deg == UNKNOWN:
        return replace(readings, lift_angle_deg=None, lift_angle_uncertainty_deg=LIFT_UNKNOWN)
    return replace(readings, lift_angle_deg=lift_angle_deg)


def _reading(place: str, hours: str, amplitude: str) -> oscsim.Reading:
    from oscsim.setting import HOURS
    from oscsim.slips.readings import READ

    symbol = position(place).symbol
    values = {"hours": number(hours), "amplitude_deg": number(amplitude)}
    HOURS.check("--reading hours", values["hours"])
    READ["amplitude_deg"].check("--reading amplitude", values["amplitude_deg"])
    return oscsim.Reading(symbol, float(values["hours"]), float(values["amplitude_deg"]))
