"""A batch of oscillators: a balance, and an escapement for each of the two beats of a period.

A beat is told in its own frame, in which the balance moves to positive x (x = sθ, s = +1 for the beat to the right and
-1 for the one to the left). Each side has its escapement in that frame; where both act alike the one to the left
is the mirror image of the other.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.balance import Balance
from oscsim.motion.batch import joined
from oscsim.motion.escapement import Escapement

__all__ = ["Beats", "Oscillators", "joined"]


@dataclass(frozen=True, kw_only=True)
class Beats(Balance):
    """A batch of beats, each in its own frame."""

    escapement: Escapement

    @cached_property
    def in_lift(self) -> Balance:
        """The balance for the angles at which it may touch the escapement."""
        if not self.any_series:
            return self
        ends = np.stack([self.escapement.pin_contact, self.escapement.last_contact])
        return self.within(float(np.abs(ends).max(initial=0.0)))

    def driven(self, factor: Array) -> Beats:
        """The same beats with the torque on the escape wheel multiplied by ``factor``."""
        beats = replace(self, escapement=self.escapement.driven(factor))
        # the balance is the same: what it has worked out so far need not be worked out again
        vars(beats).update({name: known for name, known in vars(self).items() if name not in vars(beats)})
        return beats


@dataclass(frozen=True, kw_only=True)
class Oscillators(Balance):
    """A batch of oscillators: the balance with its hairspring, and the escapement in the beat to either side."""

    right: Escapement  # s = +1
    left: Escapement  # s = -1, in the frame of its beat

    def beats(self, side: int) -> Beats:
        """The beats to the side s = +1 or -1."""
        if side > 0:
            return Beats(**self.alone(), escapement=self.right)
        return Beats(**self.turned(), escapement=self.left)

    @cached_property
    def both_beats(self) -> Beats:
        """Shape (2 points,): the beats s = +1 of every point, then the beats s = -1."""
        return joined([self.beats(+1), self.beats(-1)])

    def mirrored(self) -> Oscillators:
        """The same oscillators seen from the other side: left is right."""
        return Oscillators(**self.turned(), right=self.left, left=self.right)

    def with_escapement(self, change: Callable[[Escapement], Escapement]) -> Oscillators:
        """The same batch with ``change`` applied to the escapement of either side."""
        return replace(self, right=change(self.right), left=change(self.left))

    def driven(self, factor: Array) -> Oscillators:
        """The same batch with the torque on the escape wheel multiplied by ``factor``."""
        return self.with_escapement(lambda escapement: escapement.driven(factor))

    @property
    def reach_left(self) -> Array:
        """The least swing to the left, rad, from which the balance reaches the escapement again: (points,)."""
        return -self.right.pin_contact

    @property
    def reach_right(self) -> Array:
        """The same to the right."""
        return -self.left.pin_contact

    @property
    def reach(self) -> Array:
        """The least swing that reaches the escapement from both sides, rad."""
        return np.maximum(self.reach_left, self.reach_right)
