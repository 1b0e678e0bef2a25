"""The isochronism curve against settled states at the torque it names, and the states at its ends.

Outside: `oscsim.settle` finds the amplitude from the torque, the curve the torque from the amplitude; the torque is
set here through the mainspring's height, to which it is proportional (docs/physics.md (6)).
"""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

import oscsim
from oscsim.answers.isochronism import AMPLITUDES, isochronism
from oscsim.answers.regulate import regulate
from oscsim.answers.shares import CAUSES
from tests.independent import integrator as it
from tests.independent.designs import TABLES
from tests.outside.designs import DESIGNS

NAMES = tuple(DESIGNS)
HEIGHT = "mainspring.height_mm"
PINS = {
    "index_pins.stiffness_share": 0.01,
    "index_pins.low_contact_deg": -14.0,
    "index_pins.high_contact_deg": 20.0,
}


def with_torque(movement, barrel_torque_n_mm):
    """The movement with this torque of the barrel at full wind, no bridle slipping before."""
    movement = movement.with_({"mainspring.slip_torque_n_mm": None})
    full = oscsim.settle(movement).points.barrel_torque_n_mm[0, 0]
    return movement.with_({HEIGHT: movement.mainspring.height_mm * barrel_torque_n_mm / full})


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    "changes", [{}, PINS, {"balance.out_of_beat_deg": 2.0}], ids=["plain", "pins", "beat"]
)
def test_points_are_settled_states_at_the_torque_found(name, changes):
    movement, degrees = regulate(DESIGNS[name].with_(changes), 3.0), [110.0, 190.0, 260.0, 320.0]
    setting = oscsim.Setting(positions=["CH", "9H"], temperature_c=15.0)
    curve = isochronism(movement, setting, degrees, torque_ceiling=10.0)
    assert np.isin(curve.state, ("running", "knocks")).all()
    assert (curve.residual_rad <= 1e-11).all()
    for i, position in enumerate(setting.positions):
        for j, amplitude in enumerate(degrees):
            driven = with_torque(movement, curve.barrel_torque_n_mm[i, j])
            place = oscsim.Setting(positions=position, temperature_c=15.0)
            settled = oscsim.settle(driven, place).points
            assert settled.state[0, 0] == curve.state[i, j]
            assert settled.amplitude_deg[0, 0] == pytest.approx(amplitude, rel=1e-8)
            assert settled.rate_s_per_day[0, 0] == pytest.approx(curve.rate_s_per_day[i, j], abs=1e-6)


