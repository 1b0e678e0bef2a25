"""Points that Newton's method leaves open, decided as the watch decides them: from a large swing downwards.

The period map is sampled over all amplitudes. The highest one at which a period still gains amplitude bounds
the settled state from below; where no amplitude gains, the watch stops; where gain turns into loss by a
jump instead of a root, the amplitude wanders and is followed period by period.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array, Codes, Flags, Indices
from oscsim.motion.balance import Balance
from oscsim.motion.beat import Period, period
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.cycle import Cycle, empty_cycle, gaps
from oscsim.motion.ladder import climb
from oscsim.motion.newton import SETTLED, up_the_ladder
from oscsim.motion.rules import LADDER, Rule
from oscsim.motion.states import CODE, State

#: No number is given for swings above this, rad (docs/physics.md §2); the map is not sampled above it.
CEILING = math.radians(400.0)
_SAMPLES = 48
_REFINED, _REFINEMENTS = 17, 5
#: Samples of the short stretch above the fork where a watch that has all but stopped still swings.
_BELOW = 4
_CLOSE_BY = 1.0 + np.array([[-1e-4], [1e-6], [4e-6], [1e-5], [1e-4], [1e-3]])
_HALVINGS = 50
_EARLY = 14
#: Newton steps for these points: with strong drag the slopes are rough and each step gains less.
_PATIENT = 40
#: Periods for which a wandering point is followed: to forget the start, and to measure.
FOLLOWED = (300, 200)
#: Change per period, rad, below which a followed point has come to rest, and how near its closed cycle must lie.
_STILL, _STILL_NEAR = 1e-4, 1e-2
#: Relative step at which the turning points of a gain are found.
_CLOSE = 1e-9
#: Half step of the slope's difference quotient, rad.
_NUDGE = 1e-6
#: Rules that points are decided by; a point goes on to the next where the finest disagrees by more than this, rad.
_RULES = LADDER[2:]
_KNOWN = 1e-10


@dataclass(frozen=True)
class Decided:
    """Decided points, as in ``settle.SettledBatch``; all (points,)."""

    state: Codes
    low: Array
    high: Array
    cycle: Cycle


def undecided(points: int) -> Decided:
    """Points of which nothing is known: they stop until something else is found."""
    nothing = np.full(points, np.nan)
    return Decided(np.full(points, CODE[State.STOPS], np.int8), nothing, nothing.copy(), empty_cycle(points))


def decide(osc: Oscillators, followed: tuple[int, int] = FOLLOWED) -> Decided:
    """The state of every point of the batch, reached from above; ``followed`` as in ``FOLLOWED``."""
    out = undecided(osc.size)
    # those that the wheel cannot keep up against the dry friction of the least swing stop
    index = np.flatnonzero(most_gain(osc) > least_loss(osc))
    climb(_RULES, index, lambda rule, points: _decide_by(osc, points, rule, out, followed))
    return out


def _decide_by(
    osc: Oscillators, index: Indices, rule: Rule, out: Decided, followed: tuple[int, int]
) -> Indices:
    """Decide the points ``index`` by one rule; those it is too coarse for are returned, and left as they are."""
    low, high = _bracket(osc.take(index), rule)
    out.state[index[np.isinf(high)]] = CODE[osc.right.beyond]
    between = np.isfinite(high)
    index, low, high = index[between], low[between], high[between]
    part = osc.take(index)
    here, fine = period(part, low, rule).amplitude, period(part, low, _RULES[-1]).amplitude
    known = (np.abs(here - fine) <= _KNOWN) | (rule is _RULES[-1])
    coarse = index[~known]
    index, low, high = index[known], low[known], high[known]
    for halvings in (_EARLY, _HALVINGS - _EARLY):
        if not len(index):
            return coarse
        part = osc.take(index)
        low, high = _halve(part, low, high, halvings, rule)
        first = period(part, low, rule).first.amplitude
        cycle, sound = up_the_ladder(part, low, np.where(np.isfinite(first), first, low), _PATIENT)
        sound &= np.abs(cycle.left - low) <= 2.0 * (high - low) + 1e-3
        sound &= ~cycle.lost.any(axis=0) | (halvings != _EARLY)
        chosen = index[sound]
        out.state[chosen] = CODE[State.RUNNING]
        out.cycle.put(chosen, cycle.take(sound))
        out.low[chosen] = out.high[chosen] = cycle.amplitude[sound]
        index, low, high = index[~sound], low[~sound], high[~sound]
    if len(index):
        _follow(osc, index, high, out, rule, followed)
    return coarse


def least_loss(osc: Oscillators) -> Array:
    """What a period loses at least, (points,) over k: the dry friction over swings that just reach the escapement."""
    left, right = osc.reach_left, osc.reach_right
    back = Balance(**osc.turned())
    return 2.0 * osc.dry * (left + right) + osc.rubbed(-left, right) + back.rubbed(-right, left)


def most_gain(osc: Oscillators) -> Array:
    """The most that a period can give the balance, (points,) over k."""
    return osc.right.most_work() + osc.left.most_work()


def _gain(osc: Oscillators, amplitude: Array, rule: Rule) -> Array:
    """P(A) - A for amplitudes (samples, points); minus infinity where a beat fails."""
    wide = osc.tiled(len(amplitude))
    flat = amplitude.reshape(-1)
    gain = period(wide, flat, rule, _CLOSE).amplitude - flat
    return np.where(np.isfinite(gain), gain, -np.inf).reshape(amplitude.shape)


def gains_below(osc: Oscillators, amplitude: Array, likely: Array, apart: Array | None = None) -> Flags:
    """Whether any swing up to ``amplitude``, rad, gains in a period, at samples and close to a ``likely`` one; all
    (points,). Told ``apart``, by how much the right swing is larger close to the likely one, it is found twice as fast,
    but none there where a beat fails on the way to it.

    ``amplitude`` being the settled one at a somewhat stronger drive, no larger swing can gain: where none gains below,
    the watch stops.
    """
    with np.errstate(all="ignore"):
        low = osc.reach_left * (1.0 + 1e-12)
        high = np.where(np.isfinite(amplitude), np.maximum(amplitude, 1.01 * low), CEILING)
        # where the least drive keeps up more than just reaches the fork, smaller swings gain while it does not
        below = _between(low, np.fmax(likely, low), 2 * _BELOW)[1:-1]
        grid = np.concatenate([_between(low, high, _BELOW), below, likely * _CLOSE_BY])
        gain = _gain(osc, grid, _RULES[0]) if apart is None else _gain_near(osc, grid, apart)
        return np.asarray((gain > 0.0).any(axis=0))


def _gain_near(osc: Oscillators, amplitude: Array, apart: Array) -> Array:
    """``_gain`` with both beats at once, the swing between them being close to that larger by ``apart`` (points,)."""
    wide, left = osc.tiled(len(amplitude)), amplitude.reshape(-1)
    both, least, near = wide.both_beats, wide.reach_right, None
    right = left + np.tile(apart, len(amplitude))
    for rule in LADDER[1:3]:
        trial = gaps(both, left, np.fmax(right, least * (1.0 + 1e-12)), rule, near)
        (R1, R2), D2, (E1, E2) = trial.gap, trial.before[1], trial.after
        right, near = np.fmax(right, least) - R1 / E1, trial.lifts
    return np.where(right > least, -(R2 + D2 * R1 / E1) / E2, -np.inf).reshape(amplitude.shape)


def caught(osc: Oscillators) -> tuple[Flags, Flags]:
    """Whether at any swing, sampled up to the ceiling, the wheel catches up and gives its impulse; and whether at any
    it comes too late; both (points,), and both False where no swing unlocks."""
    with np.errstate(all="ignore"):
        reach = osc.reach_left * (1.0 + 1e-12)
        grid = _between(reach, np.full(osc.size, CEILING), _SAMPLES)
        found = period(osc.tiled(len(grid)), grid.reshape(-1), _RULES[0])
    beats = (found.first, found.second) if osc.right.alike else (found.first,)
    through = [np.isfinite(beat.tick) for beat in beats]
    lost = [there & beat.lost for there, beat in zip(through, beats, strict=True)]
    given = [there & ~beat.lost for there, beat in zip(through, beats, strict=True)]
    ever = [np.any(one, axis=0).reshape(grid.shape).any(axis=0) for one in (given, lost)]
    return ever[0], ever[1]


def _between(low: Array, high: Array, samples: int) -> Array:
    """Amplitudes in equal ratios from low to high (points,): shape (samples, points)."""
    return low * (high / low) ** np.linspace(0.0, 1.0, samples)[:, None]


def _bracket(osc: Oscillators, rule: Rule) -> tuple[Array, Array]:
    """Amplitudes (low, high) with gain at low and none from high up; NaN where nothing gains, high infinite
    where there is still gain at the ceiling."""
    low, high = np.full(osc.size, np.nan), np.full(osc.size, np.nan)
    open_ = np.arange(osc.size)
    reach = osc.reach_left * (1.0 + 1e-12)
    grid = _between(reach, np.full(osc.size, CEILING), _SAMPLES)
    for _ in range(1 + _REFINEMENTS):
        gain = _gain(osc.take(open_), grid, rule)
        gains = gain > 0.0
        found = gains.any(axis=0)
        columns = np.flatnonzero(found)
        top = len(grid) - 1 - gains[::-1, found].argmax(axis=0)
        low[open_[found]] = grid[top, columns]
        above = grid[np.minimum(top + 1, len(grid) - 1), columns]
        high[open_[found]] = np.where(top == len(grid) - 1, np.inf, above)
        if found.all():
            break
        # where no sample gains, look closer around the best one
        columns = np.flatnonzero(~found)
        best = gain[:, columns].argmax(axis=0)
        near = grid[np.maximum(best - 1, 0), columns], grid[np.minimum(best + 1, len(grid) - 1), columns]
        open_, grid = open_[columns], _between(*near, _REFINED)
    return low, high


def _halve(osc: Oscillators, low: Array, high: Array, times: int, rule: Rule) -> tuple[Array, Array]:
    """Close in on where gain turns into loss; all (points,)."""
    for _ in range(times):
        middle = 0.5 * (low + high)
        gains = _gain(osc, middle[None], rule)[0] > 0.0
        low, high = np.where(gains, middle, low), np.where(gains, high, middle)
    return low, high


def _follow(
    osc: Oscillators, index: Indices, amplitude: Array, out: Decided, rule: Rule, followed: tuple[int, int]
) -> None:
    """Follow the points ``index`` period by period, from just above the jump: they wander, or fail a beat and stop."""
    part = osc.take(index)
    rows: list[Period] = []
    for number in range(sum(followed)):
        row = period(part, amplitude, rule)
        if number >= followed[0]:
            rows.append(row)
        amplitude = row.amplitude
        if np.isnan(amplitude).all():
            return
    swings = np.array([[r.first.amplitude, r.second.amplitude] for r in rows])
    means = swings.mean(axis=1)
    alive = np.isfinite(means).all(axis=0)
    chosen = index[alive]

    def mean(values: list[tuple[Array, Array]]) -> Array:
        return np.asarray(np.array(values).mean(axis=0))[:, alive]

    firsts, seconds = mean([(r.second.amplitude, r.first.amplitude) for r in rows])
    spans = mean([(r.first.time, r.second.time) for r in rows])
    after = [(r.first.tick + r.first.after + r.second.contact, r.second.tick + r.second.after) for r in rows]
    nexts = [r.first.contact for r in [*rows[1:], rows[-1]]]
    cycle = Cycle(
        left=firsts,
        right=seconds,
        residual=np.abs(np.diff(swings[:, 1], axis=0)).max(axis=0)[alive],
        slope=np.full(len(chosen), np.nan),
        period=spans.sum(axis=0),
        ticks=mean([(r.first.tick, r.second.tick) for r in rows]),
        intervals=mean([(one, two + extra) for (one, two), extra in zip(after, nexts, strict=True)]),
        turned=mean([(r.first.turned, r.second.turned) for r in rows]),
        lost=np.asarray(np.array([(r.first.lost, r.second.lost) for r in rows]).any(axis=0))[:, alive],
    )
    rest = cycle.residual <= SETTLED
    at = part.take(np.flatnonzero(alive)[rest])
    above, below = (period(at, firsts[rest] + h, rule).amplitude for h in (_NUDGE, -_NUDGE))
    cycle.slope[rest] = (above - below) / (2.0 * _NUDGE)
    out.state[chosen] = np.where(rest, CODE[State.RUNNING], CODE[State.UNSETTLED])
    out.low[chosen], out.high[chosen] = means.min(axis=0)[alive], means.max(axis=0)[alive]
    out.cycle.put(chosen, cycle)
    # those that came to rest after all are closed on the finer rungs too, where that is possible
    still = np.flatnonzero(cycle.residual <= _STILL)
    if len(still):
        closed, _ = up_the_ladder(osc.take(chosen[still]), cycle.left[still], cycle.right[still], _PATIENT)
        good = (closed.residual <= SETTLED) & (np.abs(closed.left - cycle.left[still]) <= _STILL_NEAR)
        settled = chosen[still[good]]
        out.state[settled] = CODE[State.RUNNING]
        out.cycle.put(settled, closed.take(good))
        out.low[settled] = out.high[settled] = closed.amplitude[good]
