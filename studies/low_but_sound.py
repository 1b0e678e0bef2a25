"""Low, but sound; or low, and sick
================================

Two watches that show the same, judged by what each was made to be.

An apprentice brings two watches to the foreman. Both show about 250 degrees dial up and 230 vertical, and the rule of
thumb on the wall wants 270 or more. The dockhand is in order: it was made to show no more. The packet was made to show
300. Each is judged against its own design, and only one of them is opened.
"""

from __future__ import annotations

import textwrap

from _common import Options, options, sheet, table, write

import oscsim
from oscsim.show.bench_plots import plot_diagnose
from oscsim.show.bench_tables import FAULT_HEADS, fault_rows

CASES = (("dockhand", "dockhand_low_but_sound"), ("packet", "packet_low_and_sick"))
#: What hangs on the wall, deg dial up: common practice, fit for one family of movements only.
WALL = 270.0


def read(name: str, small: bool) -> oscsim.Readings:
    """The bundled readings; at small size the flat ones and 12 up alone."""
    readings = oscsim.load_readings(name)
    if not small:
        return readings
    kept = tuple(row for row in readings.rows if row.position in ("CH", "FH", "12H"))
    return oscsim.Readings(kept, readings.lift_angle_deg, readings.source)


def main(given: Options) -> None:
    """Diagnose both, print verdicts and causes, and draw the readings on their designs' bands."""
    figure = sheet(12.0, 10.0)
    panels = figure.subplots(2, 1, sharey=True)
    rows = []
    answers = []
    for (design, name), ax in zip(CASES, panels, strict=True):
        answer = oscsim.diagnose(oscsim.load(design), read(name, given.small))
        answers.append(answer)
        for symbol in ("CH", "12H"):
            for one in answer.shown:
                if one.read == "amplitude_deg" and one.position == symbol:
                    rows.append(
                        (answer.design, symbol, f"{one.hours:g} h", f"{one.value:.0f}", f"{one.sound.middle:.0f}",
                         f"{one.sound.low:.0f} to {one.sound.high:.0f}", f"{one.this.low:.0f} to {one.this.high:.0f}")
                    )  # fmt: skip
        plot_diagnose(answer, ax=ax)
        ax.axhline(WALL, color="black", linewidth=1.0, linestyle="--")
        ax.set_title(
            f"{answer.design}: low, and {answer.verdict_word}",
            loc="left",
            fontsize=13,
            fontweight="bold",
            pad=26,
        )
    panels[0].text(
        0.995, WALL + 1.5, f"rule on the wall: {WALL:.0f} deg", ha="right", va="bottom", fontsize=9,
        transform=panels[0].get_yaxis_transform(),
    )  # fmt: skip
    table(
        "amplitude, deg",
        ("watch", "position", "hours", "read", "a sound one", "a sound one, 90 %", "this one, 90 %"),
        rows,
    )
    for answer in answers:
        print("\n" + textwrap.fill(answer.verdict, 100))
    sick = answers[1]
    table(f"{sick.design}: causes by chance", FAULT_HEADS, fault_rows(sick)[:5])
    off = " and ".join(f"{answer.loss_deg['flat'].middle:.0f} deg" for answer in answers)
    print(f"\nOn the wall both are low. Less than in sound condition they show {off} flat.")
    figure.suptitle(
        "Much the same readings, two verdicts: each watch is held against its own design", fontsize=14
    )
    write(figure, given, "low_but_sound")


if __name__ == "__main__":
    main(options(__doc__))
