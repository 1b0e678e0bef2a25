"""One beat under the glass
========================

What the lever does to the balance in a few thousandths of a second.

The old hand at the bench lets the apprentices guess how much of its time the balance spends at the fork. About a
fourteenth: the rest of the beat it swings free. The pictures slow that moment down.
"""

from __future__ import annotations

import numpy as np
from _common import Options, labelled, options, sheet, write
from matplotlib.axes import Axes

import oscsim
from oscsim.show.style import SERIES
from oscsim.show.trace_plots import plot_energy, plot_energy_change, plot_lift, plot_phase_portrait

DESIGN, SETTING = "dockhand", oscsim.Setting(positions="12H")


def draw_torques(ax: Axes, answer: oscsim.Trace, names: dict[str, str], words: str) -> None:
    """Some of the torques over the first beat, against the angle, on one even scale."""
    first = answer.beat == 1
    angle = answer.columns["angle_deg"][first]
    for (colour, line, _), (name, label) in zip(SERIES, names.items(), strict=False):
        values = answer.columns[f"{name}_torque_n_m"][first] * 1e9
        ax.plot(angle, values, color=colour, linestyle=line, linewidth=2.0, label=label)
    ax.axhline(0.0, color="black", linewidth=0.8)
    ax.set_xlim(angle[0], angle[-1])
    labelled(ax, "angle of the balance, deg", "torque on the balance, nN·m")
    ax.legend(frameon=False, fontsize=11, loc="best")
    ax.set_title(words, loc="left", fontsize=11)


def main(given: Options) -> None:
    """Trace two beats, print the phases, and draw them six ways."""
    answer = oscsim.trace(oscsim.load(DESIGN), SETTING, samples=20 if given.small else 120)
    print(answer)
    lift = [
        phase for phase in answer.phases() if phase["beat"] == 1 and not phase["phase"].startswith("free arc")
    ]
    at_fork = sum(phase["duration_s"] for phase in lift)
    whole = float(answer.columns["time_s"][answer.beat == 1][-1])
    print(f"\nAt the fork for {100 * at_fork / whole:.1f} % of the beat.")

    figure = sheet(13.0, 14.5)
    panels = figure.subplots(3, 2)
    plot_lift(answer, ax=panels[0, 0])
    plot_phase_portrait(answer, ax=panels[0, 1])
    strong = {"hairspring": "hairspring", "escapement": "escapement"}
    draw_torques(panels[1, 0], answer, strong, "The hairspring rules; the escapement gives a short push")
    weak = {"friction": "friction and air", "poise": "heavy point"}
    draw_torques(panels[1, 1], answer, weak, "Far weaker: friction and air, and weaker yet a heavy point")
    plot_energy(answer, ax=panels[2, 0])
    plot_energy_change(answer, ax=panels[2, 1])
    share = np.round(100 * at_fork / whole)
    figure.suptitle(
        f"{answer.design}, 12 up, fully wound: the balance is at the fork for {share:.0f} % of a beat",
        fontsize=14,
    )
    write(figure, given, "one_beat")


if __name__ == "__main__":
    main(options(__doc__))
