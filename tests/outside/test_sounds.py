"""What an instrument hears: time between the sounds, apparent amplitude, beat error; check 25.

By derivation, A = λ/(2 sin πft): in a watch with next to no losses, 52 degrees of lift across the dead point.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

import oscsim
from oscsim.motion.sustain import sustain
from oscsim.operating import operating_points

from .designs import DESIGNS, bare
from .sources import DERIVED

pytestmark = pytest.mark.check(25)


@pytest.mark.parametrize(("degrees", "ms"), [(150, 13.863), (250, 8.291), (300, 6.905)])
def test_time_between_sounds(ledger, degrees, ms):
    points = operating_points(bare(), oscsim.Setting())
    cycle = sustain(points.oscillators, np.radians([degrees])).cycle
    ledger.value(
        f"time from first to last sound, 52° of lift, 4 Hz, {degrees}°",
        cycle.ticks[:, 0] / points.omega * 1e3,
        ms,
        "ms",
        source=DERIVED,
        within=1e-3,
        why="the last digit given",
    )


def settled(amplitude_deg, **setting):
    """The bare watch settled at about this amplitude: the inertia sets it, the loss being a part of its energy."""
    inertia = 680.0 * (150.0 / amplitude_deg) ** 2
    movement = bare(balance__viscous_q=3500.0, balance__inertia_mg_cm2=inertia)
    points = oscsim.settle(movement, oscsim.Setting(**setting)).points
    assert points.amplitude_deg[0, 0] == pytest.approx(amplitude_deg, rel=0.02)
    return points


@pytest.mark.parametrize("degrees", [150, 250, 300])
def test_apparent_amplitude_is_the_true_one_without_losses(ledger, degrees):
    points = settled(degrees, lift_angle_deg=52.0)
    ledger.value(
        f"apparent amplitude of a watch with next to no loss, against its true one, near {degrees}°",
        points.apparent_amplitude_deg,
        points.amplitude_deg,
        "deg",
        source=DERIVED,
        relative=1e-4,
        why="what loss is left, Q 3,500",
    )
    shown = 26.0 / math.sin(math.pi * 4.0 * points.tick_s[0, 0])
    ledger.value(
        f"the same, against A = λ/(2 sin πft) with 52° and 4 Hz, near {degrees}°",
        points.apparent_amplitude_deg[0, 0],
        shown,
        "deg",
        source=DERIVED,
        relative=1e-5,
        why="4 Hz in place of the watch's own frequency",
    )


def test_one_degree_of_lift(ledger):
    right, wrong = (settled(270, lift_angle_deg=told).apparent_amplitude_deg[0, 0] for told in (52.0, 53.0))
    ledger.value(
        "one degree of error in the lift angle at 270°, shown too high by",
        (wrong - right) * 270 / right,
        5.2,
        "deg",
        source=DERIVED,
        within=0.01,
        why="270/52 is 5.19",
    )


@pytest.mark.parametrize("name", DESIGNS)
def test_apparent_amplitude_of_a_whole_watch(ledger, name):
    points = oscsim.settle(DESIGNS[name], oscsim.Setting(positions=["CH", "12H"], hours=[0, 24])).points
    off = points.apparent_amplitude_deg - points.amplitude_deg
    ledger.band(
        "apparent less true amplitude of whole watches, the right lift angle told",
        np.abs(off),
        0.1,
        1.0,
        "deg",
        source=DERIVED,
        why="some tenths of a degree: losses and shake move the sounds off the middle",
    )


@pytest.mark.parametrize(("degrees", "ms"), [(180, 0.442), (270, 0.295), (300, 0.265)])
def test_out_of_beat(ledger, degrees, ms):
    # Half the difference of the intervals, for one degree out of beat at 4 Hz. A small lift, as the sound that is
    # timed comes at its beginning. Out of beat the other way, the other interval is the longer one.
    signed = []
    for one in (1.0, -1.0):
        movement = bare(escapement__lift_angle_deg=11.0, balance__out_of_beat_deg=one)
        points = operating_points(movement, oscsim.Setting())
        cycle = sustain(points.oscillators, np.radians([degrees])).cycle
        signed.append(0.5e3 * float(cycle.intervals[0, 0] - cycle.intervals[1, 0]) / points.omega[0])
    ledger.value(
        f"beat error for one degree out of beat, 4 Hz, {degrees}°",
        abs(signed[0]),
        ms,
        "ms",
        source=DERIVED,
        within=6e-4,
        why="the last digit given; the sound comes 5.5° before the dead point",
    )
    ledger.says(
        "out of beat clockwise",
        signed[0] < 0.0 < signed[1],
        "the line of centres is met later going clockwise, sooner coming back: the swing that follows the "
        "clockwise crossing is short",
        "first interval the shorter by the signed beat error",
        source=DERIVED,
    )
    assert signed[1] == pytest.approx(-signed[0], rel=1e-9)
