"""Readings taken at the bench: a CSV or TOML file in, checked readings out. Nothing is invented for a blank."""

from __future__ import annotations

import math
import os
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any

from oscsim.designs import bundled_readings, bundled_readings_text
from oscsim.errors import InputError, nearest, shown
from oscsim.fields import Quantity
from oscsim.parts.balance import REFERENCE_C
from oscsim.setting import HOURS, LIFT_ANGLE, TEMPERATURE
from oscsim.spreadsheet import Row, read_rows, rows_of
from oscsim.toml import read_tables
from oscsim.units import POSITIONS, position

#: What may be read, with its range; a value outside is more likely a wrong unit than a watch.
READ = {
    "amplitude_deg": Quantity("deg", "", "amplitude shown by the instrument", 30, 400),
    "rate_s_per_day": Quantity("s/day", "", "rate", -3600, 3600),
    "beat_error_ms": Quantity("ms", "", "beat error", 0, 50),
}
#: Standard uncertainties (one sigma) of a bench reading when the file gives none (common practice without source).
UNCERTAINTY = {"amplitude_deg": 5.0, "rate_s_per_day": 2.0, "beat_error_ms": 0.1}
_UNCERTAIN = Quantity("", "", "standard uncertainty of a reading", 1e-6, 1000)
#: So many rates, all within so few s/day of nought, are doubted: an eighth of what a reading is good to.
_ENOUGH_RATES, _TOO_CLOSE = 4, 0.25
_HEADINGS = ("position", "hours", *READ, *(f"{name}_uncertainty" for name in READ), "temperature_c")
_REQUIRED, _KIND = ("position", "hours"), "a readings file"


@dataclass(frozen=True)
class Reading:
    """One row: position (ISO 3158 symbol), hours since full wind, what was read (NaN where blank) and how surely.

    stops: it stood there (amplitude, rate and beat error NaN); turns_let_down: turns of the barrel let down before it
    was read; times: how often the place was read, of which the values are the means. Uncertainties are those of one
    reading.
    """

    position: str
    hours: float
    amplitude_deg: float = math.nan
    rate_s_per_day: float = math.nan
    beat_error_ms: float = math.nan
    amplitude_deg_uncertainty: float = UNCERTAINTY["amplitude_deg"]
    rate_s_per_day_uncertainty: float = UNCERTAINTY["rate_s_per_day"]
    beat_error_ms_uncertainty: float = UNCERTAINTY["beat_error_ms"]
    temperature_c: float = REFERENCE_C
    stops: bool = False
    turns_let_down: float = 0.0
    times: int = 1


@dataclass(frozen=True)
class Looked:
    """A number that can be seen or measured beside the readings: its range and the usual standard uncertainty, a share
    of the value or in its unit."""

    info: Quantity
    share: float = 0.0
    own: float = 0.0

    def uncertainty_of(self, value: float) -> float:
        """The usual standard uncertainty of a value, in its unit."""
        return self.own or self.share * abs(value)


#: What may be looked at, by key of the table [looked] (uncertainties common practice without source).
LOOKED = {
    "lock_deg": Looked(Quantity("deg", "", "whole lock by eye, as a lever angle", 0.1, 10), own=0.3),
    "barrel_torque_n_mm": Looked(
        Quantity("N·mm", "", "torque at the barrel's arbor, fully wound", 0.01, 2000), share=0.05
    ),
    "escape_torque_un_m": Looked(
        Quantity("µN·m", "", "torque at the escape wheel, fully wound", 0.01, 1000), share=0.10
    ),
    "balance_mass_mg": Looked(
        Quantity("mg", "", "balance with staff and roller, weighed", 0.1, 10000), share=0.02
    ),
    "usual_amplitude_deg": Looked(
        Quantity("deg", "", "what such movements usually show dial up, wound", 120, 345), own=10.0
    ),
}
#: Pivots that may be seen worn or not.
WORN = ("pivot_sides_worn", "pivot_upper_worn", "pivot_lower_worn")


@dataclass(frozen=True)
class Seen:
    """A value with its standard uncertainty, both in the unit of its name."""

    value: float
    uncertainty: float


@dataclass(frozen=True)
class RimWeights:
    """Two equal weights put on the rim opposite each other: mass of each, radius, and by how much the rate changed."""

    mass_mg: float
    radius_mm: float
    rate_change_s_per_day: float
    uncertainty_s_per_day: float = 2.0


