"""Newton's method on the cycle, up the ladder of rules; points that are done or hopeless leave the batch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array, Flags, Indices
from oscsim.motion.coefficients import Beats, Oscillators
from oscsim.motion.cycle import Cycle, empty_cycle, gaps
from oscsim.motion.escapement import Lift
from oscsim.motion.ladder import climb
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


@dataclass
class _Active:
    """The points that are still being closed: which they are, their beats, turning points and the least swings that
    reach the escapement, what the residual was before the last step, and their last lifts."""

    index: Indices
    both: Beats
    left: Array
    right: Array
    reach_left: Array
    reach_right: Array
    residual: Array | None
    near: Lift | None

    def keep(self, chosen: Indices) -> None:
        """Only the ``chosen`` of them from now on."""
        beats = beats_of(chosen, len(self.index))
        self.both = self.both.take(beats)
        self.near = None if self.near is None else self.near.take(beats)
        self.residual = None if self.residual is None else self.residual[chosen]
        self.index, self.left, self.right = self.index[chosen], self.left[chosen], self.right[chosen]
        self.reach_left, self.reach_right = self.reach_left[chosen], self.reach_right[chosen]

    def move(self, step_left: Array, step_right: Array) -> None:
        """Take a step; it may not carry the swing below what reaches the escapement."""
        self.left = np.maximum(self.left + step_left, 0.5 * (self.left + self.reach_left))
        self.right = np.maximum(self.right + step_right, 0.5 * (self.right + self.reach_right))


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
    on = _Active(
        np.arange(osc.size), osc.both_beats, left, right, osc.reach_left, osc.reach_right, residual, near
    )
    for number in range(steps):
        opening = rough is not None and number == 0
        trial = gaps(on.both, on.left, on.right, OPENING if opening else rule, on.near)
        cycle, on.near = trial.cycle, trial.lifts
        step_left, step_right = trial.step()
        if lifts is None or len(on.index) == osc.size:
            lifts = on.near
        else:
            lifts = lifts.with_points(beats_of(on.index, osc.size), on.near)
        short = np.abs(step_left) + np.abs(step_right)
        if rough is None:
            placed = on.near.placed.reshape(2, -1).all(axis=0) | (number == steps - 1)
            done = (cycle.residual <= DONE) & placed
            if on.residual is not None:
                foretold = cycle.residual * np.maximum(cycle.residual / on.residual, _CONTRACTION)
                trusted = ~done & placed & (short <= _TRUSTED) & (foretold <= _FORETOLD)
                cycle = cycle.moved(trusted, step_left, step_right, foretold)
                done |= trusted
            found.put(on.index, cycle)
            on.residual = cycle.residual
            on.move(step_left, step_right)
        else:
            done = (short <= rough) & (number > 0)
            on.move(step_left, step_right)
            found.left[on.index], found.right[on.index], found.period[on.index] = (
                on.left,
                on.right,
                cycle.period,
            )
            found.residual[on.index] = np.where(done, cycle.residual, np.nan)
        keep = np.flatnonzero(~done & np.isfinite(on.left) & np.isfinite(on.right))
        if not len(keep):
            break
        if len(keep) < len(on.index):
            on.keep(keep)
    assert lifts is not None
    return found, lifts


def beats_of(index: Indices, points: int) -> Indices:
    """Both beats of some of the points."""
    return np.concatenate([index, index + points])


def up_the_ladder(osc: Oscillators, left: Array, right: Array, steps: int = _STEPS) -> tuple[Cycle, Flags]:
    """Settled cycles near the given turning points (points,), and which of them are sound.

    Sound: closed to SETTLED, two rungs agree, and stable. The others are for the caller to decide.
    """
    cycle, lifts = newton(osc, left, right, LADDER[0], steps=_ROUGH_STEPS, rough=_ROUGH)
    found, sound = cycle, np.zeros(osc.size, bool)
    residual: Array | None = cycle.residual

    def step(rule: Rule, index: Indices) -> Indices:
        nonlocal cycle, lifts, residual, found
        before, part = cycle, osc if len(index) == osc.size else osc.take(index)
        cycle, lifts = newton(part, before.left, before.right, rule, lifts, steps=steps, residual=residual)
        residual = None
        if len(index) == osc.size:
            found = cycle
        else:
            found.put(index, cycle)
        closed = cycle.residual <= SETTLED
        agree = closed & (np.abs(cycle.amplitude - before.amplitude) <= _AGREE)
        agree &= np.abs(cycle.period - before.period) <= _SAME_PERIOD * cycle.period
        sound[index] = agree & (np.abs(cycle.slope) < 1.0)
        again = np.flatnonzero(closed & ~agree)
        cycle, lifts = cycle.take(again), lifts.take(beats_of(again, len(index)))
        return index[again]

    climb(LADDER[1:], np.arange(osc.size), step)
    return found, sound
