"""What makes the rate follow the amplitude? Two movements of the workshop, cause by cause.

The foreman sets two watches to time when they are fully wound and looks again as their springs let down. Both lose
as the swing falls, one much more than the other. The curves show which part of each watch is to blame.
"""

from __future__ import annotations

import numpy as np
from _common import Options, labelled, options, sheet, table, write
from matplotlib.axes import Axes

import oscsim
from oscsim.answers.isochronism import Isochronism, isochronism
from oscsim.answers.regulate import regulate
from oscsim.answers.shares import CAUSES
from oscsim.show.style import SERIES

DESIGNS, POSITION = ("dockhand", "tidewaiter"), "6H"
#: Causes worth a curve: not the regulation, which is the same at every amplitude.
SHOWN = ("escapement", "poise", "hairspring", "drag", "out_of_beat")


def curve(ax: Axes, answer: Isochronism) -> None:
    """The whole rate and its shares against amplitude."""
    a = answer.amplitude_deg
    together = sum(answer.shares[cause][0] for cause in CAUSES if cause != "regulation")
    ax.axhline(0.0, color="black", linewidth=0.8)
    ax.plot(a, together, color="black", linewidth=3.0, label="all together")
    for (colour, line, marker), cause in zip(SERIES, SHOWN, strict=False):
        ax.plot(
            a, answer.shares[cause][0], color=colour, linestyle=line, linewidth=1.8, label=CAUSES[cause],
            marker=marker, markersize=5, markevery=(1, max(1, len(a) // 6)),
        )  # fmt: skip
    ax.set_xlim(a[0], a[-1])
    labelled(ax, "amplitude, deg", "share of the rate, s/day")
    ax.set_title(f"{answer.design}, 6 up", loc="left", fontsize=13, fontweight="bold")


def main(given: Options) -> None:
    """Both movements, a table of their causes at three amplitudes, and the picture."""
    amplitudes = np.linspace(140.0, 310.0, 12 if given.small else 69)
    figure = sheet(12.0, 6.6)
    panels = figure.subplots(1, 2, sharey=True)
    for ax, name in zip(panels, DESIGNS, strict=True):
        movement = regulate(oscsim.load(name), at=oscsim.Setting(positions=POSITION))
        answer = isochronism(movement, oscsim.Setting(positions=POSITION), amplitudes)
        curve(ax, answer)
        rows = []
        for cause, words in CAUSES.items():
            at = np.interp([160.0, 220.0, 280.0], amplitudes, answer.shares[cause][0])
            rows.append((words, *(f"{value:+.2f}" for value in at)))
        whole = np.interp([160.0, 220.0, 280.0], amplitudes, answer.rate_s_per_day[0])
        rows.append(("together", *(f"{value:+.2f}" for value in whole)))
        table(
            f"{answer.design}, 6 up, on time when fully wound: share of the rate, s/day",
            ("cause", "160 deg", "220 deg", "280 deg"),
            rows,
        )
    panels[1].set_ylabel("")
    handles, labels = panels[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=3, frameon=False, fontsize=11)
    figure.suptitle(
        "As the spring lets down the swing falls, and the escapement holds the balance back more", fontsize=13
    )
    write(figure, given, "isochronism_by_cause")


if __name__ == "__main__":
    main(options(__doc__))
