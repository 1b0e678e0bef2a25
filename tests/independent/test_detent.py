"""The chronometer's detent: the engine against numbers found by two methods, and against the independent integrator.

Sources: reference numbers of a 2.5 Hz balance, by two integrations without anything in common, 3e-8 deg apart; a
published drawing of a detent escapement (M. Headrick, mvheadrick.free.fr, wxeb20); tests/independent/detent.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

import oscsim
from oscsim.motion.beat import period
from oscsim.motion.rules import LADDER
from oscsim.motion.settle import settle
from oscsim.operating import OperatingPoints, operating_points
from oscsim.parts.detent import end_of_impulse, impulse_radius

from . import detent
from . import integrator as it

#: The reference's watch, but for the torque on its escape wheel, which is set below.
TABLES = {
    "name": "reference",
    "balance": {
        "beats_per_hour": 18000, "inertia_mg_cm2": 100.0, "mass_mg": 400.0, "pivot_radius_mm": 0.06,
        "pivot_friction": 0.1, "end_friction_radius_um": 0.509858106488964, "viscous_q": 400.0, "quadratic_drag": 0.0,
        "unbalance_ug_cm": 0.0, "heavy_point_deg": 0.0,
    },
    "escapement": {
        "kind": "detent", "teeth": 15, "centre_distance": 1.532, "half_advance_deg": 11.0, "drop_deg": 2.0,
        "impulse_friction": 0.15, "wheel_inertia_mg_cm2": 0.4, "detent_ratio": 0.1, "detent_inertia_mg_cm2": 0.4,
        "detent_arm": 0.9, "draw_deg": 10.0, "detent_friction": 0.12, "detent_spring_un_m": 0.06,
        "unlocking_deg": [-29.0, -21.0, -16.0], "passing_spring_un_m": 0.002, "passing_deg": [16.0, -4.0],
    },
    "train": {"ratio": 3840.0, "jewels": 21, "meshes": 4, "mesh_efficiency": 0.975, "jewel_friction": 0.12,
              "brass_friction": 0.17},
    "mainspring": {"height_mm": 3.0, "thickness_mm": 0.2, "length_mm": 700.0, "modulus_gpa": 205.0,
                   "elastic_limit_mpa": 2000.0, "coil_efficiency": 0.9, "tail_turns": 0.6},
    "barrel": {"inner_diameter_mm": 20.0, "arbor_diameter_mm": 6.6},
}  # fmt: skip
MOVEMENT = oscsim.loads(oscsim.dumps(oscsim.movement.movement_from(TABLES)))
#: Torque over 1.35e-6 N·m: swings before and after the dead beat, deg; rate, s/day.
REFERENCE = {1.0: (268.507003, 267.441916, -1.084211), 0.7: (224.346666, 223.453975, -1.300980)}


def points_at(
    factors: list[float], changes: dict[str, object] | None = None, place: str = "CH"
) -> OperatingPoints:
    """The watch with the torque on its escape wheel set, dial up; its pivots' friction is then 2e-10 N·m."""
    movement = MOVEMENT.with_(changes or {})
    one = operating_points(movement, oscsim.Setting(positions=place))
    points = one.take(np.zeros(len(factors), int))
    wanted = 1.35e-6 * np.array(factors) / points.escape_torque
    return oscsim.operating.replace(points, oscillators=points.oscillators.driven(wanted))


def coefficients(
    factor: float, changes: dict[str, object] | None = None, place: str = "CH"
) -> it.Coefficients:
    design = it.changed(TABLES, changes or {})
    return it.with_torque(it.operating(design, place), 1.35e-6 * factor)


def test_the_reference_numbers() -> None:
    points = points_at(list(REFERENCE))
    assert points.oscillators.dry[0] * points.stiffness[0] == pytest.approx(2e-10, rel=1e-9)
    cycle = settle(points.oscillators, points.knock_angle).cycle
    for i, (before, after, rate) in enumerate(REFERENCE.values()):
        assert math.degrees(cycle.right[i]) == pytest.approx(before, abs=1e-6)
        assert math.degrees(cycle.left[i]) == pytest.approx(after, abs=1e-6)
        assert points.rate(cycle.period)[i] == pytest.approx(rate, abs=1e-5)
    assert not cycle.lost.any()


