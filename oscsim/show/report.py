"""The printed page of any answer about readings: the job, beat errors, the picture and the whole text, on A4 sheets."""

from __future__ import annotations

import io
import math
import textwrap
from collections.abc import Mapping, Sequence
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from oscsim.errors import InputError
from oscsim.show.bench_words import aligned, place
from oscsim.show.plots import description
from oscsim.show.style import title
from oscsim.whole import write_whole

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from oscsim.answers.result import Result
    from oscsim.slips.readings import About, Readings

#: A4 in inches; margins as shares of it; height of the picture as a share of the page.
_PAGE, _LEFT, _RIGHT, _TOP, _BOTTOM, _PICTURE = (8.27, 11.69), 0.08, 0.94, 0.955, 0.045, 0.235
_HEAD, _WORDS, _TEXT, _LINE = 13.0, 9.0, 7.6, 1.3
#: Sizes that are tried to bring all on one sheet.
_SMALLER = (_TEXT, 7.0, 6.5, 6.0)
#: A line as it is drawn over size times spacing.
_DRAWN = 0.91


def check_report_name(path: Path) -> None:
    """Raise InputError unless the file is to be a PDF."""
    if path.suffix.lower() != ".pdf":
        raise InputError(f"report {path}: ending {path.suffix!r} is not .pdf")


def about_lines(about: About) -> list[str]:
    """Date, number of the job, name and remarks, as lines for the head of a page; what was not given is left out."""
    first = [
        f"{word} {text}"
        for word, text in (("Date", about.date), ("Job", about.job), ("For", about.name))
        if text
    ]
    return [" · ".join(first), *([f"Remarks: {about.remarks}"] if about.remarks else [])][0 if first else 1 :]


def beat_table(sets: Mapping[str, Readings]) -> str:
    """Beat errors read, ms, by place; a column for each set of readings (before and after). Empty where none was
    read."""
    places: dict[tuple[str, float], None] = {}
    for readings in sets.values():
        for row in readings.rows:
            if math.isfinite(row.beat_error_ms):
                places[row.position, row.hours] = None
    if not places:
        return ""
    read = {
        name: {(row.position, row.hours): row.beat_error_ms for row in readings.rows}
        for name, readings in sets.items()
    }

    def cell(value: float) -> str:
        return f"{value:.1f}" if math.isfinite(value) else "–"

    rows = [[place(*at), *(cell(found.get(at, math.nan)) for found in read.values())] for at in places]
    return str(aligned(["Beat error, ms", *sets], rows))


def _told(lines: Sequence[str]) -> int:
    """How many lines the answer's own table of beat errors has, its head counted."""
    start = next((n for n, line in enumerate(lines) if line.startswith("Beat error, ms")), len(lines))
    return len(list(takewhile(str.strip, lines[start:])))


def report_pages(answer: Result, sets: Mapping[str, Readings], about: About) -> list[Figure]:
    """The sheets: head and picture on the first, then the answer's text and the beat errors as far as they go.

    ``sets``: the readings by what they are called, such as before and after.
    """
    from matplotlib.figure import Figure

    heading, *lines = answer.text().strip().split("\n")
    lines = lines[1:] if lines and not lines[0].strip() else lines
    beats = beat_table(sets).split("\n")
    if len(beats) > max(1, _told(lines)):  # once is enough
        lines += ["", *beats]
    sheets, first = [], True
    while lines:
        figure = Figure(figsize=_PAGE)
        y = _head(figure, heading, sets, about) if first else _TOP
        if first:
            y = _picture(figure, answer, y)
        size = next((size for size in _SMALLER if first and len(lines) <= _room(y, size)), _TEXT)
        taken, lines = _parted(lines, _room(y, size))
        figure.text(
            _LEFT,
            y,
            "\n".join(taken),
            fontsize=size,
            va="top",
            linespacing=_LINE,
            family="monospace",
            parse_math=False,
        )
        sheets.append(figure)
        first = False
    for number, figure in enumerate(sheets, start=1):
        figure.text(_RIGHT, 0.02, f"{number} of {len(sheets)}", fontsize=_TEXT, ha="right")
    return sheets


def save_report(pages: Sequence[Figure], path: Path, origin: Mapping[str, Any]) -> None:
    """Write the sheets as one PDF, whole or not at all; raises InputError."""
    from matplotlib.backends.backend_pdf import PdfPages

    check_report_name(path)
    out = io.BytesIO()
    with PdfPages(out, metadata=description("pdf", origin)) as pdf:
        for page in pages:
            pdf.savefig(page)
    write_whole(path, out.getvalue())


def _head(figure: Figure, heading: str, sets: Mapping[str, Readings], about: About) -> float:
    """What the page is about, the job and where the readings are from; where the rest may begin."""
    y = _TOP
    files = ", ".join(dict.fromkeys(Path(readings.source).name for readings in sets.values()))
    lines = [*about_lines(about), f"Readings: {files}"]
    for part in textwrap.wrap(heading, 62):
        figure.text(_LEFT, y, part, fontsize=_HEAD, va="top", weight="bold", parse_math=False)
        y -= _HEAD * 1.6 / 72.0 / _PAGE[1]
    for line in lines:
        for part in textwrap.wrap(line, 95):
            figure.text(_LEFT, y, part, fontsize=_WORDS, va="top", parse_math=False)
            y -= _WORDS * 1.5 / 72.0 / _PAGE[1]
    return y - 0.012


def _picture(figure: Figure, answer: Result, y: float) -> float:
    """The answer's picture across the page; where the text may begin."""
    ax = figure.add_axes((_LEFT + 0.05, y - 0.02 - _PICTURE, _RIGHT - _LEFT - 0.05, _PICTURE))
    answer.plot(ax=ax)
    title(ax, "")
    legend = ax.get_legend()
    if legend is not None and ax.get_aspect() == 1.0:  # a round picture leaves room beside it
        legend.set_loc("upper left")
        legend.set_bbox_to_anchor((1.03, 1.0))
    return y - _PICTURE - 0.085


def _room(y: float, size: float) -> int:
    """Lines of text of this size that fit below y."""
    return int((y - _BOTTOM) * _PAGE[1] * 72.0 / (size * _LINE * _DRAWN))


def _parted(lines: list[str], many: int) -> tuple[list[str], list[str]]:
    """So many lines for a sheet, broken at an empty line where there is one near the end, and the rest."""
    if len(lines) <= many:
        return lines, []
    empty = [n for n in range(many, max(many - 12, 1), -1) if not lines[n].strip()]
    at = empty[0] if empty else many
    return lines[:at], lines[at:][1 if empty else 0 :]
