"""The working band of amplitude: its ends, its hours, and what is said when there is none.

Outside: the spread is taken here again from `oscsim.settle` of the four verticals, at the torque (set by the
mainspring's height) that gives the flat amplitude dial up.
"""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

import oscsim
from oscsim.answers.band import working_band
from oscsim.answers.isochronism import isochronism
from tests.outside.designs import DESIGNS

NAMES = tuple(DESIGNS)
BUNDLED = {name: oscsim.load(name) for name in oscsim.bundled()}
VERTICAL = oscsim.Setting(positions=["12H", "3H", "6H", "9H"])
UNBALANCE, HEAVY, HEIGHT = "balance.unbalance_ug_cm", "balance.heavy_point_deg", "mainspring.height_mm"
#: Every 15 degrees with four positions a quarter turn apart: six directions are all there are.
TURNS = range(0, 90, 15)


def verticals(movement, flat_deg, heavy_points):
    """Greatest spread of the four vertical rates, s/day, and their mean amplitude, deg, at a flat amplitude."""
    movement = movement.with_({"mainspring.slip_torque_n_mm": None})
    torque = isochronism(movement, amplitudes_deg=[flat_deg], torque_ceiling=100.0).barrel_torque_n_mm[0, 0]
    full = oscsim.settle(movement).points.barrel_torque_n_mm[0, 0]
    driven = movement.with_({HEIGHT: movement.mainspring.height_mm * torque / full})
    found = [oscsim.settle(driven.with_({HEAVY: h}), VERTICAL).points for h in heavy_points]
    assert all((points.state == "running").all() for points in found)
    spread = max(float(np.ptp(points.rate_s_per_day)) for points in found)
    return spread, float(np.mean([points.amplitude_deg for points in found]))


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("tolerance", [0.8, 1.8])
def test_spread_is_the_tolerance_at_both_ends(name, tolerance):
    band = working_band(DESIGNS[name], tolerance)
    assert not band.floor_is_least
    assert not band.ceiling_is_knock
    assert band.met
    for end in (band.floor_deg, band.ceiling_deg):
        spread, _ = verticals(DESIGNS[name], end, TURNS)
        assert spread == pytest.approx(tolerance, abs=1e-3)
    # first-order theory and the trade: the node near 220 vertical lies inside
    assert verticals(DESIGNS[name], (band.floor_deg + band.ceiling_deg) / 2, TURNS)[0] < tolerance
    assert verticals(DESIGNS[name], band.floor_deg - 1.0, TURNS)[0] > tolerance
    assert verticals(DESIGNS[name], band.ceiling_deg + 1.0, TURNS)[0] > tolerance
    vertical = [verticals(DESIGNS[name], end, TURNS)[1] for end in (band.floor_deg, band.ceiling_deg)]
    assert vertical[0] < 219.54 < vertical[1]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("heavy", [None, 20.0])
