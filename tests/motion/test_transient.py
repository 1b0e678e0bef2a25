"""The watch in time from a given swing: start-up, dying away, shocks with rebounds.

Sources: tests/independent, whose `march` follows beat after beat with DOP853 and shares no code with the library, its
dense arcs for what happens at the horn, and the definition of restitution (speed after over speed before).
"""

import math

import numpy as np
import pytest

import oscsim
from oscsim import InputError, Setting, trace, transient
from tests.independent import integrator as it
from tests.independent.dense import arc
from tests.independent.designs import MOVEMENTS, TABLES

RESTITUTION = "escapement.knock_restitution"
MARCHES = [
    ("fast", {}, "CH", 0.0, 30.0),
    ("heavy", {"balance.out_of_beat_deg": 2.0}, "9H", 24.0, 300.0),
    ("slow", {"balance.unbalance_ug_cm": 60.0}, "3H", 10.0, 90.0),
]


@pytest.mark.parametrize(("name", "changes", "position", "hours", "swing"), MARCHES)
def test_against_marching(name, changes, position, hours, swing):
    op = it.operating(it.changed(TABLES[name], dict(changes)), position, hours)
    setting = Setting(positions=position, hours=hours)
    got = transient(MOVEMENTS[name].with_(changes), setting, swing_deg=swing, duration_s=15.0)
    want = it.march(lambda _t: op, math.radians(swing), 15.0)
    assert not want.failed
    assert len(got.time_s) == len(want.time) > 70
    assert got.time_s == pytest.approx(want.time, rel=1e-10, abs=1e-10)
    assert np.radians(got.swing_deg) == pytest.approx(want.amplitude, abs=1e-9, rel=0)
    assert got.side.tolist() == [1 if i % 2 else -1 for i in range(len(got.side))]


@pytest.mark.parametrize("swing", [30.0, 300.0])
def test_settles_at_the_settled_amplitude(swing):
    """From below and from above; what is left falls by P' each period, here 300 of them."""
    movement, setting = MOVEMENTS["fast"], Setting(positions="12H")
    points = oscsim.settle(movement, setting).points
    got = transient(movement, setting, swing_deg=swing, duration_s=80.0)
    assert got.state == "running"
    assert got.settled_deg == pytest.approx(points.amplitude_deg.item(), abs=1e-9)
    away = np.abs(got.swing_deg[::2] - trace(movement, setting).swing_deg)  # on the left, once a period
    left = 2.0 * away[0] * points.stability.item() ** 300
    assert away[300] < left < 0.1
    assert got.swing_deg[-2:].mean() == pytest.approx(points.amplitude_deg.item(), abs=left)
    shrinks = (away[300] / away[200]) ** 0.01
    assert shrinks == pytest.approx(points.stability.item(), abs=1e-5)
    assert got.residual_rad < 5e-6


def test_dies_away_without_torque():
    """Let down, the swing shrinks until it does not reach the fork: as the march does, to the same last swing."""
    movement, setting = MOVEMENTS["heavy"], Setting(hours=200.0)
    op = it.operating(TABLES["heavy"], "CH", 200.0)
    assert op["M_e"] == 0.0
    op = it.with_torque(op, 1e-30)  # the integrator divides by it
    got = transient(movement, setting, swing_deg=200.0, duration_s=600.0)
    want = it.march(lambda _t: op, math.radians(200.0), 600.0)
    assert want.failed
    assert got.state == "stops"
    assert math.isnan(got.settled_deg)
    assert got.lost[1:].all()
    n = len(want.time)
    assert len(got.time_s) in (n, n + 1)  # the library also gives the swing that falls short
    assert np.radians(got.swing_deg[:n]) == pytest.approx(want.amplitude, abs=1e-9, rel=0)


@pytest.mark.parametrize("swing", [0.0, 5.0, 25.0])
def test_too_small_a_swing_does_not_start_it(swing):
    """Below pin contact (B/2g less the dead point's offset) no lever watch starts."""
    op = it.operating(TABLES["fast"])
    assert math.radians(swing) < op["bank"] / (2.0 * op["g"]) - abs(op["epsilon"])
    got = transient(MOVEMENTS["fast"], swing_deg=swing)
    assert got.state == "stops"
    assert got.swing_deg.tolist() == [swing]
    assert got.time_s.tolist() == [0.0]
    assert got.settled_deg > 200.0
    assert not got.knocked.any()


# ------------------------------------------------------------------------------------------------ shocks

KNOCK = it.operating(TABLES["fast"], "9H")["knock"]


def _beats(answer):
    """Columns beat by beat, angles in rad."""
    for number in range(1, int(answer.beat[-1]) + 1):
        here = {name: values[answer.beat == number] for name, values in answer.columns.items()}
        yield np.radians(here["angle_deg"]), here["speed_rad_per_s"], here["time_s"]


