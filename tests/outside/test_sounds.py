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


@pytest.mark.parametrize(("degrees", "ms"), [(150, 13.863), (250, 8.291), (300, 6.905)])
def test_time_between_sounds(degrees, ms):
    points = operating_points(bare(), oscsim.Setting())
    cycle = sustain(points.oscillators, np.radians([degrees])).cycle
    np.testing.assert_allclose(cycle.ticks / points.omega * 1e3, ms, rtol=0, atol=1e-3)


def settled(amplitude_deg, **setting):
    """The bare watch settled at about this amplitude: the inertia sets it, the loss being a part of its energy."""
    inertia = 680.0 * (150.0 / amplitude_deg) ** 2
    movement = bare(balance__viscous_q=3500.0, balance__inertia_mg_cm2=inertia)
    points = oscsim.settle(movement, oscsim.Setting(**setting)).points
    assert points.amplitude_deg[0, 0] == pytest.approx(amplitude_deg, rel=0.02)
    return points


@pytest.mark.parametrize("degrees", [150, 250, 300])
def test_apparent_amplitude_is_the_true_one_without_losses(degrees):
    points = settled(degrees, lift_angle_deg=52.0)
    np.testing.assert_allclose(points.apparent_amplitude_deg, points.amplitude_deg, rtol=1e-4)
    shown = 26.0 / math.sin(math.pi * 4.0 * points.tick_s[0, 0])
    assert points.apparent_amplitude_deg[0, 0] == pytest.approx(shown, rel=1e-5)


def test_one_degree_of_lift():
    right, wrong = (settled(270, lift_angle_deg=told).apparent_amplitude_deg[0, 0] for told in (52.0, 53.0))
    assert (wrong - right) * 270 / right == pytest.approx(5.2, abs=0.01)


@pytest.mark.parametrize("name", DESIGNS)
def test_apparent_amplitude_of_a_whole_watch(name):
    # docs/physics.md §2: some tenths of a degree off the true one, even with the right lift angle.
    points = oscsim.settle(DESIGNS[name], oscsim.Setting(positions=["CH", "12H"], hours=[0, 24])).points
    off = points.apparent_amplitude_deg - points.amplitude_deg
    assert np.abs(off).max() < 1.0
    assert np.abs(off).min() > 0.1


@pytest.mark.parametrize(("degrees", "ms"), [(180, 0.442), (270, 0.295), (300, 0.265)])
def test_out_of_beat(degrees, ms):
    # Half the difference of the intervals, for one degree out of beat at 4 Hz. A small lift, as the sound that is
    # timed comes at its beginning. Out of beat the other way, the other interval is the longer one.
    signed = []
    for one in (1.0, -1.0):
        movement = bare(escapement__lift_angle_deg=11.0, balance__out_of_beat_deg=one)
        points = operating_points(movement, oscsim.Setting())
        cycle = sustain(points.oscillators, np.radians([degrees])).cycle
        signed.append(0.5e3 * float(cycle.intervals[0, 0] - cycle.intervals[1, 0]) / points.omega[0])
    assert abs(signed[0]) == pytest.approx(ms, abs=6e-4)
    assert signed[1] == pytest.approx(-signed[0], rel=1e-9)
