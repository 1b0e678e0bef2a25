"""Opening the index pins
======================

How play between them slows the small swings, and what an apprentice gains by it.

The dockhand goes slow when it hangs, because its swing is then smaller. An apprentice closes the pins, another opens
them and wonders why the watch now loses more. The coil touches a pin only while the balance is far enough out, so play
slows the small swings most: a cure for a watch that gains at small swings, and poison for one that loses there.
"""

from __future__ import annotations

import numpy as np
from _common import Options, labelled, options, sheet, table, write
from matplotlib.axes import Axes

import oscsim
from oscsim.answers.isochronism import isochronism
from oscsim.answers.regulate import regulate
from oscsim.show.style import SERIES
from oscsim.theory.generated import index_pins_rate

DESIGN = "dockhand"
SHARE = 0.006  # of the stiffness: the stretch of spring behind the pins
#: Contact angles of the coil with the pins, deg; None: no pin on that side.
PLAYS: dict[str, tuple[float | None, float | None]] = {
    "5 deg each way": (-5.0, 5.0),
    "10 deg each way": (-10.0, 10.0),
    "20 deg each way": (-20.0, 20.0),
    "off-centre, -5 to 35 deg": (-5.0, 35.0),
    "one pin, at +10 deg": (None, 10.0),
}


def with_pins(movement: oscsim.Movement, low: float | None, high: float | None) -> oscsim.Movement:
    """The movement with index pins; the coil touches them at ``low`` and ``high``, deg."""
    pins = {"stiffness_share": SHARE, "low_contact_deg": low, "high_contact_deg": high}
    return movement.with_({f"index_pins.{key}": value for key, value in pins.items() if value is not None})


def draw_share(ax: Axes, amplitudes: np.ndarray, curves: dict[str, np.ndarray]) -> None:
    """What the play changes of the rate since the swing was large, and first-order theory as marks."""
    every = max(1, len(amplitudes) // 8)
    for (colour, line, marker), (words, values) in zip(SERIES, curves.items(), strict=False):
        low, high = PLAYS[words]
        if low is None:
            continue  # as the curve of half its angle each way
        centred = high == -low
        moved = values - values[-1]
        ax.plot(
            amplitudes, moved, color=colour, linestyle=line if centred else "none", linewidth=2.2, label=words,
            marker="" if centred else "D", markerfacecolor="none", markersize=9, markevery=(every // 2, every),
        )  # fmt: skip
        if centred:
            theory = index_pins_rate(np.radians(amplitudes), np.radians(high), SHARE)
            ax.plot(
                amplitudes[::every],
                (theory - theory[-1])[::every],
                color=colour,
                marker=marker,
                linestyle="none",
            )
    ax.axhline(0.0, color="black", linewidth=0.8)
    ax.plot([], [], color="black", marker="o", linestyle="none", label="filled marks: first-order theory")
    labelled(ax, "amplitude, deg", f"rate changed since {amplitudes[-1]:.0f} deg, s/day")
    ax.legend(frameon=False, fontsize=11, loc="lower right", title="play of the coil", title_fontsize=11)
    ax.set_title("Play slows the small swings most", loc="left", fontsize=14, fontweight="bold")
    ax.set_xlim(amplitudes[0], amplitudes[-1])


def draw_positions(ax: Axes, plays: np.ndarray, gaps: np.ndarray) -> None:
    """Hanging less lying, fully wound and after a day, against the play."""
    for (colour, line, marker), values, words in zip(
        SERIES, gaps.T, ("fully wound", "after 24 h"), strict=False
    ):
        ax.plot(plays, values, color=colour, linestyle=line, marker=marker, linewidth=2.0, label=words)
    ax.axhline(0.0, color="black", linewidth=0.8)
    labelled(ax, "play each way, deg of balance", "hanging less lying, s/day")
    ax.legend(frameon=False, fontsize=10)
    ax.set_xlim(-0.5, plays[-1] + 0.5)
    ax.set_ylim(top=1.0)
    ax.set_title("So a hanging watch falls back further", loc="left", fontsize=14, fontweight="bold")


def main(given: Options) -> None:
    """Curves of the play's share, the effect on the positions, a table and the picture."""
    movement = oscsim.load(DESIGN)
    amplitudes = np.linspace(100.0, 310.0, 15 if given.small else 71)
    curves = {}
    for words, contacts in PLAYS.items():
        curves[words] = isochronism(with_pins(movement, *contacts), None, amplitudes).shares["index_pins"][0]
    table(
        f"{movement.name}, stiffness behind the pins {100 * SHARE:g} %: lost to the play, s/day",
        ("play", "150 deg", "220 deg", "300 deg", "150 less 300"),
        [
            (words, *(f"{np.interp(a, amplitudes, v):+.1f}" for a in (150.0, 220.0, 300.0)),
             f"{np.interp(150.0, amplitudes, v) - np.interp(300.0, amplitudes, v):+.1f}")
            for words, v in curves.items()
        ],
    )  # fmt: skip

    plays = np.linspace(0.0, 20.0, 5 if given.small else 11)
    gaps = np.array([_hanging_less_lying(movement, play) for play in plays])
    table(
        f"{movement.name}: hanging (mean of four) less lying, s/day, on time in the mean",
        ("play each way deg", "fully wound", "after 24 h"),
        [(f"{play:.0f}", *(f"{gap:+.2f}" for gap in row)) for play, row in zip(plays, gaps, strict=True)],
    )
    print(
        "\nWhere the play lies hardly matters, only how much there is. One pin acts as half its angle each way."
    )
    figure = sheet(13.0, 6.0)
    left, right = figure.subplots(1, 2)
    draw_share(left, amplitudes, curves)
    draw_positions(right, plays, gaps)
    write(figure, given, "index_pins")


def _hanging_less_lying(movement: oscsim.Movement, play: float) -> np.ndarray:
    """Mean of the vertical rates less dial up, at full wind and after 24 h, s/day."""
    changed = with_pins(movement, -play, play) if play > 0.0 else movement
    places = ("CH", "12H", "3H", "6H", "9H")
    changed = regulate(changed, at=oscsim.Setting(positions=places))
    rate = oscsim.settle(changed, oscsim.Setting(positions=places, hours=(0.0, 24.0))).points.rate_s_per_day
    return rate[1:].mean(axis=0) - rate[0]


if __name__ == "__main__":
    main(options(__doc__))
