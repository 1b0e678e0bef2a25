"""Operating points: moments of any shape, turns and hours, named access, the condition applied once."""

import dataclasses
import math

import numpy as np
import pytest

import oscsim
from oscsim.answers.points import settled_points
from oscsim.condition import AsItIs, Condition
from oscsim.operating import Moments, operating_points, points_in, points_of, reserve, turns_left
from oscsim.parts.escapement import Escapement
from oscsim.stack import stack_of
from oscsim.units import POSITIONS

BUNDLED = {name: oscsim.load(name) for name in oscsim.bundled()}
LEVERS = [movement for movement in BUNDLED.values() if isinstance(movement.escapement, Escapement)]

WORN = Condition(drive=0.9, oil_age_years=4.0)


@pytest.mark.parametrize("name", sorted(BUNDLED))
def test_a_list_of_moments_is_the_grid_read_in_any_order(name):
    setting = oscsim.Setting(positions=tuple(POSITIONS), hours=(0.0, 13.0, 31.0), condition=WORN)
    grid = settled_points(operating_points(BUNDLED[name], setting))
    as_is = WORN.applied_to(BUNDLED[name])
    rng = np.random.default_rng(3)
    which, hour = rng.integers(0, 6, 40), rng.integers(0, 3, 40)
    places = [list(POSITIONS.values())[i] for i in which]
    tilt, up = np.array([(p.tilt, p.hour_up) for p in places]).T
    turns = np.asarray(turns_left(as_is, np.array(setting.hours)))[hour]
    found = settled_points(points_of(as_is, Moments(tilt, up, turns, 23.0)))
    assert found.code.shape == (40,)
    np.testing.assert_array_equal(found.code, grid.code[which, hour])
    np.testing.assert_allclose(found.amplitude_deg, grid.amplitude_deg[which, hour], rtol=0, atol=1e-9)
    np.testing.assert_allclose(found.hours, grid.hours[which, hour], rtol=0, atol=1e-9)


def test_each_moment_has_its_own_warmth():
    as_is = AsItIs(BUNDLED["packet"])
    warm = np.array([8.0, 23.0, 38.0])
    found = settled_points(
        points_of(as_is, Moments(np.zeros(3), np.full(3, math.nan), as_is.full_wind, warm))
    )
    for n, degrees in enumerate(warm):
        alone = oscsim.settle(BUNDLED["packet"], oscsim.Setting(temperature_c=degrees)).points
        assert found.rate_s_per_day[n] == pytest.approx(float(alone.at("CH").rate_s_per_day), abs=1e-7)


def test_hours_come_back_as_they_were_told():
    points = operating_points(BUNDLED["dockhand"], oscsim.Setting(hours=(0.1, 24.0, 33.3)))
    assert points.hours.tolist() == [0.1, 24.0, 33.3]


def test_turns_and_hours_are_two_ways_to_say_one_thing():
    as_is = AsItIs(BUNDLED["dockhand"])
    last = float(reserve(as_is))
    np.testing.assert_allclose(turns_left(as_is, np.array([0.0, 0.5 * last, last])) / as_is.full_wind, [1, 0.5, 0],
                               rtol=0, atol=1e-14)  # fmt: skip
    by_turns = points_in(as_is, oscsim.Setting(turns=float(turns_left(as_is, 24.0))))
    assert by_turns.hours[0] == pytest.approx(24.0, abs=1e-12)


def test_named_access():
    setting = oscsim.Setting(positions=("CH", "12H"), hours=(0.0, 24.0))
    points = settled_points(operating_points(stack_of(LEVERS), setting))
    np.testing.assert_array_equal(points.at("12 up", 24).amplitude_deg, points.amplitude_deg[:, 1, 1])
    assert points.taken(2).at("CH").amplitude_deg == points.amplitude_deg[2, 0, 0]
    with pytest.raises(oscsim.InputError, match=r"position FH: not computed here, there are CH, 12H"):
        points.at("FH")
    with pytest.raises(oscsim.InputError, match=r"hours = 23 h: not computed here, nearest is 24 h"):
        points.at("CH", 23)


def test_the_condition_cannot_be_applied_twice():
    with pytest.raises(AttributeError):
        WORN.applied_to(WORN.applied_to(BUNDLED["dockhand"]))


def test_a_setting_stores_narrowly_what_it_takes_widely():
    wide = oscsim.Setting(positions="dial up", hours=np.array([0, 24]))
    assert (wide.positions, wide.hours) == (("CH",), (0.0, 24.0))
    assert wide == oscsim.Setting(positions=["CH"], hours=[0, 24])
    assert dataclasses.replace(wide, hours=3) == oscsim.Setting(hours=3)
