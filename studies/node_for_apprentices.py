"""Where a heavy spot hides
========================

The harbour workshop's lesson on poise and amplitude, without a formula.

A balance with one heavy point runs fast at one swing, slow at another, and in between as if nothing were wrong with
it. Three drawings show why, and below them stands what the engine gives for the workshop's own movement.
"""

from __future__ import annotations

import numpy as np
from _common import Options, labelled, options, sheet, table, write
from matplotlib.axes import Axes
from matplotlib.patches import Circle, Wedge
from scipy.integrate import quad

import oscsim
from oscsim.answers.ratemap import RateMap
from oscsim.answers.ratemap import ratemap as rate_map
from oscsim.show.style import GREY, SERIES

HOME, AWAY = SERIES[0][0], SERIES[1][0]  # weight pulls home with the spring, weight pulls away from it
DESIGN, POSITION, BELOW_DEG = "dockhand", "12H", 180.0  # 12 up: a heavy point at 6 hangs below
VERDICTS = ("gains", "hides", "loses")


def pulls(amplitude_deg: float) -> tuple[float, float]:
    """How much the weight helps and how much it hinders the spring in one swing, as shares of the two together.

    Counted is weight's turning force times how far out the balance then is, moment by moment in time: that is what
    moves the rate (docs/node.md). Up to half a turn the weight helps, beyond it hinders.
    """
    a = np.radians(amplitude_deg)
    over = np.arcsin(min(np.pi / a, 1.0))  # phase of the swing at which the heavy point goes over the top

    def strength(phase: float) -> float:
        return float(np.sin(a * np.sin(phase)) * np.sin(phase))

    home = quad(strength, 0.0, over)[0]
    away = abs(quad(strength, over, 0.5 * np.pi)[0])
    return home / (home + away), away / (home + away)


def draw_balance(ax: Axes, amplitude_deg: float, verdict: str) -> None:
    """The balance with its heavy point hanging, and how far the point travels to one side."""
    ax.add_patch(Circle((0.0, 0.0), 1.0, fill=False, linewidth=6.0, edgecolor="#bbbbbb"))
    for angle in (0.0, np.pi / 2.0):
        x, y = np.cos(angle), np.sin(angle)
        ax.plot([-x, x], [-y, y], color="#bbbbbb", linewidth=4.0, zorder=0)
    ax.add_patch(Circle((0.0, 0.0), 0.09, color="#888888"))
    # angles from the bottom, clockwise; Wedge counts from the right, anticlockwise
    helped = min(amplitude_deg, 180.0)
    ax.add_patch(Wedge((0, 0), 1.34, 270.0 - helped, 270.0, width=0.2, color=HOME, alpha=0.9))
    if amplitude_deg > 180.0:
        ax.add_patch(
            Wedge(
                (0, 0),
                1.34,
                270.0 - amplitude_deg,
                90.0,
                width=0.2,
                facecolor=AWAY,
                edgecolor="white",
                hatch="///",
            )
        )
    end = np.radians(270.0 - amplitude_deg)
    turn = np.array([np.cos(end), np.sin(end)])
    ax.plot(*np.array([1.04 * turn, 1.44 * turn]).T, color="black", linewidth=3.0)
    ax.text(*(1.72 * turn), "turns\nback", ha="center", va="center", fontsize=11)
    ax.add_patch(Circle((0.0, -1.0), 0.16, color="black", zorder=3))
    ax.text(0.0, -1.5, "heavy point at rest", ha="center", va="top", fontsize=11)
    ax.set_xlim(-1.6, 2.0)
    ax.set_ylim(-1.75, 1.9)
    ax.set_aspect("equal")
    ax.axis("off")
    ax.set_title(f"swing {amplitude_deg:.0f} deg: it {verdict}", fontsize=15, fontweight="bold")


def draw_scales(ax: Axes, amplitude_deg: float) -> None:
    """Helping and hindering as two bars."""
    for height, (share, colour, hatch, word) in enumerate(
        zip(pulls(amplitude_deg), (HOME, AWAY), ("", "///"), ("with the spring", "against it"), strict=True)
    ):
        ax.barh(-height, share, height=0.62, color=colour, hatch=hatch, edgecolor="white")
        ax.text(-0.03, -height, word, ha="right", va="center", fontsize=11)
        ax.text(share + 0.02, -height, f"{100 * share:.0f} %", ha="left", va="center", fontsize=11)
    ax.set_xlim(-0.62, 1.2)
    ax.set_ylim(-1.6, 0.8)
    ax.axis("off")
    ax.set_title("what its weight does, over a whole swing", fontsize=11, color=GREY, y=0.92)