@dataclass(frozen=True)
class Swing:
    """The balance swinging out by itself, lever removed: swing (deg) after counted periods."""

    position: str
    periods: tuple[float, ...]
    amplitude_deg: tuple[float, ...]
    amplitude_deg_uncertainty: float = 5.0


@dataclass(frozen=True)
class Sister:
    """Readings of another movement of the kind that is known to be in order."""

    readings: Readings
    name: str = ""
    beats_per_hour: float | None = None


@dataclass(frozen=True)
class Findings:
    """What was found beside the readings of a movement: numbers looked at or measured by key of ``LOOKED``, pivots seen
    worn (True) or good (False) by key of ``WORN``, weights on the rim, free swings, sound sisters."""

    looked: Mapping[str, Seen] = field(default_factory=dict)
    worn: Mapping[str, bool] = field(default_factory=dict)
    rim_weights: tuple[RimWeights, ...] = ()
    swings: tuple[Swing, ...] = ()
    sisters: tuple[Sister, ...] = ()

    def __bool__(self) -> bool:
        return any(getattr(self, f.name) for f in fields(self))

    def settings(self) -> dict[str, Any]:
        """Everything found, plain, the unit in every key."""
        return {
            "looked": {name: asdict(seen) for name, seen in self.looked.items()} | dict(self.worn),
            "rim_weights": [asdict(one) for one in self.rim_weights],
            "swings": [asdict(one) for one in self.swings],
            "sisters": [
                {"name": one.name, "beats_per_hour": one.beats_per_hour, **one.readings.settings()}
                for one in self.sisters
            ],
        }


@dataclass(frozen=True)
class About:
    """What the workshop's report says of the job: text, empty where not given."""

    date: str = ""
    job: str = ""
    name: str = ""
    remarks: str = ""

    def __bool__(self) -> bool:
        return any(getattr(self, f.name) for f in fields(self))


@dataclass(frozen=True)
class Readings:
    """Readings of one movement. lift_angle_deg: what the instrument was told, None the design's own, and how surely;
    findings: what else was found on this movement; about: the job.

    Raises InputError without readings, and for a place that is given twice.
    """

    rows: tuple[Reading, ...]
    lift_angle_deg: float | None = None
    source: str = "readings"
    lift_angle_uncertainty_deg: float = 1.0
    findings: Findings = Findings()
    about: About = About()

    def settings(self) -> dict[str, Any]:
        """What an answer says of the readings it was given, plain: every row, the lift angle told, what was found."""
        told = {
            "readings_source": self.source,
            "lift_angle_deg": self.lift_angle_deg,
            "lift_angle_uncertainty_deg": self.lift_angle_uncertainty_deg,
            "readings": [asdict(row) for row in self.rows],
        }
        more = {"findings": self.findings.settings()} if self.findings else {}
        return told | more | ({"about": asdict(self.about)} if self.about else {})

    def __post_init__(self) -> None:
        if not self.rows:
            raise InputError(f"{self.source}: no readings")
        seen: set[tuple[str, float, float]] = set()
        for row in self.rows:
            place = (row.position, row.hours, row.turns_let_down)
            if place in seen:
                raise InputError(f"{self.source}: {row.position} at {row.hours:g} h is given twice")
            seen.add(place)
        if self.lift_angle_deg is not None:
            LIFT_ANGLE.check("lift_angle_deg", self.lift_angle_deg)


def load_readings(path: str | os.PathLike[str], lift_angle_deg: float | None = None) -> Readings:
    """Readings from a file, CSV with headings or TOML with lift_angle_deg and tables [[reading]], or from bundled ones
    by name.

    ``lift_angle_deg`` goes before the file's own. Raises InputError in one line for anything that cannot be used.
    """
    place, told = Path(path), None
    if not os.path.exists(place):
        known = bundled_readings()
        if str(path) not in known:
            near = nearest(place.name, known)
            raise InputError(f"{place}: no such file, and no bundled readings of that name; {near}")
        text, place = bundled_readings_text(str(path)), place.with_suffix(".csv")
        entries = _csv(rows_of(text, str(place), _HEADINGS, _REQUIRED))
    elif place.suffix.lower() == ".toml":
        told, entries = _toml(read_tables(place, _KIND), str(place))
    else:
        entries = _csv(read_rows(place, _KIND, _HEADINGS, _REQUIRED))
    rows = tuple(_reading(entry, where) for where, entry in entries)
    _doubt_unit(entries, rows, str(place))
    return Readings(rows, told if lift_angle_deg is None else lift_angle_deg, str(place))


