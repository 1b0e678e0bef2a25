"""Settled states of a batch: Newton first; what Newton leaves open is decided from above."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array, Codes, Indices
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.cycle import Cycle, empty_cycle
from oscsim.motion.from_above import CEILING, FOLLOWED, decide, undecided
from oscsim.motion.newton import SETTLED, up_the_ladder
from oscsim.motion.start import first_guess
from oscsim.motion.states import CODE, State

#: Points computed together: many enough that calling numpy costs little beside, and so few that the matrix products
#: stay below the size at which a BLAS starts threads.
CHUNK = 2048


@dataclass(frozen=True)
class SettledBatch:
    """A settled batch; every array (points,), angles rad, times in 1/ω.

    state: codes into ``STATES``; low, high: range of the amplitude, equal unless unsettled; ``cycle`` holds NaN
    where the state is stops, or knocks with a swing above the ceiling.
    """

    state: Codes
    low: Array
    high: Array
    cycle: Cycle

    def put(self, index: Indices, other: SettledBatch) -> None:
        """Overwrite the points ``index`` with those of ``other``."""
        self.state[index], self.low[index], self.high[index] = other.state, other.low, other.high
        self.cycle.put(index, other.cycle)


def settle(
    osc: Oscillators,
    knock_angle: Array,
    *,
    ceiling: float = CEILING,
    thorough: bool = True,
    followed: tuple[int, int] = FOLLOWED,
) -> SettledBatch:
    """Settle every point; ``knock_angle`` (points,), rad, is the swing at which the pin meets the horn.

    Above ``ceiling``, rad, no number is given. Points that Newton leaves open take some hundred times as long as the
    others; a search that only asks where a watch plainly runs goes without (``thorough`` False: they come as stops).
    ``followed``: periods for which a wandering point is followed before and while it is measured.
    """
    cycle = empty_cycle(osc.size)
    state = np.full(osc.size, CODE[State.RUNNING], np.int8)
    low, high = np.empty(osc.size), np.empty(osc.size)
    open_, far = np.zeros(osc.size, bool), np.zeros(osc.size, bool)
    with np.errstate(all="ignore"):
        for index in _chunks(osc.gravity != 0.0):
            part = osc if len(index) == osc.size else osc.take(index)
            guess = np.maximum(first_guess(part), 1.05 * part.reach)
            found, sound = up_the_ladder(part, guess, guess)
            cycle.put(index, found)
            low[index] = high[index] = found.amplitude
            open_[index] = ~sound
            # closed so far out that no number is given, where only the last digits are not sure
            far[index] = ~sound & (found.residual <= SETTLED) & (np.abs(found.slope) < 1.0)
            far[index] &= found.amplitude > CEILING
        # those that Newton leaves open are few in most chunks: together they are decided in fewer and fuller ones
        hard = np.flatnonzero(open_ & ~far)
        for chunk in _chunks(osc.gravity[hard] != 0.0):
            index = hard[chunk]
            decided = decide(osc.take(index), followed) if thorough else undecided(len(index))
            cycle.put(index, decided.cycle)
            state[index], low[index], high[index] = decided.state, decided.low, decided.high
        swing = np.fmax(np.maximum(cycle.left, cycle.right), high)
        knocks = (state != CODE[State.STOPS]) & (swing > knock_angle)
        state[knocks | far] = CODE[osc.right.beyond]
        beyond = np.flatnonzero((cycle.amplitude > ceiling) | far)
    cycle.put(beyond, empty_cycle(len(beyond)))
    low[beyond] = high[beyond] = np.nan
    return SettledBatch(state, low, high, cycle)


def stopped(points: int) -> SettledBatch:
    """Points none of which runs, to be overwritten where one does."""
    nothing = np.full(points, np.nan)
    return SettledBatch(
        np.full(points, CODE[State.STOPS], np.int8), nothing, nothing.copy(), empty_cycle(points)
    )


def _chunks(apart: Array) -> Iterator[Indices]:
    """Index arrays of at most CHUNK points; points with gravity apart from those without, which are cheaper."""
    if len(apart) <= CHUNK:
        yield np.arange(len(apart))
        return
    for kind in (False, True):
        index = np.flatnonzero(apart == kind)
        for start in range(0, len(index), CHUNK):
            yield index[start : start + CHUNK]
