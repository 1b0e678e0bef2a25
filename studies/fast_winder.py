"""Why nobody notices the steep one
================================

A watch that winds quickly seldom shows the steep half of its curve.

A customer swears that his dockhand never shows less than 230 degrees. Left on the bench for a day and a half,
it falls as steeply as any other. The apprentice asks how both can be true. He wears it from breakfast to
midnight: the rotor puts back in the morning what the night took, so the watch never sees the steep half of
its curve. His brother wears his for six hours and finds it standing at the end of the week; wound by hand
once a day it would show its fall every morning.
"""

from __future__ import annotations

import numpy as np
from _common import Options, options, sheet, table, write

import oscsim
from oscsim.show.style import GREY, SERIES, frame


def main(given: Options) -> None:
    """A week worn long, worn little and wound by hand, beside the bare run-down."""
    movement, count = oscsim.load("dockhand"), 3 if given.small else 7
    lives = {
        "worn 14 h a day": oscsim.days(movement, count=count, hours_worn=14.0),
        "worn 6 h a day": oscsim.days(movement, count=count, hours_worn=6.0),
        "wound by hand each morning": oscsim.days(movement, count=count, wound_per_hour=0.0, wind_at=0.0),
    }
    bare = oscsim.rundown(movement, oscsim.Setting(positions=("CH",)))
    rows = []
    for name, one in lives.items():
        least = f"{one.least_morning_deg:.0f}" if np.isfinite(one.least_morning_deg) else "stands"
        rows.append((name, least, f"{np.nanmean(one.daily_error_s):+.1f}", f"{100 * one.stopped_share:.0f}"))
    table("dockhand, a week", ("life", "least morning, deg", "a day's error, s", "stands, %"), rows)
    figure = sheet(10.0, 6.0)
    ax = figure.subplots()
    ax.plot(
        bare.hours / 24.0,
        bare.points.amplitude_deg[0],
        color=GREY,
        linewidth=2.4,
        label="left alone, dial up",
    )
    for (name, one), (colour, line, _) in zip(lives.items(), SERIES, strict=False):
        ax.plot(one.hour / 24.0, one.amplitude_deg, color=colour, linestyle=line, linewidth=1.6, label=name)
    ax.set_xlim(0.0, count)
    ax.set_ylim(0.0, 290.0)
    ax.set_xlabel("days")
    ax.set_ylabel("amplitude, deg")
    frame(ax)
    ax.legend(frameon=False, fontsize=9, loc="lower left")
    figure.suptitle("A watch that winds quickly seldom shows its steep half", fontsize=14)
    write(figure, given, "fast_winder")


if __name__ == "__main__":
    main(options(__doc__))
