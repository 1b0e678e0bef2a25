"""A watch without papers
======================

What can be said of a movement when only beat, size and jewels are known, and what one reading adds.

A deckhand leaves a watch in the harbour workshop: no name on it, no drawing. An apprentice counts the beats and the
jewels and holds a rule to the movement; nothing else can be had without taking it apart. Is 262 degrees good for it?
The sketch says what such movements usually show. The same watch, known to be in order, is then read once, and the
sketch is told.
"""

from __future__ import annotations

import numpy as np
from _common import Options, labelled, options, sheet, table, write
from matplotlib.axes import Axes

import oscsim
from oscsim.bench.sketched import Sketch
from oscsim.show.sketch_plots import plot_sketch
from oscsim.show.style import SERIES

#: What the apprentice found without opening more than the case.
GIVEN = {"balance.beats_per_hour": 21600.0, "train.jewels": 17}
FACTS = {"movement_diameter_mm": 25.6}
READ_DEG = 262.0


def draw_bands(ax: Axes, before: Sketch, after: Sketch) -> None:
    """What nine in ten such movements show, before and after the reading."""
    for n, (answer, words) in enumerate(((before, "beat, size, jewels"), (after, "and one reading"))):
        colour = SERIES[n][0]
        across = np.arange(len(answer.expected)) + (-0.18, 0.18)[n]
        low, high = (np.array([getattr(e, f"{end}_deg") for e in answer.expected]) for end in ("low", "high"))
        ax.bar(
            across, high - low, bottom=low, width=0.3, color=colour, alpha=0.35, label=words, linewidth=0,
            hatch=("", "///")[n], edgecolor=colour,
        )  # fmt: skip
        ax.plot(
            across,
            [e.amplitude_deg for e in answer.expected],
            color=colour,
            marker=SERIES[n][2],
            linestyle="none",
        )
    ax.set_ylim(bottom=min(e.low_deg for answer in (before, after) for e in answer.expected) - 15.0)
    ax.axhline(READ_DEG, color="black", linestyle=":", linewidth=1.2)
    ax.text(
        len(after.expected) - 0.5, READ_DEG + 2.0, f"read dial up: {READ_DEG:g} deg", ha="right", fontsize=10
    )
    ax.set_xticks(
        range(len(after.expected)), [f"{e.position}\n{e.hours:g} h" for e in after.expected]
    )  # fmt: skip
    labelled(ax, "position and hours since full wind", "amplitude, deg; nine in ten")
    ax.legend(frameon=False, fontsize=10, loc="lower left")
    ax.set_title("What such movements show", loc="left", fontsize=13, fontweight="bold")


def main(given: Options) -> None:
    """Sketch twice, print the bands and what to measure next, and draw."""
    slip = oscsim.Slip(given=GIVEN, facts=FACTS)
    reading = oscsim.Readings((oscsim.Reading("CH", 0.0, READ_DEG),))
    before = oscsim.sketch(slip)
    after = oscsim.sketch(slip.with_(readings=reading))
    table(
        "Nine in ten such movements show, deg",
        ("", "beat, size, jewels", "and one reading"),
        [
            (f"{a.position} {a.hours:g} h", *(f"{e.low_deg:.0f} to {e.high_deg:.0f}" for e in (a, b)))
            for a, b in zip(before.expected, after.expected, strict=True)
        ],
    )
    table(
        "What leaves most open, and would be measured next",
        ("number", "value", "range", "± deg dial up"),
        [
            (
                n.name,
                f"{n.value:.4g}",
                f"{n.low:.4g} to {n.high:.4g} {n.unit}".rstrip(),
                f"{n.moves_flat_deg:.1f}",
            )
            for n in after.filled[: 3 if given.small else 6]
        ],
    )
    figure = sheet(14.0, 7.0)
    left, right = figure.subplots(1, 2)
    draw_bands(left, before, after)
    plot_sketch(after, ax=right)
    right.set_title("What is left open, by filled number", loc="left", fontsize=13, fontweight="bold")
    figure.suptitle("A watch without papers: beat 21,600, 25.6 mm, 17 jewels", fontsize=14)
    write(figure, given, "watch_without_papers")


if __name__ == "__main__":
    main(options(__doc__))
