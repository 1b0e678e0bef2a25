"""The library against the independent integrator on random watches, and beat by beat where a watch fails.

Source: tests/independent (DOP853 in time, one beat after another), which shares no method and no code with the
library. What is asked: amplitude 1e-7 relative, rate 1e-4 s/day, beat error 1e-5 ms, the same state.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict

import numpy as np
import pytest

import oscsim
from oscsim.motion.beat import Beat, period
from oscsim.motion.rules import LADDER
from oscsim.motion.settle import settle
from oscsim.operating import operating_points

from ..sizes import size
from . import integrator as it
from .designs import BEATS, MOVEMENTS, TABLES, Case, plausible_designs

pytestmark = pytest.mark.usefixtures("briefly")
COUNT, SEED = 42, 10
#: Of these watches none settles after more than two tries, and the one that wanders costs as much as all others.
TRIES, FOLLOWED = size(2, 12), size(80, 200)
CASES = plausible_designs(COUNT, SEED)
LIMITS = {
    "amplitude relative": 1e-10,
    "rate s/day": 2e-5,
    "beat error ms": 1e-7,
    "tick relative": 1e-9,
    "apparent deg": 1e-7,
}
SEEN: dict[str, float] = defaultdict(float)
STATES: Counter[str] = Counter()


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.name} {case.position}")
def test_settled(case: Case) -> None:
    """From above: the integrator starts from a swing larger than the settled one."""
    got = oscsim.settle(case.movement, case.setting).points
    want = it.settled(case.coefficients, tries=TRIES, followed=FOLLOWED)
    at = (0, 0)
    assert got.state[at] == want["state"]
    STATES[want["state"]] += 1
    if want["state"] == "unsettled":  # a wandering amplitude is known only as well as it is sampled
        assert got.amplitude_deg[at] == pytest.approx(want["amplitude_deg"], abs=0.25, rel=0)
        seen = [got.amplitude_low_deg[at], got.amplitude_high_deg[at]]
        assert seen == pytest.approx(want["amplitude_range_deg"], abs=0.5, rel=0)
    elif want["amplitude_deg"] is None:
        assert np.isnan(got.amplitude_deg[at])
    else:
        apart = {
            "amplitude relative": got.amplitude_deg[at] / want["amplitude_deg"] - 1.0,
            "rate s/day": got.rate_s_per_day[at] - want["rate_s_per_day"],
            "beat error ms": got.signed_beat_error_ms[at] - want["beat_error_signed_ms"],
            "tick relative": got.tick_s[at] / want["tick_s"] - 1.0,
            "apparent deg": got.apparent_amplitude_deg[at] - want["apparent_amplitude_deg"],
        }
        for name, value in apart.items():
            SEEN[name] = max(SEEN[name], abs(value))
        assert {name: value for name, value in apart.items() if not abs(value) <= LIMITS[name]} == {}
        assert got.residual_rad[at] <= 1e-10
        assert got.stability[at] < 1.0


def test_what_was_covered() -> None:
    """The random watches reach every state; the worst departures are printed."""
    if sum(STATES.values()) < COUNT:
        pytest.skip("only some of the watches were asked for")
    print("\n", dict(STATES), {name: f"{worst:.1e}" for name, worst in SEEN.items()})
    assert set(STATES) == {"running", "knocks", "stops", "unsettled"}
    assert STATES["running"] >= 30


@pytest.mark.parametrize("case", CASES[:10], ids=lambda case: f"{case.name} {case.position}")
def test_stability_is_the_slope_of_the_map(case: Case) -> None:
    """|P'(A)| against a difference quotient of the integrator's map; the engine's is first order in the drags."""
    got = oscsim.settle(case.movement, case.setting).points
    if got.state[0, 0] != "running":
        pytest.skip("no settled cycle")
    points = operating_points(case.movement, case.setting)
    left = float(settle(points.oscillators, points.knock_angle).cycle.left[0])
    above, below = (it.period(case.coefficients, left + step).amplitude for step in (1e-5, -1e-5))
    assert got.stability[0, 0] == pytest.approx(abs(above - below) / 2e-5, abs=5e-3)


# ------------------------------------------------------------------------------------ beats that go wrong


@pytest.mark.parametrize("name", BEATS)
def test_single_beats(name: str) -> None:
    design, changes, amplitude_deg, failed, lost = BEATS[name]
    amplitude = math.radians(amplitude_deg)
    op = it.operating(it.changed(TABLES[design], dict(changes)), "9H")
    points = operating_points(MOVEMENTS[design].with_(changes), oscsim.Setting(positions="9H"))
    want = it.period(op, amplitude)
    with np.errstate(all="ignore"):
        got = period(points.oscillators, np.array([amplitude]), LADDER[-1])
    assert (want.first.failed, want.first.lost) == (failed, lost)  # the case is the one meant
    check_beat(got.first, want.first, float(points.omega[0]))
    if want.second is not None:
        check_beat(got.second, want.second, float(points.omega[0]))
    assert np.isnan(got.amplitude[0]) == bool(want.failed)


def check_beat(got: Beat, want: it.Beat, omega: float) -> None:
    assert np.isnan(got.amplitude[0]) == bool(want.failed)
    if want.failed:
        return
    assert bool(got.lost[0]) == want.lost
    assert got.amplitude[0] == pytest.approx(want.next_amplitude, abs=1e-11, rel=0)
    assert got.contact[0] / omega == pytest.approx(want.contact, rel=1e-11)
    assert got.tick[0] / omega == pytest.approx(want.drop - want.contact, rel=1e-11)
    assert got.time[0] / omega == pytest.approx(want.time, rel=1e-11)
    assert got.turned[0] == pytest.approx(want.angles["drop"] - want.angles["contact"], abs=1e-11, rel=0)


def test_beats_over_all_amplitudes() -> None:
    """P(A) and its flags from the smallest to the largest swing, for every one of the random watches."""
    rng, worst, seen = np.random.default_rng(SEED), 0.0, Counter[tuple[bool, bool]]()
    for case in CASES:
        op, points = case.coefficients, operating_points(case.movement, case.setting)
        for amplitude in np.radians([rng.uniform(20.0, 100.0), rng.uniform(60.0, 390.0)]):
            want = it.period(op, amplitude)
            with np.errstate(all="ignore"):
                got = period(points.oscillators, np.array([amplitude]), LADDER[-1])
            assert np.isnan(got.amplitude[0]) == bool(want.failed)
            seen[bool(want.failed), want.lost] += 1
            if not want.failed:
                assert bool(got.first.lost[0] | got.second.lost[0]) == want.lost
                worst = max(worst, abs(got.amplitude[0] - want.amplitude))
    print("\nworst |P(A)| apart", worst, dict(seen))
    assert worst < 1e-11
    assert set(seen) >= {(False, False), (False, True), (True, False)}
