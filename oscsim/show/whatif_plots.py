"""Pictures of what-if questions: curves for one number, a map for two."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from oscsim.answers.regulate import regulated_word
from oscsim.arrays import Array, Codes
from oscsim.motion.states import STATES, State
from oscsim.show.labels import knock_line, number_words, point_columns, point_in_words, titled, with_unit
from oscsim.show.style import GREY, SERIES, frame, new_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.contour import ContourSet

    from oscsim.answers.whatif import WhatIf

_LEVELS = (1, 2, 5, 10, 20, 50)
#: Columns of the curves' key, and the height of one of its lines, points.
_KEY_COLUMNS, _KEY_LINE = 4, 14.0


def plot_whatif(answer: WhatIf, ax: Axes | None = None) -> Axes:
    """Amplitude in degrees against one number, or its rate where that alone moves; or over two numbers at the first
    position and hour. The design's own marked."""
    ax = new_axes(ax)
    return _curves(answer, ax) if len(answer.values) == 1 else _map(answer, ax)


def _curves(answer: WhatIf, ax: Axes) -> Axes:
    ((name, values),) = answer.values.items()
    p = answer.points.shaped((len(values), -1))
    columns = point_columns(answer.setting, answer.points.hours[0])
    order = np.argsort(values, kind="stable")
    alone = answer.moves_rate_alone
    shown = p.rate_s_per_day if alone else p.amplitude_deg
    for n, column in enumerate(columns):
        colour, line, marker = SERIES[n % len(SERIES)]
        every = max(1, len(values) // 8)
        ax.plot(
            values[order], shown[order, n], color=colour, linestyle=line, linewidth=1.8, marker=marker,
            markersize=4.5, markevery=(n % every, every), label=column,
        )  # fmt: skip
        _ends(ax, values[order], shown[order, n], p.code[order, n])
    if not alone:
        knock_line(ax, answer.movement, p)
    mark = answer.as_designed[name]
    if values.min() <= mark <= values.max():
        ax.axvline(mark, color=GREY, linewidth=1.0, linestyle=":")
        told = f" as designed {with_unit(mark, answer.units[name])}"
        late = mark > 0.5 * (values.min() + values.max())
        ax.text(
            mark, 0.01, f"{told} ", transform=ax.get_xaxis_transform(), ha="right" if late else "left", va="bottom",
            fontsize=9, color=GREY,
        )  # fmt: skip
    ax.set_xlabel(_in_words(answer, name))
    ax.set_ylabel(f"rate {regulated_word(answer.movement)}, s/day" if alone else "amplitude, deg")
    ax.margins(y=0.12)
    frame(ax)
    _room_for_key(ax, len(columns))
    ax.legend(
        title="position, since full wind", facecolor="white", framealpha=1.0, edgecolor="none", fontsize=9,
        title_fontsize=9, loc="upper center", ncols=_KEY_COLUMNS,
    )  # fmt: skip
    titled(ax, answer, f"{'rate' if alone else 'amplitude'} against {number_words(name)}")
    return ax


def _in_words(answer: WhatIf, name: str) -> str:
    """A number as it stands at an axis: what it is, and its unit."""
    unit = answer.units[name]
    return f"{number_words(name)}, {unit}" if unit else number_words(name)


def _room_for_key(ax: Axes, entries: int) -> None:
    """Room above the curves for their key, so that none runs through it."""
    lines = 1 + -(-entries // _KEY_COLUMNS)
    share = min(lines * _KEY_LINE * ax.figure.dpi / 72.0 / ax.bbox.height, 0.6)
    low, high = ax.get_ylim()
    ax.set_ylim(low, low + (high - low) / (1.0 - share))


def _ends(ax: Axes, values: Array, swing: Array, code: Codes) -> None:
    """The word 'stops' where a curve ends."""
    for i in range(len(values) - 1):
        for here, there in ((i, i + 1), (i + 1, i)):
            if np.isfinite(swing[here]) and code[there] == STATES.index(State.STOPS):
                ax.annotate(
                    "stops", (values[here], swing[here]), (4 if there > here else -4, 0), textcoords="offset points",
                    ha="left" if there > here else "right", va="center", fontsize=8, color=GREY,
                )  # fmt: skip


def _map(answer: WhatIf, ax: Axes) -> Axes:
    (first, second), (down, across) = answer.values, answer.values.values()
    p = answer.points.shaped((len(down), len(across), -1)).point(0)
    swing = p.amplitude_deg[np.argsort(down, kind="stable")][:, np.argsort(across, kind="stable")]
    rows, columns = np.sort(down), np.sort(across)
    if min(swing.shape) > 1 and np.isfinite(swing).any() and np.nanmax(swing) > np.nanmin(swing):
        levels = _round_levels(swing)
        ax.contourf(columns, rows, swing, levels=levels, cmap="cividis", extend="both", alpha=0.85)
        lines = ax.contour(columns, rows, swing, levels=levels[1:-1], colors="white", linewidths=0.8)
        _label(ax, lines)
    for state, marker in (
        (State.STOPS, "x"),
        (State.KNOCKS, "^"),
        (State.TRIPS, "^"),
        (State.UNSETTLED, "v"),
    ):
        i, j = np.nonzero(p.code == STATES.index(state))
        if i.size:
            ax.plot(across[j], down[i], color="#D55E00", marker=marker, markersize=4, linestyle="none",
                    label=state.label)  # fmt: skip
    ax.plot(
        answer.as_designed[second], answer.as_designed[first], color="#000000", marker="P", markersize=11,
        markeredgecolor="white", linestyle="none", label="as designed", clip_on=True,
    )  # fmt: skip
    ax.set_xlim(columns[0], columns[-1] if columns[-1] > columns[0] else columns[0] + 1.0)
    ax.set_ylim(rows[0], rows[-1] if rows[-1] > rows[0] else rows[0] + 1.0)
    ax.set_xlabel(_in_words(answer, second))
    ax.set_ylabel(_in_words(answer, first))
    frame(ax)
    ax.grid(False)
    where = point_in_words(answer.setting, answer.points.hours[0, 0])
    titled(ax, answer, f"amplitude {where}, deg")
    ax.legend(frameon=True, framealpha=0.85, fontsize=9)
    return ax


def _label(ax: Axes, lines: ContourSet) -> None:
    """Degrees on the lines, but none that the frame would cut."""
    from matplotlib.patheffects import withStroke

    for text in list(ax.clabel(lines, fmt="%g deg", fontsize=8)):
        text.set_path_effects([withStroke(linewidth=2.0, foreground="#333333")])
        x, y = ax.transAxes.inverted().transform(ax.transData.transform(text.get_position()))
        if not (0.05 < x < 0.95 and 0.04 < y < 0.96):
            text.remove()


def _round_levels(values: Array) -> Array:
    """Contours at round degrees, about ten of them."""
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    step = next((s for s in _LEVELS if (high - low) / s <= 12), 100)
    if high - low < 5.0:
        return np.linspace(low, high, 8)
    return np.asarray(step * np.arange(np.floor(low / step), np.ceil(high / step) + 1))
