"""Pictures of a hairspring by its shape: the coil at rest and wound either way, and its rate over the swing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from oscsim.answers.hairspring import DRAWN, VERTICAL
from oscsim.parts.hairspring_table import opened
from oscsim.show.style import GREY, SERIES, frame, headline, key, new_axes, title

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from oscsim.answers.hairspring import HairspringShape

#: Where want of poise is silent, deg: the first zero of J₁.
_SILENT = 219.5


def plot_hairspring(answer: HairspringShape, ax: Axes | None = None) -> Axes:
    """Rate of the spring in s/day against amplitude in degrees: its shape, and with its weight in each position."""
    ax = new_axes(ax)
    swing = answer.amplitude_deg
    order = np.argsort(swing)
    shape = answer.watch_rate_s_per_day[order]
    if answer.strip_mass_mg:
        for number, symbol in enumerate(VERTICAL):
            colour, line, marker = SERIES[number]
            ax.plot(
                swing[order], answer.rate_by_position[symbol][order], color=colour, linestyle=line, marker=marker,
                markersize=5, linewidth=1.6, label=f"{symbol}, with its weight",
            )  # fmt: skip
    ax.plot(swing[order], shape, color="black", linewidth=3.0, label="lying flat: shape alone")
    ax.axhline(0.0, color=GREY, linewidth=0.8)
    if swing.min() < _SILENT < swing.max():
        ax.axvline(_SILENT, color=GREY, linewidth=0.8, linestyle=":")
        ax.text(_SILENT, 0.01, " want of poise is silent", color=GREY, fontsize=9, va="bottom",
                transform=ax.get_xaxis_transform())  # fmt: skip
    ax.set_xlabel("amplitude, deg")
    ax.set_ylabel("rate, less that of the shape at 270 deg, s/day")
    frame(ax)
    ax.margins(y=0.2)
    key(ax, loc="upper center", bbox_to_anchor=(0.5, -0.14), ncols=3)
    title(ax, f"{headline(answer.design)}: rate of the hairspring alone")
    return ax


def draw_coil(answer: HairspringShape, ax: Axes, number: int) -> None:
    """One of the coils of ``coil_mm`` on the dial, 12 above and 3 to the right; mm."""
    path, rest = answer.coil_mm[number], answer.coil_mm[0]
    if number:
        ax.plot(rest[:, 1], rest[:, 0], color="#bbbbbb", linewidth=0.8)
    ax.plot(path[:, 1], path[:, 0], color=SERIES[0][0], linewidth=1.3)
    ax.plot(0.0, 0.0, marker="+", color="black", markersize=9)
    ax.plot(path[0, 1], path[0, 0], marker="o", color=SERIES[2][0], markersize=5)
    ax.plot(path[-1, 1], path[-1, 0], marker="s", color=SERIES[1][0], markersize=6)
    reach = 1.1 * float(np.abs(answer.coil_mm).max())
    ax.set_xlim(-reach, reach)
    ax.set_ylim(-reach, reach)
    ax.set_aspect("equal")
    angle, spring = DRAWN[number], answer.movement.hairspring
    words = "at rest"
    if angle and spring is not None:
        words = f"balance at {angle:+g} deg, {'unwound' if opened(spring, angle) else 'wound up'}"
    ax.set_title(words, fontsize=10, loc="left")
    ax.set_xlabel("towards 3, mm", fontsize=9)
    ax.tick_params(labelsize=8)


def hairspring_figure(answer: HairspringShape) -> Figure:
    """The coil at rest and at ±270°, and the rate over the swing below."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9.0, 8.0), layout="constrained")
    FigureCanvasAgg(figure)
    grid = figure.add_gridspec(2, len(DRAWN), height_ratios=(1.0, 1.25))
    for number in range(len(DRAWN)):
        ax = figure.add_subplot(grid[0, number])
        draw_coil(answer, ax, number)
        if number == 0:
            ax.set_ylabel("towards 12, mm", fontsize=9)
            ax.plot([], [], marker="o", color=SERIES[2][0], linestyle="", label="collet")
            ax.plot([], [], marker="s", color=SERIES[1][0], linestyle="", label="stud")
            key(ax, loc="upper right", borderaxespad=0.1)
    plot_hairspring(answer, figure.add_subplot(grid[1, :]))
    return figure
