"""Readings files: CSV or TOML in, checked readings out, rows as people make them. Nothing is invented for a blank."""

from __future__ import annotations

import math
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np

from oscsim.designs import bundled_readings, bundled_readings_text
from oscsim.errors import InputError, nearest, shown
from oscsim.fields import Quantity
from oscsim.setting import HOURS, TEMPERATURE
from oscsim.slips.findings import check_keys, check_sisters, findings_from, tables_in
from oscsim.slips.readings import LIFT_TOLD, LIFT_UNKNOWN, READ, About, Findings, Reading, Readings, Sister
from oscsim.spreadsheet import Row, read_rows, rows_of
from oscsim.toml import read_tables
from oscsim.units import position

_UNCERTAIN = Quantity("", "", "standard uncertainty of a reading", 1e-6, 1000)
_LET_DOWN = Quantity("turns", "", "turns of the barrel let down before the reading", 0, 20)
_LIFT_UNCERTAIN = Quantity("deg", "", "standard uncertainty of the lift angle told", 0, 10)
#: So many rates, all within so few s/day of nought, are doubted: an eighth of what a reading is good to.
_ENOUGH_RATES, _TOO_CLOSE = 4, 0.25
#: Numbers of a row with their ranges, and the units that may stand behind them in a list.
_NUMBERS = {
    "hours": HOURS,
    **READ,
    **{f"{name}_uncertainty": _UNCERTAIN for name in READ},
    "temperature_c": TEMPERATURE,
    "turns_let_down": _LET_DOWN,
}
_ENDINGS = {
    "hours": ("h", "hours", "hrs"),
    "amplitude_deg": ("°", "deg", "º"),
    "rate_s_per_day": ("s/d", "s/day", "s/24h", "s"),
    "beat_error_ms": ("ms",),
    "temperature_c": ("°C", "C", "°"),
    "turns_let_down": ("turns", "turn"),
}
_HEADINGS = ("position", *_NUMBERS)
#: Headings as people write them, in small letters: the unit left out, or behind it in brackets.
_CALLED = {
    called: heading
    for heading, plain in (
        ("hours", "hours"),
        ("amplitude_deg", "amplitude"),
        ("rate_s_per_day", "rate"),
        ("beat_error_ms", "beat error"),
        ("temperature_c", "temperature"),
    )
    for unit in ("", *_ENDINGS[heading])
    for called in ((f"{plain} ({unit.lower()})", f"{plain} [{unit.lower()}]") if unit else (plain,))
}
_REQUIRED, _KIND = ("position", "hours"), "a readings file"
#: What is written where a watch stood; dashes mean it where nothing else was read in the row.
_STOPPED = ("stops", "stopped", "stop", "stands", "stood", "steht", "arrêt", "arrêtée", "arrete")
_BEATS = Quantity("beats/h", "", "beats of the sister per hour", 3600, 72000)
_SISTER_KEYS = (
    "name",
    "beats_per_hour",
    "readings",
    "lift_angle_deg",
    "lift_angle_uncertainty_deg",
    "reading",
)
_KEYS = ("lift_angle_deg", "lift_angle_uncertainty_deg", "reading", "about")
#: Tables of findings in a readings file or a slip.
FOUND = ("looked", "swing", "sister")
_ABOUT = ("date", "job", "name", "remarks")

#: Readings, or where they are kept.
Read: TypeAlias = Readings | str | os.PathLike[str]
Entries = list[tuple[str, dict[str, Any]]]


def load_readings(
    path: str | os.PathLike[str], lift_angle_deg: float | None = None, *, lift_known: bool = True
) -> Readings:
    """Readings from a file, CSV with headings or TOML with lift_angle_deg and tables [[reading]], or from bundled ones
    by name.

    ``lift_angle_deg`` goes before the file's own; ``lift_known=False``: nobody knows what the instrument was told. A
    place read twice is averaged; ``stops`` or dashes where the amplitude should stand say that it stood. Raises
    InputError in one line for anything that cannot be used.
    """
    place, tables = Path(path), {}
    if not os.path.exists(place):
        known = bundled_readings()
        if str(path) not in known:
            near = nearest(place.name, known)
            raise InputError(f"{place}: no such file, and no bundled readings of that name; {near}")
        text, place = bundled_readings_text(str(path)), place.with_suffix(".csv")
        entries = _csv(rows_of(text, str(place), _HEADINGS, _REQUIRED, _CALLED))
    elif place.suffix.lower() == ".toml":
        tables = read_tables(place, _KIND)
        for key in tables:
            if key not in (*_KEYS, *FOUND):
                raise InputError(f"{place}: unknown key {shown(key)}; {nearest(key, (*_KEYS, *FOUND))}")
        entries = _entries(tables, str(place))
    else:
        entries = _csv(read_rows(place, _KIND, _HEADINGS, _REQUIRED, called=_CALLED))
    found = _readings(entries, tables, str(place), place.parent)
    if not lift_known:
        return replace(found, lift_angle_deg=None, lift_angle_uncertainty_deg=LIFT_UNKNOWN)
    if lift_angle_deg is not None:
        return replace(found, lift_angle_deg=lift_angle_deg, lift_angle_uncertainty_deg=LIFT_TOLD)
    return found


