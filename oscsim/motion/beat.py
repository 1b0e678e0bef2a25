"""One beat after another: from a turning point through the lift to the next turning point.

This is the map iterated by the watch itself. Settled states are found faster (cycle.py); the map
decides the cases in which there is no settled state to find.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array, Flags
from oscsim.motion.arcs import free_arc
from oscsim.motion.coefficients import Beats, Oscillators
from oscsim.motion.rules import Rule

#: Newton steps for the next turning point; the slope is true to (1/Q)², so each gains four digits or more.
_STEPS = 5
#: Relative step at which a turning point is found to rounding.
_CLOSE = 1e-13


@dataclass(frozen=True)
class Beat:
    """Beats of shape (points,); NaN where the beat fails.

    amplitude: the next turning point, rad; contact: time from the turning point to pin contact; tick: from
    contact to drop; after: from drop to the next turning point; turned: balance angle from contact to
    drop; lost: no impulse.
    """

    amplitude: Array
    contact: Array
    tick: Array
    after: Array
    turned: Array
    lost: Flags

    @property
    def time(self) -> Array:
        """From turning point to turning point."""
        return self.contact + self.tick + self.after


def beat(one: Beats, amplitude: Array, reach: Array, rule: Rule, close: float = _CLOSE) -> Beat:
    """The beat that starts at rest at -amplitude; ``reach``: the least swing from which the next beat goes on.

    All arrays (points,), rad. ``close``: relative step at which the next turning point is found; the step is taken, so
    that the turning point is then good to a ten-thousandth of it, but the times are good to the step alone.
    """
    x0 = one.escapement.pin_contact
    coming = free_arc(one, amplitude, x0, rule)
    through = one.escapement.lift(one.in_lift, coming.speed_squared, rule)
    w = through.speed_squared
    turn = np.sqrt(through.drop**2 + w)
    for _ in range(_STEPS):
        going = free_arc(one, turn, through.drop, rule, backwards=True)
        step = (going.speed_squared - w) / going.slope
        turn = np.maximum(turn - step, 0.5 * (turn + np.abs(through.drop)))
        if not (np.abs(step) > close * turn).any():
            break
    failed = ~(turn > reach) | ~(w > 0.0)
    turn = np.where(failed, np.nan, turn)
    return Beat(turn, coming.time, through.time, going.time, through.drop - x0, through.lost)


@dataclass(frozen=True)
class Period:
    """Two beats in a row, the first to the right; each (points,)."""

    first: Beat
    second: Beat

    @property
    def amplitude(self) -> Array:
        """P(A): the turning point after two beats."""
        return self.second.amplitude


def period(osc: Oscillators, amplitude: Array, rule: Rule, close: float = _CLOSE) -> Period:
    """The period map P from the left turning point ``amplitude`` (points,), rad; ``close`` as in ``beat``."""
    first = beat(osc.beats(+1), amplitude, osc.reach_right, rule, close)
    return Period(first, beat(osc.beats(-1), first.amplitude, osc.reach_left, rule, close))
