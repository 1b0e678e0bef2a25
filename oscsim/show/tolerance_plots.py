"""The picture of what examples of a design show."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from oscsim.show.labels import point_columns, titled
from oscsim.show.style import GREY, SERIES, frame, new_axes
from oscsim.show.tolerance_tables import what_examples_show

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from oscsim.answers.tolerance import Tolerance


def plot_tolerance(answer: Tolerance, ax: Axes | None = None) -> Axes:
    """Bands of amplitude in degrees, 5 to 95 % of the examples, with the middle, by position and hour."""
    ax = new_axes(ax)
    hours = np.tile(answer.hours, (len(answer.setting.symbols), 1))
    columns = point_columns(answer.setting, hours)
    band = answer.amplitude_deg
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
            told = [
                f"{100 * share.reshape(-1)[n]:.0f} % {state}"
                for state, share in answer.states.items()
                if share.reshape(-1)[n]
            ]
            spot = ax.get_xaxis_transform()
            ax.text(
                n, 0.02, "\n".join(told), transform=spot, ha="center", va="bottom", fontsize=8, color=GREY
            )
    ax.set_xticks(across, columns)
    ax.set_xlim(-0.6, len(columns) - 0.4)
    ax.set_xlabel("position (ISO 3158) and hours since full wind, h")
    ax.set_ylabel("amplitude, deg")
    known = np.concatenate([low, middle, high])
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
