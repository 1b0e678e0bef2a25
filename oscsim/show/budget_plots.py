"""The picture of the energy budget: what each place takes, in the order of a beat."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from oscsim.answers.budget import PLACES
from oscsim.show.budget_tables import BALANCE, energy_unit, shares
from oscsim.show.labels import point_columns, point_in_words, titled
from oscsim.show.style import GREY, SERIES, frame, new_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from oscsim.answers.budget import Budget

#: Points beside each other that can still be told apart.
_MOST = 4
#: What tells the points' bars apart in grey.
_HATCHES = ("", "///", "...", "xxx")
#: Room between what is lost on the way and what the balance takes, in rows.
_GAP = 1.0


def plot_budget(answer: Budget, ax: Axes | None = None) -> Axes:
    """Shares of the energy in per cent as bars, place by place; the first four points that have a budget."""
    ax = new_axes(ax)
    given = answer.given_j.reshape(-1)
    points = [n for n in range(given.size) if math.isfinite(given[n])][:_MOST]
    part, names = shares(answer), point_columns(answer.setting, answer.points.hours)
    lost = sum(place not in BALANCE for place in part)
    rows = np.arange(len(part), dtype=float) + _GAP * (np.arange(len(part)) >= lost)
    high = 0.8 / max(len(points), 1)
    for k, n in enumerate(points):
        values = np.array([part[place][n] for place in part])
        at = rows + high * (k - 0.5 * (len(points) - 1))
        colour = SERIES[k][0]
        bars = ax.barh(
            at, values, 0.9 * high, color=colour, hatch=_HATCHES[k], label=names[n], edgecolor="black",
            linewidth=0.6,
        )  # fmt: skip
        if len(points) == 1:
            for bar, place in zip(bars, part, strict=True):
                series = 0 if place in BALANCE else 1
                bar.set_facecolor(SERIES[series][0])
                bar.set_hatch(_HATCHES[series])
        if len(points) <= 2:
            ax.bar_label(bars, fmt="%.1f", padding=3, fontsize=8, color=GREY)
    between = lost - 0.5 + 0.5 * _GAP
    ax.axhline(between, color=GREY, linewidth=0.8, linestyle=":")
    ax.set_yticks(rows, [PLACES[place] for place in part], fontsize=9)
    ax.set_ylim(rows[-1] + 0.5, -0.5)
    ax.set_xlabel("share of what the escape wheel is given, %")
    frame(ax)
    ax.grid(False, axis="y")
    ax.margins(x=0.12)
    ax.set_xlim(left=0.0)
    heading = "where a beat's energy goes"
    if not points:
        ax.set_xlim(0.0, 100.0)
        ax.text(0.5, 0.5, "it settles nowhere here", transform=ax.transAxes, ha="center", color=GREY)
    else:
        reaches = 100.0 * answer.escapement_efficiency.reshape(-1)[points[0]]
        for words, gap, side in (
            (f"lost on the way: {100.0 - reaches:.0f} %", -0.06, "bottom"),
            (f"reaches the balance: {reaches:.0f} %", 0.06, "top"),
        ):
            ax.text(
                0.99, between + gap, words, va=side, ha="right", color=GREY, fontsize=9,
                transform=ax.get_yaxis_transform(),
            )  # fmt: skip
        factor, unit = energy_unit(answer.given_j)
        where = point_in_words(answer.setting, answer.points.hours, points[0])
        heading += f"\n{where}: {factor * given[points[0]]:.3g} {unit} a beat"
    if len(points) > 1:
        ax.legend(frameon=False, fontsize=9, loc="center right")
    titled(ax, answer, heading)
    return ax
