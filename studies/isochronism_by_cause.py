"""What makes the rate follow the amplitude?
=========================================

Two movements of the harbour workshop, cause by cause.

The foreman sets two watches to time, fully wound, and looks again as their springs let down. Both lose as the swing
falls, one much more than the other. The curves show which part of each watch is to blame, counted from full wind.
"""

from __future__ import annotations

import numpy as np
from _common import Options, labelled, options, sheet, table, write
from matplotlib.axes import Axes

import oscsim
from oscsim.answers.isochronism import Isochronism, isochronism
from oscsim.answers.regulate import regulate
from oscsim.answers.shares import CAUSES
from oscsim.show.style import GREY, SERIES

DESIGNS, POSITION = ("dockhand", "tidewaiter"), "6H"
LOWEST_DEG, HOURS = 135.0, (0.0, 24.0, 36.0)
#: Curves: their words, and the causes put together in each. Regulation is the same at every amplitude.
GROUPS = {
    "escapement": ("escapement",),
    "heavy point": ("poise",),
    "hairspring not linear": ("hairspring",),
    "friction, air and being out of beat": ("drag", "pivots", "out_of_beat"),
}


def since_full_wind(answer: Isochronism) -> dict[str, np.ndarray]:
    """What each group, and all together, moved the rate since full wind, which is the first amplitude; s/day."""
    moved = {cause: share[0] - share[0, 0] for cause, share in answer.shares.items()}
    assert set(moved) == set(CAUSES)
    groups = {words: sum(moved[cause] for cause in causes) for words, causes in GROUPS.items()}
    return groups | {"all together": answer.rate_s_per_day[0] - answer.rate_s_per_day[0, 0]}


def panel(ax: Axes, answer: Isochronism, at_hours: np.ndarray) -> None:
    """The whole change and each group's part of it, the spring letting down from left to right."""
    a, moved = answer.amplitude_deg, since_full_wind(answer)
    ax.axhline(0.0, color="black", linewidth=0.8)
    for amplitude, hour in zip(at_hours, HOURS, strict=True):
        ax.axvline(amplitude, color=GREY, linewidth=1.0, linestyle=":")
        words = "full wind" if hour == 0.0 else f"{hour:g} h"
        ax.text(amplitude, 1.01, words, ha="center", va="bottom", color=GREY, fontsize=10,
                transform=ax.get_xaxis_transform())  # fmt: skip
    ax.plot(a, moved["all together"], color="black", linewidth=3.2, label="all together")
    for (colour, line, marker), words in zip(SERIES, GROUPS, strict=False):
        ax.plot(
            a, moved[words], color=colour, linestyle=line, linewidth=1.9, label=words, marker=marker, markersize=5,
            markevery=max(1, len(a) // 6),
        )  # fmt: skip
    ax.set_xlim(a[0] + 4.0, a[-1])
    labelled(ax, "amplitude, deg: falling from left to right", "change of the rate since full wind, s/day")
    ax.set_title(f"{answer.design}, 6 up", loc="left", fontsize=14, fontweight="bold", pad=24)


def main(given: Options) -> None:
    """Both movements, a table of their causes at the hours marked, and the picture."""
    figure = sheet(12.0, 7.0)
    panels = figure.subplots(1, 2, sharey=True)
    for ax, name in zip(panels, DESIGNS, strict=True):
        movement = regulate(oscsim.load(name), at=oscsim.Setting(positions=POSITION))
        settled = oscsim.settle(movement, oscsim.Setting(positions=POSITION, hours=HOURS))
        at_hours = settled.points.amplitude_deg[0]
        amplitudes = np.linspace(at_hours[0], LOWEST_DEG, 12 if given.small else 60)
        answer = isochronism(movement, oscsim.Setting(positions=POSITION), amplitudes)
        panel(ax, answer, at_hours)
        rows = [
            (words, *(f"{np.interp(-x, -amplitudes, values):+.2f}" for x in at_hours[1:]))
            for words, values in since_full_wind(answer).items()
        ]
        table(
            f"{answer.design}, 6 up: change of the rate since full wind, s/day",
            ("cause", *(f"{h:g} h, {x:.0f} deg" for h, x in zip(HOURS[1:], at_hours[1:], strict=True))),
            rows,
        )
    panels[1].set_ylabel("")
    handles, labels = panels[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=3, frameon=False, fontsize=11)
    figure.suptitle("As the spring lets down, who is to blame for the loss?", fontsize=14)
    write(figure, given, "isochronism_by_cause")


if __name__ == "__main__":
    main(options(__doc__))
