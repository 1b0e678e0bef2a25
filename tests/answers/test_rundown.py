"""The run-down: its stop as it is foretold against every point decided from above, and hours of an amplitude.

Deciding from above (motion/from_above.py) samples the period map over all amplitudes and knows nothing of drives that
keep up a swing; the independent integrator is asked for the stop in tests/independent/test_rundown.py.
"""

import math

import numpy as np
import pytest

import oscsim
from oscsim.answers import rundown as room
from oscsim.answers.points import settled_points
from oscsim.condition import AsItIs, Condition
from oscsim.motion.settle import settle
from oscsim.motion.states import CODE, State
from oscsim.motion.sustain import least_drive, sustain
from oscsim.operating import operating_points, points_in, reserve
from oscsim.parts.escapement import Escapement
from oscsim.parts.mainspring import barrel_torque, turns_at_torque
from oscsim.stack import stack_of

from ..extremes.draw import extreme
from ..sizes import size

BUNDLED = {name: oscsim.load(name) for name in oscsim.bundled()}
LEVERS = [movement for movement in BUNDLED.values() if isinstance(movement.escapement, Escapement)]
CASES = {
    **{name: (movement, Condition()) for name, movement in BUNDLED.items()},
    "out of beat": (BUNDLED["packet"], Condition(out_of_beat_deg=4.0)),
    "worn": (BUNDLED["ferryman"], Condition(pivot_vertical=3.0, drive=0.7, unbalance_ug_cm=80.0)),
}


def _stops(movement, setting, hours):
    """Whether it stops at an hour of each position, decided from above whatever Newton's method finds."""
    points = points_in(setting.condition.applied_to(movement), setting, hours[:, None])
    return settle(points.oscillators, points.knock_angle).state == CODE[State.STOPS]


@pytest.mark.parametrize("case", CASES)
def test_it_runs_just_before_the_stop_and_not_after(case):
    movement, condition = CASES[case]
    found = oscsim.rundown(movement, oscsim.Setting(positions=("CH", "12H", "9H"), condition=condition))
    assert not _stops(movement, found.setting, found.stop_hours - 0.003).any()
    assert _stops(movement, found.setting, found.stop_hours + 0.003).all()


def test_points_are_those_of_settling_hour_by_hour():
    found = oscsim.rundown(BUNDLED["tidewaiter"], oscsim.Setting(positions=("FH", "3H")), step_h=4.0)
    hourly = oscsim.settle(
        BUNDLED["tidewaiter"], oscsim.Setting(positions=("FH", "3H"), hours=found.hours)
    ).points
    np.testing.assert_array_equal(found.points.code, hourly.code)
    np.testing.assert_allclose(found.points.amplitude_deg, hourly.amplitude_deg, rtol=0, atol=1e-9)


@pytest.mark.parametrize("number", size([2, 68], [2, 23, 68, 1826, 4909, 5852, 6146, 6989]))
def test_any_design_stops_when_every_point_is_decided_from_above(number, monkeypatch):
    watch = extreme(number)
    setting = oscsim.Setting(positions=watch.setting.positions)
    step = min(max(float(reserve(AsItIs(watch.movement))) / 10.0, 0.01), 100.0)
    found = oscsim.rundown(watch.movement, setting, step_h=step)
    monkeypatch.setattr(room, "_foretold_stop", lambda *rest: np.full(len(setting.positions), math.nan))
    np.testing.assert_allclose(
        found.stop_hours, oscsim.rundown(watch.movement, setting, step_h=step).stop_hours, rtol=0, atol=0.002
    )


def test_a_least_drive_among_swings_that_do_not_close_is_not_told():
    """Watch 1826 of the extremes: at its foretold stop of 47.9 h it went on, as swings nearer to the fork need less
    drive; found from above, and followed by the independent integrator (docs/numerics.md)."""
    watch = extreme(1826)
    setting = oscsim.Setting(
        positions=("9H",),
        tilt_deg=watch.setting.tilt_deg,
        temperature_c=watch.setting.temperature_c,
        hours=(47.98,),
    )
    points = operating_points(watch.movement, setting)
    assert np.isnan(least_drive(points.oscillators)[0]).all()
    assert settle(points.oscillators, points.knock_angle).state == CODE[State.RUNNING]


@pytest.mark.parametrize("name", BUNDLED)
def test_the_least_drive_is_that_of_the_swing_that_just_reaches_the_fork(name):
    points = operating_points(BUNDLED[name], oscsim.Setting(positions=("CH", "6H")))
    osc = points.oscillators
    factor, left, _ = least_drive(osc)
    reach = np.maximum(osc.reach_left, osc.reach_right)
    ladder = reach[:, None] * (1.0 + np.geomspace(2e-4, 0.5, 60))
    found = sustain(osc.take(np.repeat([0, 1], 60)), ladder.reshape(-1))
    every = np.where(found.sound, found.factor, math.inf).reshape(2, 60)
    # the swings tried lie some per cent apart where the watch is out of beat, and drive grows with them
    over = factor / every.min(axis=1) - 1.0
    assert ((over > -0.02) & (over < 1e-3)).all()
    assert (np.abs(left / reach - 1.0) < 0.1).all()


def test_turns_at_a_torque():
    spring, barrel = BUNDLED["dockhand"].mainspring, BUNDLED["dockhand"].barrel
    turns = np.array([0.2, 1.0, 3.0, 5.0])
    np.testing.assert_allclose(
        turns_at_torque(spring, barrel, barrel_torque(spring, barrel, turns)), turns, rtol=1e-12
    )


def test_hours_of_an_amplitude_for_a_stack():
    stack = stack_of(LEVERS)
    setting = oscsim.Setting(positions="12H")
    swing = np.radians(np.linspace(150.0, 200.0, len(LEVERS)))
    hours = room.hours_of_amplitude(AsItIs(stack), setting, swing)
    for n, movement in enumerate(LEVERS):
        at = oscsim.Setting(positions="12H", hours=float(hours[n]))
        there = settled_points(operating_points(movement, at)).amplitude_deg
        assert float(there.item()) == pytest.approx(math.degrees(swing[n]), abs=1e-6)


def test_hours_of_an_amplitude_that_is_never_reached():
    flat = oscsim.settle(BUNDLED["dockhand"]).points.at("CH").amplitude_deg
    assert room.hours_to_amplitude(BUNDLED["dockhand"], float(flat) + 5.0) == 0.0
    assert math.isnan(room.hours_to_amplitude(BUNDLED["dockhand"], math.nan))
