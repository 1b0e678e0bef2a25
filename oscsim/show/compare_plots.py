"""Pictures of designs side by side, and of one movement before and after a piece of work."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from oscsim.show.labels import headed, point_columns, point_in_words, titled
from oscsim.show.style import GREY, SERIES, frame, headline, key, new_axes, short
from oscsim.show.tables import signed

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from oscsim.answers.change import Change
    from oscsim.answers.compare import Attribution, Compare

BLUE, RED, GREEN = (SERIES[i][0] for i in range(3))


def plot_compare(answer: Compare, ax: Axes | None = None) -> Axes:
    """From the first design's amplitude to the second's, group by group; more than two designs side by side."""
    ax = new_axes(ax)
    if answer.attribution is not None:
        return _steps(answer, answer.attribution, ax)
    p = answer.points
    columns = point_columns(answer.setting, p.hours[0])
    values = p.amplitude_deg.reshape(len(answer.movements), -1)
    across = np.arange(len(columns), dtype=float)
    for d, movement in enumerate(answer.movements):
        colour, _, marker = SERIES[d % len(SERIES)]
        offset = 0.3 * (d / max(len(answer.movements) - 1, 1) - 0.5)
        name = short(movement.name)
        ax.plot(across + offset, values[d], color=colour, marker=marker, linestyle="none", label=name)
    _across_points(ax, columns)
    key(ax)
    headed(ax, answer.setting, "Settled amplitude of the designs")
    return ax


def _across_points(ax: Axes, columns: list[str]) -> None:
    ax.set_xticks(np.arange(len(columns)), columns)
    ax.set_xlim(-0.6, len(columns) - 0.4)
    ax.set_xlabel("position (ISO 3158) and hours since full wind, h")
    ax.set_ylabel("amplitude, deg")
    frame(ax)


def _steps(answer: Compare, shared: Attribution, ax: Axes) -> Axes:
    """Each group's share as a step, the greatest first, between the two amplitudes."""
    order = np.argsort(-np.abs(shared.degrees), kind="stable")
    k = len(order)
    start = float(shared.amplitude_deg[(0,) * k])
    edges = start + np.concatenate([[0.0], np.cumsum(shared.degrees[order])])
    names = [headline(movement.name) for movement in answer.movements]
    low, high = float(edges.min()), float(edges.max())
    room = max(high - low, 1.0)
    for row, value in ((0, edges[0]), (k + 1, edges[-1])):
        ax.plot(value, row, color="#000000", marker="D", markersize=8, linestyle="none")
        ax.annotate(
            f"{value:.1f} deg", (value, row), (8, 0), textcoords="offset points", va="center", fontsize=9
        )
    for row, n in enumerate(order, start=1):
        left, right = sorted((edges[row - 1], edges[row]))
        gains = shared.degrees[n] >= 0.0
        ax.barh(row, right - left, 0.6, left=left, color=BLUE if gains else RED, hatch="" if gains else "//",
                edgecolor="white", linewidth=0.5)  # fmt: skip
        told = f"{signed(shared.degrees[n])}"
        ax.annotate(
            told, (right, row), (4, 0), textcoords="offset points", va="center", fontsize=9, color=GREY
        )
        ax.plot([edges[row]] * 2, [row - 0.3, row + 1.3 - 0.3 * (row == k)], color=GREY, linewidth=0.8)
    ax.plot([edges[0]] * 2, [0.0, 0.7], color=GREY, linewidth=0.8)
    groups = [headline(shared.groups[n]) for n in order]
    ax.set_yticks(range(k + 2), [short(names[0]), *groups, short(names[1])], parse_math=False)
    ax.set_ylim(k + 1.6, -0.6)
    ax.set_xlim(low - 0.05 * room, high + 0.18 * room)
    ax.set_xlabel("amplitude, deg, one group after another")
    frame(ax)
    ax.grid(False, axis="y")
    where = point_in_words(answer.setting, answer.points.hours[0])
    headed(ax, answer.setting, f"From {names[0]} to {names[1]}: what makes the difference\n{where}")
    return ax


def plot_change(answer: Change, ax: Axes | None = None) -> Axes:
    """Amplitude in degrees before and after, by position and hour."""
    ax = new_axes(ax)
    hours = answer.before.hours
    columns = point_columns(answer.setting, hours)
    before, after = (p.amplitude_deg.reshape(-1) for p in (answer.before, answer.after))
    across = np.arange(len(columns), dtype=float)
    for n in across.astype(int):
        if np.isfinite(before[n]) and np.isfinite(after[n]):
            gains = after[n] >= before[n]
            ax.plot([n, n], [before[n], after[n]], color=BLUE if gains else RED, linewidth=2.5)
            told = f"{signed(after[n] - before[n])} deg"
            middle = 0.5 * (before[n] + after[n])
            ax.annotate(told, (n, middle), (8, 0), textcoords="offset points", va="center", fontsize=9)
    ax.plot(
        across, before, color=GREY, marker="o", markersize=8, markerfacecolor="white", linestyle="none",
        label="before",
    )  # fmt: skip
    ax.plot(across, after, color="#000000", marker="D", markersize=6, linestyle="none", label="after")
    for n, (old, new) in enumerate(
        zip(answer.before.state.reshape(-1), answer.after.state.reshape(-1), strict=True)
    ):
        wrong = [
            f"{word}: {state}" for word, state in (("before", old), ("after", new)) if state != "running"
        ]
        if wrong:
            spot = ax.get_xaxis_transform()
            ax.text(
                n, 0.02, "\n".join(wrong), transform=spot, ha="center", va="bottom", fontsize=8, color=GREY
            )
    _across_points(ax, columns)
    ax.margins(y=0.15)
    ax.legend(frameon=False, fontsize=9)
    titled(ax, answer, "before and after")
    return ax
