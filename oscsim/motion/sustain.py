"""The torque that keeps up a given amplitude: settled states with amplitude given and drive sought.

Unknowns are the difference of the two swings and the factor on the drive; the same gaps must close as in
cycle.py. Every amplitude has its torque, so a curve or map over amplitude needs no search.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oscsim.arrays import Array, Flags, Indices
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.cycle import Cycle, Gaps, empty_cycle, gaps
from oscsim.motion.ladder import climb
from oscsim.motion.newton import SETTLED, Closing, beats_of, close
from oscsim.motion.rules import LADDER, Rule
from oscsim.motion.start import first_drive
from oscsim.motion.states import State

#: Points computed together, as in settle.py.
CHUNK = 2048
_STEP = 1e-6
#: Steps on a rung; fewer where a swing that does not close is none that is sought.
_STEPS, _FEW_STEPS = 20, 8
#: On a finer rung the slopes with the drive are those of the rung before for so many evaluations, and once found they
#: are kept for so many more.
_KNOWN, _KEPT = 3, 2
#: After a longer step, rad or of the drive, the last events are no good guesses for the next.
_LEAP = 0.03
#: Change of the drive's logarithm at which the rough rung is left, and by which two rungs may differ.
_ROUGH, _AGREE = 1e-4, 1e-8
#: Swings over that which reaches the fork, among which the least drive is sought.
_ABOVE = 1.0 + np.array([1e-3, 1e-2, 2.5e-2, 5e-2, 0.1, 0.25, 1.0])
#: Where more than so many of the smallest of them do not close, the least drive may be among those.
_MISSED = 2


@dataclass(frozen=True)
class Sustained:
    """Cycles with given amplitude, each (points,): factor on the drive of the batch, cycle, and whether it is
    sound: closed, the rungs agree, every impulse given, and stable, so that a watch can settle there."""

    factor: Array
    cycle: Cycle
    sound: Flags

    def reached(self, ceiling: float) -> Flags:
        """Where the amplitude is kept up by a drive of at most ``ceiling`` times that of the batch."""
        return np.asarray(self.sound & (self.factor <= ceiling))

    def states(self, knock_angle: Array, beyond: State, ceiling: float) -> NDArray[np.str_]:
        """The word of the state of each: not reached below ``ceiling``, ``beyond`` where a swing goes past
        ``knock_angle``, else running."""
        larger = np.maximum(self.cycle.left, self.cycle.right)
        there = np.where(larger > knock_angle, beyond.label, State.RUNNING.label)
        return np.where(self.reached(ceiling), there, State.UNREACHED.label)


def sustain(osc: Oscillators, amplitude: Array, *, agree: float = _AGREE) -> Sustained:
    """The drive, as a factor on that of ``osc``, that keeps up ``amplitude`` (points,), rad: mean of both swings.

    Where the amplitude is NaN the answer is NaN and not sound. ``agree``: by which share the drives of two rungs may
    differ; the finer one is then good to a hundredth of it or better.
    """
    factor, cycle = np.full(osc.size, np.nan), empty_cycle(osc.size)
    sound = np.zeros(osc.size, bool)
    with np.errstate(all="ignore"):
        given = np.flatnonzero(np.isfinite(amplitude))
        for start in range(0, len(given), CHUNK):
            part = given[start : start + CHUNK]
            factor[part], found, sound[part] = _chunk(osc.take(part), amplitude[part], agree)
            cycle.put(part, found)
    return Sustained(factor, cycle, sound)


def least_drive(osc: Oscillators) -> tuple[Array, Array, Array]:
    """The least drive, as a factor on that of ``osc``, that keeps up any swing, the left swing, rad, that it keeps up,
    and by how much the right one is larger; all (points,), NaN where no cycle closes or only far above the fork.

    Drive over amplitude is smooth. Its least value lies among the swings tried or, as a rule, where one of the two
    swings just reaches the fork, to which a parabola through the smallest that close is drawn on. It is good to about a
    thousandth.
    """
    reach = np.stack([osc.reach_left, osc.reach_right])
    with np.errstate(all="ignore"):
        count, rows = len(_ABOVE), np.arange(osc.size)
        swing = reach.max(axis=0)[:, None] * _ABOVE
        wide = osc.take(np.repeat(rows, count))
        on = _held(wide, swing.reshape(-1))
        drive = on.drive[0]
        # a step so short leaves an error of its square
        cycle, _ = close(on, LADDER[1], steps=_FEW_STEPS, rough=_ROUGH)
        factor, left, right = (v.reshape(-1, count) for v in (drive, cycle.left, cycle.right))
        closed = np.isfinite(cycle.residual.reshape(-1, count)) & (factor > 0.0)
        factor = np.where(closed, factor, np.inf)
        least = factor.argmin(axis=1)
        first = np.minimum(closed.argmax(axis=1), count - 3)
        x, y = ((v[rows[:, None], first[:, None] + np.arange(3)]) for v in (swing, factor))
        spare = np.minimum(left[rows, first] - reach[0], right[rows, first] - reach[1])
        at = x[:, 0] - spare
        drawn = _parabola(x, y, at)
        edge = (least == first) & (drawn < factor[rows, least])
        found = np.where(edge, drawn, factor[rows, least])
        kept = np.where(edge, left[rows, first] - spare, left[rows, least])
        apart = (right - left)[rows, least]
    known = np.isfinite(found) & (closed.argmax(axis=1) <= _MISSED)
    return np.where(known, found, np.nan), np.where(known, kept, np.nan), np.where(known, apart, np.nan)


def _parabola(x: Array, y: Array, at: Array) -> Array:
    """The parabola through three places (points, 3), ``at`` (points,)."""
    apart = at[:, None] - x
    one, two, three = (
        y[:, i] * apart[:, j] * apart[:, k] / ((x[:, i] - x[:, j]) * (x[:, i] - x[:, k]))
        for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1))
    )
    return np.asarray(one + two + three)


def _chunk(osc: Oscillators, amplitude: Array, most_apart: float) -> tuple[Array, Cycle, Flags]:
    on = _held(osc, amplitude)
    drive = on.drive
    cycle, lifts = close(on, LADDER[0], steps=_STEPS, rough=_ROUGH)
    found, sound = cycle, np.zeros(osc.size, bool)
    residual: Array | None = cycle.residual

    def step(rule: Rule, index: Indices) -> Indices:
        nonlocal cycle, lifts, residual
        part = osc if len(index) == osc.size else osc.take(index)
        before = drive[:, index]
        on = _Held.at(part, cycle.left, cycle.right, lifts, residual, drive=before.copy(), known=_KNOWN)
        cycle, lifts = close(on, rule, steps=_STEPS)
        drive[:, index], residual = on.drive, None
        found.put(index, cycle)
        closed = cycle.residual <= SETTLED
        agree = closed & (np.abs(on.drive[0] / before[0] - 1.0) <= most_apart)
        sound[index] = agree & (cycle.slope < 1.0) & ~cycle.lost.any(axis=0)
        again = np.flatnonzero(closed & ~agree)
        cycle, lifts = cycle.take(again), lifts.take(beats_of(again, len(index)))
        return index[again]

    climb(LADDER[1:], np.arange(osc.size), step)
    return drive[0], found, sound


def _held(osc: Oscillators, amplitude: Array) -> _Held:
    """The points of a batch at the drive that to first order keeps up ``amplitude``."""
    drive = np.full((3, osc.size), np.nan)
    drive[0] = first_drive(osc, amplitude)
    return _Held.at(osc, amplitude, amplitude, drive=drive, known=0)


@dataclass(kw_only=True)
class _Held(Closing):
    """Points whose mean swing is given: sought are half the difference of the swings and the factor on the drive.

    drive (3, all points): the factor, and the slopes of both gaps with it; ``known``: for so many evaluations the
    slopes are taken as they are.
    """

    leap = _LEAP

    drive: Array
    known: int

    def evaluate(self, rule: Rule) -> tuple[Gaps, Array, Array, Array]:
        factor = self.drive[0, self.index]
        both = self.both.driven(np.tile(factor, 2))
        trial = gaps(both, self.left, self.right, rule, self.near)
        (R1, R2), (D1, D2), (E1, E2) = trial.gap, trial.before, trial.after
        if self.known:
            self.known -= 1
        else:
            self.drive[1:, self.index] = self._slopes(factor, trial, rule)
            self.known = _KEPT
        T1, T2 = self.drive[1:, self.index]
        # gap 1 falls by D1 + E1 with the shift, gap 2 rises by D2 + E2
        S1, S2 = -(D1 + E1), D2 + E2
        det = S1 * T2 - S2 * T1
        shift, move = (R2 * T1 - R1 * T2) / det, (R1 * S2 - R2 * S1) / det
        # no wild steps where slopes mislead
        self.drive[0, self.index] = np.clip(factor + move, 0.5 * factor, 2.0 * factor)
        return trial, shift, -shift, np.abs(move) / factor + 2.0 * np.abs(shift)

    def move(self, step_left: Array, step_right: Array) -> None:
        self.left, self.right = self.left + step_left, self.right + step_right

    def _slopes(self, factor: Array, trial: Gaps, rule: Rule) -> Array:
        """Slopes of the two gaps with the factor on the drive, (2, points): only the lifts depend on it."""
        both, lifts = self.both.driven(np.tile(factor * (1.0 + _STEP), 2)), trial.lifts
        # the same guesses, so that their error cancels
        faster = both.escapement.lift(both.in_lift, lifts.contact, rule, self.near)
        torque = both.in_lift.torque_at(lifts.drop, np.sqrt(lifts.speed_squared))
        change = 2.0 * torque * (faster.drop - lifts.drop) - (faster.speed_squared - lifts.speed_squared)
        return np.asarray(change.reshape(2, -1) / (factor * _STEP))
