"""Four rules of the trade, out of the physics
===========================================

What a deeper lock, a heavier balance, a softer spring and fewer jewels cost.

The workshop makes the packet sturdier on paper, one choice at a time and everything else as it was, and writes down
what each costs. Practitioners say: each costs amplitude, a deeper lock only a few degrees, and vertical runs 20 to 30
degrees below flat (common practice; W. J. Kleinlein, Rules and Practice for Adjusting Watches, 1920, §51 and 55, has
up to 45).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from _common import Options, labelled, options, sheet, table, write
from matplotlib.axes import Axes

import oscsim
from oscsim.show.style import GREY, SERIES

DESIGN = "packet"
POINTS = ("CH 0 h", "CH 24 h", "12H 0 h", "12H 24 h")


class Rule(NamedTuple):
    """One choice: what it is called, its dotted name, from the design's value to a sturdier one, unit, axis."""

    words: str
    name: str
    start: float
    end: float
    unit: str
    axis: str


RULES = (
    Rule("deeper lock", "escapement.lock_deg", 1.6, 3.2, "deg", "lock, deg of lever"),
    Rule("heavier balance", "balance.inertia_mg_cm2", 11.0, 16.0, "mg·cm²", "inertia of the balance, mg·cm²"),
    Rule("softer spring", "mainspring.thickness_mm", 0.11, 0.09, "mm", "thickness of the mainspring, mm"),
    Rule("fewer jewels", "train.jewels", 25, 7, "", "jewels"),
)


def settled(movement: oscsim.Movement, rule: Rule, small: bool) -> oscsim.WhatIf:
    """The packet over one choice, flat and vertical, wound and a day later."""
    count = int(rule.start - rule.end) + 1 if rule.name == "train.jewels" else 5 if small else 25
    return oscsim.whatif(movement, {rule.name: np.linspace(rule.start, rule.end, count).tolist()})


def panel(ax: Axes, rule: Rule, answer: oscsim.WhatIf) -> None:
    """Amplitude over one choice, sturdier to the right."""
    values = answer.values[rule.name]
    swing = answer.points.amplitude_deg.reshape(len(values), -1)
    for n, point in enumerate(POINTS):
        colour, line, marker = SERIES[n]
        ax.plot(
            values, swing[:, n], color=colour, linestyle=line, linewidth=2.0, marker=marker, markersize=5,
            markevery=max(1, len(values) // 5), label=point,
        )  # fmt: skip
    ax.set_xlim(rule.start, rule.end)
    ax.set_ylim(180.0, 315.0)
    labelled(ax, rule.axis, "amplitude, deg")
    ax.set_title(rule.words, loc="left", fontsize=13, fontweight="bold")
    lost = swing[-1] - swing[0]
    told = f"{lost[0]:+.0f} deg dial up, wound\n{lost[3]:+.0f} deg 12 up, after 24 h"
    ax.text(0.98, 0.97, told, transform=ax.transAxes, ha="right", va="top", fontsize=10, color=GREY)


def main(given: Options) -> None:
    """Settle every choice, print what it costs, and draw."""
    movement = oscsim.load(DESIGN)
    answers = [settled(movement, rule, given.small) for rule in RULES]
    rows, gaps = [], []
    for rule, answer in zip(RULES, answers, strict=True):
        swing = answer.points.amplitude_deg.reshape(len(answer.values[rule.name]), -1)
        gaps += [*(swing[:, 0] - swing[:, 2]), *(swing[:, 1] - swing[:, 3])]
        change = f"{rule.words}, {rule.start:g} to {rule.end:g} {rule.unit}".rstrip()
        rows.append((change, *(f"{lost:+.1f}" for lost in swing[-1] - swing[0])))
    table(f"{movement.name}: what each choice alone does to the amplitude, deg", ("", *POINTS), rows)
    lock, name = answers[0], RULES[0].name
    swing = lock.points.amplitude_deg[:, 0, 0]
    each = (swing[-1] - swing[0]) / (lock.values[name][-1] - lock.values[name][0])
    print(
        f"\nA degree of lock costs {-each:.1f} deg. Over all of these, vertical runs {min(gaps):.1f} to "
        f"{max(gaps):.1f} deg below flat.\n"
        "The first hundredths off the spring cost nothing: as long as its bridle slips, the bridle sets the torque."
    )
    figure = sheet(12.0, 9.0)
    for ax, rule, answer in zip(figure.subplots(2, 2, sharey=True).flat, RULES, answers, strict=True):
        panel(ax, rule, answer)
    figure.axes[0].legend(frameon=False, fontsize=10, loc="lower left", ncols=2)
    figure.suptitle("Each sturdy choice costs amplitude: the packet with one number changed", fontsize=14)
    write(figure, given, "trade_rules")


if __name__ == "__main__":
    main(options(__doc__))
