"""Engine, DOP853 and CVODE: the same beats and the same settled watches by three methods.

Source: SUNDIALS CVODE, an Adams method with its own root finding (`cvode.py`); skipped without the extra
``integrators``.
Tolerances: at its tightest CVODE keeps 1e-11 rad over a period (measured here; DOP853 and the engine keep 1e-13), and a
settled amplitude multiplies a map's error by 1/(1 - P'), up to 45 in these watches.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

import oscsim
from oscsim.motion.beat import Beat, period
from oscsim.motion.rules import LADDER
from oscsim.operating import operating_points

from . import integrator as it
from .designs import BEATS, MOVEMENTS, TABLES, Case, plausible_designs

pytest.importorskip("sksundae", reason="scikit-sundae is not installed (extra: integrators)")

from .cvode import cvode, with_tolerance

MAP = 3e-11  # rad, and relative for speeds and times
SETTLED = 50 * MAP
WATCHES = plausible_designs(8, 26)


@pytest.mark.parametrize("name", BEATS)
def test_every_phase_of_a_beat(name: str) -> None:
    """Angle and speed at the end of every phase, beats that fail and lost impulses included."""
    design, changes, amplitude_deg, failed, lost = BEATS[name]
    amplitude = math.radians(amplitude_deg)
    op = it.operating(it.changed(TABLES[design], dict(changes)), "9H")
    points = operating_points(MOVEMENTS[design].with_(changes), oscsim.Setting(positions="9H"))
    first, other = it.period(op, amplitude), it.period(op, amplitude, integrate=cvode)
    assert (other.first.failed, other.first.lost) == (failed, lost)
    for ours, theirs in ((first.first, other.first), (first.second, other.second)):
        if ours is None or theirs is None:
            assert ours is theirs
            continue
        assert theirs.angles.keys() == ours.angles.keys()
        assert theirs.speeds.keys() == ours.speeds.keys()
        for moment, angle in ours.angles.items():
            assert theirs.angles[moment] == pytest.approx(angle, abs=MAP, rel=0)
        for moment, speed in ours.speeds.items():
            assert theirs.speeds[moment] == pytest.approx(speed, abs=MAP * op["omega"], rel=MAP)
    with np.errstate(all="ignore"):
        engine = period(points.oscillators, np.array([amplitude]), LADDER[-1])
    for got, want in ((engine.first, other.first), (engine.second, other.second)):
        if want is not None:
            check_engine(got, want, float(points.omega[0]))


def check_engine(got: Beat, want: it.Beat, omega: float) -> None:
    assert np.isnan(got.amplitude[0]) == bool(want.failed)
    if want.failed:
        return
    assert bool(got.lost[0]) == want.lost
    assert got.amplitude[0] == pytest.approx(want.next_amplitude, abs=MAP, rel=0)
    assert got.contact[0] / omega == pytest.approx(want.contact, rel=MAP)
    assert got.tick[0] / omega == pytest.approx(want.drop - want.contact, rel=MAP)
    assert got.time[0] / omega == pytest.approx(want.time, rel=MAP)


@pytest.mark.parametrize("case", WATCHES, ids=lambda case: f"{case.name} {case.position}")
def test_settled(case: Case) -> None:
    """Random watches, settled by each of the three."""
    op = case.coefficients
    if it.settled(op)["state"] not in ("running", "knocks"):
        pytest.skip("nothing settles here")
    got = oscsim.settle(case.movement, case.setting).points
    if np.isnan(got.amplitude_deg[0, 0]):
        pytest.skip("above the ceiling")
    start = math.radians(got.amplitude_deg[0, 0] + 0.5)  # a little above, so that it has to be found
    answers = [it.settled(op, start), it.settled(op, start, integrate=cvode, residual=1e-12)]
    for want in answers:
        assert got.state[0, 0] == want["state"]
        assert math.radians(got.amplitude_deg[0, 0] - want["amplitude_deg"]) == pytest.approx(
            0.0, abs=SETTLED
        )
        # the engine's own limit against DOP853 on random watches; CVODE's 3e-11 of a period would be 3e-6 s/day
        assert got.rate_s_per_day[0, 0] == pytest.approx(want["rate_s_per_day"], abs=2e-5, rel=0)
        assert got.tick_s[0, 0] == pytest.approx(want["tick_s"], rel=SETTLED)


@pytest.mark.parametrize("name", TABLES)
def test_a_looser_tolerance_is_farther_off(name: str) -> None:
    """CVODE converges to what the engine finds: three decades of tolerance gain two or more."""
    op = it.operating(TABLES[name], "12H")
    points = operating_points(MOVEMENTS[name], oscsim.Setting(positions="12H"))
    amplitude = math.radians(240.0)
    exact = period(points.oscillators, np.array([amplitude]), LADDER[-1]).amplitude[0]
    loose, tight = (
        abs(it.period(op, amplitude, integrate=with_tolerance(rtol, 0.01 * rtol)).amplitude - exact)
        for rtol in (1e-8, 1e-11)
    )
    print(f"\n{name}: {loose:.1e} at 1e-8, {tight:.1e} at 1e-11")
    assert loose > 1e-8
    assert tight < 0.01 * loose
