"""Why the dockhand settles lower than the packet
==============================================

An apprentice's complaint, answered.

An apprentice has just serviced a packet that shows 300 degrees, then a dockhand that shows 250, and thinks the second
one badly done. The workshop compares the two designs: what each should show through the day, where a beat's energy
goes, and which of the dockhand's choices makes the difference.
"""

from __future__ import annotations

import textwrap

import numpy as np
from _common import Options, labelled, options, sheet, table, write
from matplotlib.axes import Axes

import oscsim
from oscsim.answers.budget import PLACES
from oscsim.show.compare_plots import plot_compare
from oscsim.show.style import GREY, SERIES

FIRST, SECOND = "packet", "dockhand"
HOURS = (0.0, 6.0, 12.0, 24.0, 30.0)
#: What the trade expects of such movements, deg: common practice, no single source.
EXPECTED = {
    "Packet": "fresh from service 270-290 dial up, 250-260 vertical, up to 310 fully wound, and it keeps them",
    "Dockhand": "240-250 dial up, 220-230 vertical, healthy so; about 250 wound, 210 after 24 h, then a steep fall",
}


def main(given: Options) -> None:
    """Compare, follow both down, print the tables and the answer in words, and draw."""
    movements = [oscsim.load(name) for name in (FIRST, SECOND)]
    setting = oscsim.Setting(positions=("CH", "12H"), hours=HOURS)
    answer = oscsim.compare(movements, setting)
    runs = [
        oscsim.rundown(movement, oscsim.Setting(positions=("CH", "12H")), step_h=6.0 if given.small else 0.5)
        for movement in movements
    ]
    for d, movement in enumerate(movements):
        swing = answer.points.amplitude_deg[d]
        table(
            f"{movement.name}: amplitude by hours since full wind, deg",
            ("", *(f"{hour:g} h" for hour in HOURS)),
            [
                (words, *(f"{value:.1f}" for value in line))
                for words, line in zip(("dial up", "12 up"), swing, strict=True)
            ],
        )
        print(f"expected, deg: {EXPECTED[movement.name]}")
    print(f"\n{answer}")
    print(f"\n{in_words(answer, runs)}")
    draw(given, answer, runs)


def in_words(answer: oscsim.Compare, runs: list[oscsim.RunDown]) -> str:
    """What the apprentice is told, with the numbers of this run."""
    packet, dockhand = answer.points.amplitude_deg
    wound, evening, day = (HOURS.index(hour) for hour in (0.0, 12.0, 24.0))
    last = [float(run.stop_hours.max()) for run in runs]
    low = np.interp(205.0, dockhand[0][::-1], dockhand[1][::-1])
    shared = answer.attribution
    assert shared is not None
    costs = sorted(zip(shared.degrees, shared.groups, strict=True))
    told = ", ".join(f"{group} {degrees:+.0f}" for degrees, group in costs if abs(degrees) >= 0.5)
    return textwrap.fill(
        f"Told in the workshop: the dockhand is not weak. {dockhand[0][wound]:.0f} deg wound and {dockhand[0][day]:.0f}"
        f" after a day, dial up, with {dockhand[1][wound]:.0f} and {dockhand[1][day]:.0f} vertical, are its design; it "
        f"stops after {last[1]:.0f} h. The packet's {packet[0][wound]:.0f} wound, and {packet[0][evening]:.0f} dial up "
        f"and {packet[1][evening]:.0f} vertical by evening, are the packet's. What makes the difference, deg: {told}. "
        "The slower beat leaves more of the mainspring's work for each impulse and asks for less; the heavy balance, "
        "the thicker pivots and more drag, the deep lock, the soft mainspring and the fewer jewels spend all of that "
        f"and more, and buy a movement that forgives. At 205 dial up it has {low:.0f} vertical: then it wants work.",
        100,
    )


def rundown_panel(ax: Axes, runs: list[oscsim.RunDown]) -> None:
    """Flat and vertical amplitude of both designs through the day."""
    for run, (colour, _, marker) in zip(runs, SERIES, strict=False):
        for i, (words, line) in enumerate((("dial up", "-"), ("12 up", "--"))):
            every = max(1, len(run.hours) // 6)
            ax.plot(
                run.hours, run.points.amplitude_deg[i], color=colour, linestyle=line, linewidth=2.0,
                marker=marker, markersize=5, markevery=(i, every), label=f"{run.design}, {words}",
            )  # fmt: skip
    ax.set_ylim(0.0, 330.0)
    ax.set_xlim(0.0, max(run.hours[-1] for run in runs))
    labelled(ax, "hours since full wind, h", "amplitude, deg")
    ax.legend(frameon=False, fontsize=10, loc="lower left")
    ax.set_title("Each keeps its own amplitude through the day", loc="left", fontsize=13, fontweight="bold")


def budget_panel(ax: Axes, answer: oscsim.Compare) -> None:
    """Where a beat's energy goes, dial up, fully wound, in both designs."""
    places = list(answer.budgets[0].taken_j)
    rows = np.arange(len(places), dtype=float)
    for d, budget in enumerate(answer.budgets):
        energy = np.array([1e9 * budget.taken_j[place][0, 0] for place in places])
        label = f"{budget.design}: {1e9 * budget.given_j[0, 0]:.0f} nJ a beat"
        ax.barh(
            rows + 0.4 * (d - 0.5), energy, 0.36, color=SERIES[d][0], hatch="" if d == 0 else "//",
            edgecolor="white", linewidth=0.5, label=label,
        )  # fmt: skip
    ax.set_yticks(rows, [PLACES[place] for place in places])
    ax.set_ylim(len(places) - 0.4, -0.6)
    labelled(ax, "energy per beat, nJ", "")
    ax.grid(False, axis="y")
    ax.legend(frameon=False, fontsize=10, loc="center right")
    ax.set_title("Where a beat's energy goes (wound, dial up)", loc="right", fontsize=13, fontweight="bold")


def draw(given: Options, answer: oscsim.Compare, runs: list[oscsim.RunDown]) -> None:
    """Run-down, energy, and the steps from the one amplitude to the other."""
    figure = sheet(13.0, 10.0)
    grid = figure.add_gridspec(2, 2)
    rundown_panel(figure.add_subplot(grid[0, 0]), runs)
    budget_panel(figure.add_subplot(grid[0, 1]), answer)
    ax = plot_compare(answer, ax=figure.add_subplot(grid[1, :]))
    title = "What makes the difference, dial up, fully wound: each group of choices and its share"
    ax.set_title(title, loc="left", fontsize=13, fontweight="bold")
    ax.tick_params(axis="y", labelcolor=GREY)
    write(figure, given, "why_it_settles_lower")


if __name__ == "__main__":
    main(options(__doc__))
