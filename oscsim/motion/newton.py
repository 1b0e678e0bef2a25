"""Newton's method on the cycle, up the ladder of rules; points that are done or hopeless leave the batch."""

from __future__ import annotations

import numpy as np

from oscsim.arrays import Array, Flags, Indices
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.cycle import Cycle, empty_cycle, gaps
from oscsim.motion.lift import Lift
from oscsim.motion.rules import LADDER, OPENING, Rule

#: |P(A) - A| at which a point is done, rad: some roundings of an amplitude.
DONE = 5e-14
#: A last step, rad, short enough to be taken without evaluating again (it moves a rate by less than 1e-7 s/day), with
#: the residual foretold for it, and the least contraction that is believed of a step.
_TRUSTED, _FORETOLD, _CONTRACTION = 2e-9, 3e-13, 1e-3
#: |P(A) - A| above which a point is never called settled, rad.
SETTLED = 1e-11
#: A step this small, rad, on the first rung leaves an error below what that rung can do.
_ROUGH = 1e-4
#: Two rungs whose amplitudes agree to this, rad, leave the finer one good to 1e-11 or better (measured:
#: each rung gains two digits or more on the one below, three or more where the lower is that good).
_AGREE = 1e-8
#: The same for the period, relative; 1e-8 is a thousandth of a second a day, and the finer rung far better.
_SAME_PERIOD = 1e-8
_ROUGH_STEPS, _STEPS = 6, 6


def newton(
    osc: Oscillators,
    left: Array,
    right: Array,
    rule: Rule,
    near: Lift | None = None,
    *,
    steps: int,
    rough: float | None = None,
    residual: Array | None = None,
) -> tuple[Cycle, Lift]:
    """Close the cycles that start at the turning points ``left`` and ``right`` (points,), rad.

    Each point stops when it is closed, or with ``rough`` when its step, rad, is that small (the cycle then
    holds only the improved turning points and the period, and the first evaluation is on ``OPENING``). Points
    that fail keep NaN in ``residual``. ``near``: lifts of both beats near the start; those returned belong to
    the last evaluation of every point.

    ``residual`` (points,): what it was before the step that led to the start. A step divides the residual by a
    factor that the last two evaluations tell; a point whose next step is short and would close it takes that step
    without being evaluated again, and its residual is the one foretold.
    """
    found, lifts = empty_cycle(osc.size), near
    index, both = np.arange(osc.size), osc.both_beats()
    reach_left, reach_right = osc.contact - osc.centre, osc.contact + osc.centre
    for number in range(steps):
        trial = gaps(both, left, right, OPENING if rough is not None and number == 0 else rule, near)
        cycle, near = trial.cycle, trial.lifts
        step_left, step_right = trial.step()
        lifts = (
            near
            if lifts is None or len(index) == osc.size
            else lifts.with_beats(_beats(index, osc.size), near)
        )
        if rough is None:
            placed = near.placed.reshape(2, -1).all(axis=0) | (number == steps - 1)
            done = (cycle.residual <= DONE) & placed
            if residual is not None:
                foretold = cycle.residual * np.maximum(cycle.residual / residual, _CONTRACTION)
                short = np.abs(step_left) + np.abs(step_right) <= _TRUSTED
                trusted = ~done & placed & short & (foretold <= _FORETOLD)
                cycle = cycle.moved(trusted, step_left, step_right, foretold)
                done |= trusted
            found.put(index, cycle)
            residual = cycle.residual
        else:
            done = (np.abs(step_left) + np.abs(step_right) <= rough) & (number > 0)
        # a step may not carry the swing below what reaches the fork
        left = np.maximum(left + step_left, 0.5 * (left + reach_left))
        right = np.maximum(right + step_right, 0.5 * (right + reach_right))
        if rough is not None:
            found.left[index], found.right[index], found.period[index] = left, right, cycle.period
            found.residual[index] = np.where(done, cycle.residual, np.nan)
        keep = np.flatnonzero(~done & np.isfinite(left) & np.isfinite(right))
        if not len(keep):
            break
        if len(keep) < len(left):
            beats = _beats(keep, len(left))
            both, near = both.take(beats), near.take(beats)
            index, left, right = index[keep], left[keep], right[keep]
            residual = None if residual is None else residual[keep]
            reach_left, reach_right = reach_left[keep], reach_right[keep]
    assert lifts is not None
    return found, lifts


def _beats(index: Indices, points: int) -> Indices:
    """Both beats of some of the points."""
    return np.concatenate([index, index + points])


def up_the_ladder(osc: Oscillators, left: Array, right: Array, steps: int = _STEPS) -> tuple[Cycle, Flags]:
    """Settled cycles near the given turning points (points,), and which of them are sound.

    Sound: closed to SETTLED, two rungs agree, and stable. The others are for the caller to decide.
    """
    start, lifts = newton(osc, left, right, LADDER[0], steps=_ROUGH_STEPS, rough=_ROUGH)
    before = start
    cycle, lifts = newton(
        osc, start.left, start.right, LADDER[1], lifts, steps=steps, residual=start.residual
    )
    found, sound = cycle, np.zeros(osc.size, bool)
    index = np.arange(osc.size)
    for rule in (*LADDER[2:], None):
        closed = cycle.residual <= SETTLED
        agree = closed & (np.abs(cycle.amplitude - before.amplitude) <= _AGREE)
        agree &= np.abs(cycle.period - before.period) <= _SAME_PERIOD * cycle.period
        sound[index] = agree & (np.abs(cycle.slope) < 1.0)
        again = np.flatnonzero(closed & ~agree)
        if rule is None or not len(again):
            break
        before, lifts = cycle.take(again), lifts.take(_beats(again, len(index)))
        index, osc = index[again], osc.take(again)
        cycle, lifts = newton(osc, cycle.left[again], cycle.right[again], rule, lifts, steps=steps)
        found.put(index, cycle)
    return found, sound
