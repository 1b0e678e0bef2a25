"""The picture of what examples of a design show."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from oscsim.arrays import Array
from oscsim.show.labels import point_columns, titled
from oscsim.show.style import GREY, SERIES, frame, new_axes
from oscsim.show.tolerance_tables import what_examples_show

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from oscsim.answers.tolerance import Tolerance


#: From so many columns on their names stand on two lines.
_CLOSE = 8


def plot_tolerance(answer: Tolerance, ax: Axes | None = None) -> Axes:
    """Bands of amplitude in degrees, 5 to 95 % of the examples, with the middle, by position and hour."""
    ax = new_axes(ax)
    hours = np.tile(answer.hours, (len(answer.setting.positions), 1))
    columns = point_columns(answer.setting, hours)
    told = answer.setting.lift_angle_deg
    band = answer.amplitude_deg if told is None else answer.apparent_amplitude_deg
    low, middle, high = (part.reshape(-1) for part in (band.low, band.middle, band.high))
    across = np.arange(len(columns), dtype=float)
    colour = SERIES[0][0]
    ax.bar(across, high - low, 0.45, bottom=low, color=colour, alpha=0.35, label="5 to 95 % of the examples")
    ax.hlines(middle, across - 0.225, across + 0.225, color=colour, linewidth=2.5, label="half lie below")
    for n in range(len(columns)):
        for value, place, gap in ((low[n], "top", -4), (middle[n], "center", 0), (high[n], "bottom", 4)):
            if np.isfinite(value):
                beside = place == "center"
                ax.annotate(
                    f"{value:.0f}", (n + 0.225 * beside, value), (4 * beside, gap), textcoords="offset points",
                    fontsize=9, va=place, ha="left" if beside else "center",
                )  # fmt: skip
        if not np.isfinite([low[n], high[n]]).all():
            said = [
                f"{100 * share.reshape(-1)[n]:.0f} % {state}"
                for state, share in answer.states.items()
                if share.reshape(-1)[n]
            ]
            spot = ax.get_xaxis_transform()
            ax.text(
                n, 0.02, "\n".join(said), transform=spot, ha="center", va="bottom", fontsize=8, color=GREY
            )
    ax.set_xticks(across, [name.replace(" ", "\n", 1) if len(columns) > _CLOSE else name for name in columns])
    ax.set_xlim(-0.6, len(columns) - 0.4)
    ax.set_xlabel("position (ISO 3158) and hours since full wind, h")
    ax.set_ylabel("amplitude, deg" if told is None else f"amplitude shown at {told:g} deg, deg")
    read = _read(answer, ax)
    known = np.concatenate([low, middle, high, read])
    known = known[np.isfinite(known)]
    if known.size:
        room = 0.12 * max(float(np.ptp(known)), 5.0)
        ax.set_ylim(float(known.min()) - room, float(known.max()) + room)
    frame(ax)
    ax.grid(False, axis="x")
    ax.legend(frameon=False, fontsize=9)
    assumed = ", spreads assumed" if answer.assumed else ""
    titled(ax, answer, f"{what_examples_show(answer)}{assumed}")
    return ax


def _read(answer: Tolerance, ax: Axes) -> Array:
    """The readings on the bands, with twice their uncertainty; all amplitudes read."""
    if answer.readings is None:
        return np.zeros(0)
    symbols, hours = answer.setting.positions, list(answer.hours)
    rows = [row for row in answer.readings.rows if row.position in symbols and row.hours in hours]
    at = np.array([symbols.index(row.position) * len(hours) + hours.index(row.hours) for row in rows])
    swing = np.array([row.amplitude_deg for row in rows])
    ax.errorbar(
        at - 0.11, swing, yerr=[2.0 * row.amplitude_deg_uncertainty for row in rows], color=SERIES[1][0],
        marker=SERIES[1][2], linestyle="none", capsize=3.0, label="read, ± twice the uncertainty",
    )  # fmt: skip
    for x, row in zip(at, rows, strict=True):
        if row.stops:
            ax.text(
                x,
                0.1,
                "stopped",
                color=SERIES[1][0],
                ha="center",
                fontsize=9,
                transform=ax.get_xaxis_transform(),
            )
    return swing
