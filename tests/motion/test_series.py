"""The hook for what acts by the angle alone: a torque and a friction as Chebyshev series.

Sources: numpy's own Chebyshev functions; the same term in closed form (cubic stiffness, index pins); the independent
integrator, which gets the series too; conservation of energy.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.polynomial import chebyshev

import oscsim
from oscsim.answers.budget import drive_of
from oscsim.arrays import Array
from oscsim.condition import AsItIs
from oscsim.motion import series
from oscsim.motion.coefficients import Oscillators, joined
from oscsim.motion.energy import account
from oscsim.motion.settle import SettledBatch, settle
from oscsim.operating import OperatingPoints, operating_points

from ..independent import integrator as it
from ..independent.designs import MOVEMENTS, TABLES
from ..independent.operating import ByAngle

POSITIONS = ("CH", "12H", "3H")
#: A lopsided torque and friction over k, such as a hairspring's shape and side thrust give, larger than usual.
TORQUE = np.array([2e-4, -1e-3, 4e-4, 3e-3, -2e-4, 5e-4, 1e-4, -2e-4])
FRICTION = np.array([4e-4, 5e-5, 2e-4, -3e-5, 4e-5])


def points_of(name: str, **changes: float) -> OperatingPoints:
    changed = {f"balance.{key}": value for key, value in changes.items()}
    return operating_points(MOVEMENTS[name].with_(changed), oscsim.Setting(positions=POSITIONS))


def settled(osc: Oscillators) -> SettledBatch:
    return settle(osc, np.full(osc.size, math.inf))


def with_series(osc: Oscillators, torque: Array, friction: Array = FRICTION[:0]) -> Oscillators:
    """The same two series at every point."""
    both = (np.repeat(np.asarray(values)[:, None], osc.size, axis=1) for values in (torque, friction))
    return replace(osc, **dict(zip(("torque_series", "friction_series"), both, strict=True)))


def rate_apart(one: SettledBatch, other: SettledBatch) -> float:
    return float(86400.0 * np.abs(one.cycle.period / other.cycle.period - 1.0).max())


def test_over_a_short_stretch_a_series_has_fewer_terms_and_the_same_values() -> None:
    rng, reach = np.random.default_rng(4), series.stretch(math.radians(31.0))
    # as smooth as a hairspring's; and one with a corner, which a short series cannot follow
    c = rng.normal(size=(33, 5)) * 1e-3 * np.exp(-0.6 * np.arange(33))[:, None]
    x = rng.uniform(-reach, reach, (7, 5))
    short = series.within(c, reach)
    assert short is not None
    assert len(short) < 16
    want = np.stack([chebyshev.chebval(x[:, i] / series.REACH, c[:, i]) for i in range(5)], axis=1)
    assert np.abs(series.value(short, x, reach) - want).max() < 1e-14
    work, whole = series.integral(short, reach), series.integral(c)
    gained = series.value(work, x, reach) - series.value(work, 0.0 * x, reach)
    assert np.abs(gained - series.value(whole, x) + series.value(whole, 0.0 * x)).max() < 1e-14
    assert series.within(np.where(np.arange(400)[:, None] == 399, 1.0, np.zeros((400, 2))), reach) is None
    c[3, 2] = math.nan
    assert series.within(c, reach) is None


def test_value_and_integral_are_those_of_numpy() -> None:
    rng = np.random.default_rng(3)
    for terms in (1, 2, 3, 4, 27):
        c, x = rng.normal(size=(terms, 5)), rng.uniform(-series.REACH, series.REACH, (7, 5))
        want = np.stack([chebyshev.chebval(x[:, i] / series.REACH, c[:, i]) for i in range(5)], axis=1)
        assert np.abs(series.value(c, x) - want).max() < 1e-12
        work = series.value(series.integral(c), x) - series.value(series.integral(c), np.zeros(5))
        whole = [chebyshev.chebint(c[:, i], lbnd=0.0, scl=1.0) for i in range(5)]
        want = [series.REACH * chebyshev.chebval(x[:, i] / series.REACH, whole[i]) for i in range(5)]
        assert np.abs(work - np.stack(want, axis=1)).max() < 1e-12


def test_beyond_its_range_a_torque_goes_on_straight() -> None:
    c = np.random.default_rng(4).normal(size=(6, 1))
    for sign in (1.0, -1.0):
        edge, step = np.array([sign * series.REACH]), np.array([sign * 1e-6])
        inward = series.value(c, edge) - series.value(c, edge - step)
        outward = series.value(c, edge + step) - series.value(c, edge)
        assert outward == pytest.approx(inward, rel=1e-4)
        far = series.value(c, edge + 2e6 * step) - series.value(c, edge)
        assert far == pytest.approx(2e6 * outward, rel=1e-6)


def test_the_cubic_term_as_a_series() -> None:
    """Same equations, other formulas: equal to what rounding leaves."""
    kappa = 8e-5
    closed = settled(points_of("heavy", cubic_stiffness=kappa).oscillators)
    plain = points_of("heavy", cubic_stiffness=0.0).oscillators
    # R³ T: u³ = (3 T_1 + T_3)/4
    written = settled(with_series(plain, -kappa * series.REACH**3 * np.array([0.0, 0.75, 0.0, 0.25])))
    assert np.abs(written.cycle.amplitude - closed.cycle.amplitude).max() < 1e-11
    assert rate_apart(written, closed) < 1e-7
    assert rate_apart(settled(plain), closed) > 1.0
    assert np.abs(written.cycle.slope - closed.cycle.slope).max() < 1e-6


def test_the_pins_as_a_series() -> None:
    """A series cannot have the pins' corners: what is left falls as the terms go on."""
    low, high, share = math.radians(-12.0), math.radians(20.0), 0.01
    osc = points_of("heavy").oscillators
    none = np.zeros(osc.size)
    pinned = settled(replace(osc, pins_share=none + share, pins_low=none + low, pins_high=none + high))
    apart = []
    for terms in (30, 120, 480):
        u = np.cos(np.pi * (np.arange(4096) + 0.5) / 4096)
        torque = share * np.clip(series.REACH * u, low, high)
        c = chebyshev.chebvander(u, terms).T @ torque / 2048
        c[0] /= 2.0
        apart.append(rate_apart(settled(with_series(osc, c)), pinned))
    print("\ns/day apart with 30, 120, 480 terms:", [f"{a:.1e}" for a in apart])
    assert rate_apart(settled(osc), pinned) > 10.0
    assert apart[0] < 2.0
    assert apart[1] < 0.1 * apart[0]
    assert apart[2] < 2e-3


