"""The poise map: every point a settled state, the node a root, opposite directions opposite, and what is refused.

Outside: `oscsim.settle` and `isochronism` of the design with its heavy point set there; first-order theory.
"""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

import oscsim
from oscsim.answers.isochronism import isochronism
from oscsim.answers.ratemap import AMPLITUDES, DIRECTIONS, ratemap
from oscsim.answers.regulate import regulate
from oscsim.theory.generated import poise_rate
from tests.outside.designs import DESIGNS

NAMES = tuple(DESIGNS)
UNBALANCE, HEAVY = "balance.unbalance_ug_cm", "balance.heavy_point_deg"
ROUND = tuple(range(0, 360, 15))


def without_bridle(name):
    return DESIGNS[name].with_({"mainspring.slip_torque_n_mm": None})


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(("position", "tilt"), [("12H", None), ("3H", None), ("6H", 60.0), ("CH", 45.0)])
def test_every_point_is_a_settled_state(name, position, tilt):
    movement, degrees, directions = without_bridle(name), [140.0, 215.0, 300.0], [0.0, 75.0, 200.0, 310.0]
    setting = oscsim.Setting(positions=position, tilt_deg=tilt)
    found = ratemap(movement, setting, amplitudes_deg=degrees, heavy_points_deg=directions)
    assert (found.state == "running").all()
    assert (found.residual_rad <= 1e-11).all()
    full = oscsim.settle(movement).points.barrel_torque_n_mm[0, 0]
    for j, direction in enumerate(directions):
        if position == "CH":
            # No hour is up, so docs/physics.md §1 puts the heavy point of a tilted watch lowest: the map turns it from
            # there, and a watch with 12 up, tilted as much, is the same with the heavy point as far from 6 o'clock.
            direction += 180.0 - movement.balance.heavy_point_deg
            setting = oscsim.Setting(positions="12H", tilt_deg=tilt)
        there = movement.with_({HEAVY: direction % 360.0})
        curve = isochronism(there, setting, degrees)
        np.testing.assert_allclose(found.rate_s_per_day[:, j], curve.rate_s_per_day[0], rtol=0, atol=1e-8)
        for i, torque in enumerate(curve.barrel_torque_n_mm[0]):
            height = movement.mainspring.height_mm * torque / full
            settled = oscsim.settle(there.with_({"mainspring.height_mm": height}), setting).points
            assert settled.amplitude_deg[0, 0] == pytest.approx(degrees[i], rel=1e-9)
            assert settled.rate_s_per_day[0, 0] == pytest.approx(found.rate_s_per_day[i, j], abs=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_node_is_a_root(name):
    # By derivation: the part of the rate that goes with cos φ, from twice as many directions as the answer takes.
    node = ratemap(DESIGNS[name], amplitudes_deg=[200.0], heavy_points_deg=[0.0]).node_deg
    degrees = [node - 1.0, node, node + 1.0, 200.0]
    found = ratemap(DESIGNS[name], amplitudes_deg=degrees, heavy_points_deg=ROUND)
    assert found.node_deg == node
    # with 12 up, straight down is 6 o'clock
    assert found.below_deg == pytest.approx(180.0)
    harmonic = found.rate_s_per_day @ np.cos(np.radians(np.array(ROUND) - 180.0)) / 12.0
    assert harmonic[0] > 0.0 > harmonic[2]
    assert abs(harmonic[1]) < 1e-6 * abs(harmonic[3])


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("unbalance", [1.0, 300.0])
def test_node_line_is_where_the_heavy_point_does_not_matter(name, unbalance):
    directions = [0.0, 40.0, 85.0, 90.0, 130.0, 180.0, 260.0, 330.0]
    found = ratemap(
        DESIGNS[name], amplitudes_deg=[200.0], heavy_points_deg=directions, unbalance_ug_cm=unbalance
    )
    seen = 0
    for direction, amplitude in zip(directions, found.node_line_deg, strict=True):
        if math.isnan(amplitude):  # only with the heavy point level, where there may be no node
            assert direction in (85.0, 90.0, 260.0)
            continue
        seen += 1
        pair = [
            isochronism(
                DESIGNS[name].with_({UNBALANCE: size, HEAVY: direction}),
                oscsim.Setting(positions="12H"),
                [amplitude, amplitude - 5.0, amplitude + 5.0],
            ).rate_s_per_day[0]
            for size in (unbalance, 0.0)
        ]
        effect = pair[0] - pair[1]
        assert abs(effect[0]) < 1e-6 * np.abs(effect[1:]).min() + 1e-9
        assert effect[1] * effect[2] < 0.0
    assert seen >= 6


@pytest.mark.parametrize("name", NAMES)
def test_opposite_directions_are_opposite(name):
    # By derivation, to first order: about the rate of the poised balance.
    found = ratemap(DESIGNS[name], heavy_points_deg=ROUND, amplitudes_deg=[150.0, 180.0, 290.0])
    effect = found.rate_s_per_day - found.poised_s_per_day[:, None]
    greatest = np.abs(effect).max(axis=1)
    opposite = np.roll(effect, len(ROUND) // 2, axis=1)
    assert (np.abs(effect + opposite).max(axis=1) < 2e-3 * greatest).all()
    assert (np.abs(effect.mean(axis=1)) < 1e-3 * greatest).all()


@pytest.mark.parametrize("name", NAMES)
def test_theory_beside_it(name):
    # docs/physics.md §6: first order with the mean of the row; the whole engine is within a thousandth of its size.
    found = ratemap(DESIGNS[name], heavy_points_deg=ROUND, amplitudes_deg=[150.0, 180.0, 290.0])
    theory = found.theory_s_per_day
    np.testing.assert_allclose(theory.mean(axis=1), found.rate_s_per_day.mean(axis=1), rtol=1e-12)
    b = DESIGNS[name].balance
    stiffness = b.inertia_mg_cm2 * 1e-10 * (math.pi * b.beats_per_hour / 3600.0) ** 2
    gamma = b.unbalance_ug_cm * 1e-11 * 9.80665 / stiffness
    expected = poise_rate(np.radians([[150.0], [180.0], [290.0]]), gamma, np.radians(np.array(ROUND) - 180.0))
    np.testing.assert_allclose(theory - theory.mean(axis=1, keepdims=True), expected, atol=1e-12)
    apart = np.abs(found.rate_s_per_day - theory).max(axis=1)
    assert (apart < 2e-3 * np.abs(expected).max(axis=1)).all()


def test_another_position_turns_the_map():
    # With 3 up, 9 o'clock is below: a quarter of a turn from 12 up.
    here, there = (
        ratemap(DESIGNS["heavy"], oscsim.Setting(positions=p), amplitudes_deg=[170.0, 250.0])
        for p in ("12H", "3H")
    )
    quarter = np.searchsorted(DIRECTIONS, 90.0)
    np.testing.assert_allclose(
        there.rate_s_per_day, np.roll(here.rate_s_per_day, quarter, axis=1), rtol=0, atol=1e-9
    )
    assert (here.below_deg, there.below_deg) == pytest.approx((180.0, 270.0))
    assert there.node_deg == pytest.approx(here.node_deg, abs=1e-6)


def test_regulated_moves_the_map_not_the_node():
    built, moved = (
        ratemap(m, amplitudes_deg=[200.0]) for m in (DESIGNS["slow"], regulate(DESIGNS["slow"], 30.0))
    )
    change = moved.movement.balance.regulation_s_per_day
    np.testing.assert_allclose(moved.rate_s_per_day - built.rate_s_per_day, change, rtol=1e-3)
    assert moved.node_deg == pytest.approx(built.node_deg, abs=1e-3)
    assert (built.to_dict()["regulated"], moved.to_dict()["regulated"]) == (False, True)


def test_default_map_and_its_file():
    found = ratemap(DESIGNS["fast"])
    assert found.rate_s_per_day.shape == (60, 72) == (len(AMPLITUDES), len(DIRECTIONS))
    whole = json.loads(found.to_json(), parse_constant=pytest.fail)
    assert np.array(whole["rate_s_per_day"]).shape == (60, 72)
    assert whole["amplitude_deg"] == list(AMPLITUDES)
    assert whole["heavy_point_deg"] == list(DIRECTIONS)
    assert whole["node_deg"] == pytest.approx(219.55, abs=0.02)
    assert whole["regulated"] is False
    assert whole["settings"]["unbalance_ug_cm"] == 1.5
    knocks = found.state == "knocks"
    assert knocks.any()
    assert (found.amplitude_deg[knocks.any(axis=1)] > found.knock_deg - 0.1).all()


def test_what_no_torque_keeps_up_has_a_state_and_no_number():
    movement, degrees = without_bridle("heavy"), [150.0, 230.0, 250.0, 330.0]
    found = ratemap(movement, amplitudes_deg=degrees, heavy_points_deg=[0, 90], torque_ceiling=1.0)
    full = oscsim.settle(movement, oscsim.Setting(positions="12H")).points.amplitude_deg[0, 0]
    assert 230.0 < full < 250.0
    assert found.state[:, 0].tolist() == ["running", "running", "unreached", "unreached"]
    reached = np.isfinite(found.rate_s_per_day)
    assert (reached == (found.state == "running")).all()
    assert (np.isfinite(found.poised_s_per_day) == reached[:, 0]).all()
    assert "null" in found.to_json()
    assert math.isfinite(found.node_deg)


def test_no_node_where_it_is_not_reached():
    # a torque of a twentieth keeps up no such amplitude, and a wheel too heavy to catch the lever none at all
    heavy_wheel = DESIGNS["fast"].with_({"escapement.wheel_inertia_mg_cm2": 10.0})
    for found in (ratemap(DESIGNS["fast"], torque_ceiling=0.05), ratemap(heavy_wheel)):
        assert (found.state == "unreached").all()
        assert math.isnan(found.node_deg)
        assert np.isnan(found.node_line_deg).all()
        assert found.to_dict()["node_deg"] is None


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"unbalance_ug_cm": 0.0}, r"balance.unbalance_ug_cm = 0 µg·cm"),
        ({"unbalance_ug_cm": -1.0}, r"balance.unbalance_ug_cm = -1"),
        ({"setting": oscsim.Setting(positions="CH")}, "flat"),
        ({"setting": oscsim.Setting(positions="FH")}, "flat"),
        ({"setting": oscsim.Setting(positions="12H", tilt_deg=0.0)}, "flat"),
        (
            {"setting": oscsim.Setting(positions=["12H", "3H"])},
            "positions = 12H, 3H: a map is of one position",
        ),
        ({"amplitudes_deg": [200.0, 500.0]}, "amplitudes_deg = 500"),
        ({"amplitudes_deg": ["200"]}, "amplitudes_deg = '200': not a number"),
        ({"amplitudes_deg": []}, "amplitudes_deg: empty"),
        ({"heavy_points_deg": []}, "heavy_points_deg: empty"),
        ({"heavy_points_deg": [0.0, math.nan]}, "heavy_points_deg = nan"),
        ({"heavy_points_deg": [400.0]}, "heavy_points_deg = 400"),
        ({"torque_ceiling": -1.0}, "torque_ceiling = -1"),
    ],
)
def test_refused(given, said):
    with pytest.raises(oscsim.InputError, match=said):
        ratemap(DESIGNS["fast"], **given)
