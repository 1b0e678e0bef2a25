"""Pictures of the bench: readings against the bands of sound examples; fits and work, before and after."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from oscsim.show.bench_words import READ_TITLES, READ_WORDS
from oscsim.show.labels import broken_title
from oscsim.show.style import AFTER, BEFORE, GREY, SERIES, frame, headline, new_axes, title
from oscsim.tolerances import NORMAL_90
from oscsim.units import POSITIONS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from oscsim.bench.diagnose import Diagnose
    from oscsim.bench.fit import Fit
    from oscsim.bench.progress import Progress

#: Entries of a key that stand in a line; letters of a verdict that stand in a title.
_IN_A_LINE, _SAID = 4, 16
#: Share of a position's width that its hours take.
_WIDTH = 0.66


def across(symbols: list[str], hours: list[float]) -> tuple[list[str], list[float], float]:
    """Positions in the house's order, hours sorted, and the width of one hour's column."""
    there = [symbol for symbol in POSITIONS if symbol in symbols]
    times = sorted(set(hours))
    return there, times, _WIDTH / len(times)


def _ticks(ax: Axes, there: list[str]) -> None:
    ax.set_xticks(range(len(there)), [f"{symbol}\n{POSITIONS[symbol].words}" for symbol in there])
    ax.set_xlim(-0.6, len(there) - 0.4)


def _panel(answer: Diagnose, ax: Axes, kind: str) -> None:
    """One kind of reading: what a sound movement and this one would be read as at each place, and what was read."""
    own = [one for one in answer.shown if one.read == kind]
    there, times, width = across([one.position for one in own], [one.hours for one in own])
    named: set[str] = set()
    told = answer.told(kind)  # where nothing fits, nothing says what they should be

    def label(text: str) -> str | None:
        new = text not in named
        named.add(text)
        return text if new else None

    for one in own:
        n = times.index(one.hours)
        colour, _, marker = SERIES[n % len(SERIES)]
        x = there.index(one.position) + (n + 0.5) * width - 0.5 * _WIDTH
        low, high = one.sound.low, one.sound.high
        if told:
            ax.bar(x, high - low, 0.86 * width, low, color=colour, alpha=0.22, linewidth=0,
                   label=label("a sound one, 90 %") if n == 0 else None)  # fmt: skip
            ax.plot([x - 0.43 * width, x + 0.43 * width], [one.sound.middle] * 2, color=colour, linewidth=1.2)
            ax.errorbar(
                x + 0.2 * width,
                one.this.middle,
                yerr=[[one.this.middle - one.this.low], [one.this.high - one.this.middle]],
                color=GREY,
                marker="_",
                markersize=8,
                elinewidth=1.0,
                linestyle="none",
                label=label("this one, 90 %"),
            )
        ax.plot(
            x - 0.1 * width,
            one.value,
            color="black",
            marker="x" if told and one.doubted else marker,
            markersize=7,
            markerfacecolor=colour if not told or low <= one.value <= high else "white",
            markeredgecolor=colour,
            markeredgewidth=1.8,
            linestyle="none",
            label=label(f"read at {one.hours:.4g} h"),
        )
    _ticks(ax, there)
    ax.set_ylabel(READ_TITLES[kind][0].lower() + READ_TITLES[kind][1:])
    ax.use_sticky_edges = False  # the lowest band's lower end is to be seen too
    ax.margins(y=0.14)
    frame(ax)


def plot_diagnose(answer: Diagnose, ax: Axes | None = None) -> Axes:
    """Amplitudes read beside what a sound movement and this one would show; outside the sound band they are white."""
    ax = new_axes(ax)
    _panel(answer, ax, "amplitude_deg")
    handles, names = ax.get_legend_handles_labels()
    # one line whatever the number of hours, so that it stays clear of the title
    ax.legend(
        handles, names, frameon=False, fontsize=9 if len(names) <= _IN_A_LINE else 7.5, ncols=len(names),
        loc="lower center", bbox_to_anchor=(0.5, 1.0), columnspacing=1.2, handletextpad=0.4,
    )  # fmt: skip
    said = answer.verdict.split(":")[0].lower()
    broken_title(ax, f"{headline(answer.design)}: {answer.verdict_word if len(said) > _SAID else said}")
    ax.title.set_position((0.0, 1.0))
    ax.set_title(ax.get_title(loc="left"), loc="left", fontsize=11, pad=26, parse_math=False)
    return ax


def diagnose_figure(answer: Diagnose) -> Figure:
    """Amplitudes above, rates below, on one page."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    rates = any(one.read == "rate_s_per_day" for one in answer.shown)
    figure = Figure(figsize=(8.5, 8.0 if rates else 5.0), layout="constrained")
    FigureCanvasAgg(figure)
    panels = figure.subplots(2 if rates else 1, 1, squeeze=False)
    plot_diagnose(answer, ax=panels[0, 0])
    if rates:
        plot_rates_read(answer, ax=panels[1, 0])
    return figure


