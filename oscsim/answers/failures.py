"""Why does it stop? Let down, not unlocked any more, or the wheel too late to give an impulse."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from oscsim.arrays import Codes
from oscsim.motion.from_above import caught
from oscsim.motion.states import CODE, Failure, State
from oscsim.operating import OperatingPoints


def failures(points: OperatingPoints, code: Codes) -> NDArray[np.object_]:
    """The word of the failure at every point that stops or wanders, None elsewhere; ``code``, the states, in the
    points' shape.

    Not caught: the wheel comes too late at every swing (or, where it wanders, at some). Not unlocked: it comes in time
    at some, and yet the swing dies away until it no longer unlocks; or no swing unlocks at all.
    """
    word = np.full(points.oscillators.size, None, object)
    states = np.ravel(code)
    word[states == CODE[State.UNSETTLED]] = Failure.NOT_CAUGHT.value
    stops = states == CODE[State.STOPS]
    if stops.any():
        given, late = caught(points.oscillators.take(np.flatnonzero(stops)))
        word[stops] = np.where(late & ~given, Failure.NOT_CAUGHT.value, Failure.NOT_UNLOCKED.value)
        word[stops & ~(np.ravel(points.escape_torque) > 0.0)] = Failure.LET_DOWN.value
    return word.reshape(np.shape(code))
