"""A watch that knocks, as it runs: its pin strikes the fork's horn and comes back with a share of its speed.

The period map with the rebound in it. A swing that would turn beyond the knock angle ends there; the balance starts
back with ``restitution`` of the speed it struck with, which is the start of a beat that turned a little further out,
less the time it would have spent there. What is left of a swing's excess shrinks by restitution² a strike, so a few
periods settle it; over some more the mean is taken, since a light knock may come in some beats and not in others.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.arcs import free_arc
from oscsim.motion.beat import beat
from oscsim.motion.coefficients import Beats, Oscillators
from oscsim.motion.rules import LADDER, Rule

#: Periods after which the mean is taken where the rebounds do not settle, and those over which it is.
_BEFORE, _MEAN = 32, 16
#: Relative change of the turning point at which they have settled.
_SETTLED = 1e-11
#: Newton steps for the turning point that belongs to a speed at the horn.
_STEPS = 4


@dataclass(frozen=True)
class Rebounding:
    """Mean swing, rad, no larger than the knock angle, and mean period, 1/ω; each (points,)."""

    amplitude: Array
    period: Array


def rebounding(osc: Oscillators, knock: Array, restitution: Array, rule: Rule = LADDER[2]) -> Rebounding:
    """How watches run that knock; ``knock``, rad, and ``restitution``, (points,); NaN where one stops."""
    begins, swings, times = knock.copy(), [], []
    with np.errstate(all="ignore"):
        for _ in range(_BEFORE + _MEAN):
            before = begins
            begins, swing, time = _period(osc, begins, knock, restitution, rule)
            swings.append(swing)
            times.append(time)
            if not (np.abs(begins - before) > _SETTLED * knock).any():
                return Rebounding(swing, time)
    return Rebounding(np.mean(swings[-_MEAN:], axis=0), np.mean(times[-_MEAN:], axis=0))


def _period(
    osc: Oscillators, begins: Array, knock: Array, restitution: Array, rule: Rule
) -> tuple[Array, Array, Array]:
    """One period from the turning point ``begins`` on the left: that of the next, mean swing, time; each (points,)."""
    sides = ((osc.beats(+1), osc.reach_right), (osc.beats(-1), osc.reach_left))
    swing, time = np.zeros(osc.size), np.zeros(osc.size)
    for (one, reach), (other, _) in zip(sides, sides[::-1], strict=True):
        found = beat(one, begins, reach, rule)
        struck = found.amplitude > knock
        # outward at the horn, on the way to where it would have turned
        strike = free_arc(one, found.amplitude, knock, rule, backwards=True)
        spent = np.where(begins > knock, free_arc(one, begins, -knock, rule).time, 0.0)
        swing += 0.5 * np.minimum(found.amplitude, knock)
        time += found.time - spent - np.where(struck, strike.time, 0.0)
        back = restitution**2 * np.maximum(strike.speed_squared, 0.0)
        begins = np.where(struck, _turning(other, knock, back, rule), found.amplitude)
    return begins, swing, time


def _turning(one: Beats, knock: Array, speed_squared: Array, rule: Rule) -> Array:
    """The turning point from which a balance set free has this speed inward at the horn."""
    turn = np.sqrt(knock**2 + speed_squared)
    for _ in range(_STEPS):
        arc = free_arc(one, turn, -knock, rule)
        turn = np.maximum(turn - (arc.speed_squared - speed_squared) / arc.slope, knock * (1.0 + 1e-12))
    return turn