def readings_from(tables: Mapping[str, Any], source: str) -> Readings:
    """Readings from tables as in a TOML file: lift_angle_deg and a list reading. Raises InputError."""
    entries = _entries(tables, source)
    return Readings(
        tuple(_reading(entry, where) for where, entry in entries), tables.get("lift_angle_deg"), source
    )


def readings_tables(readings: Readings) -> dict[str, Any]:
    """Tables as in a TOML file from which ``readings_from`` makes equal readings."""
    rows = []
    for row in readings.rows:
        usual = Reading(row.position, row.hours)
        kept = {key: value for key, value in asdict(row).items() if value == value}  # no NaN
        rows.append(
            {
                key: value
                for key, value in kept.items()
                if key in ("position", "hours") or value != getattr(usual, key)
            }
        )
    told = {} if readings.lift_angle_deg is None else {"lift_angle_deg": readings.lift_angle_deg}
    return {**told, "reading": rows}


def _doubt_unit(entries: list[tuple[str, dict[str, Any]]], rows: tuple[Reading, ...], source: str) -> None:
    """Raise InputError for rates closer together than they can be read: most likely they are in min/day."""
    rates = [row.rate_s_per_day for row in rows if math.isfinite(row.rate_s_per_day)]
    stated = any(entry.get("rate_s_per_day_uncertainty", "") != "" for _, entry in entries)
    if not stated and len(rates) >= _ENOUGH_RATES and max(map(abs, rates)) < _TOO_CLOSE:
        raise InputError(
            f"{source}: rate_s_per_day from {min(rates):g} to {max(rates):g} s/day: nearer to nought in all positions "
            f"than can be read; are they in min/day? If not, state rate_s_per_day_uncertainty"
        )


def _csv(rows: Iterable[Row]) -> list[tuple[str, dict[str, Any]]]:
    """Where each row stands and what was written in it."""
    found = []
    for row in rows:
        if not row.words("hours"):
            raise InputError(f"{row.where}: hours is blank")
        numbers = {heading: row.number(heading) for heading in _HEADINGS[1:]}
        told = {heading: value for heading, value in numbers.items() if value is not None}
        found.append((row.where, {"position": row.words("position"), **told}))
    return found


def _toml(tables: Mapping[str, Any], source: str) -> tuple[float | None, list[tuple[str, dict[str, Any]]]]:
    for key in tables:
        if key not in ("lift_angle_deg", "reading"):
            raise InputError(
                f"{source}: unknown key {shown(key)}; {nearest(key, ('lift_angle_deg', 'reading'))}"
            )
    return tables.get("lift_angle_deg"), _entries(tables, source)


def _entries(tables: Mapping[str, Any], source: str) -> list[tuple[str, dict[str, Any]]]:
    """Where each of the tables [[reading]] stands and what it holds."""
    entries = tables.get("reading", [])
    if not isinstance(entries, list) or not all(isinstance(entry, Mapping) for entry in entries):
        raise InputError(f"{source}: reading must be tables [[reading]]")
    found = []
    for number, entry in enumerate(entries, start=1):
        _check_keys(entry, f"{source}, reading {number}")
        if "position" not in entry:
            raise InputError(f"{source}, reading {number}: heading position is missing")
        found.append((f"{source}, reading {number}", dict(entry)))
    return found


def _check_keys(keys: Iterable[str], source: str) -> None:
    for key in keys:
        if key not in _HEADINGS:
            raise InputError(f"{source}: unknown heading {shown(key)}; {nearest(key, _HEADINGS)}")


def _reading(entry: Mapping[str, Any], where: str) -> Reading:
    try:
        values: dict[str, Any] = {"position": position(entry.get("position")).symbol, "hours": 0.0}
    except InputError as error:
        raise InputError(f"{where}: {error}") from None
    for f in fields(Reading):
        cell = entry.get(f.name, "")
        if f.name in ("position", "stops", "turns_let_down", "times") or cell == "":
            continue
        info = {"hours": HOURS, "temperature_c": TEMPERATURE, **READ}.get(f.name, _UNCERTAIN)
        try:
            info.check(f.name, cell)
        except InputError as error:
            hint = "; is the unit right?" if f.name in READ else ""
            raise InputError(f"{where}: {error}{hint}") from None
        values[f.name] = float(cell)
    if not any(name in values for name in READ):
        raise InputError(f"{where}: nothing was read, give at least one of {', '.join(READ)}")
    return Reading(**values)


def missing_places(readings: Readings) -> list[str]:
    """Positions in which nothing was read."""
    return [symbol for symbol in POSITIONS if symbol not in {row.position for row in readings.rows}]
