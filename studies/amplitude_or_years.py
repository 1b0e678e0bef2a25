"""Two makers, one movement
========================

The harbour workshop gives the same movement to two makers.

One chases amplitude, the other a lock that holds and a spring that is not strained. Both may change the balance's
inertia, the lock and the strip's thickness, within what the barrel and the beat allow. The picture shows what neither
can better without giving something up, where each of them ends, and what the years do to both watches.
"""

from __future__ import annotations

import numpy as np
from _common import Options, options, sheet, table, write

import oscsim
from oscsim.answers.measures import MEASURES
from oscsim.show.tradeoff_plots import plot_ageing, plot_tradeoff
from oscsim.show.tradeoff_tables import value_text

DESIGN = "dockhand"
RANGES = {
    "balance.inertia_mg_cm2": (10.0, 20.0),
    "escapement.lock_deg": (1.3, 3.4),
    "mainspring.thickness_mm": (0.095, 0.115),
}
AIMS = ("amplitude_vertical_24h", "lock_energy", "strip_stress")


def main(given: Options) -> None:
    """Print the two makers' choices and draw what they get."""
    design = oscsim.load(DESIGN)
    found = oscsim.tradeoff_front(
        design,
        RANGES,
        AIMS,
        keep={"reserve": 36.0},
        count=256 if given.small else 8192,
        bundled=oscsim.bundled(),
    )
    front = found.front
    assert front is not None
    rows = {
        "chases amplitude": int(np.argmax(front.measures["amplitude_vertical_24h"])),
        "chases a sure lock": int(np.argmax(front.measures["lock_energy"])),
        "the knee": front.knee,
    }
    made = {
        name: design.with_(
            {key: float(column[row]) for key, column in front.numbers.items()} | {"name": name}
        )
        for name, row in rows.items()
    }
    names = (
        "amplitude_vertical_24h",
        "lock_energy",
        "strip_stress",
        "friction_work",
        "below_knock",
        "years_to_180",
    )
    told = oscsim.tradeoff(list(made.values()), measures=names)
    lines = [[name] + [value_text(m, told.values[m][n]) for m in names] for n, name in enumerate(made)]
    table("what each gets", ("maker", *(_heading(m) for m in names)), lines)
    figure = sheet(13.5, 5.6)
    axes = figure.subplots(1, 2)
    plot_tradeoff(found, axes[0])
    plot_ageing(oscsim.ageing(list(made.values())), axes[1])
    write(figure, given, "amplitude_or_years")


def _heading(measure: str) -> str:
    unit = MEASURES[measure].unit
    return f"{measure}, {unit}" if unit else measure


if __name__ == "__main__":
    main(options(__doc__))
