"""The guided entry of a bench slip: one question at a time, each may be skipped, in the trade's own units and words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeAlias

import oscsim
from oscsim.errors import InputError
from oscsim.units import position, trade_number

#: Reads one answer to a question; shows a line.
Read: TypeAlias = Callable[[str], str]
Say: TypeAlias = Callable[[str], None]


@dataclass(frozen=True)
class _Question:
    """A question in words; keys: dotted names of a design, or facts after ``bench.``; unit of what is answered."""

    words: str
    keys: tuple[str, ...]
    unit: str = "mm"


_QUESTIONS = (
    _Question("Beat: beats an hour or Hz, such as 21600 or 3 Hz", ("balance.beats_per_hour",), "beats/h"),
    _Question("Jewels, counted", ("train.jewels",), ""),
    _Question(
        "Diameter of the movement: mm or lignes, such as 25.6 or 11½ lignes", ("bench.movement_diameter_mm",)
    ),
    _Question("Diameter of the balance, mm", ("bench.balance_diameter_mm",)),
    _Question("Mass of the balance with its staff, mg", ("balance.mass_mg",), "mg"),
    _Question("Lift angle of the movement itself, deg", ("escapement.lift_angle_deg",), "deg"),
    _Question("Teeth of the escape wheel", ("escapement.teeth",), ""),
    _Question(
        "Strip of the mainspring: height × thickness × length, mm, such as 1.2 x 0.11 x 320",
        ("mainspring.height_mm", "mainspring.thickness_mm", "mainspring.length_mm"),
    ),
    _Question(
        "Barrel inside and its arbor: two diameters, mm",
        ("barrel.inner_diameter_mm", "barrel.arbor_diameter_mm"),
    ),
    _Question("Hours it runs from full wind to the stop", ("bench.reserve_hours",), "h"),
)
_WINDINGS = {"by hand": "hand", "manual": "hand", "self-winding": "self", "automatic": "self"}
_STOPS = ("stops", "stopped", "---")


def ask_slip(read: Read, say: Say) -> oscsim.Slip:
    """A slip from answers given one after another. An answer that cannot be used is told why, and asked for again."""
    say(
        "Questions about the movement on the bench. Press Enter to skip one; every answer makes the sketch surer."
    )
    slip = oscsim.Slip(name=read("What is it called? ").strip())
    for question in _QUESTIONS:
        slip = _until(read, say, question.words, partial(_told, slip, question)) or slip
        if question.keys[0] == "train.jewels":
            slip = _until(read, say, "Wound by hand, or self-winding", partial(_wound, slip)) or slip
    readings = _readings(read, say)
    return slip if readings is None else slip.with_(readings=readings)


def _until(read: Read, say: Say, words: str, take: Callable[[str], Any]) -> Any:
    """What ``take`` makes of the first answer it accepts; None where the question is skipped."""
    while True:
        text = read(f"{words}: ").strip()
        if not text:
            return None
        try:
            return take(text)
        except InputError as error:
            say(f"  {error}. Once more, or Enter to skip.")


def _told(slip: oscsim.Slip, question: _Question, text: str) -> oscsim.Slip:
    """The slip with the answer; checked at once."""
    parts = _parted(text) if len(question.keys) > 1 else [text]
    if len(parts) != len(question.keys):
        raise InputError(f"{text!r}: {len(question.keys)} numbers are needed, such as in the question")
    given: dict[str, Any] = {}
    facts: dict[str, float] = {}
    for key, part in zip(question.keys, parts, strict=True):
        name = key.rsplit(".", 1)[1]
        value = trade_number(name, part, question.unit)
        if key.startswith("bench."):
            facts[name] = value
        else:
            given[key] = int(value) if value.is_integer() else value
    return slip.with_(given=given, facts=facts)


def _parted(text: str) -> list[str]:
    """Numbers parted by ×, x, / or blanks."""
    for mark in ("×", "x", "X", "/", ";"):
        text = text.replace(mark, " ")
    return [word for word in text.replace("mm", " ").split() if word]


def _wound(slip: oscsim.Slip, text: str) -> oscsim.Slip:
    return slip.with_(winding=_WINDINGS.get(text.lower(), text))


def _readings(read: Read, say: Say) -> oscsim.Readings | None:
    """Rows until one is skipped, then the instrument's lift angle."""
    rows: list[oscsim.Reading] = []
    say(
        "Readings, one a line: position, hours since full wind, amplitude; then rate and beat error if you have them."
    )
    say("Such as: dial up 0 262 +4 0.3   or: crown down 24 198   or: 12H 30 stops. Enter ends them.")
    while (row := _until(read, say, f"Reading {len(rows) + 1}", lambda text: _row(text, rows))) is not None:
        rows.append(row)
    if not rows:
        return None
    found = _until(
        read, say, "Lift angle the instrument was told, deg, or unknown", lambda text: _lift(rows, text)
    )
    return found or oscsim.Readings(tuple(rows), source="asked")


def _row(text: str, rows: list[oscsim.Reading]) -> oscsim.Reading:
    words = text.replace(",", " ").split()
    for count in range(min(3, len(words)), 0, -1):
        try:
            symbol = position(" ".join(words[:count])).symbol
        except InputError:
            continue
        return _read(symbol, words[count:], rows)
    return _read(position(words[0]).symbol, words[1:], rows)


def _read(symbol: str, words: list[str], rows: list[oscsim.Reading]) -> oscsim.Reading:
    from oscsim.setting import HOURS
    from oscsim.slips.readings import READ

    if len(words) < 2:
        raise InputError(
            "hours since full wind and an amplitude are needed behind the position, such as CH 0 262"
        )
    hours = trade_number("hours", words[0], "h")
    HOURS.check("hours", hours)
    if any(row.position == symbol and row.hours == hours for row in rows):
        raise InputError(f"{symbol} at {hours:g} h was given already")
    if words[1].lower() in _STOPS:
        return oscsim.Reading(symbol, hours, stops=True)
    values: dict[str, Any] = {}
    for (name, info), word in zip(READ.items(), words[1:], strict=False):
        values[name] = trade_number(name, word, info.unit)
        info.check(name, values[name])
    return oscsim.Reading(symbol, hours, **values)


def _lift(rows: list[oscsim.Reading], text: str) -> oscsim.Readings:
    from oscsim.slips.readings import LIFT_UNKNOWN

    if text.lower() in ("unknown", "?"):
        return oscsim.Readings(tuple(rows), None, "asked", lift_angle_uncertainty_deg=LIFT_UNKNOWN)
    return oscsim.Readings(tuple(rows), trade_number("lift_angle_deg", text, "deg"), "asked")
