"""More torque never lowers the settled amplitude, more friction never raises it.

Source: common practice, and first-order theory (docs/physics.md §6), in which the drive enters the energy balance
with one sign and every drag with the other.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

import oscsim
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.settle import SettledBatch, settle
from oscsim.motion.states import CODE, State

from ..extremes.draw import Points, points_of
from ..independent import integrator as it
from ..independent.extremes import kept
from .strategies import POSITIONS, at, movements

pytestmark = pytest.mark.usefixtures("briefly")
positions = st.sampled_from(POSITIONS)
#: Watches of tests/extremes.
DESIGNS = 300


@given(movements(), positions, st.floats(1.01, 1.5))
def test_more_torque_never_lowers_the_amplitude(
    movement: oscsim.Movement, position: str, more: float
) -> None:
    stronger = movement.with_({"mainspring.height_mm": movement.mainspring.height_mm * more})
    one, other = at(movement, position), at(stronger, position)
    assume(one.state[0, 0] == "running")
    assert other.state[0, 0] in ("running", "knocks")
    assume(np.isfinite(other.amplitude_deg[0, 0]))  # above 400 deg no number is given
    assert other.amplitude_deg[0, 0] > one.amplitude_deg[0, 0]


FRICTIONS = (
    "balance.pivot_friction",
    "balance.quadratic_drag",
    "escapement.pallet_friction",
    "train.jewel_friction",
    "train.brass_friction",
)


@given(movements(), positions, st.sampled_from((*FRICTIONS, "balance.viscous_q")), st.floats(1.05, 1.5))
def test_more_friction_never_raises_the_amplitude(
    movement: oscsim.Movement, position: str, name: str, more: float
) -> None:
    part, field = name.split(".")
    value = getattr(getattr(movement, part), field)
    worse = movement.with_({name: value / more if field == "viscous_q" else value * more})
    one, other = at(movement, position), at(worse, position)
    assume(one.state[0, 0] == other.state[0, 0] == "running")
    # dial up and with all holes jewelled some frictions do nothing: rounding only
    assert other.amplitude_deg[0, 0] <= one.amplitude_deg[0, 0] * (1.0 + 1e-12)


# ------------------------------------------------------------ the same over the whole range of a design file

#: Factors on coefficients of the motion, and whether they are a help.
DRIVES = (1.001, 1.1, 1.5)
DRAGS = ("viscous", "quadratic", "dry", "unlocking_torque")
#: A swing below this many times the angle at which the pin meets the fork may be stopped by more torque.
_HARDLY = 1.5


@pytest.fixture(scope="module")
def running() -> tuple[Points, SettledBatch]:
    """Extremes (tests/extremes) that run."""
    points = points_of(range(DESIGNS))
    batch = settle(points.oscillators, points.knock_angle, thorough=False)
    index = np.flatnonzero(batch.state == CODE[State.RUNNING])
    points = points.take(index)
    return points, settle(points.oscillators, points.knock_angle)


def rises(points: Points, before: SettledBatch, changed: Oscillators, *, sign: float) -> None:
    """Amplitudes rise (sign 1) or fall (-1), but for rounding; and with more drive nothing stops or wanders."""
    after = settle(changed, points.knock_angle, thorough=sign > 0.0)
    apart = sign * (after.cycle.amplitude - before.cycle.amplitude) / before.cycle.amplitude
    runs = after.state != CODE[State.STOPS]
    assert runs.sum() > 50
    assert not (runs & (apart < -1e-11)).any()
    if sign > 0.0:
        osc = points.oscillators
        sound = before.cycle.amplitude > _HARDLY * osc.reach
        assert sound.sum() > 50
        assert np.isin(after.state[sound], (CODE[State.RUNNING], CODE[State.KNOCKS])).all()


@pytest.mark.parametrize("factor", DRIVES)
def test_more_torque_over_the_whole_range(running: tuple[Points, SettledBatch], factor: float) -> None:
    points, before = running
    rises(points, before, points.oscillators.driven(np.full(points.size, factor)), sign=1.0)


@pytest.mark.parametrize("name", DRAGS)
@pytest.mark.parametrize("factor", [1.01, 1.5])
def test_more_friction_over_the_whole_range(
    running: tuple[Points, SettledBatch], name: str, factor: float
) -> None:
    points, before = running
    osc = points.oscillators
    if hasattr(osc, name):
        more = replace(osc, **{name: getattr(osc, name) * factor})
    else:
        more = osc.with_escapement(lambda lever: replace(lever, **{name: getattr(lever, name) * factor}))
    rises(points, before, more, sign=-1.0)


def test_a_swing_hardly_beyond_the_lift_may_be_stopped_by_more_torque() -> None:
    """A real exception: unlocking grows harder with the torque, and here the lever has nineteen times the balance's
    inertia, so the balance hardly moves when it has picked the lever up. Source: the independent integrator, which runs
    at the same 11.855 deg with the lesser torque and does not get through unlocking with the greater."""
    movement = kept(19).with_({"balance.regulation_s_per_day": 0.0})
    op = it.operating(tomllib.loads(oscsim.dumps(movement)), "12H", 0.0)
    height = movement.mainspring.height_mm
    less = oscsim.settle(
        movement.with_({"mainspring.height_mm": 0.7 * height}), oscsim.Setting(positions="12H")
    ).points
    want = it.settled(it.with_torque(op, 0.7 * op["M_e"]))
    assert less.state[0, 0] == want["state"] == "running"
    assert less.amplitude_deg[0, 0] == pytest.approx(want["amplitude_deg"], abs=1e-8, rel=0)
    more = oscsim.settle(movement, oscsim.Setting(positions="12H")).points
    assert more.state[0, 0] == "stops"
    with pytest.raises(RuntimeError, match="no event"):  # in unlocking the balance creeps without end
        it.beat(it.with_torque(op, op["M_e"]), math.radians(13.0), +1)