def plot_rates_read(answer: Diagnose, ax: Axes) -> Axes:
    """Rates read against the bands, which lie about the readings' own mean."""
    _panel(answer, ax, "rate_s_per_day")
    ax.set_ylabel("rate, s/day")
    title(ax, "Rates, the bands set about their mean" if answer.fits else "Rates as read")
    return ax


def plot_fit(answer: Fit, ax: Axes | None = None) -> Axes:
    """How far each reading lies from the design and from the fitted one, in the reading's uncertainty."""
    ax = new_axes(ax)
    kinds = list(READ_WORDS)
    compared = sorted(answer.compared, key=lambda c: kinds.index(c.kind))
    places = [f"{c.position} {c.hours:g} h" for c in compared]
    x = np.arange(len(places))
    for name, values, look in (
        ("design as it was", [(c.value - c.before) / c.uncertainty for c in compared], BEFORE),
        ("fitted", [(c.value - c.after) / c.uncertainty for c in compared], AFTER),
    ):
        ax.plot(x, values, **look, label=name)
    ax.axhspan(-NORMAL_90, NORMAL_90, color=GREY, alpha=0.12, linewidth=0)
    ax.axhline(0.0, color=GREY, linewidth=0.8)
    ax.set_xticks(x, places, rotation=90, fontsize=8)
    ax.set_xlabel("position, hours since full wind")
    for kind in dict.fromkeys(c.kind for c in compared):
        at = [n for n, c in enumerate(compared) if c.kind == kind]
        ax.text(
            float(np.mean(at)), 0.99, READ_WORDS[kind], transform=ax.get_xaxis_transform(), ha="center", va="top",
            fontsize=9, color=GREY,
        )  # fmt: skip
        if at[0]:
            ax.axvline(at[0] - 0.5, color=GREY, linewidth=0.8, linestyle=":")
    ax.margins(y=0.16)
    ax.set_ylabel("reading less design, in its uncertainty")
    frame(ax)
    ax.legend(frameon=False, fontsize=9, loc="lower left", ncols=2)
    broken_title(
        ax,
        f"{headline(answer.design)}: fitted to {len(places)} values read (grey: nine in ten should lie here)",
    )
    return ax


def plot_progress(answer: Progress, ax: Axes | None = None) -> Axes:
    """Amplitude before and after, and what was predicted, by position and hour."""
    ax = new_axes(ax)
    _moved(
        answer,
        ax,
        "amplitude_deg" if any(m.read == "amplitude_deg" for m in answer.moved) else answer.moved[0].read,
    )
    _before_and_after(ax, answer)
    return ax


def _before_and_after(ax: Axes, answer: Progress) -> None:
    """The title, and the key beside it, clear of the marks."""
    broken_title(ax, f"{headline(answer.design)}: before and after the work")
    ax.legend(frameon=False, fontsize=9, ncols=3, loc="lower right", bbox_to_anchor=(1.0, 1.0))


def progress_figure(answer: Progress) -> Figure:
    """Amplitude, rate and beat, those that were read both times, below one another."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    kinds = [kind for kind in READ_TITLES if any(m.read == kind for m in answer.moved)]
    figure = Figure(figsize=(8.5, 1.0 + 3.6 * len(kinds)), layout="constrained")
    FigureCanvasAgg(figure)
    for ax, kind in zip(figure.subplots(len(kinds), 1, squeeze=False)[:, 0], kinds, strict=True):
        _moved(answer, ax, kind)
        if kind == kinds[0]:
            _before_and_after(ax, answer)
    return figure


def _moved(answer: Progress, ax: Axes, kind: str) -> None:
    moved = [m for m in answer.moved if m.read == kind]
    there, times, width = across([m.position for m in moved], [m.hours for m in moved])
    for n, m in enumerate(moved):
        x = there.index(m.position) + (times.index(m.hours) + 0.5) * width - 0.5 * _WIDTH
        ax.annotate(
            "", (x, m.after), (x, m.before), arrowprops={"arrowstyle": "-", "color": GREY, "linewidth": 0.8}
        )
        for name, look, value in (("before", BEFORE, m.before), ("after", AFTER, m.after)):
            ax.plot(x, value, **look, label=name if n == 0 else None)
        if len(times) > 1:
            ax.annotate(
                f"{m.hours:.4g} h", (x, 0.0), (0, 3), xycoords=("data", "axes fraction"),
                textcoords="offset points", ha="center", fontsize=7, color=GREY,
            )  # fmt: skip
        if math.isnan(m.predicted):
            continue
        middle, half = m.before + m.predicted, math.hypot(m.half_width, m.predicted_half_width)
        low = half if kind == "rate_s_per_day" else min(half, max(middle, 0.0))  # only a rate is below nought
        ax.errorbar(
            x + 0.16 * width, middle, yerr=[[low], [half]],
            color=SERIES[0][0], marker="_", markersize=12, elinewidth=1.4, linestyle="none",
            label="predicted, 90 %" if n == 0 else None,
        )  # fmt: skip
    _ticks(ax, there)
    ax.margins(y=0.12)
    ax.set_ylabel(READ_TITLES[kind][0].lower() + READ_TITLES[kind][1:])
    frame(ax)
