"""Want of poise of an ordinary movement."""

from oscsim.arrays import Number
from oscsim.units import G0, UG_CM

#: Want of poise of an ordinary movement: torque of the heavy point over the hairspring's stiffness; it moves the
#: vertical rates by some 8 s/day either way at 270 deg.
_POISE = 0.0015


def usual_unbalance_ug_cm(stiffness: Number) -> Number:
    """Want of poise of an ordinary movement, µg·cm, whose hairspring has this stiffness, N·m."""
    return _POISE * stiffness / (G0 * UG_CM)
