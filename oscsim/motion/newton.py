"""Newton's method on the cycle, up the ladder of rules; points that are done or hopeless leave the batch."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, ClassVar, Self

import numpy as np

from oscsim.arrays import Array, Flags, Indices
from oscsim.motion.coefficients import Beats, Oscillators
from oscsim.motion.cycle import Cycle, Gaps, empty_cycle, gaps
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
_ROUGH = 3e-5
#: Two rungs whose amplitudes agree to this, rad, leave the finer one good to 1e-11 or better (measured:
#: each rung gains two digits or more on the one below, three or more where the lower is that good).
_AGREE = 1e-8
#: The same for the period, relative; 1e-8 is a thousandth of a second a day, and the finer rung far better.
_SAME_PERIOD = 1e-8
_ROUGH_STEPS, _STEPS = 6, 6


@dataclass(kw_only=True)
class Closing:
    """The points that are still being closed: which they are, their beats, turning points and the least swings that
    reach the escapement, what the residual was before the last step (NaN: not known), and their last lifts.

    Sought are both turning points; in ``sustain.py`` their difference and the drive.
    """

    #: a step, rad, after which the last events are no good guesses for the next
    leap: ClassVar[float] = math.inf

    index: Indices
    both: Beats
    left: Array
    right: Array
    reach_left: Array
    reach_right: Array
    residual: Array
    near: Lift | None

    @classmethod
    def at(
        cls,
        osc: Oscillators,
        left: Array,
        right: Array,
        near: Lift | None = None,
        residual: Array | None = None,
        **own: Any,
    ) -> Self:
        """All points of the batch at the turning points ``left`` and ``right`` (points,), rad; ``near``: lifts of both
        beats near there; ``residual`` (points,): what it was before the step that led there."""
        return cls(
            index=np.arange(osc.size),
            both=osc.both_beats,
            left=left,
            right=right,
            reach_left=osc.reach_left,
            reach_right=osc.reach_right,
            residual=np.full(osc.size, np.nan) if residual is None else residual,
            near=near,
            **own,
        )

    def evaluate(self, rule: Rule) -> tuple[Gaps, Array, Array, Array]:
        """The gaps as things stand, the steps of the left and right turning points that would close them, and the size
        of these, rad."""
        trial = gaps(self.both, self.left, self.right, rule, self.near)
        step_left, step_right = trial.step()
        return trial, step_left, step_right, np.abs(step_left) + np.abs(step_right)

    def keep(self, chosen: Indices) -> None:
        """Only the ``chosen`` of them from now on."""
        beats = beats_of(chosen, len(self.index))
        self.both = self.both.take(beats)
        self.near = None if self.near is None else self.near.take(beats)
        self.index, self.residual = self.index[chosen], self.residual[chosen]
        self.left, self.right = self.left[chosen], self.right[chosen]
        self.reach_left, self.reach_right = self.reach_left[chosen], self.reach_right[chosen]

    def move(self, step_left: Array, step_right: Array) -> None:
        """Take the step; it may not carry the swing below what reaches the escapement."""
        self.left = np.maximum(self.left + step_left, 0.5 * (self.left + self.reach_left))
        self.right = np.maximum(self.right + step_right, 0.5 * (self.right + self.reach_right))


def close(on: Closing, rule: Rule, *, steps: int, rough: float | None = None) -> tuple[Cycle, Lift]:
    """Close the cycles of ``on``, which is used up by it; all (points,).

    Each point stops when it is closed, or with ``rough`` when its step, rad, is that small (the cycle then
    holds only the improved turning points and the period, and the first evaluation is on ``OPENING``). Points
    that fail keep NaN in ``residual``. The lifts returned belong to the last evaluation of every point.

    A step divides the residual by a factor that the last two evaluations tell; a point whose next step is short and
    would close it takes that step without being evaluated again, and its residual is the one foretold.
    """
    points = len(on.index)
    found, lifts = empty_cycle(points), on.near
    for number in range(steps):
        opening = rough is not None and number == 0
        trial, step_left, step_right, size = on.evaluate(OPENING if opening else rule)
        cycle, passed = trial.cycle, trial.lifts
        if lifts is None or len(on.index) == points:
            lifts = passed
        else:
            lifts = lifts.with_points(beats_of(on.index, points), passed)
        # points that fail leave the batch, so they are not asked
        on.near = None if (size >= on.leap).any() else passed
        if rough is None:
            placed = passed.placed.reshape(2, -1).all(axis=0) | (number == steps - 1)
            done = (cycle.residual <= DONE) & placed
            foretold = cycle.residual * np.maximum(cycle.residual / on.residual, _CONTRACTION)
            trusted = ~done & placed & (size <= _TRUSTED) & (foretold <= _FORETOLD)
            found.put(on.index, cycle.moved(trusted, step_left, step_right, foretold))
            done |= trusted
            on.residual = cycle.residual
            on.move(step_left, step_right)
        else:
            done = (size <= rough) & (number > 0)
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
    cycle, lifts = close(Closing.at(osc, left, right), LADDER[0], steps=_ROUGH_STEPS, rough=_ROUGH)
    found, sound = cycle, np.zeros(osc.size, bool)
    residual: Array | None = cycle.residual

    def step(rule: Rule, index: Indices) -> Indices:
        nonlocal cycle, lifts, residual, found
        before, part = cycle, osc if len(index) == osc.size else osc.take(index)
        on = Closing.at(part, before.left, before.right, lifts, residual)
        cycle, lifts = close(on, rule, steps=steps)
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
