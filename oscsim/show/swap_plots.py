"""The picture of mainsprings that could take the present one's place."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from oscsim.motion.states import State
from oscsim.show.labels import titled
from oscsim.show.style import GREY, SERIES, frame, new_axes
from oscsim.show.swap_tables import numbered
from oscsim.show.tables import beyond

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from oscsim.answers.swap import Fitted, Swap

#: Springs drawn at most, best first.
_MOST = 16


def _wrong(fitted: Fitted) -> str:
    """What is wrong with a spring, in a word."""
    if fitted.state != State.RUNNING.label:
        return fitted.state
    if fitted.flat_24h_state == State.STOPS.label:
        return "stops before 24 h"
    return "near the knock" if fitted.remark else ""


def plot_swap(answer: Swap, ax: Axes | None = None) -> Axes:
    """For each spring the amplitude in degrees, from full wind down to 24 h later, flat and vertical."""
    ax = new_axes(ax)
    every = (answer.present, *answer.candidates)[: _MOST + 1]
    rows = np.arange(len(every), dtype=float)
    knock = [f.flat_wound_deg + f.knock_margin_deg for f in every if math.isfinite(f.knock_margin_deg)]
    kinds = (
        ("dial up", SERIES[0], -0.14, "flat_wound_deg", "flat_24h_deg"),
        ("12 up", SERIES[1], 0.14, "vertical_wound_deg", "vertical_24h_deg"),
    )
    for words, (colour, _, marker), offset, wound, later in kinds:
        ends = np.array([[getattr(f, later), getattr(f, wound)] for f in every])
        for row, (low, high) in zip(rows, ends, strict=True):
            ax.plot([low, high], [row + offset] * 2, color=colour, linewidth=2.2, zorder=2)
        ax.plot(ends[:, 1], rows + offset, color=colour, marker=marker, markersize=7, linestyle="none",
                label=f"{words}, fully wound")  # fmt: skip
        ax.plot(ends[:, 0], rows + offset, color=colour, marker=marker, markersize=7, markerfacecolor="white",
                linestyle="none", label=f"{words}, after 24 h")  # fmt: skip
    limits = {"floor, dial up": answer.floor_deg, beyond(answer.movement): min(knock, default=math.nan)}
    if answer.wanted_deg is not None:
        limits["wanted"] = answer.wanted_deg
    limits = {word: value for word, value in limits.items() if math.isfinite(value)}
    for word, value in limits.items():
        line = "-" if word == "wanted" else ":"
        ax.axvline(value, color=GREY, linewidth=1.2, linestyle=line, zorder=1)
    wrong = [_wrong(fitted) for fitted in every]
    names = [f"{name}\n{word}".rstrip() for name, word in zip(numbered(answer), wrong, strict=False)]
    ax.set_yticks(rows, names, fontsize=9, parse_math=False)
    # room for the words above the first spring, whatever the number of springs
    ax.set_ylim(len(every) - 0.4, -0.3 - 0.045 * (len(every) + 1) * (len(limits) + 0.5))
    ax.margins(x=0.12)
    middle = sum(ax.get_xlim()) / 2.0
    for number, (word, value) in enumerate(limits.items()):  # above the first spring, each a line lower
        right = value > middle
        ax.annotate(
            word, (value, 1.0), (-4 if right else 4, -3 - 11 * number), xycoords=ax.get_xaxis_transform(),
            textcoords="offset points", ha="right" if right else "left", va="top", fontsize=9, color=GREY,
        )  # fmt: skip
    ax.set_xlabel("amplitude, deg")
    frame(ax)
    ax.grid(False, axis="y")
    ax.legend(frameon=False, fontsize=9, loc="upper center", bbox_to_anchor=(0.5, -0.13), ncols=4)
    titled(ax, answer, "mainsprings in the present barrel")
    return ax
