"""How the amplitude follows a drive that goes up and down, against the engine beat by beat and figures from outside.

Figures in ``FOLLOWED``: computed elsewhere, beat by beat, with another program for a design of 4 Hz (the bundled packet
with the standard radii, dial up, twelve hours after winding); the march here repeats them with the engine's own beats,
which tests/independent holds to an integrator.
"""

from __future__ import annotations

import math
from itertools import cycle, islice

import numpy as np
import pytest

import oscsim
from oscsim.motion.beat import beat
from oscsim.motion.response import followed, response
from oscsim.motion.rules import LADDER
from oscsim.motion.states import STATES, State
from oscsim.operating import OperatingPoints, operating_points

#: Radii of physics.md §3, which the figures were computed with.
STANDARD = {"barrel": 5.3, "centre": 3.9, "third": 2.9, "fourth": 2.6}
PACKET = oscsim.load("packet").with_(
    {"train.ratio": 3744.0} | {f"train.arbors.{name}.wheel_radius_mm": mm for name, mm in STANDARD.items()}
)
#: Period s, ripple of the drive (half of peak to peak), swing of the amplitude deg, lag deg.
FOLLOWED = ((60.0, 0.02, 1.9153, 43.67), (45.0, 0.03, 2.4581, 51.96), (6.0, 0.03, 0.4171, 87.70))


@pytest.fixture(scope="module")
def points() -> OperatingPoints:
    return operating_points(PACKET, oscsim.Setting(hours=12.0))


def test_figures(points: OperatingPoints) -> None:
    found = response(points.oscillators, points.knock_angle)
    assert STATES[int(found.state[0])] is State.RUNNING
    assert math.degrees(found.amplitude[0]) == pytest.approx(282.711, abs=6e-4)
    assert found.relaxation[0] / points.omega[0] == pytest.approx(8.992, abs=6e-4)
    assert found.sensitivity[0] == pytest.approx(0.46531, abs=1e-5)
    assert found.residual[0] < 1e-11


def test_beat_by_beat(points: OperatingPoints) -> None:
    """(R3) gives the swing to a thousandth, and the lag with half a beat more, since a beat ends in one blow."""
    period, ripple, swing, lag = (np.array(column) for column in zip(*FOLLOWED, strict=True))
    found = response(points.oscillators, points.knock_angle)
    omega = float(points.omega[0])
    one = points.oscillators.take(np.zeros(3, int))
    share, lagged = followed(found.relaxation[0] / omega, period)
    expected = ripple * found.sensitivity[0] * share
    # the march begins where (R3) would be, so that little has to die away; half a minute lets that go
    amplitude, now = found.amplitude[0] * (1.0 + expected * np.cos(lagged)), np.zeros(3)
    times, seen = [], []
    for side in islice(cycle((one, one.mirrored())), 8 * 100):
        pushed = side.driven(1.0 + ripple * np.cos(2.0 * np.pi * now / period))
        turned = beat(pushed.beats(+1), amplitude, pushed.reach_right, LADDER[1])
        amplitude, now = turned.amplitude, now + turned.time / omega
        times.append(now)
        seen.append(amplitude)
    time, degrees = np.array(times), np.degrees(seen)
    expected *= np.degrees(found.amplitude[0])
    for j in range(3):
        late = time[:, j] > 35.0
        phase = 2.0 * np.pi * time[late, j] / period[j]
        columns = np.stack(
            [np.cos(phase), np.sin(phase), np.cos(2 * phase), np.sin(2 * phase), np.ones(late.sum())], -1
        )
        a, b, *_ = np.linalg.lstsq(columns, degrees[late, j], rcond=None)[0]
        assert math.hypot(a, b) == pytest.approx(swing[j], rel=5e-4)  # their fit of a sine differs by 3e-4
        assert math.hypot(a, b) == pytest.approx(expected[j], rel=1e-3)
        half_beat = 180.0 * float(np.diff(time[:, j]).mean()) / period[j]
        later = math.degrees(math.atan2(b, a))
        assert later == pytest.approx(lag[j], abs=0.03)
        assert later == pytest.approx(math.degrees(lagged[j]) + half_beat, abs=0.03)


def test_comes_back_at_the_pace_of_the_relaxation(points: OperatingPoints) -> None:
    """A swing put beside the settled one: what is left after ten seconds, from a march of beats."""
    found = response(points.oscillators, points.knock_angle)
    osc, omega = points.oscillators, float(points.omega[0])
    left, now = found.amplitude + 1e-3, 0.0
    for side in islice(cycle((osc, osc.mirrored())), 80):
        turned = beat(side.beats(+1), left, side.reach_right, LADDER[1])
        left, now = turned.amplitude, now + float(turned.time[0]) / omega
    away = float((left - found.amplitude)[0]) / 1e-3
    assert math.log(away) == pytest.approx(-now / (found.relaxation[0] / omega), rel=3e-3)


def test_no_number_where_it_does_not_simply_run() -> None:
    points = operating_points(PACKET, oscsim.Setting(positions=("CH", "12H"), hours=(0.0, 500.0)))
    found = response(points.oscillators, points.knock_angle)
    stopped = points.hours == 500.0
    assert np.isnan(found.sensitivity[stopped]).all()
    assert np.isnan(found.relaxation[stopped]).all()
    assert np.isfinite(found.sensitivity[~stopped]).all()


def test_followed_at_the_ends() -> None:
    """A ripple far slower than the relaxation is followed whole and at once; one as fast as 2πτ by 1/√2, an eighth of a
    turn late (first-order low pass)."""
    share, lag = followed(1.0, np.array([1e9, 2.0 * math.pi]))
    np.testing.assert_allclose(share, [1.0, math.sqrt(0.5)], rtol=1e-12)
    np.testing.assert_allclose(lag, [0.0, math.pi / 4.0], atol=1e-8)
