"""What moves the rate: each cause's share at a given amplitude, adding up to the whole.

The causes are put in one after another, from the bare hairspring to the watch as it is, always at the same
amplitude; a share is what the rate then moves by. Up to dry friction the balance is kept going by an ideal
impulse at the dead point; then the lever escapement takes over, first in beat, then as it stands.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.balance import Balance
from oscsim.motion.batch import joined
from oscsim.motion.free import free_period
from oscsim.motion.series import added
from oscsim.motion.sustain import Sustained, sustain
from oscsim.operating import OperatingPoints

#: Causes in the order in which they are put in, with the words shown.
CAUSES = {
    "regulation": "hairspring as set, temperature",
    "hairspring": "hairspring not linear",
    "hairspring_shape": "hairspring's shape, less at 270 deg",
    "hairspring_weight": "hairspring's weight",
    "index_pins": "play at the index pins",
    "poise": "want of poise",
    "drag": "air, oil and inner friction",
    "pivots": "dry friction at the pivots",
    "escapement": "escapement, in beat",
    "out_of_beat": "out of beat",
}

_FREE = {
    "hairspring": ("cubic",),
    "hairspring_shape": ("torque_series",),
    "hairspring_weight": ("torque_series",),
    "index_pins": ("pins_share",),
    "poise": ("gravity",),
    "drag": ("viscous", "quadratic"),
    "pivots": ("dry", "friction_series"),
}


class Shares(NamedTuple):
    """Shares by cause and the rate they add up to, s/day, each (points,), with the settled states they hold at."""

    by_cause: dict[str, Array]
    rate: Array
    whole: Sustained


def shares_at(points: OperatingPoints, amplitude: Array) -> Shares:
    """Shares of the rate at ``amplitude``, rad (points,), the drive being what keeps it up."""
    osc = points.oscillators
    rates = {"regulation": points.rate(np.full_like(amplitude, 2.0 * math.pi))}

    none = np.zeros_like(amplitude)
    own = osc.alone()
    light = added(osc.torque_series, -points.weight_series)
    bare = own | {name: np.zeros_like(own[name]) for names in _FREE.values() for name in names}
    last = rates["regulation"]
    for cause, names in _FREE.items():
        rates[cause] = last
        if not any(own[name].any() for name in names):
            continue
        bare |= {name: own[name] for name in names}
        if cause == "hairspring_shape":  # its weight comes after it
            bare["torque_series"] = light
        rates[cause] = last = points.rate(free_period(Balance(**bare), amplitude))
    in_beat = replace(osc, right=osc.right.in_beat(points.rest), left=osc.left.in_beat(-points.rest))
    both, size = sustain(joined([in_beat, osc]), np.tile(amplitude, 2)), osc.size
    whole = Sustained(both.factor[size:], both.cycle.take(slice(size, None)), both.sound[size:])
    rates["escapement"] = points.rate(both.cycle.period[:size])
    rates["out_of_beat"] = points.rate(whole.cycle.period)
    shares, before = {}, none
    for cause in CAUSES:
        shares[cause] = rates[cause] - before
        before = rates[cause]
    return Shares(shares, rates["out_of_beat"], whole)