def test_the_catch_is_where_the_reference_has_it() -> None:
    op = coefficients(1.0)
    assert math.degrees(detent.beat(op, math.radians(267.441916), +1).angles["catch"]) == pytest.approx(
        -8.760506, abs=1e-6
    )


def test_a_published_drawing() -> None:
    """Radius of the impulse pallet 1.747/3 of the wheel's and some 38 deg of balance for 22 deg of wheel."""
    e = MOVEMENT.escapement
    assert float(impulse_radius(e)) == pytest.approx(1.747 / 3.0, rel=5e-4)
    assert 2.0 * math.degrees(float(end_of_impulse(e))) == pytest.approx(38.2419, abs=5e-5)


#: By name: changes, torque factor, place.
CASES: dict[str, tuple[dict[str, object], float, str]] = {
    "whole": ({}, 1.0, "CH"),
    "low": ({}, 0.2, "CH"),
    "out of beat, heavy point": ({"balance.out_of_beat_deg": 4.0, "balance.unbalance_ug_cm": 20.0}, 1.2, "3H"),
    "air, cubic": ({"balance.quadratic_drag": 1e-3, "balance.cubic_stiffness": 1e-4}, 1.0, "12H"),
    "catch before the detent is let go": (
        {"escapement.wheel_inertia_mg_cm2": 0.02, "escapement.unlocking_deg": [-29, -21, -2]}, 0.8, "CH"
    ),
    "late catch": ({"escapement.wheel_inertia_mg_cm2": 0.8}, 1.0, "CH"),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_against_the_independent_integrator(name: str) -> None:
    changes, factor, place = CASES[name]
    points = points_at([factor], changes, place)
    got = settle(points.oscillators, points.knock_angle)
    want = it.settled(coefficients(factor, changes, place), 1.02 * float(got.cycle.left[0]))
    assert want["state"] == "running"
    assert math.degrees(got.cycle.amplitude[0]) == pytest.approx(want["amplitude_deg"], abs=1e-7, rel=0)
    assert points.rate(got.cycle.period)[0] == pytest.approx(want["rate_s_per_day"], abs=1e-5)
    assert got.cycle.residual[0] < 1e-11


def test_beats_over_all_amplitudes() -> None:
    """Every beat alike, whether it unlocks, catches, or fails."""
    seen = set()
    for wheel in (0.4, 30.0):
        changes: dict[str, object] = {"escapement.wheel_inertia_mg_cm2": wheel}
        osc, op = points_at([1.0], changes).oscillators, coefficients(1.0, changes)
        for degrees in (20.0, 29.5, 31.0, 40.0, 90.0, 200.0, 330.0, 390.0):
            with np.errstate(all="ignore"):
                got = period(osc, np.radians([degrees]), LADDER[-1])
            want = it.period(op, math.radians(degrees))
            assert np.isnan(got.amplitude[0]) == bool(want.failed), degrees
            if not want.failed:
                assert bool(got.first.lost[0]) == want.lost
                assert got.amplitude[0] == pytest.approx(want.amplitude, abs=1e-11, rel=0)
            seen.add((bool(want.failed), want.lost))
    assert seen == {(True, False), (False, True), (False, False)}


def test_a_rounded_start_leaves_the_rest_to_the_others() -> None:
    """A batch of many is what its points are alone, and a small torque stops."""
    factors = [1.0, 1e-3, 0.5, 0.1, 2.5]
    points = points_at(factors)
    got = settle(points.oscillators, points.knock_angle)
    for i, factor in enumerate(factors):
        one = points_at([factor])
        alone = settle(one.oscillators, one.knock_angle)
        assert alone.state[0] == got.state[i]
        np.testing.assert_allclose(alone.cycle.amplitude, got.cycle.amplitude[i : i + 1], rtol=1e-11)
    assert oscsim.State.STOPS in {list(oscsim.State)[code] for code in got.state}