def readings_of(what: Read) -> Readings:
    """The readings, or those of a file or of a bundled name. Raises InputError."""
    if isinstance(what, Readings):
        return what
    if isinstance(what, str | os.PathLike):
        return load_readings(what)
    raise InputError(
        f"readings {shown(what)}: must be readings, a readings file, or the name of bundled ones"
    )


def readings_from(tables: Mapping[str, Any], source: str, folder: Path | None = None) -> Readings:
    """Readings from tables as in a TOML file; files of sisters are sought in ``folder``. Raises InputError."""
    return _readings(_entries(tables, source), tables, source, folder or Path())


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
    told: dict[str, Any] = {}
    if readings.lift_angle_deg is not None:
        told["lift_angle_deg"] = readings.lift_angle_deg
    if readings.lift_angle_uncertainty_deg != LIFT_TOLD:
        told["lift_angle_uncertainty_deg"] = readings.lift_angle_uncertainty_deg
    about = {key: value for key, value in asdict(readings.about).items() if value}
    return {**told, **({"about": about} if about else {}), "reading": rows}


def sisters_from(tables: Mapping[str, Any], source: str, folder: Path) -> tuple[Sister, ...]:
    """The sound sisters in a file's tables; their files are sought in ``folder``. Raises InputError."""
    return tuple(_sister(entry, where, folder) for entry, where in tables_in(tables, "sister", source))


def sisters_tables(sisters: Sequence[Sister]) -> list[dict[str, Any]]:
    """Tables from which ``sisters_from`` makes equal sisters."""
    return [
        ({"name": one.name} if one.name else {})
        | ({} if one.beats_per_hour is None else {"beats_per_hour": one.beats_per_hour})
        | {key: value for key, value in readings_tables(one.readings).items() if key != "about"}
        for one in sisters
    ]


def sister_of(path: str, lift_angle_deg: float | None = None) -> Sister:
    """A sister from a readings file; raises InputError."""
    readings = load_readings(path, lift_angle_deg)
    return Sister(replace(readings, findings=Findings()), readings.about.name or path)


def _sister(entry: Mapping[str, Any], where: str, folder: Path) -> Sister:
    check_keys(entry, where, _SISTER_KEYS)
    beats = entry.get("beats_per_hour")
    if beats is not None:
        _BEATS.check(f"{where}: beats_per_hour", beats)
    name = entry.get("name", "")
    if not isinstance(name, str):
        raise InputError(f"{where}: name = {shown(name)}: must be text in quotes")
    if ("readings" in entry) == ("reading" in entry):
        raise InputError(f'{where}: give either readings = "FILE.csv" or tables reading')
    if "reading" in entry:
        readings = readings_from(
            {k: v for k, v in entry.items() if k not in ("name", "beats_per_hour")}, where
        )
    else:
        file = entry["readings"]
        if not isinstance(file, str):
            raise InputError(f"{where}: readings = {shown(file)}: must be a file name in quotes")
        readings = replace(load_readings(folder / file, entry.get("lift_angle_deg")), findings=Findings())
    return Sister(readings, name, None if beats is None else float(beats))


def about_from(tables: Mapping[str, Any], source: str) -> About:
    """What a file says of the job, from its table [about]. Raises InputError."""
    table = tables.get("about", {})
    if not isinstance(table, Mapping):
        raise InputError(f"{source}: about = {shown(table)}: not a table, must be a table [about]")
    for key, value in table.items():
        if key not in _ABOUT:
            raise InputError(f"{source}: about.{key}: unknown key; {nearest(key, _ABOUT)}")
        if not isinstance(value, str):
            raise InputError(f"{source}: about.{key} = {shown(value)}: must be text in quotes")
    return About(**table)


def _readings(entries: Entries, tables: Mapping[str, Any], source: str, folder: Path) -> Readings:
    rows = [_reading(entry, where) for where, entry in entries]
    _doubt_unit(entries, rows, source)
    lift, uncertain = _lift(tables, source)
    averaged = _averaged(rows, source)
    found = findings_from(tables, source, sisters_from(tables, source, folder))
    check_sisters(found, averaged)
    return Readings(
        rows=averaged,
        lift_angle_deg=lift,
        source=source,
        lift_angle_uncertainty_deg=uncertain,
        findings=found,
        about=about_from(tables, source),
    )


def _lift(tables: Mapping[str, Any], source: str) -> tuple[float | None, float]:
    """The lift angle told and how surely; the word ``unknown`` where nobody knows it."""
    told = tables.get("lift_angle_deg")
    usual = LIFT_TOLD
    if isinstance(told, str):
        if told.strip().lower() not in ("unknown", "?"):
            raise InputError(
                f'{source}: lift_angle_deg = {shown(told)}: must be a number in deg, or "unknown"'
            )
        told, usual = None, LIFT_UNKNOWN
    uncertain = tables.get("lift_angle_uncertainty_deg", usual)
    _LIFT_UNCERTAIN.check(f"{source}: lift_angle_uncertainty_deg", uncertain)
    return told, float(uncertain)


