"""Pictures of what designs get for what they give up, of fronts, and of years without service."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from oscsim.answers.measures import MEASURES
from oscsim.show.style import GREY, SERIES, frame, headline, key, new_axes, short, title
from oscsim.show.tradeoff_tables import measure_label, value_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from oscsim.answers.ageing import Ageing
    from oscsim.answers.tradeoff import Front, Tradeoff


def plot_tradeoff(answer: Tradeoff, ax: Axes | None = None) -> Axes:
    """Pairs of values on a common scale, better to the right; or the front in its first two aims."""
    ax = new_axes(ax)
    if answer.front is not None:
        return _front(answer, answer.front, ax)
    shown = [n for n in answer.names if np.isfinite(answer.values[n]).any()]
    for row, name in enumerate(shown):
        values = answer.values[name]
        gains = MEASURES[name].gain(values)
        finite = np.isfinite(gains)
        scale = np.abs(gains[finite]).max() or 1.0
        # the worst of the designs stands at 0, what the others gain over it is a share of the larger value
        place = np.where(finite, (gains - gains[finite].min()) / scale, np.where(gains > 0.0, 1.05, np.nan))
        ax.plot([np.nanmin(place), np.nanmax(place)], [row, row], color="#cccccc", linewidth=3.0, zorder=1)
        for d in range(len(values)):
            colour, _, marker = SERIES[d % len(SERIES)]
            ax.plot(place[d], row, color=colour, marker=marker, markersize=7, linestyle="none", zorder=2,
                    label=short(answer.movements[d].name) if row == 0 else None)  # fmt: skip
        told = " | ".join(value_text(name, v) for v in values)
        ax.annotate(
            told, (1.01, row), xycoords=("axes fraction", "data"), va="center", fontsize=8, color=GREY
        )
    ax.set_yticks(range(len(shown)), [measure_label(n) for n in shown], fontsize=8)
    ax.set_ylim(len(shown) - 0.4, -0.6)
    ax.set_xlabel("better than the worst of these, as a share of the larger value (never: 1.05)")
    frame(ax)
    key(ax, loc="lower right", frameon=True)
    title(ax, "What each design gets and gives up (values at the right, in the key's order)")
    return ax


def tradeoff_figure(answer: Tradeoff) -> Figure:
    """Tall enough for all measures; a front in every pair of aims."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    if answer.front is None:
        figure = Figure(figsize=(11.0, 1.6 + 0.32 * len(answer.names)), layout="constrained")
        FigureCanvasAgg(figure)
        plot_tradeoff(answer, figure.add_subplot())
        return figure
    pairs = [(i, j) for i in range(len(answer.aims)) for j in range(i + 1, len(answer.aims))]
    columns = min(len(pairs), 3)
    rows = math.ceil(len(pairs) / columns)
    figure = Figure(figsize=(max(8.0, 5.4 * columns), 5.0 * rows), layout="constrained")
    FigureCanvasAgg(figure)
    for n, (i, j) in enumerate(pairs):
        _front(
            answer,
            answer.front,
            figure.add_subplot(rows, columns, n + 1),
            answer.aims[i],
            answer.aims[j],
            n == 0,
        )
    return figure


