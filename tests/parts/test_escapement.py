"""The lever escapement's drawing against published geometry and virtual work.

Source of the geometry: H. R. Playtner, An Analysis of the Lever Escapement, 1910: 15 teeth, 2½ spaces embraced, 12 deg
of wheel a beat (stone 6, tooth 4.5, drop 1.5), lock 1.5 deg, run ¼ deg, lift 8.5 deg (stone 5.5, tooth 3), draw 12 deg,
wheel 7.5 mm, centres 4.33 mm.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

import oscsim
from oscsim.parts.escapement import Escapement, geometry, knock_angle, lift_angle

from ..independent.designs import MOVEMENTS

PLAYTNER = Escapement(
    teeth=15,
    teeth_embraced=2.5,
    fork_ratio=0.21,
    lock_deg=1.5,
    run_deg=0.25,
    pallet_lift_deg=5.5 + 3.0,
    drop_deg=1.5,
    draw_deg=12.0,
    pallet_friction=0.0,
    fork_efficiency=1.0,
    notch_shake_deg=0.3,
    lever_inertia_mg_cm2=0.1,
    wheel_inertia_mg_cm2=0.1,
)


def test_published_drawing() -> None:
    g = geometry(PLAYTNER)
    # tangential locking: a right angle at the working corner
    assert 3.75 * math.hypot(1.0, g.arm) == pytest.approx(4.33, abs=0.005)
    assert 3.75 * math.hypot(1.0, g.arm) == pytest.approx(3.75 / math.cos(math.radians(30.0)), rel=1e-14)
    # stone and tooth turn the wheel by 6 + 4.5 deg while the lever turns by 5.5 + 3
    assert g.advance == pytest.approx((6.0 + 4.5) / (5.5 + 3.0), rel=1e-14)
    assert g.advance * 8.5 + 1.5 == pytest.approx(12.0, rel=1e-14)
    assert math.degrees(float(g.bank_to_bank)) == pytest.approx(1.5 + 2 * 0.25 + 8.5, rel=1e-14)


def test_virtual_work_without_friction() -> None:
    """Torque on the lever times its angle is torque on the wheel times its angle, both ways."""
    g = geometry(PLAYTNER)
    assert g.impulse == pytest.approx(g.advance, rel=1e-14)
    assert g.unlocking == pytest.approx(g.recoil, rel=1e-14)
    assert g.recoil == pytest.approx(math.tan(math.radians(30.0)) * math.tan(math.radians(12.0)), rel=1e-14)


def test_friction_of_tooth_on_stone() -> None:
    """(2), (3) from the balance of forces: force at angle ρ to the normal of locking face or impulse plane."""
    mu = 0.14
    g = geometry(replace(PLAYTNER, pallet_friction=mu))
    arm = math.tan(math.radians(30.0))
    tan_draw, tan_plane = math.tan(math.radians(12.0)), arm / ((12.0 - 1.5) / 8.5)
    assert g.unlocking == pytest.approx(arm * (tan_draw + mu) / (1.0 - mu * tan_draw), rel=1e-14)
    assert g.impulse == pytest.approx(arm * (1.0 - mu * tan_plane) / (tan_plane + mu), rel=1e-14)
    assert g.impulse < g.advance
    assert g.unlocking > g.recoil


def test_lift_angle_identity() -> None:
    """Λ = (B - ϱ - σ)/g, given either way; with 10.5 deg of lever and 0.21: 9.95/0.21 = 47.381 deg."""
    assert math.degrees(float(lift_angle(PLAYTNER))) == pytest.approx((10.5 - 0.25 - 0.3) / 0.21, rel=1e-14)
    told = replace(PLAYTNER, fork_ratio=None, lift_angle_deg=52.0)
    assert math.degrees(float(lift_angle(told))) == pytest.approx(52.0, rel=1e-14)
    assert geometry(told).fork_ratio == pytest.approx(9.95 / 52.0, rel=1e-14)


def test_lift_angle_is_what_the_balance_turns() -> None:
    """From first to last sound, as the motion measures it, when the whole lead is used."""
    movement = MOVEMENTS["heavy"]
    own = math.degrees(float(lift_angle(movement.escapement)))
    place = oscsim.Setting(positions=["CH", "9H"])
    points = oscsim.settle(movement, place).points
    np.testing.assert_allclose(points.lift_angle_deg, own, rtol=1e-12)
    again = oscsim.settle(movement.with_({"escapement.lift_angle_deg": own}), place).points
    np.testing.assert_allclose(again.amplitude_deg, points.amplitude_deg, rtol=1e-11)


def test_knock_angle() -> None:
    """360 deg less half of bank to bank at the balance, less the horn's clearance: 360 - 10.5/0.42 - 8 = 327."""
    assert math.degrees(float(knock_angle(PLAYTNER))) == pytest.approx(327.0, rel=1e-14)
    near = replace(PLAYTNER, horn_clearance_deg=3.0)
    assert math.degrees(float(knock_angle(near))) == pytest.approx(332.0, rel=1e-14)
