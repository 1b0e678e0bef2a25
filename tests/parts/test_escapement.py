"""The lever escapement's lift angle and knock, by hand; the published drawing is in tests/outside."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

import oscsim
from oscsim.parts.escapement import geometry

from ..independent.designs import MOVEMENTS
from ..outside.designs import DRAWING as PLAYTNER


def test_lift_angle_identity() -> None:
    """Λ = (B - ϱ - σ)/g, given either way; with 10.5 deg of lever and 0.21: 9.95/0.21 = 47.381 deg."""
    assert math.degrees(float(PLAYTNER.lift_angle())) == pytest.approx((10.5 - 0.25 - 0.3) / 0.21, rel=1e-14)
    told = replace(PLAYTNER, fork_ratio=None, lift_angle_deg=52.0)
    assert math.degrees(float(told.lift_angle())) == pytest.approx(52.0, rel=1e-14)
    assert geometry(told).fork_ratio == pytest.approx(9.95 / 52.0, rel=1e-14)


def test_lift_angle_is_what_the_balance_turns() -> None:
    """From first to last sound, as the motion measures it, when the whole lead is used."""
    movement = MOVEMENTS["heavy"]
    own = math.degrees(float(movement.escapement.lift_angle()))
    place = oscsim.Setting(positions=["CH", "9H"])
    points = oscsim.settle(movement, place).points
    np.testing.assert_allclose(points.lift_angle_deg, own, rtol=1e-12)
    again = oscsim.settle(movement.with_({"escapement.lift_angle_deg": own}), place).points
    np.testing.assert_allclose(again.amplitude_deg, points.amplitude_deg, rtol=1e-11)


def test_knock_angle() -> None:
    """360 deg less half of bank to bank at the balance, less the horn's clearance: 360 - 10.5/0.42 - 8 = 327."""
    assert math.degrees(float(PLAYTNER.knock_angle())) == pytest.approx(327.0, rel=1e-14)
    near = replace(PLAYTNER, horn_clearance_deg=3.0)
    assert math.degrees(float(near.knock_angle())) == pytest.approx(332.0, rel=1e-14)
