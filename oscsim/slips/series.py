"""Amplitudes read one after another for minutes or hours: a list as an instrument or a pencil keeps it."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from oscsim.arrays import Array
from oscsim.designs import bundled_series_text
from oscsim.errors import InputError, shown
from oscsim.slips.readings import READ
from oscsim.spreadsheet import Row, read_rows, rows_of

_HEADINGS = ("time_s", "time", "amplitude_deg", "rate_s_per_day", "beat_error_ms")
_CLOCK = re.compile(r"(\d{1,3}):([0-5]\d)(?::([0-5]\d(?:[.,]\d+)?))?")
#: A file of two days, a reading a second.
_LARGEST = 8_000_000
#: A clock that goes back by more than this, s, has passed midnight.
_MIDNIGHT = 43200.0
_MOST_S = 30 * 86400.0
_FEWEST = 20


@dataclass(frozen=True)
class Series:
    """Readings in time: time_s and amplitude_deg, each (readings,), times rising. Raises InputError."""

    time_s: Array
    amplitude_deg: Array
    source: str = "series"

    def __post_init__(self) -> None:
        time, amplitude = (np.asarray(given, float) for given in (self.time_s, self.amplitude_deg))
        if time.ndim != 1 or time.shape != amplitude.shape:
            raise InputError(f"{self.source}: time_s and amplitude_deg must be lists of one length")
        if len(time) < _FEWEST:
            raise InputError(
                f"{self.source}: {len(time)} readings with an amplitude, too few: at least {_FEWEST} are needed, and "
                "for the fourth wheel a reading at least every 20 s for 10 min"
            )
        if not (np.isfinite(time).all() and np.isfinite(amplitude).all()):
            raise InputError(f"{self.source}: time_s and amplitude_deg must be finite numbers")
        back = np.flatnonzero(np.diff(time) <= 0.0)
        if len(back):
            now, before = time[back[0] + 1], time[back[0]]
            raise InputError(
                f"{self.source}: time_s = {now:g} s: comes after {before:g} s, times must rise from reading to reading"
            )
        object.__setattr__(self, "time_s", time)
        object.__setattr__(self, "amplitude_deg", amplitude)


def load_series(path: str | os.PathLike[str]) -> Series:
    """A series from a CSV file with the headings time_s, or time as hh:mm:ss, and amplitude_deg, or a bundled one by
    name. Readings without an amplitude are left out. Raises InputError in one line for anything that cannot be used."""
    if not os.path.exists(path) and Path(path).name == str(path) and not Path(path).suffix:
        rows = rows_of(
            bundled_series_text(str(path)), f"bundled series {path}", _HEADINGS, ("amplitude_deg",)
        )
    else:
        rows = read_rows(Path(path), "a series of readings", _HEADINGS, ("amplitude_deg",), largest=_LARGEST)
    by_clock = not rows or rows[0].words("time_s") == ""
    if by_clock and (not rows or rows[0].words("time") == ""):
        raise InputError(f"{path}: heading time_s is missing, or time as hh:mm:ss")
    times, amplitudes, before, days = list[float](), list[float](), -np.inf, 0.0
    for row in rows:
        time = (_clock(row) if by_clock else _seconds(row)) + days
        if by_clock and before - time > _MIDNIGHT:
            days, time = days + 86400.0, time + 86400.0
        if time <= before:
            raise InputError(
                f"{row.where}: {'time' if by_clock else 'time_s'} = {time:g} s: comes after {before:g} s, times must "
                "rise from line to line"
            )
        before = time
        value = row.number("amplitude_deg", "°", "deg")
        if value is not None:
            _check(row, value)
            times.append(time)
            amplitudes.append(value)
    return Series(np.array(times), np.array(amplitudes), str(path))


def _seconds(row: Row) -> float:
    value = row.number("time_s", "s")
    if value is None:
        raise InputError(f"{row.where}: time_s is blank")
    if not -_MOST_S <= value <= _MOST_S:
        raise InputError(
            f"{row.where}: time_s = {value:g} s: out of range, must be within {_MOST_S:g} s; "
            "are they seconds from the start?"
        )
    return value


def _clock(row: Row) -> float:
    told = row.words("time")
    found = _CLOCK.fullmatch(told)
    if found is None:
        raise InputError(f"{row.where}: time = {shown(told)}: no time of day, must be like 14:05:30")
    hours, minutes, seconds = found.groups()
    return 3600.0 * int(hours) + 60.0 * int(minutes) + float((seconds or "0").replace(",", "."))


def _check(row: Row, value: float) -> None:
    try:
        READ["amplitude_deg"].check("amplitude_deg", value)
    except InputError as error:
        raise InputError(f"{row.where}: {error}; is the unit right?") from None
