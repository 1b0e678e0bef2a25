"""Regulation: the mean hits its target, the amplitude stays, and what cannot be regulated is refused.

Outside: the mean is taken here, from settled states in the default setting of `oscsim.settle`.
"""

from __future__ import annotations

import numpy as np
import pytest

import oscsim
from oscsim.answers.rates import rates
from oscsim.answers.regulate import regulate, regulated_word
from tests.independent import integrator as it
from tests.independent.designs import MOVEMENTS, TABLES
from tests.sizes import size

pytestmark = pytest.mark.usefixtures("briefly")

BUNDLED = {name: oscsim.load(name) for name in oscsim.bundled()}
SIX = tuple(oscsim.POSITIONS)
AT = {
    "six positions": oscsim.Setting(positions=SIX),
    "one position": oscsim.Setting(positions="3H"),
    "two, over a day": oscsim.Setting(positions=["CH", "9H"], hours=[0, 12, 24]),
    "warm": oscsim.Setting(positions=["CH", "12H"], temperature_c=38.0),
    "tilted": oscsim.Setting(positions=["12H", "6H"], tilt_deg=45.0),
}


def mean_rate(movement, at):
    return float(np.mean(oscsim.settle(movement, at).points.rate_s_per_day))


TARGETS = (0.0, 5.0, -300.0)


@pytest.mark.parametrize("name", BUNDLED)
@pytest.mark.parametrize("at", AT)
def test_mean_hits_the_target(name, at):
    # asked for: to 1e-6 s/day; for every change each target in turn, at night all of them everywhere
    turn = (list(BUNDLED).index(name) + list(AT).index(at)) % len(TARGETS)
    for target in size(TARGETS[turn : turn + 1], TARGETS):
        regulated = regulate(BUNDLED[name], target, AT[at])
        assert mean_rate(regulated, AT[at]) == pytest.approx(target, abs=1e-6)


@pytest.mark.parametrize("name", BUNDLED)
def test_default_is_the_mean_of_six_positions_fully_wound(name):
    regulated = regulate(BUNDLED[name])
    assert regulated == regulate(BUNDLED[name], 0.0, AT["six positions"])
    assert mean_rate(BUNDLED[name], AT["six positions"]) < -0.1  # as built it loses
    # the hairspring is set by about what the watch loses
    assert regulated.balance.regulation_s_per_day == pytest.approx(
        -mean_rate(BUNDLED[name], AT["six positions"]), rel=1e-3
    )


@pytest.mark.parametrize("name", BUNDLED)
def test_only_the_hairspring_is_touched(name):
    regulated = regulate(BUNDLED[name], 20.0)
    assert regulated.with_({"balance.regulation_s_per_day": 0.0}) == BUNDLED[name]
    before, after = (oscsim.settle(m, AT["two, over a day"]).points for m in (BUNDLED[name], regulated))
    np.testing.assert_allclose(after.amplitude_deg, before.amplitude_deg, rtol=1e-3)
    # docs/physics.md §2: amplitude does change a little, with the stiffness
    assert not np.array_equal(after.amplitude_deg, before.amplitude_deg)
    # every position and hour moves by the same
    change = after.rate_s_per_day - before.rate_s_per_day
    np.testing.assert_allclose(change, change.mean(), atol=0.02)


def test_regulated_again_is_the_same_or_the_new_target():
    once = regulate(BUNDLED["packet"], 4.0)
    assert regulate(once, 4.0) == once
    again = regulate(once, -7.0)
    assert mean_rate(again, AT["six positions"]) == pytest.approx(-7.0, abs=1e-6)
    assert again.balance.regulation_s_per_day == pytest.approx(
        regulate(BUNDLED["packet"], -7.0).balance.regulation_s_per_day, abs=1e-6
    )


def test_set_hairspring_against_the_independent_integrator():
    # A beat of ω/2π (1 + r/86400) as the design's own and the rate counted against the plain beat; the drag b, and so
    # Q in proportion to ω (docs/physics.md §1 names Q at the hairspring as set).
    regulated = regulate(MOVEMENTS["heavy"], 30.0)
    faster = 1.0 + regulated.balance.regulation_s_per_day / 86400
    beat = TABLES["heavy"]["balance"]["beats_per_hour"]
    op = it.operating(it.changed(TABLES["heavy"], {"balance.beats_per_hour": beat * faster}), "9H")
    want = it.settled(op)
    got = oscsim.settle(regulated, oscsim.Setting(positions="9H")).points
    assert got.amplitude_deg[0, 0] == pytest.approx(want["amplitude_deg"], rel=1e-10)
    counted = (86400 + want["rate_s_per_day"]) * faster - 86400
    assert got.rate_s_per_day[0, 0] == pytest.approx(counted, abs=1e-5)


def test_as_built_or_regulated():
    built, regulated = BUNDLED["dinghy"], regulate(BUNDLED["dinghy"])
    assert (regulated_word(built), regulated_word(regulated)) == ("as built", "regulated")
    for movement, word in ((built, False), (regulated, True)):
        answer = rates(movement)
        assert answer.regulated is word
        assert answer.to_dict()["regulated"] is word
        assert answer.to_dict()["regulation_s_per_day"] == movement.balance.regulation_s_per_day


@pytest.mark.parametrize("target", [1000.5, -2000.0, float("nan"), float("inf"), "5", None, True])
def test_target_out_of_range(target):
    with pytest.raises(oscsim.InputError, match=r"target_s_per_day = .*from -1000 to 1000 s/day"):
        regulate(BUNDLED["packet"], target)


def test_where_it_stops_there_is_nothing_to_regulate():
    with pytest.raises(oscsim.InputError, match=r"regulation at CH, 300 h: the state there is stops"):
        regulate(BUNDLED["packet"], 0.0, oscsim.Setting(positions=["CH", "12H"], hours=[0, 300]))


def test_where_it_wanders_there_is_nothing_to_regulate():
    # tests/outside/reference/edges.json: this change makes the amplitude wander
    loose = MOVEMENTS["fast"].with_({"escapement.wheel_inertia_mg_cm2": 3.0})
    with pytest.raises(oscsim.InputError, match=r"regulation at CH, 24 h: the state there is unsettled"):
        regulate(loose, 0.0, oscsim.Setting(hours=24))


def test_beyond_the_hairsprings_range():
    # bent so that it loses far more than the range of regulation_s_per_day makes up
    bent = BUNDLED["packet"].with_({"balance.cubic_stiffness": -0.003})
    with pytest.raises(oscsim.InputError, match=r"balance.regulation_s_per_day = .*from -2000 to 2000 s/day"):
        regulate(bent, 1000.0)
