"""Real watches of 1920 as signs and sizes (docs/real-cases.md); check 42.

W. J. Kleinlein, Rules and Practice for Adjusting Watches, 1920: numbered examples 4, 7, 9 and 10. None comes with its
design, so a pocket design of ours stands for it, and only what does not hang on the design is asked.
"""

from __future__ import annotations

import numpy as np
import pytest

import oscsim
from oscsim.arrays import Array

from .book import Ledger
from .sources import KLEINLEIN

pytestmark = pytest.mark.check(42)
POCKET = oscsim.load("ferryman")
STRIP, BALANCE = POCKET.mainspring, POCKET.balance


def settled(positions: tuple[str, ...], hours: float = 0.0, **changes: float) -> tuple[Array, Array]:
    """Amplitudes, deg, and rates, s/day, by position; ``changes`` with two underscores for the dot."""
    movement = POCKET.with_({name.replace("__", "."): value for name, value in changes.items()})
    points = oscsim.settle(movement, oscsim.Setting(positions=positions, hours=hours)).points
    return points.amplitude_deg[:, 0], points.rate_s_per_day[:, 0]


def test_case_4_a_strip_too_thin_and_set(ledger: Ledger) -> None:
    thin = {"mainspring__thickness_mm": STRIP.thickness_mm - 0.01}
    tired = {"mainspring__elastic_limit_mpa": 0.8 * STRIP.elastic_limit_mpa}
    proper, _ = settled(("CH", "12H"), 20.0)
    lost = {}
    for name, changes in (("thin", thin), ("set", tired), ("both", thin | tired)):
        lost[name] = proper - settled(("CH", "12H"), 20.0, **changes)[0]
    source = KLEINLEIN.at("example 4")
    ledger.band(
        "a proper strip for one 0.01 mm too thin and set by a fifth: swing gained after 20 h, dial up and pendant up",
        lost["both"],
        30.0,
        60.0,
        "deg",
        source=source,
        why="a quarter of a turn, 45; how far it was set is not told",
    )
    ledger.says(
        "of that the thickness alone is the smaller part",
        (lost["thin"] > 0.0) & (lost["thin"] < 0.5 * lost["both"]),
        "with a strip too thin and set",
        f"{lost['thin'][1]:.0f} of {lost['both'][1]:.0f} deg pendant up",
        source=source,
        why="the strip had set as well",
    )


def test_case_7_the_pattern_turns_over(ledger: Ledger) -> None:
    uprights = ("12H", "3H", "9H")
    heavy = {"balance__unbalance_ug_cm": 30.0, "balance__heavy_point_deg": 180.0}
    source = KLEINLEIN.at("example 7")
    told = {"weak": (14.0, -10.0, 12.0), "proper": (-16.0, 2.0, -6.0)}
    found = {}
    for name, height in (("weak", 0.55 * STRIP.height_mm), ("proper", STRIP.height_mm)):
        _, rate = settled(uprights, mainspring__height_mm=height, **heavy)
        found[name] = float(rate[0] - rate.mean())
        theirs = told[name][0] - np.mean(told[name])
        ledger.says(
            f"heavy below with the pendant up, {name} spring: pendant up against the mean of the verticals",
            np.sign(found[name]) == np.sign(theirs),
            f"{theirs:+.1f} s/day",
            f"{found[name]:+.1f} s/day",
            source=source,
            why="the sign turns over as the amplitude crosses the node near 220 deg",
        )
    _, poised = settled(uprights, balance__unbalance_ug_cm=0.0)
    ledger.band(
        "the same, poised: spread of the verticals",
        np.ptp(poised),
        0.0,
        4.0,
        "s/day",
        source=source,
        why="−1, −3, +2 were left",
    )


def test_case_9_thick_oil_at_one_end(ledger: Ledger) -> None:
    right, _ = settled(("CH", "12H"))
    thick, _ = settled(("CH", "12H"), balance__end_friction_radius_um=3.0 * BALANCE.end_friction_radius_um)
    lost = right - thick
    ledger.says(
        "thick oil at the end that bears, three times its friction: the dial position and the verticals",
        (lost[0] > 10.0) & (abs(lost[1]) < 1.0),
        "dial up a quarter of a turn less than dial down, verticals kept",
        f"{lost[0]:.0f} deg less, verticals {lost[1]:.1f}",
        source=KLEINLEIN.at("example 9"),
        why="the sign of the rate is not asked: it hangs on the hairspring",
    )


def test_case_10_flat_ends(ledger: Ledger) -> None:
    flat, _ = settled(("CH", "12H"), balance__end_friction_radius_um=30.0)
    ledger.says(
        "flat pivot ends, an end's radius of friction of 30 µm: flat against pendant up",
        flat[0] > flat[1],
        "270 against 225 deg: flat ends need not bring them together",
        f"{flat[0]:.0f} against {flat[1]:.0f} deg",
        source=KLEINLEIN.at("example 10"),
    )
