"""Shares of the rate by cause: they add up, vanish with their cause, and are what first-order theory says."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

import oscsim
from oscsim.answers.isochronism import isochronism
from oscsim.answers.shares import CAUSES, shares_at
from oscsim.motion.settle import settle
from oscsim.operating import operating_points
from oscsim.theory import generated as theory
from tests.independent import integrator as it
from tests.independent.designs import TABLES
from tests.levers import LEVERS
from tests.outside.designs import DESIGNS, bare

BUNDLED = {name: oscsim.load(name) for name in LEVERS}
ALL = {
    "balance.regulation_s_per_day": 7.0,
    "balance.cubic_stiffness": 1e-5,
    "balance.out_of_beat_deg": 1.5,
    "index_pins.stiffness_share": 0.01,
    "index_pins.low_contact_deg": -14.0,
    "index_pins.high_contact_deg": 20.0,
}


def shares(movement, position="12H", amplitude_deg=250.0):
    found = isochronism(
        movement, oscsim.Setting(positions=position), [amplitude_deg], torque_ceiling=100
    ).shares
    return {cause: float(share[0, 0]) for cause, share in found.items()}


@pytest.mark.parametrize("name", BUNDLED)
@pytest.mark.parametrize("changes", [{}, ALL], ids=["as designed", "with every cause"])
def test_they_add_up_to_the_settled_rate(name, changes):
    setting = oscsim.Setting(positions=tuple(oscsim.POSITIONS), hours=[0, 12, 30], temperature_c=31.0)
    if BUNDLED[name].hairspring is not None:  # its shape says what the cubic term would
        changes = {key: value for key, value in changes.items() if key != "balance.cubic_stiffness"}
    movement = BUNDLED[name].with_(changes)
    points = operating_points(movement, setting)
    settled = settle(points.oscillators, points.knock_angle)
    found = shares_at(points, settled.cycle.amplitude)
    assert found.whole.sound.all()
    # the drive that keeps the settled amplitude up is the watch's own
    np.testing.assert_allclose(found.whole.factor, 1.0, rtol=1e-9)
    want = oscsim.settle(movement, setting).points.rate_s_per_day.ravel()
    # a swing that was given closes on its own rung, so the two differ by what is left of the series: most with a
    # hairspring's shape, whose terms fall slowly, some 1e-5 s/day
    np.testing.assert_allclose(sum(found.by_cause.values()), want, rtol=0, atol=2e-5)
    np.testing.assert_array_equal(list(found.by_cause), list(CAUSES))


#: What takes each cause out of a design.
OFF = {
    "regulation": {"balance.regulation_s_per_day": 0.0},
    "hairspring": {"balance.cubic_stiffness": 0.0},
    "index_pins": {"index_pins.stiffness_share": 0.0},
    "poise": {"balance.unbalance_ug_cm": 0.0},
    "pivots": {"balance.pivot_friction": 0.0},
    "out_of_beat": {"balance.out_of_beat_deg": 0.0},
}


@pytest.mark.parametrize("cause", OFF)
def test_a_cause_switched_off_has_no_share(cause):
    whole = shares(DESIGNS["heavy"].with_(ALL))
    without = shares(DESIGNS["heavy"].with_(ALL | OFF[cause]))
    assert without[cause] == pytest.approx(0.0, abs=1e-10)
    assert abs(whole[cause]) > 5e-4
    # the others hardly notice, but for the escapement, which has friction's loss to make good
    for other in set(CAUSES) - {cause}:
        if (cause, other) != ("pivots", "escapement"):
            assert without[other] == pytest.approx(whole[other], abs=0.02 * abs(whole[cause]), rel=2e-3)


def test_dial_up_poise_has_no_share():
    assert shares(DESIGNS["heavy"], "CH")["poise"] == 0.0


def test_drag_switched_off_has_no_share():
    # no design is without all drag, so it is taken out of the batch
    points = operating_points(DESIGNS["heavy"], oscsim.Setting())
    none = np.zeros(1)
    still = replace(points, oscillators=replace(points.oscillators, viscous=none, quadratic=none))
    assert shares_at(still, np.array([4.0])).by_cause["drag"][0] == 0.0
    assert abs(shares_at(points, np.array([4.0])).by_cause["drag"][0]) > 0.1


def test_escapement_has_no_share_where_it_has_nothing_to_give():
    # its share goes with the torque, so with the losses (to first order), and ten times the Q leaves a tenth
    share = {q: shares(bare(balance__viscous_q=q), "CH")["escapement"] for q in (1000.0, 10000.0)}
    assert share[1000.0] < -1.0
    assert share[10000.0] == pytest.approx(share[1000.0] / 10.0, rel=1e-2)


@pytest.mark.parametrize("position", ["CH", "3H"])
@pytest.mark.parametrize("temperature", [23.0, 8.0])
def test_regulation_and_temperature(position, temperature):
    # docs/physics.md §1: ω = 2πf (1 + (r₀ + a (T - 23 °C))/86400)
    movement = DESIGNS["slow"].with_(
        {"balance.regulation_s_per_day": 12.5, "balance.temperature_s_per_day_c": -0.4}
    )
    found = isochronism(
        movement, oscsim.Setting(positions=position, temperature_c=temperature), [250.0, 300.0]
    )
    np.testing.assert_allclose(found.shares["regulation"], 12.5 - 0.4 * (temperature - 23.0), rtol=1e-10)


@pytest.mark.parametrize("heavy", [180.0, 0.0, 250.0])
@pytest.mark.parametrize("degrees", [130.0, 180.0, 219.5406, 280.0, 320.0])
def test_poise_share_is_the_theory_in_the_small(heavy, degrees):
    # docs/physics.md §6, derived in oscsim/theory: 86400 (G/k)(J₁(A)/A) cos φ; the next order is G/k, some 1e-6.
    movement = DESIGNS["fast"].with_({"balance.unbalance_ug_cm": 0.01, "balance.heavy_point_deg": heavy})
    op = it.operating(TABLES["fast"])
    gamma = 1e-13 * 9.80665 / op["k"]
    first_order = theory.poise_rate(math.radians(degrees), gamma, math.radians(heavy - 180.0))
    assert shares(movement, "12H", degrees)["poise"] == pytest.approx(first_order, abs=1e-5 * 86400 * gamma)


def test_order_of_the_shares_is_that_of_the_causes():
    # the pins' and the cubic term's shares by their own formulas (docs/physics.md §6), to first order
    found = shares(DESIGNS["heavy"].with_(ALL), "12H", 200.0)
    amplitude = math.radians(200.0)
    assert found["hairspring"] == pytest.approx(theory.cubic_rate(amplitude, 1e-5), rel=1e-3)
    pins = [theory.index_pins_rate(amplitude, math.radians(gap), 0.01) for gap in (14.0, 20.0)]
    assert found["index_pins"] == pytest.approx(sum(pins) / 2, rel=5e-3)
    drag = theory.viscous_rate(DESIGNS["heavy"].balance.viscous_q)
    assert found["drag"] < drag < 0.0  # air's drag beside it
