"""Pictures of the poising aid: the heavy point on the balance, and the vertical rates read and by the model."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from oscsim.arrays import Array
from oscsim.show.bench_words import as_sure
from oscsim.show.labels import broken_title
from oscsim.show.style import GREY, SERIES, frame, headline, new_axes
from oscsim.tolerances import NORMAL_90
from oscsim.units import POSITIONS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from oscsim.bench.poise import Poise

BLUE, RED = SERIES[0][0], SERIES[1][0]
_VERTICAL = ("12H", "3H", "6H", "9H")


def plot_poise(answer: Poise, ax: Axes | None = None) -> Axes:
    """The heavy point as a vector on the dial, 12 above and 3 to the right, with its 90 % region; µg·cm."""
    ax = new_axes(ax)
    ellipse = _ellipse(answer)
    reach = 1.25 * max(float(np.abs(ellipse).max()), float(np.hypot(*answer.vector_ug_cm)), 1e-9)
    around = np.linspace(0.0, 2.0 * math.pi, 181)
    for radius in (0.5 * reach, reach):
        ax.plot(radius * np.sin(around), radius * np.cos(around), color="#bbbbbb", linewidth=1.0)
    for hour in range(1, 13):
        turn = math.radians(30.0 * hour)
        ax.plot(*[[0.96 * reach * f(turn), reach * f(turn)] for f in (math.sin, math.cos)], color=GREY)
        if hour % 3 == 0:
            ax.text(
                1.1 * reach * math.sin(turn), 1.1 * reach * math.cos(turn), f"{hour}", ha="center", va="center",
                fontsize=12, fontweight="bold",
            )  # fmt: skip
    ax.fill(ellipse[1], ellipse[0], color=BLUE, alpha=0.25, linewidth=0, label="heavy point, 90 %")
    ax.plot(0.0, 0.0, marker="+", color="black", markersize=11)
    if answer.told:
        towards_12, towards_3 = answer.vector_ug_cm
        ax.annotate(
            "", (towards_3, towards_12), (0.0, 0.0),
            arrowprops={"arrowstyle": "-|>", "color": BLUE, "linewidth": 2.2, "shrinkA": 0, "shrinkB": 0},
        )  # fmt: skip
        half = 0.5 * (answer.high_ug_cm - answer.low_ug_cm)
        said = f"{as_sure(answer.moment_ug_cm, half)} µg·cm at {answer.direction_deg:.0f} deg"
    else:
        said = "not told from a poised balance"
    ax.set_xlim(-1.22 * reach, 1.22 * reach)
    ax.set_ylim(-1.22 * reach, 1.22 * reach)
    ax.set_aspect("equal")
    ax.set_xlabel("towards 3 o'clock, µg·cm")
    ax.set_ylabel("towards 12 o'clock, µg·cm")
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    ax.legend(frameon=False, fontsize=9, loc="upper left", bbox_to_anchor=(-0.02, 1.02))
    broken_title(ax, f"{headline(answer.design)}, dial side: {said}")
    return ax


def _ellipse(answer: Poise) -> Array:
    """Outline of the 90 % region, (2, n): towards 12 and towards 3."""
    around = np.linspace(0.0, 2.0 * math.pi, 121)
    circle = math.sqrt(-2.0 * math.log(0.1)) * np.stack([np.cos(around), np.sin(around)])
    return np.asarray(answer.vector_ug_cm[:, None] + np.linalg.cholesky(answer.covariance) @ circle)


def plot_vertical_rates(answer: Poise, ax: Axes | None = None) -> Axes:
    """Rates of the vertical positions: read, by the model, and after the work; one colour an hour."""
    ax = new_axes(ax)
    times = sorted({v.hours for v in answer.verticals})
    there = [symbol for symbol in _VERTICAL if any(v.position == symbol for v in answer.verticals)]
    key: list[Any] = []
    for n, hours in enumerate(times):
        colour, line, marker = SERIES[n % len(SERIES)]
        at = sorted((v for v in answer.verticals if v.hours == hours), key=lambda v: there.index(v.position))
        x = np.array([there.index(v.position) for v in at]) + 0.06 * (n - 0.5 * (len(times) - 1))
        swing = np.mean([v.shown_deg for v in at])
        read = ax.errorbar(
            x, [v.rate_s_per_day for v in at], yerr=[NORMAL_90 * v.uncertainty_s_per_day for v in at], color=colour,
            marker=marker, linestyle="none", markersize=7, label=f"read, {hours:.4g} h, {swing:.0f} deg",
        )  # fmt: skip
        model = ax.plot(
            x, [v.model_s_per_day for v in at], color=colour, linestyle=line, linewidth=1.4, label="model"
        )
        key += [read, *model]
        if answer.told:
            key += ax.plot(
                x, [v.after_s_per_day for v in at], color=colour, marker=marker, markerfacecolor="white",
                linestyle=":", linewidth=1.0, label="after the work",
            )  # fmt: skip
    ax.set_xticks(range(len(there)), [f"{symbol}\n{POSITIONS[symbol].words}" for symbol in there])
    ax.set_xlim(-0.4, len(there) - 0.6)
    ax.set_ylabel("rate, s/day")
    ax.margins(y=0.1)
    frame(ax)
    ax.legend(
        handles=key,
        frameon=False,
        fontsize=8,
        ncols=len(times),
        loc="lower center",
        bbox_to_anchor=(0.5, 1.0),
    )
    return ax


def poise_figure(answer: Poise) -> Figure:
    """The heavy point to the left, the rates to the right."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(11.5, 5.6), layout="constrained")
    FigureCanvasAgg(figure)
    left, right = figure.subplots(1, 2)
    plot_poise(answer, ax=left)
    plot_vertical_rates(answer, ax=right)
    return figure