def test_a_point_against_the_independent_integrator():
    curve = isochronism(DESIGNS["slow"], oscsim.Setting(positions="12H"), [205.0])
    op = it.operating(TABLES["slow"], "12H")
    torque = op["M_e"] * curve.barrel_torque_n_mm[0, 0] * 1e-3 / op["barrel_torque"]
    want = it.settled(it.with_torque(op, torque))
    assert want["amplitude_deg"] == pytest.approx(205.0, abs=1e-7)
    assert curve.rate_s_per_day[0, 0] == pytest.approx(want["rate_s_per_day"], abs=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_shares_add_up(name):
    curve = isochronism(DESIGNS[name].with_(PINS), oscsim.Setting(positions=["CH", "3H"]))
    assert curve.amplitude_deg.tolist() == list(AMPLITUDES)
    reached = curve.state != "unreached"
    assert reached.any()
    np.testing.assert_allclose(
        sum(curve.shares[cause] for cause in CAUSES)[reached],
        curve.rate_s_per_day[reached],
        rtol=0,
        atol=1e-10,
    )


@pytest.mark.parametrize("name", NAMES)
def test_above_the_ceiling_a_state_and_no_number(name):
    # The ceiling is a torque: at 1 it is that of full wind, so the settled amplitude there parts the two.
    full = oscsim.settle(DESIGNS[name]).points.amplitude_deg[0, 0]
    degrees = [full - 20.0, full - 1e-6, full + 1e-6, full + 20.0]
    curve = isochronism(DESIGNS[name], amplitudes_deg=degrees, torque_ceiling=1.0)
    assert curve.state[0].tolist() == ["running", "running", "unreached", "unreached"]
    numbers = (curve.rate_s_per_day, curve.barrel_torque_n_mm, curve.residual_rad, *curve.shares.values())
    for values in numbers:
        assert np.isfinite(values[0]).tolist() == [True, True, False, False]
    # a higher ceiling reaches them, with more torque
    higher = isochronism(DESIGNS[name], amplitudes_deg=degrees, torque_ceiling=3.0)
    assert "unreached" not in higher.state
    np.testing.assert_array_equal(higher.rate_s_per_day[0, :2], curve.rate_s_per_day[0, :2])
    assert (np.diff(higher.barrel_torque_n_mm[0]) > 0.0).all()


def test_files_hold_null_where_nothing_is_reached():
    curve = isochronism(DESIGNS["fast"], amplitudes_deg=[200.0, 390.0], torque_ceiling=1.0)
    points = json.loads(curve.to_json(), parse_constant=pytest.fail)["points"]
    assert [point["state"] for point in points] == ["running", "unreached"]
    assert points[1]["rate_s_per_day"] is points[1]["barrel_torque_n_mm"] is points[1]["residual_rad"] is None
    assert all(points[1][f"{cause}_s_per_day"] is None for cause in CAUSES)
    assert "nan" not in curve.to_csv()


@pytest.mark.parametrize("name", NAMES)
def test_a_swing_that_does_not_reach_the_fork(name):
    curve = isochronism(DESIGNS[name], amplitudes_deg=[5.0, 15.0])
    assert curve.state[0].tolist() == ["unreached", "unreached"]


@pytest.mark.parametrize("name", NAMES)
def test_knocks(name):
    # docs/physics.md §2: A_k = 360° - B/(2g) - clearance (8°)
    e = DESIGNS[name].escapement
    bank = e.lock_deg + 2 * e.run_deg + e.pallet_lift_deg
    g = e.fork_ratio or (bank - e.run_deg - e.notch_shake_deg) / e.lift_angle_deg
    knock = 360.0 - bank / (2 * g) - 8.0
    curve = isochronism(DESIGNS[name], amplitudes_deg=[knock - 0.1, knock + 0.1], torque_ceiling=100.0)
    assert curve.state[0].tolist() == ["running", "knocks"]
    assert np.isfinite(curve.rate_s_per_day).all()


def test_the_larger_swing_decides_whether_it_knocks():
    # docs/physics.md §2; a heavy point to the side and a lever out of beat part the two swings
    movement = DESIGNS["fast"].with_(
        {
            "balance.unbalance_ug_cm": 200.0,
            "balance.heavy_point_deg": 90.0,
            "balance.out_of_beat_deg": 3.0,
        }
    )
    setting, degrees = oscsim.Setting(positions="12H"), np.linspace(315.0, 328.0, 66)
    curve = isochronism(movement, setting, degrees, torque_ceiling=100.0)
    for j in np.flatnonzero(np.abs(degrees - curve.knock_deg) < 1.0):
        settled = oscsim.settle(with_torque(movement, curve.barrel_torque_n_mm[0, j]), setting).points
        assert settled.state[0, 0] == curve.state[0, j]


@pytest.mark.parametrize("name", NAMES)
def test_as_built_or_regulated(name):
    built, regulated = DESIGNS[name], regulate(DESIGNS[name])
    plain, moved = (isochronism(movement, amplitudes_deg=[200.0, 250.0]) for movement in (built, regulated))
    assert (plain.to_dict()["regulated"], moved.to_dict()["regulated"]) == (False, True)
    change = regulated.balance.regulation_s_per_day
    np.testing.assert_allclose(moved.rate_s_per_day - plain.rate_s_per_day, change, rtol=1e-3)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"amplitudes_deg": [200.0, 401.0]}, "amplitudes_deg = 401"),
        ({"amplitudes_deg": [4.0]}, "amplitudes_deg = 4"),
        ({"amplitudes_deg": [math.nan]}, "amplitudes_deg = nan"),
        ({"amplitudes_deg": []}, "amplitudes_deg: empty"),
        ({"torque_ceiling": 0.0}, "torque_ceiling = 0"),
        ({"torque_ceiling": math.inf}, "torque_ceiling = inf"),
    ],
)
def test_refused(given, said):
    with pytest.raises(oscsim.InputError, match=said):
        isochronism(DESIGNS["fast"], **given)