@pytest.mark.parametrize("name", ["fast", "slow"])
def test_against_the_independent_integrator(name: str) -> None:
    points = points_of(name, out_of_beat_deg=1.0)
    with_both = with_series(points.oscillators, TORQUE, FRICTION)
    got, plain = settled(with_both), settled(points.oscillators)
    assert np.abs(got.cycle.left - plain.cycle.left).min() > math.radians(1.0)
    for i, position in enumerate(POSITIONS[1:], start=1):
        design = it.changed(TABLES[name], {"balance.out_of_beat_deg": 1.0})
        op = it.operating(design, position)
        op = op | {"by_angle": ByAngle(op["k"] * TORQUE, op["k"] * FRICTION)}
        want = it.settled(op, 1.02 * float(got.cycle.left[i]))
        period = op["T_0"] / (1.0 + want["rate_s_per_day"] / 86400.0)
        intervals = got.cycle.intervals[:, i] / points.omega[i]
        assert math.degrees(got.cycle.amplitude[i]) == pytest.approx(want["amplitude_deg"], abs=1e-8, rel=0)
        assert got.cycle.period[i] / points.omega[i] == pytest.approx(period, rel=1e-12)
        signed = 0.5e3 * float(intervals[0] - intervals[1])
        assert signed == pytest.approx(want["beat_error_signed_ms"], abs=1e-7, rel=0)


def test_the_account_closes_with_series() -> None:
    """Source: conservation of energy; the friction's work has a place of its own."""
    points = points_of("heavy")
    osc = with_series(points.oscillators, TORQUE, FRICTION)
    cycle = settled(osc).cycle
    given, taken = account(osc, cycle, drive_of(AsItIs(MOVEMENTS["heavy"]), points))
    assert given == pytest.approx(sum(taken.values()), rel=1e-10)
    whole = chebyshev.chebint(FRICTION) * series.REACH
    want = chebyshev.chebval(cycle.right / series.REACH, whole)
    want -= chebyshev.chebval(-cycle.left / series.REACH, whole)
    assert taken["side_thrust"] == pytest.approx(want, rel=1e-9)
    assert (want > 0.05 * taken["dry"]).all()


def test_batches_with_and_without() -> None:
    """Joined, chosen and repeated, each point keeps its own series; one without has none to pay for."""
    plain = points_of("heavy").oscillators
    assert plain.torque_series.shape == plain.friction_series.shape == (0, plain.size)
    assert not plain.any_series
    shaped = with_series(plain, TORQUE, FRICTION)
    several = joined([plain, shaped])
    assert several.torque_series.shape == (len(TORQUE), 2 * plain.size)
    got, alone = settled(several.tiled(2)), settled(shaped)
    for start in (plain.size, 3 * plain.size):
        part = slice(start, start + plain.size)
        assert np.abs(got.cycle.amplitude[part] - alone.cycle.amplitude).max() < 1e-12
    assert np.abs(got.cycle.amplitude[: plain.size] - settled(plain).cycle.amplitude).max() < 1e-12
    assert several.repeated(3).torque_series.shape == (len(TORQUE), 6 * plain.size)
