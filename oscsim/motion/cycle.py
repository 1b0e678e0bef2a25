"""The settled cycle: the two turning points that repeat themselves, for a whole batch at once.

Unknowns are both turning points of a period. Every free arc is computed from its own turning point, so both
beats of all points form one explicit batch, and what must vanish is the step in v² at each drop. Its slopes
are known almost exactly, so Newton's method needs three or four evaluations.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from oscsim.arrays import Array, Flags, Indices
from oscsim.motion.arcs import free_arc
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.lift import Lift, lift
from oscsim.motion.rules import Rule


@dataclass(frozen=True)
class Cycle:
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

    def put(self, index: Indices, other: Cycle) -> None:
        """Overwrite the points ``index`` with those of ``other``."""
        for f in fields(self):
            getattr(self, f.name)[..., index] = getattr(other, f.name)

    def take(self, index: Indices | Flags | slice) -> Cycle:
        """The chosen points."""
        return Cycle(*(getattr(self, f.name)[..., index] for f in fields(self)))


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


def evaluate(
    both: Oscillators, left: Array, right: Array, rule: Rule, near: Lift | None = None
) -> tuple[Cycle, Array, Array, Lift]:
    """The cycle through the turning points -left and +right, the Newton step that would close it, its lifts.

    ``both``: both beats of every point, (2 points,); left, right (points,); ``near``: lifts of both beats at
    almost the same turning points, for first guesses. NaN where a beat fails.
    """
    n = len(left)
    here, there = np.concatenate([left, right]), np.concatenate([right, left])
    coming = free_arc(both, here, both.pin_contact, rule)
    lifts = lift(both, coming.speed_squared, rule, near)
    drop, w = lifts.drop, lifts.speed_squared
    going = free_arc(both, there, drop, rule, backwards=True)
    gap = going.speed_squared - w

    # slopes of the gap: D with the turning point before the beat, E with the one after it
    D = lifts.slope * coming.slope
    if lifts.drop_slope.any():
        D = D - 2.0 * both.torque_at(drop, np.sqrt(w)) * lifts.drop_slope * coming.slope
    E = going.slope
    D1, D2, E1, E2 = D[:n], D[n:], E[n:], E[:n]
    R1, R2 = gap[:n], gap[n:]
    det = D1 * D2 - E1 * E2
    step_left = (R1 * D2 + R2 * E2) / det
    step_right = (R2 * D1 + R1 * E1) / det

    ticks, after = lifts.time.reshape(2, n), going.time.reshape(2, n)
    before = coming.time.reshape(2, n)
    cycle = Cycle(
        left=left,
        right=right,
        residual=np.abs(D2 * R1 / E2 + R2) / E1,
        slope=D1 * D2 / (E1 * E2),
        period=(before + ticks + after).sum(axis=0),
        ticks=ticks,
        intervals=ticks + after + before[::-1],
        turned=(drop - both.pin_contact).reshape(2, n),
        lost=lifts.lost.reshape(2, n),
    )
    return cycle, step_left, step_right, lifts
