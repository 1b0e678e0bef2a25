"""Out of beat
===========

It looks bad on the timing instrument, barely moves the rate, and shows when the watch must start.

A new apprentice sets the ferryman out of beat, a little more each time, and writes down what changes: the beat error,
the amplitude an instrument shows, the rate, and the swing it needs by hand before it goes on by itself.
"""

from __future__ import annotations

import numpy as np
from _common import Options, labelled, options, sheet, table, write
from matplotlib.axes import Axes

import oscsim
from oscsim.show.style import SERIES

DESIGN = "ferryman"
OUT, WORST_DEG = "balance.out_of_beat_deg", 12.0
#: Time in which a start that will come to nothing has come to nothing, s; precision of the lowest swing, deg, and with
#: --small.
TRIAL_S, PRECISION_DEG, ROUGH_DEG = 1.5, 0.05, 0.5


def goes_on(movement: oscsim.Movement, swing_deg: float) -> bool:
    """Whether the watch, let go at this swing on the left, is still going after a moment."""
    return oscsim.transient(movement, swing_deg=swing_deg, duration_s=TRIAL_S).state != "stops"


def lowest_start(out_deg: float, precision_deg: float) -> float:
    """The least swing from which it goes on, whichever side it is let go from, deg; found by halving."""
    least = 0.0
    for side in (out_deg, -out_deg):  # let go on the right is the same as on the left of the mirrored watch
        movement = oscsim.load(DESIGN).with_({OUT: side, "balance.unbalance_ug_cm": 0.0})
        low, high = 1.0, 120.0
        while high - low > precision_deg:
            middle = 0.5 * (low + high)
            low, high = (low, middle) if goes_on(movement, middle) else (middle, high)
        least = max(least, high)
    return least


def curve(ax: Axes, out: np.ndarray, values: np.ndarray, series: int, label: str | None = None) -> None:
    """One curve against degrees out of beat."""
    colour, line, marker = SERIES[series]
    ax.plot(
        out, values, color=colour, linestyle=line, marker=marker, markersize=5, linewidth=2.0, label=label
    )


def main(given: Options) -> None:
    """Settle the watch ever further out of beat, seek the lowest start, print and draw."""
    out = np.linspace(0.0, WORST_DEG, 4 if given.small else 13)
    movement = oscsim.load(DESIGN)
    points = [oscsim.settle(movement.with_({OUT: float(e)})).points for e in out]

    def read(name: str) -> np.ndarray:
        return np.array([getattr(p, name).item() for p in points])

    error, rate = read("beat_error_ms"), read("rate_s_per_day")
    true, apparent = read("amplitude_deg"), read("apparent_amplitude_deg")
    precision = ROUGH_DEG if given.small else PRECISION_DEG
    starts = np.array([lowest_start(float(e), precision) for e in out])
    table(
        f"{movement.name}, dial up, fully wound, ever further out of beat",
        ("out deg", "beat error ms", "rate s/day", "true deg", "shown deg", "least start deg"),
        [
            (f"{e:.0f}", f"{b:.2f}", f"{r:+.2f}", f"{t:.2f}", f"{s:.2f}", f"{a:.1f}")
            for e, b, r, t, s, a in zip(out, error, rate, true, apparent, starts, strict=True)
        ],
    )
    print(
        f"\n{out[-1]:.0f} deg out of beat: {error[-1]:.1f} ms, but the rate moves by {rate[-1] - rate[0]:+.2f} s/day."
    )

    figure = sheet(12.0, 8.6)
    (upper_left, upper_right), (lower_left, lower_right) = figure.subplots(2, 2, sharex=True)
    across = "out of beat, deg of balance"
    curve(upper_left, out, error, 1)
    labelled(upper_left, "", "beat error, ms")
    upper_left.set_title("What the instrument complains of", loc="left", fontsize=13, fontweight="bold")
    curve(upper_right, out, rate - rate[0], 0)
    upper_right.set_ylim(-2.0, 2.0)
    upper_right.axhline(0.0, color="black", linewidth=0.8)
    labelled(upper_right, "", "change of the rate, s/day")
    upper_right.set_title("The rate hardly notices", loc="left", fontsize=13, fontweight="bold")
    curve(lower_left, out, true - true[0], 0, "true amplitude")
    curve(lower_left, out, apparent - true[0], 1, "amplitude the instrument shows")
    lower_left.set_ylim(-3.0, 3.0)
    lower_left.axhline(0.0, color="black", linewidth=0.8)
    labelled(lower_left, across, f"amplitude less {true[0]:.1f} deg, deg")
    lower_left.legend(frameon=False, fontsize=11)
    lower_left.set_title("Nor does the amplitude", loc="left", fontsize=13, fontweight="bold")
    curve(lower_right, out, starts, 2)
    lower_right.set_ylim(0.0, 1.15 * starts.max())
    labelled(lower_right, across, "least swing, from either side, deg")
    lower_right.set_title("But it needs a bigger push to start", loc="left", fontsize=13, fontweight="bold")
    figure.suptitle(f"{movement.name}, dial up, fully wound", fontsize=13)
    write(figure, given, "out_of_beat")


if __name__ == "__main__":
    main(options(__doc__))
