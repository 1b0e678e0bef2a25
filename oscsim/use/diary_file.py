"""The lines of a diary of daily errors, and how they are read from a spreadsheet's CSV."""

from __future__ import annotations

import datetime
import math
import os
from dataclasses import dataclass
from pathlib import Path

from oscsim.designs import bundled_diary_text
from oscsim.errors import InputError, shown
from oscsim.spreadsheet import Row, read_rows, rows_of
from oscsim.use.stretches import HOURS

_HEADINGS = ("date", "day", "error_s", "hours_worn", "set")
_SET = ("yes", "x", "set", "true")


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One line of a diary: day (whole numbers, rising), the watch against true time, s (+ fast), hours worn since the
    line before (a day; NaN not written down), and the error it was set to then (NaN: not set)."""

    day: int
    error_s: float
    hours_worn: float = math.nan
    set_s: float = math.nan


def load_diary(path: str | os.PathLike[str]) -> tuple[Entry, ...]:
    """A diary from CSV: ``date`` (2026-11-26) or ``day`` (a whole number), ``error_s`` as the watch stood against true
    time (+ fast), optionally ``hours_worn`` since the line before and ``set``: where it was set after reading, the
    error it was set to in s, or "yes" for 0. Days may be missing. Or a bundled one by name. Raises InputError."""
    if not os.path.exists(path) and Path(path).name == str(path) and not Path(path).suffix:
        rows = rows_of(bundled_diary_text(str(path)), f"bundled diary {path}", _HEADINGS, ("error_s",))
    else:
        rows = read_rows(Path(path), "a diary", _HEADINGS, ("error_s",))
    found = []
    for row in rows:
        error, worn = row.number("error_s", "s"), row.number("hours_worn", "h")
        if error is None:
            raise InputError(f"{row.where}: error_s is blank")
        if worn is not None:
            try:
                HOURS.check("hours_worn", worn)
            except InputError as wrong:
                raise InputError(f"{row.where}: {wrong}") from None
        said = row.words("set")
        to = 0.0 if said.lower() in _SET else row.number("set", "s")
        found.append(
            Entry(
                day=_day(row),
                error_s=error,
                hours_worn=math.nan if worn is None else worn,
                set_s=math.nan if to is None else to,
            )
        )
    return tuple(found)


def _day(row: Row) -> int:
    """The line's day as a whole number."""
    date, day = row.words("date"), row.words("day")
    if bool(date) == bool(day):
        raise InputError(f"{row.where}: exactly one of date and day is needed")
    if date:
        try:
            return datetime.date.fromisoformat(date).toordinal()
        except ValueError:
            raise InputError(f"{row.where}: date = {shown(date)}: must be like 2026-11-26") from None
    number = row.number("day")
    if number is None or number != int(number):
        raise InputError(f"{row.where}: day = {shown(day)}: must be a whole number")
    return int(number)
