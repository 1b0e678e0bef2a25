"""The coil that breathes to one side
==================================

The same watch in the harbour workshop, with four hairsprings: pinned at whole turns, at half turns, at quarter turns,
and with a proper outer curve.

When the balance turns, a flat coil does not open and close evenly: it crowds to one side, pushes the pivots there, and
its torque is no longer in proportion to the angle. Which side it is depends on where it is pinned, and the rate
follows. The coils are drawn as the equations of the strip give them, nothing is exaggerated. Below stands what the
whole watch does with each, lever and all.
"""

from __future__ import annotations

import numpy as np
from _common import Options, labelled, options, sheet, table, write
from matplotlib.axes import Axes

import oscsim
from oscsim.show.style import GREY, SERIES, key

DESIGN = "dinghy"
SIZE = {"hairspring.winds": "clockwise", "hairspring.pinning_deg": 0.0, "hairspring.outer_curve": "none"}
SPRINGS = {
    "11 turns": {"hairspring.turns": 11.0},
    "11½ turns": {"hairspring.turns": 11.5},
    "11¼ turns": {"hairspring.turns": 11.25},
    "outer curve": {"hairspring.turns": 11.0, "hairspring.outer_curve": "phillips"},
}


def draw(ax: Axes, answer: oscsim.HairspringShape, number: int, name: str) -> None:
    """A coil at +270° over the same coil at rest, and where its middle has gone."""
    rest, bent = answer.coil_mm[0], answer.coil_mm[1]
    ax.plot(rest[:, 1], rest[:, 0], color="#c8c8c8", linewidth=0.8)
    ax.plot(bent[:, 1], bent[:, 0], color=SERIES[number][0], linewidth=1.3)
    ax.plot(bent[-1, 1], bent[-1, 0], marker="s", color="black", markersize=6)
    ax.plot(0.0, 0.0, marker="+", color="black", markersize=10)
    push = answer.force_over_ei_l2[list(answer.angle_deg).index(270.0)]
    strength = float(np.hypot(*push))
    if strength > 3.0:
        along = 1.5 * push / strength
        ax.annotate("", (along[1], along[0]), (0.0, 0.0), arrowprops={"arrowstyle": "-|>", "linewidth": 2.0})
    reach = 1.35 * float(np.abs(rest).max())
    ax.set_xlim(-reach, reach)
    ax.set_ylim(-reach, reach)
    ax.set_aspect("equal")
    ax.axis("off")
    ax.set_title(name, fontsize=13, fontweight="bold", color=SERIES[number][0])


def main(given: Options) -> None:
    """Compute the four springs and the watch with each, print what matters and draw the lesson."""
    swings = np.linspace(150.0, 290.0, 8 if given.small else 29)
    base = oscsim.load(DESIGN).with_({"balance.unbalance_ug_cm": 0.0, "hairspring.strip_height_mm": None})
    watches = {name: base.with_(SIZE | changes) for name, changes in SPRINGS.items()}
    shapes = {
        name: oscsim.hairspring(watch, (0.0, 270.0), (180.0, 220.0, 270.0)) for name, watch in watches.items()
    }
    curves = {
        name: oscsim.isochronism(watch, amplitudes_deg=swings, torque_ceiling=5.0)
        for name, watch in watches.items()
    }
    rates = {name: curve.rate_s_per_day[0] for name, curve in curves.items()}

    table(
        f"{base.name}, dial up, s/day: from 270 to 220 deg of swing",
        ("hairspring", "raw at 270", "shape", "whole watch", "side force at 270 deg, mN"),
        [
            (
                name,
                f"{shape.rate_s_per_day[2]:+.1f}",
                f"{shape.watch_rate_s_per_day[1]:+.1f}",
                f"{np.interp(220.0, swings, rates[name]) - np.interp(270.0, swings, rates[name]):+.1f}",
                f"{np.hypot(*shape.force_over_ei_l2[1]) * shape.stiffness_n_m_per_rad / shape.length_mm * 1e6:.3f}",
            )
            for name, shape in shapes.items()
        ],
    )

    figure = sheet(12.0, 9.0)
    grid = figure.add_gridspec(2, 4, height_ratios=(1.0, 1.25))
    for number, (name, shape) in enumerate(shapes.items()):
        draw(figure.add_subplot(grid[0, number]), shape, number, name)
    ax = figure.add_subplot(grid[1, :])
    for number, (name, rate) in enumerate(rates.items()):
        colour, line, marker = SERIES[number]
        ax.plot(
            swings,
            rate,
            color=colour,
            linestyle=line,
            marker=marker,
            markersize=5,
            markevery=(number, 4),
            label=name,
        )
    ax.axhline(0.0, color=GREY, linewidth=0.8)
    ax.invert_xaxis()
    labelled(ax, "amplitude, deg: from morning to night", "rate dial up, s/day")
    key(ax, loc="upper left", title="hairspring", title_fontsize=9)
    figure.suptitle(
        "The balance at three quarters of a turn: grey the coil at rest, the arrow its push on the pivots.\n"
        "A coil that breathes to one side bends the rate; an outer curve lets it breathe about its middle.",
        fontsize=14,
    )  # fmt: skip
    write(figure, given, "breathing_coil")


if __name__ == "__main__":
    main(options(__doc__))
