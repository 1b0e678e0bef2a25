"""Lists as spreadsheets save them, read in one way everywhere.

Cells parted by comma, semicolon or tab, decimals with a point or a comma, a byte order mark or not, UTF-8, UTF-16 or
Latin-1, a first line ``sep=;``, empty lines, lines that begin with ``#``: all are understood. Headings are names with
their unit; their case and spaces around them do not matter.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from oscsim.arrays import Array
from oscsim.errors import InputError, nearest, shown
from oscsim.whole import LARGEST, read_text

_MARKS = ";\t,"
_SEPARATOR = re.compile(r"^\"?sep=(.)\"?[;,\t]*$", re.IGNORECASE)
#: What people write where there is nothing to write.
_BLANK = re.compile(r"[-\N{EN DASH}\N{EM DASH}\N{MINUS SIGN}/.]*")
_COMMA = re.compile(r"[+-]?\d*,\d+")


@dataclass(frozen=True)
class Row:
    """One line of a list: where it stands, for messages, and its cells by heading, blank ones and those of missing
    columns empty. comma: a comma in a number of this file is its decimal sign."""

    where: str
    cells: Mapping[str, str]
    comma: bool

    def words(self, heading: str) -> str:
        """The cell as it stands, empty where it is blank or a dash."""
        cell = self.cells.get(heading, "")
        return "" if _BLANK.fullmatch(cell) else cell

    def number(self, heading: str, *endings: str) -> float | None:
        """The number in the cell, None where it is blank or a dash; ``endings``: units that may stand behind it.

        Raises InputError for anything else, and for what is no finite number.
        """
        cell = text = self.words(heading)
        if not text:
            return None
        text = text.replace("\N{MINUS SIGN}", "-")
        for ending in sorted(endings, key=len, reverse=True):
            text = text.removesuffix(ending).rstrip()
        if self.comma and _COMMA.fullmatch(text):
            text = text.replace(",", ".")
        try:
            value = float(text.replace("_", "?"))
        except ValueError:
            raise InputError(f"{self.where}: {heading} = {shown(cell)}: not a number") from None
        if not math.isfinite(value):
            raise InputError(f"{self.where}: {heading} = {shown(cell)}: not a finite number")
        return value


def read_rows(
    path: Path,
    kind: str,
    known: Sequence[str],
    required: Sequence[str] = (),
    *,
    called: Mapping[str, str] | None = None,
    largest: int = LARGEST,
) -> list[Row]:
    """The rows of a CSV file; ``kind`` says in messages what it should be, the rest as for ``rows_of``."""
    text = read_text(path, kind, largest=largest, spreadsheet=True)
    return rows_of(text, str(path), known, required, called)


def rows_of(
    text: str,
    source: str,
    known: Sequence[str],
    required: Sequence[str] = (),
    called: Mapping[str, str] | None = None,
) -> list[Row]:
    """The rows of a list in a text.

    ``known``: headings that are understood, the unit in each; ``required``: those that must be there; ``called``:
    other headings, in small letters, that mean one of them. Raises InputError in one line, ``source`` in front and
    the line where it stands: no heading, an unknown one, one twice, more cells than headings. Blank cells are the
    caller's to judge; the list may be empty below its headings.
    """
    lines = [
        (number, line)
        for number, line in enumerate(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), start=1)
        if line.strip() and not line.lstrip(" \t\"'").startswith("#")
    ]
    mark = _SEPARATOR.match(lines[0][1].strip()) if lines else None
    lines = lines[1:] if mark else lines
    if not lines:
        raise InputError(f"{source}: empty, needs the headings {', '.join(required or known)}")
    parted = mark[1] if mark else max(_MARKS, key=lines[0][1].count)
    try:
        reader = csv.reader(io.StringIO("\n".join(line for _, line in lines)), delimiter=parted)
        headings = _headings(next(reader), source, known, required, called or {})
        return [
            _row(cells, headings, f"{source}, line {lines[reader.line_num - 1][0]}", parted)
            for cells in reader
            if any(cell.strip() for cell in cells)
        ]
    except (csv.Error, TypeError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"{source}: not CSV: {error}") from None


def column(rows: Iterable[Row], heading: str, *endings: str) -> Array:
    """The numbers under one heading, NaN where a cell is blank."""
    values = [row.number(heading, *endings) for row in rows]
    return np.array([math.nan if value is None else value for value in values])


def _headings(
    cells: list[str],
    source: str,
    known: Sequence[str],
    required: Sequence[str],
    called: Mapping[str, str],
) -> list[str]:
    """The headings as they are known, empty ones at the end left out."""
    folded = {**called, **{name.lower(): name for name in known}}
    told = [cell.strip() for cell in cells]
    while told and not told[-1]:
        told.pop()
    for heading in told:
        if heading.lower() not in folded:
            raise InputError(f"{source}: unknown heading {shown(heading)}; {nearest(heading, known)}")
    headings = [folded[heading.lower()] for heading in told]
    for heading in headings:
        if headings.count(heading) > 1:
            raise InputError(f"{source}: heading {heading} stands there twice")
    if missing := [heading for heading in required if heading not in headings]:
        raise InputError(f"{source}: heading {missing[0]} is missing; needed are {', '.join(required)}")
    return headings


def _row(cells: list[str], headings: list[str], where: str, parted: str) -> Row:
    told = [cell.strip() for cell in cells]
    if any(told[len(headings) :]):
        raise InputError(f"{where}: more cells than headings")
    told += [""] * (len(headings) - len(told))
    return Row(where, dict(zip(headings, told, strict=False)), parted != ",")
