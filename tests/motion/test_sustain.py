"""The drive that keeps up an amplitude: settling with it finds that amplitude, here and in the integrator."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

import oscsim
from oscsim.motion.coefficients import Oscillators, joined
from oscsim.motion.settle import settle
from oscsim.motion.sustain import sustain
from oscsim.operating import operating_points
from tests.independent import integrator as it
from tests.independent.designs import MOVEMENTS, NAMES, TABLES, plausible_designs

NO_KNOCK = math.inf
#: One that wanders is left out, so it need not be followed for long to be seen.
BRIEFLY = {"followed": (30, 20)}


def batch(count: int, seed: int) -> tuple[Oscillators, np.ndarray]:
    """Random plausible watches (tests/independent), with their amplitudes where they settle on their own."""
    points = [
        operating_points(case.movement, case.setting).oscillators for case in plausible_designs(count, seed)
    ]
    osc = joined(points)
    found = settle(osc, np.full(count, NO_KNOCK), **BRIEFLY)
    runs = np.isfinite(found.cycle.residual) & (found.low == found.high) & ~found.cycle.lost.any(axis=0)
    return osc.take(runs), found.cycle.amplitude[runs]


def test_drive_of_a_settled_watch_is_its_own():
    # settle() is held to the integrator by tests/independent; it seeks the amplitude, and this the drive
    osc, amplitude = batch(60, 3)
    found = sustain(osc, amplitude)
    assert osc.size > 40
    assert found.sound.all()
    np.testing.assert_allclose(found.factor, 1.0, rtol=0, atol=2e-9)


def test_settling_with_the_drive_found_gives_the_amplitude():
    osc, _ = batch(60, 4)
    seen = 0
    for degrees in (130.0, 200.0, 270.0, 330.0):
        amplitude = np.full(osc.size, math.radians(degrees))
        found = sustain(osc, amplitude)
        kept = found.sound & (found.factor < 10.0)  # beyond, torques that no watch has
        driven = osc.driven(found.factor).take(kept)
        again = settle(driven, np.full(driven.size, NO_KNOCK), **BRIEFLY)
        np.testing.assert_allclose(again.cycle.amplitude, math.radians(degrees), rtol=0, atol=1e-9)
        for name in ("left", "right", "period", "ticks", "intervals"):
            got, want = getattr(found.cycle.take(kept), name), getattr(again.cycle, name)
            np.testing.assert_allclose(got, want, rtol=1e-9)
        seen += driven.size
    assert seen > 150


@pytest.mark.parametrize(
    ("name", "position", "degrees"),
    [("fast", "12H", 180.0), ("heavy", "CH", 290.0), ("heavy", "9H", 150.0), ("slow", "3H", 255.0)],
)
def test_against_the_independent_integrator(name, position, degrees):
    # tests/independent shares no code: at the torque found it settles, from above, at that amplitude and period.
    points = operating_points(MOVEMENTS[name], oscsim.Setting(positions=position))
    found = sustain(points.oscillators, np.radians([degrees]))
    op = it.operating(TABLES[name], position)
    want = it.settled(it.with_torque(op, op["M_e"] * found.factor[0]))
    assert found.sound[0]
    assert want["state"] == "running"
    assert want["amplitude_deg"] == pytest.approx(degrees, abs=1e-7)
    rate = 86400 * (2 * math.pi / found.cycle.period[0] - 1)
    assert rate == pytest.approx(want["rate_s_per_day"], abs=1e-6)
    assert found.cycle.ticks.mean() / points.omega[0] == pytest.approx(want["tick_s"], rel=1e-9)


def one(name="heavy", **coefficients):
    osc = operating_points(MOVEMENTS[name], oscsim.Setting(positions="3H")).oscillators
    return replace(osc, **{key: np.array([float(value)]) for key, value in coefficients.items()})


def test_no_amplitude_no_answer():
    osc = one().take(np.zeros(3, int))
    found = sustain(osc, np.array([math.nan, 4.0, math.nan]))
    assert found.sound.tolist() == [False, True, False]
    for values in (
        found.factor,
        found.cycle.period,
        found.cycle.residual,
        found.cycle.left,
        found.cycle.ticks[0],
    ):
        assert np.isnan(values).tolist() == [True, False, True]
    alone = sustain(one(), np.array([4.0]))
    assert found.factor[1] == alone.factor[0]


def test_a_swing_that_does_not_reach_the_fork_is_not_sound():
    osc = one()
    reach = float(osc.reach[0])
    found = sustain(osc.take(np.zeros(3, int)), np.array([0.5 * reach, 0.99 * reach, 3.0 * reach]))
    assert found.sound.tolist() == [False, False, True]


def test_where_impulses_are_lost_it_is_not_sound():
    # a wheel so heavy that it never catches the lever (tests/independent: "wheel never catches up"): the amplitude
    # could be kept up by losing every impulse in time with a torque near nothing, but not by a watch
    slow = MOVEMENTS["fast"].with_({"escapement.wheel_inertia_mg_cm2": 10.0})
    osc = operating_points(slow, oscsim.Setting()).oscillators
    found = sustain(osc.take(np.zeros(2, int)), np.radians([150.0, 300.0]))
    assert (found.cycle.lost.any(axis=0) | np.isnan(found.cycle.left)).all()
    assert not found.sound.any()


@pytest.mark.parametrize("name", NAMES)
def test_a_point_does_not_know_its_batch(name):
    # more points than are computed together
    osc = one(name)
    amplitude = np.radians(np.linspace(120.0, 330.0, 500))
    many = sustain(osc.take(np.zeros(500, int)), amplitude)
    assert many.sound.all()
    assert (np.diff(many.factor) > 0.0).all()  # a larger swing needs more drive
    for i in (0, 250, 499):
        alone = sustain(osc, amplitude[i : i + 1])
        assert many.factor[i] == pytest.approx(alone.factor[0], rel=1e-11)
        assert many.cycle.period[i] == pytest.approx(alone.cycle.period[0], rel=1e-13)


def test_the_factor_scales_with_the_drive_of_the_batch():
    twice = sustain(one().driven(np.array([2.0])), np.array([4.0]))
    once = sustain(one(), np.array([4.0]))
    assert twice.factor[0] == pytest.approx(once.factor[0] / 2.0, rel=1e-10)
    assert twice.cycle.period[0] == pytest.approx(once.cycle.period[0], rel=1e-13)
