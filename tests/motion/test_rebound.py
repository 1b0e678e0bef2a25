"""A watch that knocks: the map with rebounds against the motion in time, beat after beat."""

import numpy as np
import pytest

import oscsim
from oscsim.answers.points import settled_points
from oscsim.motion.rebound import rebounding
from oscsim.motion.transient import swings
from oscsim.operating import operating_points

from ..sizes import size

STRONG = {"mainspring.height_mm": 2.0, "mainspring.slip_torque_n_mm": None}


@pytest.mark.parametrize(
    ("height", "position"), size([(1.6, "CH"), (2.0, "12H")], [(1.6, "CH"), (2.0, "CH"), (2.0, "12H")])
)
def test_against_the_motion_in_time(height, position):
    """300 beats of the time simulation, which locates every strike; the last 64 of them."""
    movement = oscsim.load("packet").with_(STRONG | {"mainspring.height_mm": height})
    points = operating_points(movement, oscsim.Setting(positions=position))
    knock, kept = points.knock_angle, np.array([movement.escapement.knock_restitution])
    found = rebounding(points.oscillators, knock, kept)
    run = swings(points.oscillators, float(knock[0]), float(knock[0]), float(kept[0]))
    beats = [next(run) for _ in range(300)]
    period = (beats[-1].ends - beats[-65].ends) / 32
    assert found.amplitude == pytest.approx(np.mean([one.swing for one in beats[-64:]]), rel=1e-9)
    assert found.period == pytest.approx(period, rel=1e-9)


def test_what_a_knocking_watch_shows():
    """The swing at the horn, minutes fast (common practice), and the drive that just brings it there."""
    movement = oscsim.load("packet").with_(STRONG)
    p = oscsim.settle(movement).points
    assert p.state[0, 0] == "knocks"
    assert p.shown_amplitude_deg[0, 0] == pytest.approx(p.knock_angle_deg[0, 0])
    assert p.amplitude_deg[0, 0] > p.shown_amplitude_deg[0, 0]
    assert p.shown_rate_s_per_day[0, 0] > 60.0
    # with the drive less by what is said, it swings just to the horn
    less = oscsim.Condition(drive=1.0 / (1.0 + p.excess_drive_percent[0, 0] / 100.0))
    at = oscsim.settle(movement, oscsim.Setting(condition=less)).points
    assert at.amplitude_deg[0, 0] == pytest.approx(p.knock_angle_deg[0, 0], abs=0.02)
    assert at.excess_drive_percent[0, 0] == pytest.approx(0.0, abs=1e-3)


def test_a_running_watch_shows_what_it_has():
    p = oscsim.settle("dockhand").points
    assert p.shown_amplitude_deg == p.amplitude_deg
    assert p.shown_rate_s_per_day == p.rate_s_per_day
    assert not p.excess_drive_percent.any()


def test_a_search_leaves_out_what_is_shown_and_nothing_else():
    points = operating_points(
        oscsim.load("packet").with_(STRONG), oscsim.Setting(positions=("CH", "12H"), hours=(0.0, 30.0))
    )
    whole, search = settled_points(points), settled_points(points, thorough=False)
    assert whole.too_far.any()
    assert not whole.too_far.all()
    for name in ("amplitude_deg", "apparent_amplitude_deg", "rate_s_per_day"):
        assert (getattr(search, name) == getattr(whole, name)).all()
    for name in ("shown_amplitude_deg", "shown_rate_s_per_day", "excess_drive_percent"):
        assert (np.isnan(getattr(search, name)) == whole.too_far).all()
        assert (getattr(search, name) == getattr(whole, name))[~whole.too_far].all()