@pytest.mark.parametrize("restitution", [None, 0.0, 0.3, 0.5, 1.0])
def test_rebounds_obey_restitution(restitution):
    """Speed after over speed before at every knock, the default being 0.5; the pin never passes the horn."""
    movement = MOVEMENTS["fast"]
    if restitution is not None:
        movement = movement.with_({RESTITUTION: restitution})
    got = trace(movement, Setting(positions="9H"), swing_deg=700.0, beats=6)
    assert got.state == "knocks"
    knocks = 0
    for (x, v, t), (x_next, v_next, t_next) in zip(beats := list(_beats(got)), beats[1:], strict=False):
        assert np.abs(x).max() <= KNOCK + 1e-12
        # angle, speed and time belong together up to the blow and from it on
        rushed = 0.5 * (v[1:] + v[:-1]) * np.diff(t)
        assert np.diff(x) == pytest.approx(rushed, rel=1e-3, abs=1e-5)
        assert x_next[0] == pytest.approx(x[-1], abs=1e-12)
        assert t_next[0] == pytest.approx(t[-1], abs=1e-12)
        if abs(v[-1]) > 0.0:
            knocks += 1
            assert abs(x[-1]) == pytest.approx(KNOCK, abs=1e-12)
            kept = 0.5 if restitution is None else restitution
            assert v_next[0] / v[-1] == pytest.approx(-kept, abs=1e-9)
    # without rebound the first blow takes all, and from rest at the horn friction keeps it below
    assert knocks == 0 if restitution == 0.0 else knocks > 0


def test_a_rebound_without_loss_conserves_the_speed():
    got = trace(
        MOVEMENTS["fast"].with_({RESTITUTION: 1.0}), Setting(positions="9H"), swing_deg=500.0, beats=8
    )
    for (_, v, _), (_, v_next, _) in zip(beats := list(_beats(got)), beats[1:], strict=False):
        assert v[-1] != 0.0
        assert v_next[0] == pytest.approx(-v[-1], rel=1e-9)


@pytest.mark.parametrize("swing", [400.0, 900.0])
def test_the_first_beat_of_a_shock(swing):
    """The speed at the horn on the way to ``swing``, half of it kept, and the arc back to the fork: integrated in time.

    The outward arc is integrated from its end: with every drag turned round, the motion runs backwards.
    """
    op = it.operating(TABLES["fast"], "9H")
    backwards = op | {"b": -op["b"], "c": -op["c"], "M_c": -op["M_c"]}
    x = math.radians(swing)
    # the shock is to the left: there and back are both motions to the right in a frame turned over
    inward = arc(backwards, 1, -x, 0.0, -KNOCK, op["I"], 0.0)
    speed = float(inward.y[1, -1])
    contact = op["epsilon"] - op["bank"] / (2.0 * op["g"])
    back = arc(op, 1, -KNOCK, 0.5 * speed, contact, op["I"], 0.0)
    got = trace(MOVEMENTS["fast"], Setting(positions="9H"), swing_deg=swing, beats=1)
    angle, v, time = next(_beats(got))
    free = got.phase == "free arc in"
    assert angle[0] == pytest.approx(-KNOCK, abs=1e-12)
    assert v[0] == pytest.approx(0.5 * speed, rel=1e-9)
    assert time[free][-1] == pytest.approx(back.t[-1], abs=1e-11)
    assert v[free][-1] == pytest.approx(back.y[1, -1], rel=1e-9)
    assert angle[free] == pytest.approx(back.sol(np.clip(time[free], 0.0, back.t[-1]))[0], abs=1e-9)


def test_swings_of_a_shock():
    got = transient(MOVEMENTS["fast"], Setting(positions="9H"), swing_deg=900.0, duration_s=20.0)
    assert got.knocked[0]
    assert got.swing_deg[0] == pytest.approx(math.degrees(KNOCK), abs=1e-9)
    assert got.swing_deg.max() <= math.degrees(KNOCK) + 1e-9
    assert got.swing_deg[got.knocked] == pytest.approx(math.degrees(KNOCK), abs=1e-9)
    assert (got.swing_deg[~got.knocked] < math.degrees(KNOCK)).all()
    assert got.state == "running"
    # knocked beats are short: the pin turns back early
    beat = np.diff(got.time_s)
    assert beat[0] < 0.75 * beat[-1]
    still = transient(MOVEMENTS["fast"], Setting(positions="9H"), swing_deg=900.0, duration_s=0.1)
    assert still.state == "knocks"


def test_output_for_programs():
    got = transient(MOVEMENTS["fast"], swing_deg=150.0, duration_s=3.0)
    answer, rows = got.to_dict(), got.to_csv().splitlines()
    assert rows[0] == "time_s,swing_deg,side,knocked,lost"
    assert len(rows) - 1 == len(answer["swings"]) == len(got.time_s)
    assert answer["swings"][0] == {
        "time_s": 0.0,
        "swing_deg": 150.0,
        "side": -1,
        "knocked": False,
        "lost": False,
    }
    assert got.time_s[-2] < 3.0 <= got.time_s[-1]


WRONG = [
    ({"swing_deg": -1.0}, "swing_deg = -1.0 deg: out of range, must be from 0 to 1000 deg"),
    ({"swing_deg": math.inf}, "swing_deg = inf deg: not a finite number"),
    (
        {"swing_deg": 200.0, "duration_s": 0.0},
        "duration_s = 0.0 s: out of range, must be from 0.01 to 3600 s",
    ),
    ({"swing_deg": 200.0, "duration_s": "long"}, "duration_s = 'long': not a number"),
    ({"swing_deg": 200.0, "setting": Setting(positions=("CH", "FH"))}, "give one position and one hour"),
]


@pytest.mark.parametrize(("given", "said"), WRONG)
def test_bad_input(given, said):
    with pytest.raises(InputError) as caught:
        transient(MOVEMENTS["fast"], **given)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)
