"""The balance and hairspring by themselves, kept going by an ideal impulse at the dead point.

An impulse at the dead point leaves the period alone (Airy 1826), so this is the rate that every escapement is
measured against. Both swings have the given amplitude; each quarter is an arc from its turning point.
"""

from __future__ import annotations

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.arcs import free_arc
from oscsim.motion.balance import Balance
from oscsim.motion.rules import LADDER, Rule


def free_period(balance: Balance, amplitude: Array, rule: Rule = LADDER[2]) -> Array:
    """Period in 1/ω at ``amplitude``, rad; all (points,). NaN where the balance cannot swing so far."""
    other = Balance(**balance.turned())
    dead_point = np.zeros_like(amplitude)
    with np.errstate(all="ignore"):
        quarters = [
            free_arc(side, amplitude, dead_point, rule, backwards=backwards).time
            for side in (balance, other)
            for backwards in (False, True)
        ]
    return np.asarray(sum(quarters))
