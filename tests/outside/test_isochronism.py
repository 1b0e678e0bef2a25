"""Escapement, damping, hairspring cubed: what changes the rate with the amplitude; checks 5 to 8 and 10 (cubic).

"By derivation": first-order theory of docs/physics.md §6, here written out again.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

import oscsim
from oscsim.answers.isochronism import isochronism
from oscsim.motion.arcs import free_arc
from oscsim.motion.contact import push
from oscsim.motion.rules import LADDER, collocation
from oscsim.motion.sustain import sustain
from oscsim.operating import operating_points

from .designs import DESIGNS, bare, free, free_rate

RULE = LADDER[2]
BUNDLED = {name: oscsim.load(name) for name in oscsim.bundled()}


def arc_rate(amplitude, a, b, torque):
    """Rate in s/day from a torque M/k with the motion from a to b in every half-swing, angles in rad (check 5)."""
    reach = np.sqrt(amplitude**2 - a**2) - np.sqrt(amplitude**2 - b**2)
    return -86400 * torque / (math.pi * amplitude**2) * reach


@pytest.mark.parametrize("torque", [1e-4, -1e-4])
@pytest.mark.parametrize("arc", [(-25.0, -5.0), (5.0, 30.0), (-10.0, 30.0), (-30.0, 10.0)])
def test_torque_over_an_arc(arc, torque):
    # Check 5, by derivation, to 1e-4 at M/k = 1e-4; signs after G. B. Airy, Trans. Camb. Phil. Soc. III (1830) 105: a
    # push before the dead point gains, after it loses; a resistance the other way. The engine's own arcs and contacts.
    osc, (a, b), left = free(), np.radians(arc), math.radians(270.0)
    coming = free_arc(osc, np.array([left]), np.array([a]), RULE)
    w, nodes = coming.speed_squared, collocation(RULE.contact_nodes)
    pushed = push(osc, np.array([a]), np.array([b - a]), w, 1.0, torque, nodes, RULE.contact_sweeps)
    right = np.sqrt(b**2 + pushed.speed_squared)  # the hairspring alone is left
    going = free_arc(osc, right, np.array([b]), RULE, backwards=True)
    assert going.speed_squared == pytest.approx(pushed.speed_squared, rel=1e-13)
    rate = 86400 * (math.pi / (coming.time + pushed.time + going.time)[0] - 1)
    assert rate == pytest.approx(arc_rate((left + right[0]) / 2, a, b, torque), rel=1e-4)
    assert np.sign(rate) == -np.sign(a + b) * np.sign(torque)


def test_whole_escapement_is_two_arcs():
    # Check 5, by derivation: with lever and wheel without mass, the resistance of unlocking and then the impulse.
    degrees = np.array([120.0, 180.0, 240.0, 300.0])
    movement = bare()
    osc = operating_points(movement, oscsim.Setting()).oscillators
    found = sustain(osc.take(np.zeros(4, int)), np.radians(degrees))
    contact = -float(osc.contact[0])
    release, end = contact + float(osc.unlocking[0]), contact + float(osc.unlocking[0] + osc.lift[0])
    expected = arc_rate(np.radians(degrees), contact, release, -osc.unlocking_torque[0] * found.factor)
    expected += arc_rate(np.radians(degrees), release, end, osc.impulse_torque[0] * found.factor)
    shares = isochronism(movement, amplitudes_deg=degrees).shares
    np.testing.assert_allclose(shares["escapement"][0], expected, rtol=3e-3)
    assert (expected < -0.08).all()


@pytest.mark.parametrize("name", BUNDLED)
def test_detached_lever(name):
    # H. Bouasse, Pendule, spiral, diapason II (1920) 17-25: the detached lever loses, less as the amplitude grows; so
    # dial up, where poise is silent, more drive gains (the designs' hairsprings stiffen a trace, which helps).
    curve = isochronism(BUNDLED[name], amplitudes_deg=range(140, 321, 20), torque_ceiling=100)
    escapement = curve.shares["escapement"][0]
    assert (escapement < 0.0).all()
    assert (np.diff(escapement) > 0.0).all()
    assert (np.diff(curve.barrel_torque_n_mm[0]) > 0.0).all()
    assert (np.diff(curve.rate_s_per_day[0]) > 0.0).all()


def power(amplitude, rate):
    """Exponent of the amplitude between two points."""
    return math.log(rate[1] / rate[0]) / math.log(amplitude[1] / amplitude[0])


def test_escapement_torques_held():
    # Check 6, by derivation: the loss goes as A⁻³ when only the drag changes the amplitude. Settled from above; the
    # lift's end at (b/A)² of some per cent bends the power law by as much.
    heavy = {"balance__inertia_mg_cm2": 150.0}
    points = [oscsim.settle(bare(balance__viscous_q=q, **heavy)).points for q in (1500.0, 3500.0)]
    amplitude = [float(p.amplitude_deg[0, 0]) for p in points]
    assert 150.0 < amplitude[0] < 1.3 * amplitude[0] < amplitude[1] < 340.0
    # the drag's own loss, 10800/Q², is taken off
    rate = [float(p.rate_s_per_day[0, 0]) + 10800 / q**2 for p, q in zip(points, (1500, 3500), strict=True)]
    assert power(amplitude, rate) == pytest.approx(-3.0, abs=0.05)


def test_drag_held():
    # Check 6, by derivation: with Q held, and the torque what the amplitude needs, the loss goes as 1/A.
    curve = isochronism(bare(), amplitudes_deg=[220.0, 300.0])
    assert power(curve.amplitude_deg, curve.shares["escapement"][0]) == pytest.approx(-1.0, abs=0.03)


@pytest.mark.parametrize(("q", "rate"), [(100, -1.080), (200, -0.270), (300, -0.120)])
def test_drag_proportional_to_speed(q, rate):
    # Check 7, by derivation; at any amplitude.
    for degrees in (60.0, 220.0, 330.0):
        assert free_rate(degrees, viscous=1 / q) == pytest.approx(rate, abs=5e-4)
    share = isochronism(bare(balance__viscous_q=q), amplitudes_deg=[220.0]).shares["drag"]
    assert share[0, 0] == pytest.approx(rate, abs=5e-4)


def test_dry_friction_leaves_the_swing_alone():
    # Check 7, by derivation: a swing that loses 2d takes the same time as one without friction.
    osc, start, d = free(dry=0.01), 4.5, 0.01
    coming = free_arc(osc, np.array([start]), np.array([0.2]), RULE)
    going = free_arc(osc, np.array([start - 2 * d]), np.array([0.2]), RULE, backwards=True)
    assert going.speed_squared == pytest.approx(coming.speed_squared, rel=1e-13)
    assert (coming.time + going.time)[0] == pytest.approx(math.pi, rel=1e-13)


def test_dry_friction_with_its_loss_made_good():
    # Check 7, by derivation: none to first order. The impulse at θ = 0 comes d after the swing's own middle, and what
    # the quarters then lack, arcsin(d/(A - d)) - arcsin(d/(A + d)), is second order.
    amplitude = math.radians(270.0)
    for d in (1e-2, 1e-3):
        late = math.asin(d / (amplitude - d)) - math.asin(d / (amplitude + d))
        expected = 86400 * (math.pi / (math.pi + late) - 1)
        assert free_rate(270.0, dry=d) == pytest.approx(expected, rel=1e-5)
    assert abs(free_rate(270.0, dry=1e-3)) < 0.01 * 86400 * 1e-3 / (math.pi * amplitude)


@pytest.mark.parametrize(("degrees", "percent"), [(200, 8.30), (270, 6.14), (300, 5.52)])
def test_share_inside_the_lift(degrees, percent):
    # Check 8, by derivation: 52 degrees of lift across the dead point, of a half-swing; the settled engine's time
    # from pin contact to drop.
    osc = operating_points(bare(), oscsim.Setting()).oscillators
    cycle = sustain(osc, np.radians([degrees])).cycle
    assert 100 * cycle.ticks.mean() / (cycle.period[0] / 2) == pytest.approx(percent, abs=5e-3)


@pytest.mark.parametrize("cubic", [1e-5, -1e-5])
def test_cubic_hairspring(cubic):
    # Check 10, by derivation: 86400 (3/8) e A², free and as the change of the whole watch.
    degrees = np.array([120.0, 200.0, 300.0])
    expected = 86400 * 3 / 8 * cubic * np.radians(degrees) ** 2
    assert [free_rate(a, cubic=cubic) for a in degrees] == pytest.approx(expected, rel=3e-4)
    plain, bent = (
        isochronism(DESIGNS["slow"].with_({"balance.cubic_stiffness": e}), amplitudes_deg=degrees)
        for e in (0.0, cubic)
    )
    np.testing.assert_allclose((bent.rate_s_per_day - plain.rate_s_per_day)[0], expected, rtol=2e-3)
