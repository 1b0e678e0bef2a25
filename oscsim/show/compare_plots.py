"""Pictures of designs side by side, and of one movement before and after a piece of work."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from oscsim.show.compare_tables import in_order, parts_of
from oscsim.show.labels import headed, point_columns, point_in_words, titled
from oscsim.show.style import AFTER, BEFORE, GREY, SERIES, frame, headline, key, new_axes, short
from oscsim.show.tables import signed

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from oscsim.answers.attribution import Attribution
    from oscsim.answers.change import Change
    from oscsim.answers.compare import Compare

BLUE, RED, GREEN = (SERIES[i][0] for i in range(3))


def plot_compare(answer: Compare, ax: Axes | None = None) -> Axes:
    """What makes the difference of two designs, group by group; more than two side by side."""
    ax = new_axes(ax)
    if answer.attribution is not None:
        return _shares(answer, answer.attribution, ax)
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


def _shares(answer: Compare, shared: Attribution, ax: Axes) -> Axes:
    """Each group's share as a bar from zero, the greatest first; below it the parts it is made of, narrower."""
    rows = [
        (one, inside)
        for share in in_order(shared.shares)
        for one, inside in ((share, False), *((part, True) for part in parts_of(share)))
    ]
    reach = max(1.0, *(abs(one.degrees) for one, _ in rows))
    for row, (one, inside) in enumerate(rows):
        gains = one.degrees >= 0.0
        ax.barh(
            row, one.degrees, 0.32 if inside else 0.62, color=BLUE if gains else RED, hatch="" if gains else "//",
            alpha=0.55 if inside else 1.0, edgecolor="white", linewidth=0.5,
        )  # fmt: skip
        ax.annotate(
            signed(one.degrees, 0), (one.degrees, row), (4 if gains else -4, 0), textcoords="offset points",
            va="center", ha="left" if gains else "right", fontsize=8 if inside else 9, color=GREY,
        )  # fmt: skip
    ax.axvline(0.0, color="#000000", linewidth=0.8)
    ax.set_yticks(
        range(len(rows)),
        [one.group if inside else f"{one.group[0].upper()}{one.group[1:]}" for one, inside in rows],
        parse_math=False,
    )
    for label, (_, inside) in zip(ax.get_yticklabels(), rows, strict=True):
        label.set_fontsize(8 if inside else 10)
    ax.set_ylim(len(rows) - 0.4, -0.6)
    ax.set_xlim(-1.25 * reach, 1.25 * reach)
    names = [headline(movement.name) for movement in answer.movements]
    ax.set_xlabel(f"amplitude that {short(names[1])} gains by it, deg")
    frame(ax)
    ax.grid(False, axis="y")
    where = point_in_words(answer.setting, answer.points.hours[0])
    ends = f"{names[0]} {shared.first_deg:.0f} deg, {names[1]} {shared.second_deg:.0f} deg"
    headed(ax, answer.setting, f"{ends}: what makes the difference\n{where}")
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
    ax.plot(across, before, **BEFORE, label="before")
    ax.plot(across, after, **AFTER, label="after")
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
