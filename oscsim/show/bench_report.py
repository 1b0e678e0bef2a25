"""The diagnosis on one printable page: verdict, picture, causes, readings, next reading, cautions."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

from oscsim.errors import InputError
from oscsim.show.bench_plots import plot_diagnose, plot_rates_read
from oscsim.show.bench_tables import (
    FAULT_HEADS,
    FAULT_NOTE,
    SHOWN_HEADS,
    beside,
    fault_rows,
    next_sentence,
    shown_rows,
)
from oscsim.show.bench_words import CAUTIONS, READ_TITLES, aligned
from oscsim.show.style import headline, title
from oscsim.show.tables import sketch_sentence

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from oscsim.bench.diagnose import Diagnose

#: A4 in inches, the margins as shares of it, and the spacing of lines.
_PAGE, _LEFT, _RIGHT, _BOTTOM, _LINE = (8.27, 11.69), 0.07, 0.93, 0.025, 1.28
#: Height of a picture, as a share of the page, and rows of each kind of reading: tried until the page holds all.
_LAYOUTS = ((0.14, 14), (0.125, 14), (0.11, 12), (0.095, 10), (0.08, 6), (0.07, 2))
_TABLE, _TEXT, _SMALL = 6.3, 9.0, 7.0


def check_report_name(path: Path) -> None:
    """Raise InputError unless the file is to be a PDF."""
    if path.suffix.lower() != ".pdf":
        raise InputError(f"report {path}: ending {path.suffix!r} is not .pdf")


class _Page:
    """Text set from the top down, in the figure's own fractions."""

    def __init__(self, figure: Figure, renderer: Any) -> None:
        self.figure, self.renderer = figure, renderer
        self.y = 0.965

    def text(self, text: str, size: float, *, bold: bool = False) -> None:
        """Lines as they are, from the left margin."""
        self.block(text, size, _LEFT, fontweight="bold" if bold else "normal")

    def block(self, text: str, size: float, x: float, **looks: Any) -> None:
        """The same anywhere across the page, followed by a gap."""
        drawn = self.figure.text(
            x, self.y, text, fontsize=size, va="top", linespacing=_LINE, parse_math=False, **looks
        )
        self.y -= drawn.get_window_extent(self.renderer).height / self.figure.bbox.height
        self.skip(0.75 * size)

    def prose(self, text: str, size: float, *, bold: bool = False) -> None:
        """A sentence broken to the page's width."""
        wide = int((_RIGHT - _LEFT) * _PAGE[0] * 72.0 / (size * (0.58 if bold else 0.53)))
        lines = [line for part in text.split("\n") for line in textwrap.wrap(part, wide)]
        self.text("\n".join(lines), size, bold=bold)

    def skip(self, points: float) -> None:
        self.y -= points / 72.0 / _PAGE[1]


def report_figure(answer: Diagnose) -> Figure:
    """The page as a figure of A4 size."""
    for height, rows in _LAYOUTS:
        figure, fits = _set(answer, height, rows)
        if fits:
            break
    return figure


def _set(answer: Diagnose, height: float, rows: int) -> tuple[Figure, bool]:
    """The page with pictures of this height and this many rows of readings, and whether all is on it."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=_PAGE)
    canvas: Any = FigureCanvasAgg(figure)  # without types
    page = _Page(figure, canvas.get_renderer())
    told = answer.readings.lift_angle_deg
    lift = "the design's own" if told is None else f"{told:g} deg"
    page.text(f"{headline(answer.design)}: diagnosis", 15.0, bold=True)
    page.text(f"{Path(answer.readings.source).name}; lift angle told: {lift}", _SMALL)
    page.prose(answer.verdict, _TEXT + 1.0, bold=True)
    _pictures(answer, page, height)
    if answer.fits:
        page.text("What takes amplitude", _TEXT, bold=True)
        page.block(aligned(FAULT_HEADS, fault_rows(answer)).plain(), _TABLE, _LEFT, family="monospace")
        page.prose(FAULT_NOTE, _SMALL)
    page.text("What else shows (takes no amplitude)", _TEXT, bold=True)
    page.prose("\n".join(beside(answer)), _SMALL)
    page.prose(next_sentence(answer), _SMALL + 1.0, bold=True)
    sketch = [sketch_sentence(answer.movement)] if answer.movement.filled else []
    for remark in [*(p.said for p in answer.patterns if not p.explains), *sketch]:
        page.prose(remark, _SMALL)
    _readings(answer, page, rows)
    page.text("Cautions", _TEXT - 1.0, bold=True)
    page.prose("\n".join(f"- {caution}" for caution in CAUTIONS), _SMALL - 0.5)
    return figure, page.y > _BOTTOM


def _pictures(answer: Diagnose, page: _Page, height: float) -> None:
    """Amplitudes, and below them rates where there are some."""
    rates = any(one.read == "rate_s_per_day" for one in answer.shown)
    height = height if rates else 1.7 * height
    page.skip(34.0)
    for plot in (plot_diagnose, plot_rates_read)[: 2 if rates else 1]:
        ax = page.figure.add_axes((_LEFT + 0.06, page.y - height, _RIGHT - _LEFT - 0.06, height))
        plot(answer, ax=ax)
        ax.tick_params(labelsize=7)
        ax.yaxis.label.set_fontsize(8)
        title(ax, "")
        page.y -= height
        page.skip(36.0)


def _readings(answer: Diagnose, page: _Page, most: int) -> None:
    """Amplitudes and rates in two columns, each with its judgement."""
    top, lowest = page.y, page.y
    for n, kind in enumerate(("amplitude_deg", "rate_s_per_day")):
        rows = shown_rows(answer, kind)
        if not rows:
            continue
        table = aligned([READ_TITLES[kind], *SHOWN_HEADS], rows[:most], left=(0, 4)).plain()
        if len(rows) > most:
            table += f"\n… and {len(rows) - most} more"
        page.y = top
        page.block(table, _TABLE - 1.1, _LEFT + 0.44 * n, family="monospace")
        lowest = min(lowest, page.y)
    page.y = lowest
