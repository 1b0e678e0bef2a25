"""The settled cycle: the two turning points that repeat themselves, for a whole batch at once.

Unknowns are both turning points of a period. Every free arc is computed from its own turning point, so both
beats of all points form one explicit batch, and what must vanish is the step in v² at each drop. Its slopes
are known almost exactly, so Newton's method needs three or four evaluations.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from oscsim.arrays import Array, Flags
from oscsim.motion.arcs import free_arc
from oscsim.motion.batch import Batch
from oscsim.motion.coefficients import Beats
from oscsim.motion.escapement import Lift
from oscsim.motion.rules import Rule


@dataclass(frozen=True, kw_only=True)
class Cycle(Batch):
    """Cycles of shape (points,), angles in rad, times in 1/ω.

    left, right: turning points; residual: |P(A) - A|; slope: P'(A), stable below 1; period; ticks (2, points):
    pin contact to drop; intervals (2, points): between successive pin contacts; turned (2, points): balance
    angle from contact to drop; lost (2, points): no impulse in that beat.
    """

    left: Array
    right: Array
    residual: Array
    slope: Array
    period: Array
    ticks: Array
    intervals: Array
    turned: Array
    lost: Flags

    @property
    def amplitude(self) -> Array:
        """Mean of the two swings."""
        return 0.5 * (self.left + self.right)

    def moved(self, chosen: Flags, left: Array, right: Array, residual: Array) -> Cycle:
        """The same with the turning points of the ``chosen`` moved a last, short step; their residual is given.

        Of the rest only the ticks feel so short a step: they go as one over the swing, nearly.
        """
        new_left = np.where(chosen, self.left + left, self.left)
        new_right = np.where(chosen, self.right + right, self.right)
        return replace(
            self,
            left=new_left,
            right=new_right,
            residual=np.where(chosen, residual, self.residual),
            ticks=self.ticks * np.stack([self.left / new_left, self.right / new_right]),
        )


def empty_cycle(points: int) -> Cycle:
    """Cycles not yet known: NaN throughout."""

    def unknown(*shape: int) -> Array:
        return np.full(shape, np.nan)

    return Cycle(
        left=unknown(points),
        right=unknown(points),
        residual=unknown(points),
        slope=unknown(points),
        period=unknown(points),
        ticks=unknown(2, points),
        intervals=unknown(2, points),
        turned=unknown(2, points),
        lost=np.zeros((2, points), bool),
    )


@dataclass(frozen=True)
class Gaps:
    """How far a cycle is from closing: the step in v² at each drop, with what it depends on.

    All (points,), first for the beats from the left turning point, then for those from the right: gap; its slope
    with the turning point before the beat is -before, with the one after it +after.
    """

    cycle: Cycle
    gap: tuple[Array, Array]
    before: tuple[Array, Array]
    after: tuple[Array, Array]
    lifts: Lift

    def step(self) -> tuple[Array, Array]:
        """Newton's step of the left and right turning points that would close the cycle."""
        (R1, R2), (D1, D2), (E1, E2) = self.gap, self.before, self.after
        det = D1 * D2 - E1 * E2
        return (R1 * D2 + R2 * E1) / det, (R2 * D1 + R1 * E2) / det


def gaps(both: Beats, left: Array, right: Array, rule: Rule, near: Lift | None = None) -> Gaps:
    """The cycle through the turning points -left and +right.

    ``both``: both beats of every point, (2 points,); left, right (points,); ``near``: lifts of both beats at
    almost the same turning points, for first guesses. NaN where a beat fails.
    """
    n = len(left)
    here, there = np.concatenate([left, right]), np.concatenate([right, left])
    x0 = both.escapement.pin_contact
    coming = free_arc(both, here, x0, rule)
    lifts = both.escapement.lift(both.in_lift, coming.speed_squared, rule, near)
    going = free_arc(both, there, lifts.drop, rule, backwards=True)
    gap = going.speed_squared - lifts.speed_squared
    before = lifts.slope * coming.slope
    if lifts.drop_slope.any():
        torque = both.in_lift.torque_at(lifts.drop, np.sqrt(lifts.speed_squared))
        before = before - 2.0 * torque * lifts.drop_slope * coming.slope
    (R1, R2), (D1, D2), (E1, E2) = (_halves(values) for values in (gap, before, going.slope))

    ticks, outward = lifts.time.reshape(2, n), going.time.reshape(2, n)
    inward = coming.time.reshape(2, n)
    cycle = Cycle(
        left=left,
        right=right,
        residual=np.abs(D2 * R1 / E1 + R2) / E2,
        slope=D1 * D2 / (E1 * E2),
        period=(inward + ticks + outward).sum(axis=0),
        ticks=ticks,
        intervals=ticks + outward + inward[::-1],
        turned=(lifts.drop - x0).reshape(2, n),
        lost=lifts.lost.reshape(2, n),
    )
    return Gaps(cycle, (R1, R2), (D1, D2), (E1, E2), lifts)


def _halves(values: Array) -> tuple[Array, Array]:
    return values[: len(values) // 2], values[len(values) // 2 :]