def test_curve(name, heavy):
    band = working_band(DESIGNS[name], 5.0, heavy_point_deg=heavy)
    inside = np.array([row["within_tolerance"] for row in band.rows()])
    flat = band.flat_amplitude_deg
    np.testing.assert_array_equal(inside, (band.floor_deg <= flat) & (flat <= band.ceiling_deg))
    assert inside.any()
    assert not inside.all()
    for i in (0, len(flat) // 2, len(flat) - 5):
        spread, vertical = verticals(DESIGNS[name], flat[i], TURNS if heavy is None else [heavy])
        assert band.vertical_spread_s_per_day[i] == pytest.approx(spread, abs=1e-6)
        assert band.vertical_amplitude_deg[i] == pytest.approx(vertical, abs=1e-7)


def test_where_the_heavy_point_stands():
    # By derivation: four positions see ±cos and ±sin of the heavy point's angle, so the spread is least by √2 with it
    # halfway between two of them and greatest in line with them (first order).
    band = [working_band(DESIGNS["heavy"], 5.0, heavy_point_deg=h) for h in (None, 90.0, 45.0)]
    spread = np.array([b.vertical_spread_s_per_day for b in band])
    far = np.abs(band[0].vertical_amplitude_deg - 219.54) > 15.0
    np.testing.assert_allclose(spread[0][far], spread[1][far], rtol=5e-3)
    np.testing.assert_allclose(spread[1][far] / spread[2][far], math.sqrt(2.0), rtol=5e-3)
    assert band[2].floor_deg < band[1].floor_deg
    assert band[2].ceiling_deg > band[1].ceiling_deg
    assert [b.heavy_point_deg for b in band] == [None, 90.0, 45.0]


@pytest.mark.parametrize("name", BUNDLED)
def test_hours_of_the_floor_and_the_ceiling(name):
    band = working_band(BUNDLED[name], 4.0)
    assert band.full_wind_deg == pytest.approx(oscsim.settle(BUNDLED[name]).points.amplitude_deg[0, 0])
    for hours, end in ((band.floor_hours, band.floor_deg), (band.ceiling_hours, band.ceiling_deg)):
        if hours == 0.0:
            assert end >= band.full_wind_deg
            continue
        around = oscsim.Setting(hours=[hours - 0.003, hours, hours + 0.003])
        before, there, after = oscsim.settle(BUNDLED[name], around).points.amplitude_deg[0]
        assert there == pytest.approx(end, abs=0.05)
        assert before > end > after
    assert band.floor_hours > band.ceiling_hours


def test_hours_against_the_run_down():
    movement = BUNDLED["dockhand"]
    band, curve = working_band(movement, 4.0), oscsim.run_down(movement, oscsim.Setting(), step_h=0.25)
    above = curve.points.amplitude_deg[0] > band.floor_deg
    crossing = curve.hours[np.argmin(above)]
    assert crossing - 0.25 <= band.floor_hours <= crossing


@pytest.mark.parametrize("name", NAMES)
def test_never_met(name):
    band = working_band(DESIGNS[name], 0.01, unbalance_ug_cm=500.0)
    assert not band.met
    ends = (band.floor_deg, band.ceiling_deg, band.floor_hours, band.ceiling_hours)
    assert np.isnan(ends).all()
    assert not band.floor_is_least
    assert not band.ceiling_is_knock
    whole = json.loads(band.to_json(), parse_constant=pytest.fail)
    assert whole["met"] is False
    assert whole["floor_deg"] is whole["ceiling_deg"] is whole["floor_hours"] is None
    assert not any(row["within_tolerance"] for row in whole["curve"])
    # the least of the curve was looked for between its points too
    spread = band.vertical_spread_s_per_day
    least = int(np.argmin(spread))
    near = [verticals(band.movement, band.flat_amplitude_deg[least] + d, TURNS)[0] for d in (-0.2, 0.0, 0.2)]
    assert near[1] == pytest.approx(spread[least], abs=1e-6)
    assert near[1] < min(near[0], near[2])


def test_met_only_between_two_points_of_the_curve():
    # a tolerance just above the least spread, which the curve's own steps of 2.5 degrees pass by
    never = working_band(DESIGNS["heavy"], 0.01, unbalance_ug_cm=500.0)
    tolerance = 1.05 * float(never.vertical_spread_s_per_day.min())
    band = working_band(DESIGNS["heavy"], tolerance, unbalance_ug_cm=500.0)
    assert band.met
    assert 0.0 < band.ceiling_deg - band.floor_deg < 2.5
    for end in (band.floor_deg, band.ceiling_deg):
        assert verticals(band.movement, end, TURNS)[0] == pytest.approx(tolerance, rel=1e-3)


@pytest.mark.parametrize("name", NAMES)
def test_everything_is_within_a_huge_tolerance(name):
    band = working_band(DESIGNS[name], 1000.0, unbalance_ug_cm=0.1)
    assert band.floor_is_least
    assert band.ceiling_is_knock
    assert band.floor_deg == band.flat_amplitude_deg[0] == 90.0
    assert band.ceiling_deg == band.knock_deg == band.flat_amplitude_deg[-1]
    assert all(row["within_tolerance"] for row in band.rows())
    e = DESIGNS[name].escapement
    bank = e.lock_deg + 2 * e.run_deg + e.pallet_lift_deg
    g = e.fork_ratio or (bank - e.run_deg - e.notch_shake_deg) / e.lift_angle_deg
    assert band.knock_deg == pytest.approx(360.0 - bank / (2 * g) - 8.0)  # docs/physics.md §2


def test_a_watch_that_starts_below_its_floor_has_no_hours():
    weak = DESIGNS["heavy"].with_({HEIGHT: 0.6 * DESIGNS["heavy"].mainspring.height_mm})
    band = working_band(weak, 2.0)
    assert band.full_wind_deg < band.floor_deg
    assert band.ceiling_hours == 0.0
    assert math.isnan(band.floor_hours)
    assert band.to_dict()["floor_hours"] is None


def test_a_watch_that_knocks():
    strong = DESIGNS["heavy"].with_({HEIGHT: 2.0 * DESIGNS["heavy"].mainspring.height_mm})
    band = working_band(strong, 1000.0)
    assert band.full_wind_state == "knocks"
    settled = oscsim.settle(strong, oscsim.Setting(hours=band.ceiling_hours)).points
    assert settled.amplitude_deg[0, 0] == pytest.approx(band.knock_deg, abs=0.05)


def test_no_watch_at_all():
    # a wheel so heavy that no impulse is given: no amplitude, so no band, and no number
    band = working_band(
        DESIGNS["fast"].with_({"escapement.wheel_inertia_mg_cm2": 10.0}), 5.0, heavy_point_deg=0.0
    )
    assert not band.met
    assert np.isinf(band.vertical_spread_s_per_day).all()
    assert all(row["vertical_spread_s_per_day"] is None for row in band.to_dict()["curve"])


def test_unbalance_given_or_the_designs():
    own, given = working_band(DESIGNS["heavy"], 5.0), working_band(DESIGNS["heavy"], 5.0, unbalance_ug_cm=4.0)
    assert own.to_dict() == given.to_dict()
    more = working_band(DESIGNS["heavy"], 5.0, unbalance_ug_cm=8.0)
    assert more.floor_deg > own.floor_deg
    assert more.ceiling_deg < own.ceiling_deg
    assert (own.unbalance_ug_cm, more.unbalance_ug_cm) == (4.0, 8.0)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((0.0,), "tolerance_s_per_day = 0"),
        ((1001.0,), "tolerance_s_per_day = 1001"),
        ((math.nan,), "tolerance_s_per_day = nan"),
        (("5",), "tolerance_s_per_day = '5': not a number"),
        ((5.0, {"unbalance_ug_cm": -1.0}), "balance.unbalance_ug_cm = -1"),
        ((5.0, {"heavy_point_deg": 400.0}), "balance.heavy_point_deg = 400"),
    ],
)
def test_refused(arguments, said):
    tolerance, *more = arguments
    with pytest.raises(oscsim.InputError, match=said):
        working_band(DESIGNS["fast"], tolerance, **(more[0] if more else {}))
