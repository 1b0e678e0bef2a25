"""Read where it shows
===================

One heavy point, looked for at three amplitudes.

The ferryman hangs by its ring all day, and its owner says that it gains on some days and loses on others. One
apprentice of the harbour workshop reads it fully wound, a second after a day, a third six hours later, when it hardly
swings any more. All three look for the heavy point. The foreman lays their sheets side by side: the lower the swing,
the surer the place, for near 220 degrees the fault hides and beyond that it is small.
"""

from __future__ import annotations

import math

import numpy as np
from _common import Options, options, sheet, table, write

import oscsim
from oscsim.show.poise_plots import plot_poise

DESIGN, READ = "ferryman", "ferryman_heavy_point"


def at_hour(readings: oscsim.Readings, hours: float) -> oscsim.Readings:
    """What one of the apprentices read."""
    rows = tuple(row for row in readings.rows if row.hours == hours)
    return oscsim.Readings(rows, readings.lift_angle_deg, f"{readings.source}, {hours:g} h")


def main(given: Options) -> None:
    """Look for the heavy point in each sheet and in all together, print what each tells, and draw."""
    movement = oscsim.load(DESIGN)
    readings = oscsim.load_readings(READ)
    hours = sorted({row.hours for row in readings.rows})
    answers = {f"{h:g} h": oscsim.poise(movement, at_hour(readings, h)) for h in hours}
    answers["all together"] = oscsim.poise(movement, readings)

    rows = []
    for words, answer in answers.items():
        swing = np.mean([v.amplitude_deg for v in answer.verticals])
        told = f"{answer.moment_ug_cm:.1f} ({answer.low_ug_cm:.1f} to {answer.high_ug_cm:.1f})"
        place = f"{answer.direction_deg:.0f} ± {answer.direction_half_width_deg:.0f}"
        rows.append(
            (
                words,
                f"{swing:.0f}",
                told if answer.told else f"below {answer.most_ug_cm:.1f}",
                place if answer.told else "not told",
            )
        )
    table(
        f"{movement.name}: the heavy point by each sheet",
        ("read at", "mean swing deg", "µg·cm, 90 %", "deg clockwise from 12"),
        rows,
    )
    patch = {words: 2.706 * math.pi * math.sqrt(np.linalg.det(a.covariance)) for words, a in answers.items()}
    first, last = (patch[f"{h:g} h"] for h in (hours[0], hours[-1]))
    print(f"\nThe patch in which it may lie is {first / last:.1f} times as large fully wound as at the end.")

    figure = sheet(13.0, 12.5)
    panels = figure.subplots(2, 2).flat
    for (words, answer), ax in zip(answers.items(), panels, strict=True):
        plot_poise(answer, ax=ax)
        swing = np.mean([v.amplitude_deg for v in answer.verticals])
        name = words if words == "all together" else f"{words}: {swing:.0f} deg"
        ax.set_title(name, loc="left", fontsize=13, fontweight="bold")
    reach = max(ax.get_xlim()[1] for ax in figure.axes)  # one scale for all
    for ax in figure.axes:
        ax.set(xlim=(-reach, reach), ylim=(-reach, reach))
    figure.suptitle("The lower the swing, the surer the place of the heavy point", fontsize=14)
    write(figure, given, "where_it_shows")


if __name__ == "__main__":
    main(options(__doc__))
