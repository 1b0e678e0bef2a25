"""Escapement, damping, hairspring cubed: what changes the rate with the amplitude; checks 5 to 8 and 10 (cubic).

"By derivation": first-order theory of docs/physics.md §6, here written out again; the theory's own formulas are checked
in test_first_order.py.
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
from tests.levers import LEVERS

from .designs import DESIGNS, bare, free, free_rate
from .sources import AIRY, BOUASSE, DERIVED

RULE = LADDER[2]
BUNDLED = {name: oscsim.load(name) for name in LEVERS}


def arc_rate(amplitude, a, b, torque):
    """Rate in s/day from a torque M/k with the motion from a to b in every half-swing, angles in rad (check 5)."""
    reach = np.sqrt(amplitude**2 - a**2) - np.sqrt(amplitude**2 - b**2)
    return -86400 * torque / (math.pi * amplitude**2) * reach


@pytest.mark.check(5)
@pytest.mark.parametrize("torque", [1e-4, -1e-4])
@pytest.mark.parametrize("arc", [(-25.0, -5.0), (5.0, 30.0), (-10.0, 30.0), (-30.0, 10.0)])
def test_torque_over_an_arc(ledger, arc, torque):
    # The engine's own arcs and contacts.
    osc, (a, b), left = free(), np.radians(arc), math.radians(270.0)
    coming = free_arc(osc, np.array([left]), np.array([a]), RULE)
    w, nodes = coming.speed_squared, collocation(RULE.contact_nodes)
    pushed = push(osc, np.array([a]), np.array([b - a]), w, 1.0, torque, nodes, RULE.contact_sweeps)
    right = np.sqrt(b**2 + pushed.speed_squared)  # the hairspring alone is left
    going = free_arc(osc, right, np.array([b]), RULE, backwards=True)
    assert going.speed_squared == pytest.approx(pushed.speed_squared, rel=1e-13)
    rate = 86400 * (math.pi / (coming.time + pushed.time + going.time)[0] - 1)
    ledger.value(
        f"engine, torque {torque:+g} k from {arc[0]:g}° to {arc[1]:g}°, 270°",
        rate,
        arc_rate((left + right[0]) / 2, a, b, torque),
        "s/day",
        source=DERIVED,
        relative=1e-4,
        why="second order in M/k, which is 1e-4",
    )
    kind, where = ("push" if torque > 0 else "drag"), ("after" if a + b > 0 else "before")
    ledger.says(
        f"a {kind} mostly {where} the dead point",
        np.sign(rate) == -np.sign(a + b) * np.sign(torque),
        "gains" if (kind, where) in (("push", "before"), ("drag", "after")) else "loses",
        source=AIRY,
    )


@pytest.mark.check(5)
def test_whole_escapement_is_two_arcs(ledger):
    # With lever and wheel without mass: the resistance of unlocking and then the impulse.
    degrees = np.array([120.0, 180.0, 240.0, 300.0])
    movement = bare()
    osc = operating_points(movement, oscsim.Setting()).oscillators
    found = sustain(osc.take(np.zeros(4, int)), np.radians(degrees))
    # by hand from the design: half of bank to bank before the dead point, lock and run, then the lift
    e = movement.escapement
    ratio = (e.lock_deg + e.pallet_lift_deg) / 52.0
    contact = -math.radians(e.lock_deg + e.pallet_lift_deg) / ratio / 2
    release = contact + math.radians(e.lock_deg) / ratio
    end = release + math.radians(e.pallet_lift_deg) / ratio
    expected = arc_rate(np.radians(degrees), contact, release, -osc.right.unlocking_torque[0] * found.factor)
    expected += arc_rate(np.radians(degrees), release, end, osc.right.impulse_torque[0] * found.factor)
    shares = isochronism(movement, amplitudes_deg=degrees).shares
    ledger.value(
        "whole escapement, lever and wheel without mass: unlocking and impulse as two arcs, 120° to 300°",
        shares["escapement"][0],
        expected,
        "s/day",
        source=DERIVED,
        relative=3e-3,
        why="second order in the torques, some 1e-3 k",
    )
    assert (expected < -0.08).all()


@pytest.mark.check(5)
@pytest.mark.parametrize("name", BUNDLED)
def test_detached_lever(ledger, name):
    # Dial up, where poise is silent (the designs' hairsprings stiffen a trace, which helps).
    curve = isochronism(BUNDLED[name], amplitudes_deg=range(140, 321, 20), torque_ceiling=100)
    escapement = curve.shares["escapement"][0]
    assert (np.diff(curve.barrel_torque_n_mm[0]) > 0.0).all()
    statements = {
        "escapement's own rate, bundled designs, 140° to 320°": (
            escapement < 0.0,
            "the detached lever loses",
        ),
        "the same, over the amplitude": (np.diff(escapement) > 0.0, "less as the amplitude grows"),
        "rate over the drive, dial up": (np.diff(curve.rate_s_per_day[0]) > 0.0, "more drive usually gains"),
    }
    for what, (holds, outside) in statements.items():
        ledger.says(what, holds, outside, source=BOUASSE.at("17-25"))


def power(amplitude, rate):
    """Exponent of the amplitude between two points."""
    return math.log(rate[1] / rate[0]) / math.log(amplitude[1] / amplitude[0])


@pytest.mark.check(6)
def test_escapement_torques_held(ledger):
    # Settled from above, when only the drag changes the amplitude.
    heavy = {"balance__inertia_mg_cm2": 150.0}
    points = [oscsim.settle(bare(balance__viscous_q=q, **heavy)).points for q in (1500.0, 3500.0)]
    amplitude = [float(p.amplitude_deg[0, 0]) for p in points]
    assert 150.0 < amplitude[0] < 1.3 * amplitude[0] < amplitude[1] < 340.0
    # the drag's own loss, 10800/Q², is taken off
    rate = [float(p.rate_s_per_day[0, 0]) + 10800 / q**2 for p, q in zip(points, (1500, 3500), strict=True)]
    ledger.value(
        "exponent of the amplitude, torques held, settled at two Q",
        power(amplitude, rate),
        -3.0,
        source=DERIVED,
        within=0.05,
        why="the lift's end at (b/A)² of some per cent bends the power law by as much",
    )


@pytest.mark.check(6)
def test_drag_held(ledger):
    curve = isochronism(bare(), amplitudes_deg=[220.0, 300.0])
    ledger.value(
        "exponent of the amplitude, Q held and the torque what 220° and 300° need",
        power(curve.amplitude_deg, curve.shares["escapement"][0]),
        -1.0,
        source=DERIVED,
        within=0.03,
        why="as above",
    )


@pytest.mark.check(7)
@pytest.mark.parametrize(("q", "rate"), [(100, -1.080), (200, -0.270), (300, -0.120)])
def test_drag_proportional_to_speed(ledger, q, rate):
    digits = "the last digit given"
    ledger.value(
        f"free balance at 60°, 220°, 330°, Q {q}",
        [free_rate(a, viscous=1 / q) for a in (60, 220, 330)],
        rate,
        "s/day",
        source=DERIVED,
        within=5e-4,
        why=digits,
    )
    share = isochronism(bare(balance__viscous_q=q), amplitudes_deg=[220.0]).shares["drag"]
    ledger.value(
        f"share of the drag in a whole watch, Q {q}",
        share[0, 0],
        rate,
        "s/day",
        source=DERIVED,
        within=5e-4,
        why=digits,
    )


@pytest.mark.check(7)
def test_dry_friction_leaves_the_swing_alone(ledger):
    osc, start, d = free(dry=0.01), 4.5, 0.01
    coming = free_arc(osc, np.array([start]), np.array([0.2]), RULE)
    going = free_arc(osc, np.array([start - 2 * d]), np.array([0.2]), RULE, backwards=True)
    assert going.speed_squared == pytest.approx(coming.speed_squared, rel=1e-13)
    ledger.value(
        "half-swing with dry friction 0.01 k, in 1/ω",
        (coming.time + going.time)[0],
        math.pi,
        source=DERIVED,
        relative=1e-13,
        why="exact: rounding only",
    )


@pytest.mark.check(7)
def test_dry_friction_with_its_loss_made_good(ledger):
    # None to first order. The impulse at θ = 0 comes d after the swing's own middle, and what the quarters then lack,
    # arcsin(d/(A - d)) - arcsin(d/(A + d)), is second order.
    amplitude = math.radians(270.0)
    for d in (1e-2, 1e-3):
        late = math.asin(d / (amplitude - d)) - math.asin(d / (amplitude + d))
        expected = 86400 * (math.pi / (math.pi + late) - 1)
        ledger.value(
            f"dry friction {d:g} k with its loss made good at the dead point, 270°",
            free_rate(270.0, dry=d),
            expected,
            "s/day",
            source=DERIVED,
            relative=1e-5,
            why="exact but for the rounding of two near periods; second order in the friction",
        )
    assert abs(free_rate(270.0, dry=1e-3)) < 0.01 * 86400 * 1e-3 / (math.pi * amplitude)


@pytest.mark.check(8)
@pytest.mark.parametrize(("degrees", "percent"), [(200, 8.30), (270, 6.14), (300, 5.52)])
def test_share_inside_the_lift(ledger, degrees, percent):
    # 52 degrees of lift across the dead point, of a half-swing; the settled engine's time from pin contact to drop.
    osc = operating_points(bare(), oscsim.Setting()).oscillators
    cycle = sustain(osc, np.radians([degrees])).cycle
    ledger.value(
        f"engine, 52° of lift across the dead point, {degrees}°",
        100 * cycle.ticks.mean() / (cycle.period[0] / 2),
        percent,
        "%",
        source=DERIVED,
        within=5e-3,
        why="the last digit given; the watch has next to no loss",
    )


@pytest.mark.check(10)
@pytest.mark.parametrize("cubic", [1e-5, -1e-5])
def test_cubic_hairspring(ledger, cubic):
    degrees = np.array([120.0, 200.0, 300.0])
    expected = 86400 * 3 / 8 * cubic * np.radians(degrees) ** 2
    ledger.value(
        f"cubic term {cubic:+g}/rad², free balance, 120° to 300°",
        [free_rate(a, cubic=cubic) for a in degrees],
        expected,
        "s/day",
        source=DERIVED,
        relative=3e-4,
        why="second order, eA² of some 1e-4",
    )
    plain, bent = (
        isochronism(DESIGNS["slow"].with_({"balance.cubic_stiffness": e}), amplitudes_deg=degrees)
        for e in (0.0, cubic)
    )
    ledger.value(
        f"cubic term {cubic:+g}/rad², change of a whole watch, 120° to 300°",
        (bent.rate_s_per_day - plain.rate_s_per_day)[0],
        expected,
        "s/day",
        source=DERIVED,
        relative=2e-3,
        why="the escapement's part changes with the stiffness, some 1e-3 of the change",
    )
