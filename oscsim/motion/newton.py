"""Newton's method on the cycle, up the ladder of rules; points that are done or hopeless leave the batch."""

from __future__ import annotations

import numpy as np

from oscsim.arrays import Array, Flags, Indices
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.cycle import Cycle, Memory, empty_cycle, evaluate
from oscsim.motion.rules import LADDER, Rule

#: |P(A) - A| at which a point is done, rad: some roundings of an amplitude.
DONE = 5e-14
#: |P(A) - A| above which a point is never called settled, rad.
SETTLED = 1e-11
#: A step this small, rad, on the first rung leaves an error below what that rung can do.
_ROUGH = 1e-4
#: Two rungs whose amplitudes agree to this, rad, leave the finer one good to 1e-11 or better (measured:
#: each rung gains two digits or more on the one below, three or more where the lower is that good).
_AGREE = 1e-8
_ROUGH_STEPS, _STEPS = 6, 6
#: Evaluations that find the lift's slopes anew: the first two on the rough rung; on the others only late ones,
#: the slopes of the rung below being near enough.
_FRESH_ROUGH, _FRESH_LATER = (0, 1, 4, 5), 3


def newton(
    osc: Oscillators,
    left: Array,
    right: Array,
    rule: Rule,
    memory: Memory | None = None,
    *,
    steps: int,
    rough: float | None = None,
) -> tuple[Cycle, Memory]:
    """Close the cycles that start at the turning points ``left`` and ``right`` (points,), rad.

    Each point stops when it is closed, or with ``rough`` when its step, rad, is that small (the cycle then
    holds only the improved turning points). Points that fail keep NaN in ``residual``. ``memory`` of evaluations
    near the start saves work; the one returned belongs to the last evaluation of every point.
    """
    found = empty_cycle(osc.size)
    index, both = np.arange(osc.size), osc.both_beats()
    kept_memory: Memory | None = None
    reach_left, reach_right = osc.contact - osc.centre, osc.contact + osc.centre
    for number in range(steps):
        fresh = number in _FRESH_ROUGH if rough is not None else number >= _FRESH_LATER
        near = rough is None or number > 1
        cycle, step_left, step_right, memory = evaluate(
            both, left, right, rule, memory, slopes=fresh, near=near
        )
        if len(index) == osc.size:
            kept_memory = memory
        elif kept_memory is not None:
            kept_memory.put(_beats(index, osc.size), memory)
        if rough is None:
            done = cycle.residual <= DONE
            found.put(index, cycle)
        else:
            done = np.abs(step_left) + np.abs(step_right) <= rough
        # a step may not carry the swing below what reaches the fork
        left = np.maximum(left + step_left, 0.5 * (left + reach_left))
        right = np.maximum(right + step_right, 0.5 * (right + reach_right))
        if rough is not None:
            found.left[index], found.right[index] = left, right
            found.residual[index] = np.where(done, cycle.residual, np.nan)
        keep = np.flatnonzero(~done & np.isfinite(left) & np.isfinite(right))
        if not len(keep):
            break
        if len(keep) < len(left):
            beats = _beats(keep, len(left))
            both, memory = both.take(beats), memory.take(beats)
            index, left, right = index[keep], left[keep], right[keep]
            reach_left, reach_right = reach_left[keep], reach_right[keep]
    assert kept_memory is not None
    return found, kept_memory


def _beats(index: Indices, points: int) -> Indices:
    """Both beats of some of the points."""
    return np.concatenate([index, index + points])


def up_the_ladder(osc: Oscillators, left: Array, right: Array) -> tuple[Cycle, Flags]:
    """Settled cycles near the given turning points (points,), and which of them are sound.

    Sound: closed to SETTLED, two rungs agree, and stable. The others are for the caller to decide.
    """
    start, memory = newton(osc, left, right, LADDER[0], steps=_ROUGH_STEPS, rough=_ROUGH)
    before = start.amplitude
    cycle, memory = newton(osc, start.left, start.right, LADDER[1], memory, steps=_STEPS)
    found, sound = cycle, np.zeros(osc.size, bool)
    index = np.arange(osc.size)
    for rule in (*LADDER[2:], None):
        closed = cycle.residual <= SETTLED
        agree = closed & (np.abs(cycle.amplitude - before) <= _AGREE)
        sound[index] = agree & (np.abs(cycle.slope) < 1.0)
        again = np.flatnonzero(closed & ~agree)
        if rule is None or not len(again):
            break
        before, memory = cycle.amplitude[again], memory.take(_beats(again, len(index)))
        index, osc = index[again], osc.take(again)
        cycle, memory = newton(osc, cycle.left[again], cycle.right[again], rule, memory, steps=_STEPS)
        found.put(index, cycle)
    return found, sound