def _averaged(rows: Sequence[Reading], source: str) -> tuple[Reading, ...]:
    """The rows, those of one place and hour as their mean."""
    places: dict[tuple[str, float, float], list[Reading]] = {}
    for row in rows:
        places.setdefault((row.position, row.hours, row.turns_let_down), []).append(row)
    found = []
    for (symbol, hours, _), several in places.items():
        if len({row.stops for row in several}) > 1:
            raise InputError(
                f"{source}: {symbol} at {hours:g} h: read twice, it stopped and it ran; keep one of the two"
            )
        means: dict[str, Any] = {}
        for name in (*READ, *(f"{name}_uncertainty" for name in READ), "temperature_c"):
            values = np.array([getattr(row, name) for row in several])
            there = values[np.isfinite(values)]
            means[name] = float(there.mean()) if len(there) else math.nan
        found.append(replace(several[0], **means, times=sum(row.times for row in several)))
    return tuple(found)


def _doubt_unit(entries: Entries, rows: Sequence[Reading], source: str) -> None:
    """Raise InputError for rates closer together than they can be read: most likely they are in min/day."""
    rates = [row.rate_s_per_day for row in rows if math.isfinite(row.rate_s_per_day)]
    stated = any(entry.get("rate_s_per_day_uncertainty", "") != "" for _, entry in entries)
    if not stated and len(rates) >= _ENOUGH_RATES and max(map(abs, rates)) < _TOO_CLOSE:
        raise InputError(
            f"{source}: rate_s_per_day from {min(rates):g} to {max(rates):g} s/day: nearer to nought in all positions "
            f"than can be read; are they in min/day? If not, state rate_s_per_day_uncertainty"
        )


def _csv(rows: Iterable[Row]) -> Entries:
    """Where each row stands and what was written in it."""
    found = []
    for row in rows:
        if not row.words("hours"):
            raise InputError(f"{row.where}: hours is blank")
        stops = _stood(row)
        numbers = {
            heading: row.number(heading, *_ENDINGS.get(heading, ()))
            for heading in _NUMBERS
            if not (stops and heading in READ)
        }
        told: dict[str, Any] = {heading: value for heading, value in numbers.items() if value is not None}
        found.append(
            (row.where, {"position": row.words("position"), **told} | ({"stops": True} if stops else {}))
        )
    return found


def _stood(row: Row) -> bool:
    """Whether the row says that the watch stood: by a word, or by dashes with nothing else read."""
    cells = [row.cells.get(name, "").strip() for name in READ]
    if any(cell.lower() in _STOPPED for cell in cells):
        return True
    return len(cells[0].strip("-\N{EN DASH}\N{EM DASH}\N{MINUS SIGN}")) == 0 < len(cells[0]) - 1 and not any(
        row.words(name) for name in READ
    )


def _entries(tables: Mapping[str, Any], source: str) -> Entries:
    """Where each of the tables [[reading]] stands and what it holds."""
    entries = tables.get("reading", [])
    if not isinstance(entries, list) or not all(isinstance(entry, Mapping) for entry in entries):
        raise InputError(f"{source}: reading must be tables [[reading]]")
    found = []
    for number, entry in enumerate(entries, start=1):
        where = f"{source}, reading {number}"
        for key in entry:
            if key not in (*_HEADINGS, "stops", "times"):
                raise InputError(
                    f"{where}: unknown heading {shown(key)}; {nearest(key, (*_HEADINGS, 'stops'))}"
                )
        if "position" not in entry:
            raise InputError(f"{where}: heading position is missing")
        found.append((where, dict(entry)))
    return found


def _reading(entry: Mapping[str, Any], where: str) -> Reading:
    try:
        values: dict[str, Any] = {"position": position(entry.get("position")).symbol, "hours": 0.0}
    except InputError as error:
        raise InputError(f"{where}: {error}") from None
    stops = entry.get("stops", False)
    if not isinstance(stops, bool):
        raise InputError(f"{where}: stops = {shown(stops)}: must be true or false")
    times = entry.get("times", 1)
    if isinstance(times, bool) or not isinstance(times, int) or not 1 <= times <= 1000:
        raise InputError(f"{where}: times = {shown(times)}: must be a whole number from 1 to 1000")
    for name, info in _NUMBERS.items():
        cell = entry.get(name, "")
        if cell == "":
            continue
        try:
            info.check(name, cell)
        except InputError as error:
            hint = "; is the unit right?" if name in READ else ""
            raise InputError(f"{where}: {error}{hint}") from None
        values[name] = float(cell)
    read = any(name in values for name in READ)
    if stops and read:
        raise InputError(f"{where}: it stopped, so nothing else can have been read there")
    if not read and not stops:
        raise InputError(
            f"{where}: nothing was read, give at least one of {', '.join(READ)}, or that it stops"
        )
    return Reading(**values, stops=stops, times=times)