def _front(
    answer: Tradeoff, found: Front, ax: Axes, across: str = "", up: str = "", first: bool = True
) -> Axes:
    across, up = across or answer.aims[0], up or answer.aims[1]
    for name, label, size, colour in ((across, "designs in these ranges", 2.5, "#c8c8c8"),):
        ax.plot(found.all_measures[name], found.all_measures[up], linestyle="none", marker="o", markersize=size,
                color=colour, markeredgewidth=0.0, label=label, zorder=1, rasterized=True)  # fmt: skip
    x, y = found.measures[across], found.measures[up]
    blue, red, green = (SERIES[i] for i in range(3))
    ax.plot(x, y, linestyle="none", marker=blue[2], markersize=4.5, color=blue[0], label="front", zorder=2)
    ax.plot(x[found.knee], y[found.knee], linestyle="none", marker="P", markersize=11, color="#000000",
            label="knee", zorder=4)  # fmt: skip
    here = found.here
    ax.plot(here[across], here[up], linestyle="none", marker=red[2], markersize=9, color=red[0],
            label=short(answer.movements[0].name), zorder=4)  # fmt: skip
    if not found.on:
        ax.annotate("", (x[found.nearest], y[found.nearest]), (here[across], here[up]),
                    arrowprops={"arrowstyle": "->", "color": red[0]}, zorder=3)  # fmt: skip
    for values in answer.bundled.values():
        ax.plot(
            values[across],
            values[up],
            linestyle="none",
            marker=green[2],
            markersize=7,
            color=green[0],
            zorder=3,
        )
    named(ax, {name: (values[across], values[up]) for name, values in answer.bundled.items()})
    for axis, name in ((ax.set_xlabel, across), (ax.set_ylabel, up)):
        axis(f"{measure_label(name)}\n({MEASURES[name].better} is better)", fontsize=9)
    frame(ax)
    if first:
        key(ax, loc="best", frameon=True)
        title(ax, f"{headline(answer.movements[0].name)}: what cannot be bettered in all aims")
    return ax


def named(ax: Axes, places: Mapping[str, tuple[float, float]]) -> None:
    """Names beside their marks, towards the middle; of two that stand close the lower one's name is below."""
    (left, right), (low, high) = ax.get_xlim(), ax.get_ylim()
    for name, (x, y) in places.items():
        wide, tall = 0.2 * (right - left), 0.08 * (high - low)
        under = any(
            other != name and abs(x - a) < wide and 0.0 <= b - y < tall and (y, name) < (b, other)
            for other, (a, b) in places.items()
        )
        outer = x > 0.5 * (left + right)
        ax.annotate(short(name), (x, y), (-5 if outer else 5, -5 if under else 4), textcoords="offset points",
                    fontsize=8, ha="right" if outer else "left", va="top" if under else "bottom")  # fmt: skip


def plot_ageing(answer: Ageing, ax: Axes | None = None) -> Axes:
    """12 up a day after winding over the years, with the range of the sources; fully wound dial up thinner."""
    ax = new_axes(ax)
    for n, movement in enumerate(answer.movements):
        colour, style, marker = SERIES[n % len(SERIES)]
        low, middle, high = (
            np.where(np.isfinite(one["amplitude_vertical_24h"][n]), one["amplitude_vertical_24h"][n], np.nan)
            for one in (answer.least_deg, answer.amplitude_deg, answer.most_deg)
        )
        ax.fill_between(answer.years, low, high, color=colour, alpha=0.15, linewidth=0.0)
        ax.plot(answer.years, middle, color=colour, linestyle=style, marker=marker,
                label=f"{short(movement.name)}, 12 up after a day")  # fmt: skip
        ax.plot(answer.years, answer.amplitude_deg["amplitude_flat"][n], color=colour, linestyle=style, linewidth=0.9,
                label=f"{short(movement.name)}, dial up, wound")  # fmt: skip
        usual = answer.years_to_limit[n, 1]
        if math.isfinite(usual) and 0.0 < usual <= answer.years[-1]:
            ax.plot(
                usual, answer.limit_deg, marker="X", color=colour, markersize=11, linestyle="none", zorder=5
            )
            # below the crossing, where no line runs
            ax.annotate(f"{usual:.1f} years", (usual, answer.limit_deg), (0, -14), textcoords="offset points",
                        fontsize=9, color=colour, ha="center", va="top", zorder=6)  # fmt: skip
    ax.axhline(answer.limit_deg, color=GREY, linewidth=1.0, linestyle=(0, (4, 3)))
    ax.annotate(f"{answer.limit_deg:g} deg: needs service", (0.99, answer.limit_deg), (0, -11), fontsize=9, color=GREY,
                xycoords=("axes fraction", "data"), textcoords="offset points", ha="right")  # fmt: skip
    ax.set_xlabel("years without service")
    ax.set_ylabel("amplitude, deg")
    ax.margins(x=0.02)
    frame(ax)
    key(ax, loc="upper right", ncols=2, frameon=True)
    ax.set_ylim(top=ax.get_ylim()[1] + 0.14 * np.ptp(ax.get_ylim()))
    title(ax, "Amplitude over years without service; shaded: range of the sources")
    return ax