def main(given: Options) -> None:
    """Compute the map, print what matters of it, and draw the lesson."""
    movement = oscsim.load(DESIGN)
    amplitudes = np.linspace(130.0, 320.0, 20 if given.small else 77)
    directions = np.arange(0.0, 360.0, 30.0 if given.small else 15.0)
    answer = ratemap(movement, amplitudes, directions)
    rate = answer.rate_s_per_day
    effect = rate - rate.mean(axis=1, keepdims=True)  # a poised balance has the mean of all directions
    below = effect[:, np.argmin(np.abs(directions - BELOW_DEG))]
    above = effect[:, np.argmin(np.abs(directions))]
    lessons = (180.0, answer.node_deg, 290.0)

    table(
        f"{movement.name}, 12 up, {answer.unbalance_ug_cm:g} µg·cm: what the heavy point does to the rate, s/day",
        ("swing deg", "hangs below", "stands above", "weight helps", "weight hinders"),
        [
            (f"{a:.1f}", f"{np.interp(a, amplitudes, below):+.2f}", f"{np.interp(a, amplitudes, above):+.2f}",
             f"{100 * pulls(a)[0]:.0f} %", f"{100 * pulls(a)[1]:.0f} %")
            for a in (150.0, *lessons, 310.0)
        ],
    )  # fmt: skip
    first = answer.to_dict()["first_order_node_deg"]
    print(f"\nIt hides at {answer.node_deg:.2f} deg; without an escapement it would be {first:.2f} deg.")

    figure = sheet(12.0, 11.0)
    grid = figure.add_gridspec(3, 3, height_ratios=(3.6, 1.0, 3.0))
    for j, (a, verdict) in enumerate(zip(lessons, VERDICTS, strict=True)):
        draw_balance(figure.add_subplot(grid[0, j]), a, verdict)
        draw_scales(figure.add_subplot(grid[1, j]), a)
    draw_rate(figure.add_subplot(grid[2, :]), amplitudes, below, above, lessons)
    figure.suptitle(
        "Up to half a turn the heavy point's weight pulls the balance home, together with the spring: it hurries.\n"
        "Beyond, the point has gone over the top and its weight pulls away from home: it dawdles.",
        fontsize=14,
    )  # fmt: skip
    write(figure, given, "node_for_apprentices")


def ratemap(movement: oscsim.Movement, amplitudes: np.ndarray, directions: np.ndarray) -> RateMap:
    """The engine's rate map in the one position of this lesson."""
    return rate_map(
        movement, oscsim.Setting(positions=POSITION), amplitudes_deg=amplitudes, heavy_points_deg=directions
    )


def draw_rate(
    ax: Axes, amplitudes: np.ndarray, below: np.ndarray, above: np.ndarray, lessons: tuple[float, ...]
) -> None:
    """Gain and loss against the swing, the three lessons marked."""
    top = 1.15 * max(np.abs(below).max(), np.abs(above).max())
    ax.axhline(0.0, color="black", linewidth=1.0)
    ax.fill_between(
        amplitudes, 0.0, below, where=below > 0.0, interpolate=True, color=HOME, alpha=0.35, linewidth=0
    )
    ax.fill_between(
        amplitudes, 0.0, below, where=below < 0.0, interpolate=True, facecolor=AWAY, alpha=0.45, hatch="///",
        edgecolor="white", linewidth=0,
    )  # fmt: skip
    ax.plot(amplitudes, below, color="black", linewidth=2.6, label="heavy point hangs below, as drawn")
    ax.plot(
        amplitudes,
        above,
        color=GREY,
        linewidth=1.8,
        linestyle="--",
        label="watch turned over: heavy point on top",
    )
    places = ((10, 26), (0, 62), (-20, -44))
    for a, verdict, place in zip(lessons, VERDICTS, places, strict=True):
        height = float(np.interp(a, amplitudes, below))
        ax.plot([a], [height], "o", color="black", markersize=9)
        ax.annotate(
            f"{a:.0f} deg: {verdict}", (a, height), place, textcoords="offset points", fontsize=13, fontweight="bold",
            arrowprops={"arrowstyle": "-", "color": "black", "shrinkB": 6},
        )  # fmt: skip
    ax.set_xlim(amplitudes[0], amplitudes[-1])
    ax.set_ylim(-top, top)
    labelled(ax, "swing to each side (amplitude), deg", "gained (+) or lost (-) by\nthe heavy point, s/day")
    ax.legend(frameon=False, fontsize=11, loc="upper right")


if __name__ == "__main__":
    main(options(__doc__))
