"""The diagnosis on one printable page: verdict, picture, causes, readings, next reading, cautions."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

from oscsim.errors import InputError
from oscsim.show.bench_plots import plot_diagnosis, plot_rates_read
from oscsim.show.bench_tables import (
    CAUSE_HEADS,
    JUDGED_HEADS,
    ODDS_NOTE,
    alike_sentence,
    cause_row,
    judged_rows,
    margin_sentence,
    next_sentence,
    remarks,
)
from oscsim.show.bench_words import CAUTIONS, READ_TITLES, aligned
from oscsim.show.style import GREY, headline

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from oscsim.bench.findings import Diagnosis

#: A4 in inches, the margins as shares of it, and the height of a line in points over its font size.
_PAGE, _LEFT, _RIGHT, _LINE = (8.27, 11.69), 0.07, 0.93, 1.28
#: Rows of each kind of reading that a page holds.
_MOST = 14
_TABLE, _TEXT, _SMALL = 6.3, 9.0, 7.0


def check_report_name(path: Path) -> None:
    """Raise InputError unless the file is to be a PDF."""
    if path.suffix.lower() != ".pdf":
        raise InputError(f"report {path}: ending {path.suffix!r} is not .pdf")


class _Page:
    """Text set from the top down, in the figure's own fractions."""

    def __init__(self, figure: Figure) -> None:
        self.figure = figure
        self.y = 0.965

    def text(self, text: str, size: float, *, table: bool = False, bold: bool = False) -> None:
        """Lines as they are, from the left margin."""
        lines = text.split("\n")
        self.figure.text(
            _LEFT, self.y, text, fontsize=size, va="top", linespacing=_LINE, parse_math=False,
            family="monospace" if table else "sans-serif", fontweight="bold" if bold else "normal",
        )  # fmt: skip
        self.skip(len(lines) * size * _LINE * 1.16 + 0.55 * size)

    def prose(self, text: str, size: float, *, bold: bool = False) -> None:
        """A sentence broken to the page's width."""
        wide = int((_RIGHT - _LEFT) * _PAGE[0] * 72.0 / (size * (0.58 if bold else 0.53)))
        self.text("\n".join(textwrap.wrap(text, wide)), size, bold=bold)

    def skip(self, points: float) -> None:
        self.y -= points / 72.0 / _PAGE[1]


def report_figure(answer: Diagnosis) -> Figure:
    """The page as a figure of A4 size."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=_PAGE)
    FigureCanvasAgg(figure)
    page = _Page(figure)
    told = answer.readings.lift_angle_deg
    lift = "the design's own" if told is None else f"{told:g} deg"
    page.text(f"{headline(answer.design)}: diagnosis", 15.0, bold=True)
    page.text(f"{Path(answer.readings.source).name}; lift angle told: {lift}", _SMALL)
    page.prose(answer.verdict, _TEXT + 1.0, bold=True)
    _pictures(answer, page)
    page.text("Causes in order of evidence", _TEXT, bold=True)
    page.text(aligned(CAUSE_HEADS, [cause_row(cause) for cause in answer.causes]), _TABLE + 0.4, table=True)
    page.prose(" ".join(part for part in (ODDS_NOTE, alike_sentence(answer)) if part), _SMALL)
    page.prose(margin_sentence(answer), _SMALL + 1.0)
    page.prose(next_sentence(answer), _SMALL + 1.0, bold=True)
    for remark in remarks(answer):
        page.prose(remark, _SMALL)
    _readings(answer, page)
    page.text("Cautions", _TEXT - 1.0, bold=True)
    for caution in CAUTIONS:
        page.prose(f"- {caution}", _SMALL - 0.5)
    return figure


def _pictures(answer: Diagnosis, page: _Page) -> None:
    """Amplitudes, and rates where there are some, side by side below one another."""
    rates = any(j.kind == "rate_s_per_day" for j in answer.judged)
    height, gap = (0.15, 0.052) if rates else (0.24, 0.0)
    page.skip(26.0)
    for plot in (plot_diagnosis, plot_rates_read)[: 2 if rates else 1]:
        ax = page.figure.add_axes((_LEFT + 0.06, page.y - height, _RIGHT - _LEFT - 0.06, height))
        plot(answer, ax=ax)
        ax.tick_params(labelsize=7)
        ax.xaxis.label.set_size(8)
        ax.yaxis.label.set_size(8)
        page.y -= height + gap
    page.skip(4.0 if rates else 34.0)


def _readings(answer: Diagnosis, page: _Page) -> None:
    """Amplitudes and rates in two columns, each with its judgement."""
    top = page.y
    lowest = top
    for n, kind in enumerate(("amplitude_deg", "rate_s_per_day")):
        rows = [row[:4] for row in judged_rows(answer, kind)]
        if not rows:
            continue
        heads = [READ_TITLES[kind], *JUDGED_HEADS[1:4]]
        table = aligned(heads, rows[:_MOST], left=(0, 3))
        if len(rows) > _MOST:
            table += f"\n… and {len(rows) - _MOST} more"
        page.figure.text(
            _LEFT + 0.44 * n, top, table, fontsize=_TABLE - 0.8, va="top", family="monospace",
            linespacing=_LINE, parse_math=False, color="black" if n == 0 else GREY,
        )  # fmt: skip
        lines = table.count("\n") + 1
        lowest = min(lowest, top - (lines * (_TABLE - 0.8) * _LINE * 1.16 + 6.0) / 72.0 / _PAGE[1])
    page.y = lowest
