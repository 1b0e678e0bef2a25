"""The torque that keeps up a given amplitude: settled states with amplitude given and drive sought.

Unknowns are the difference of the two swings and the factor on the drive; the same gaps must close as in
cycle.py. Every amplitude has its torque, so a curve or map over amplitude needs no search.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array, Flags, Indices
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.cycle import Cycle, Gaps, empty_cycle, gaps
from oscsim.motion.escapement import Lift
from oscsim.motion.ladder import climb
from oscsim.motion.newton import DONE, SETTLED, beats_of
from oscsim.motion.rules import LADDER, Rule
from oscsim.motion.start import first_drive

#: Points computed together, as in settle.py.
CHUNK = 2048
_STEP = 1e-6
_STEPS = 20
#: Change of the drive's logarithm at which the rough rung is left, and by which two rungs may differ.
_ROUGH, _AGREE = 1e-4, 1e-8
#: Swings over that which reaches the fork, among which the least drive is sought.
_ABOVE = 1.0 + np.array([1e-3, 1e-2, 2.5e-2, 5e-2, 0.1, 0.25, 1.0])


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


def sustain(osc: Oscillators, amplitude: Array) -> Sustained:
    """The drive, as a factor on that of ``osc``, that keeps up ``amplitude`` (points,), rad: mean of both swings.

    Where the amplitude is NaN the answer is NaN and not sound.
    """
    factor, cycle = np.full(osc.size, np.nan), empty_cycle(osc.size)
    sound = np.zeros(osc.size, bool)
    with np.errstate(all="ignore"):
        given = np.flatnonzero(np.isfinite(amplitude))
        for start in range(0, len(given), CHUNK):
            part = given[start : start + CHUNK]
            factor[part], found, sound[part] = _chunk(osc.take(part), amplitude[part])
            cycle.put(part, found)
    return Sustained(factor, cycle, sound)


def least_drive(osc: Oscillators) -> tuple[Array, Array]:
    """The least drive, as a factor on that of ``osc``, that keeps up any swing, and the left swing, rad, that it keeps
    up; both (points,), NaN where no cycle closes.

    Drive over amplitude is smooth. Its least value lies among the swings tried or, as a rule, where one of the two
    swings just reaches the fork, to which a parabola through the smallest that close is drawn on. It is good to about a
    thousandth.
    """
    reach = np.stack([osc.reach_left, osc.reach_right])
    with np.errstate(all="ignore"):
        count, rows = len(_ABOVE), np.arange(osc.size)
        swing = reach.max(axis=0)[:, None] * _ABOVE
        wide = osc.take(np.repeat(rows, count))
        factor, cycle, _ = _chunk(wide, swing.reshape(-1), LADDER[:2])
        factor, left, right = (v.reshape(-1, count) for v in (factor, cycle.left, cycle.right))
        closed = (cycle.residual.reshape(-1, count) <= SETTLED) & (factor > 0.0)
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
    known = np.isfinite(found)
    return np.where(known, found, np.nan), np.where(known, kept, np.nan)


def _parabola(x: Array, y: Array, at: Array) -> Array:
    """The parabola through three places (points, 3), ``at`` (points,)."""
    apart = at[:, None] - x
    one, two, three = (
        y[:, i] * apart[:, j] * apart[:, k] / ((x[:, i] - x[:, j]) * (x[:, i] - x[:, k]))
        for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1))
    )
    return np.asarray(one + two + three)


def _chunk(
    osc: Oscillators, amplitude: Array, ladder: tuple[Rule, ...] = LADDER
) -> tuple[Array, Cycle, Flags]:
    shift, factor = np.zeros_like(amplitude), first_drive(osc, amplitude)
    found, sound = empty_cycle(osc.size), np.zeros(osc.size, bool)
    lifts: Lift | None = None

    def step(rule: Rule, index: Indices) -> Indices:
        nonlocal lifts
        part = osc if len(index) == osc.size else osc.take(index)
        before = factor[index]
        shift[index], factor[index], cycle, lifts = _close(
            part, amplitude[index], shift[index], before, rule, lifts, rough=rule is LADDER[0]
        )
        found.put(index, cycle)
        if rule is LADDER[0]:
            return index
        closed = cycle.residual <= SETTLED
        agree = closed & (np.abs(factor[index] / before - 1.0) <= _AGREE)
        sound[index] = agree & (cycle.slope < 1.0) & ~cycle.lost.any(axis=0)
        again = np.flatnonzero(closed & ~agree)
        lifts = lifts.take(beats_of(again, len(index)))
        return index[again]

    climb(ladder, np.arange(osc.size), step)
    return factor, found, sound


def _close(
    osc: Oscillators,
    amplitude: Array,
    shift: Array,
    factor: Array,
    rule: Rule,
    near: Lift | None,
    *,
    rough: bool,
) -> tuple[Array, Array, Cycle, Lift]:
    """Newton's method on half the difference of the swings and on the drive, until every point is closed."""
    for number in range(_STEPS):
        both = osc.both_beats.driven(np.concatenate([factor, factor]))
        trial = gaps(both, amplitude + shift, amplitude - shift, rule, near)
        (R1, R2), (D1, D2), (E1, E2) = trial.gap, trial.before, trial.after
        T1, T2 = _with_drive(osc, factor, trial, rule, near)
        # gap 1 falls by D1 + E1 with the shift, gap 2 rises by D2 + E2
        S1, S2 = -(D1 + E1), D2 + E2
        det = S1 * T2 - S2 * T1
        move_shift, move = (R2 * T1 - R1 * T2) / det, (R1 * S2 - R2 * S1) / det
        placed = trial.lifts.placed.reshape(2, -1).all(axis=0)
        done = np.abs(move) <= _ROUGH * factor if rough else (trial.cycle.residual <= DONE) & placed
        finished = bool((done | ~np.isfinite(move)).all())
        if finished and not rough:
            break
        shift = shift + move_shift
        factor = np.clip(factor + move, 0.5 * factor, 2.0 * factor)  # no wild steps where slopes mislead
        if finished:
            break
        near = trial.lifts if number > 0 else None
    return shift, factor, trial.cycle, trial.lifts


def _with_drive(
    osc: Oscillators, factor: Array, trial: Gaps, rule: Rule, near: Lift | None
) -> tuple[Array, Array]:
    """Slopes of the two gaps with the factor on the drive: only the lifts depend on it."""
    twice = np.concatenate([factor, factor])
    both, lifts = osc.both_beats.driven(twice * (1.0 + _STEP)), trial.lifts
    faster = both.escapement.lift(
        both, lifts.contact, rule, near
    )  # the same guesses, so that their error cancels
    torque = both.torque_at(lifts.drop, np.sqrt(lifts.speed_squared))
    change = 2.0 * torque * (faster.drop - lifts.drop) - (faster.speed_squared - lifts.speed_squared)
    slope = change / twice / _STEP
    return slope[: osc.size], slope[osc.size :]
