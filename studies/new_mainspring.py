"""A new mainspring for the dockhand
=================================

The drawer has four, none is the right one, and nobody knows the alloy.

The present spring was never written down. The apprentice measures what there is, reads the amplitude of the
movement a day after winding, and asks which spring from the drawer comes nearest to 250 degrees at full wind, how long
it would keep its rate in order, and whether it would knock. A wound mainspring stores energy: let it down first.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from _common import Options, labelled, options, sheet, table, write
from matplotlib.axes import Axes

import oscsim
from oscsim.show.style import GREY, SERIES
from oscsim.show.swap_plots import plot_swap

DESIGN, WANTED_DEG = "dockhand", 250.0
#: What the timing instrument showed dial up a day after winding, deg: from this the strip's elastic limit is found.
KNOWN_DEG, KNOWN_AT = 207.0, oscsim.Setting(hours=24.0)
DRAWER = """\
name,height_mm,thickness_mm,length_mm,slip_torque_n_mm
left front,1.30,0.105,380,
left back,1.25,0.110,360,
right front,1.30,0.120,330,12
right back,1.60,0.130,330,14
too long,1.30,0.115,1200,
"""


def drawer() -> list[oscsim.Candidate]:
    """The springs in the drawer, read as a workshop would read its own list."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "drawer.csv"
        path.write_text(DRAWER, encoding="utf-8")
        return oscsim.read_candidates(path)


def day_panel(ax: Axes, movement: oscsim.Movement, answer: oscsim.Swap, small: bool) -> None:
    """Flat amplitude through the day: the present spring and the nearest three."""
    for n, fitted in enumerate((answer.present, *answer.candidates[:3])):
        run = oscsim.rundown(
            fitted.candidate.fitted(movement), oscsim.Setting(), step_h=6.0 if small else 0.5
        )
        colour, line, marker = SERIES[n]
        ax.plot(
            run.hours, run.points.amplitude_deg[0], color=colour, linestyle=line, linewidth=2.0, marker=marker,
            markersize=5, markevery=(n, max(1, len(run.hours) // 7)), label=fitted.candidate.name,
        )  # fmt: skip
    ax.axhline(answer.floor_deg, color=GREY, linewidth=1.2, linestyle=":")
    ax.annotate(
        "floor of the working band", (0.0, answer.floor_deg), (6, -4), textcoords="offset points", va="top",
        fontsize=10, color=GREY,
    )  # fmt: skip
    ax.set_ylim(0.0, 340.0)
    ax.set_xlim(left=0.0)
    labelled(ax, "hours since full wind, h", "amplitude dial up, deg")
    ax.legend(frameon=False, fontsize=10, loc="lower left")
    ax.set_title("Through the day", loc="left", fontsize=13, fontweight="bold")


def main(given: Options) -> None:
    """Find the elastic limit, judge the drawer, print the table and draw."""
    present = oscsim.calibrate(oscsim.load(DESIGN), KNOWN_DEG, KNOWN_AT)
    answer = oscsim.swap(present, drawer(), wanted_deg=WANTED_DEG)
    designed = oscsim.load(DESIGN).mainspring.elastic_limit_mpa
    table(
        f"{present.name}: {KNOWN_DEG:g} deg dial up a day after winding",
        ("", "elastic limit MPa"),
        [
            ("as designed", f"{designed:.1f}"),
            ("from the reading", f"{present.mainspring.elastic_limit_mpa:.1f}"),
        ],
    )
    print(f"\n{answer}")
    figure = sheet(13.0, 6.5)
    left, right = figure.subplots(1, 2)
    plot_swap(answer, ax=left)
    left.set_title("Wound, and a day later", loc="left", fontsize=13, fontweight="bold")
    left.legend(frameon=False, fontsize=9, loc="upper center", bbox_to_anchor=(0.5, -0.1), ncols=2)
    day_panel(right, present, answer, given.small)
    figure.suptitle("Which spring from the drawer, for 250 deg at full wind?", fontsize=14)
    write(figure, given, "new_mainspring")


if __name__ == "__main__":
    main(options(__doc__))
