"""What a movement shows over its state of wind, and how that state goes with the day.

The watch follows its torque within a minute, so a day is settled points along the way. The state of wind is told in
hours of running since full wind x, because that is what the day spends: dx/dt = (1 while it runs) - w (while worn),
0 ≤ x; at 0 the bridle slips, at the hour of the stop it stands still until worn again or wound.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from oscsim.answers.points import settled_points
from oscsim.answers.rundown import rundown
from oscsim.arrays import Array
from oscsim.condition import Condition
from oscsim.errors import InputError
from oscsim.motion.states import BEST_FIRST, CODE, STATES, TOO_FAR, State
from oscsim.movement import Movement
from oscsim.operating import hours_of_wind, points_in
from oscsim.setting import Setting
from oscsim.use.monotone import monotone
from oscsim.use.stretches import Stretch

#: Settled points of a curve: dense towards the stop, where it plunges.
_POINTS = 33
#: Points of the finer table that the day is read from, and how near to the stop it goes, h.
_FINE, _LAST = 4001, 0.004
#: So near to the horn a swing is at it, deg.
_AT_HORN_DEG = 0.05


@dataclass(frozen=True, kw_only=True)
class Curve:
    """One mix of positions at one temperature over hours since full wind x (fine,): rate s/day, its integral s,
    amplitude deg; stop_hours, where the first of its positions stops; state: the worst before it;
    residual_rad: the largest."""

    x: Array
    rate: Array
    gained: Array
    amplitude: Array
    knocks: NDArray[np.bool_]
    stop_hours: float
    state: State
    residual_rad: float

    def between(self, begun: Array, ended: Array, hours: Array | float) -> Array:
        """Error gained while x goes evenly from ``begun`` to ``ended`` in ``hours``, s; all (…)."""
        moved = ended - begun
        still = np.abs(moved) < 1e-6
        mean = (self._at(self.gained, ended) - self._at(self.gained, begun)) / np.where(still, 1.0, moved)
        return np.where(still, self._at(self.rate, begun) / 24.0, mean) * hours

    def amplitude_at(self, x: Array) -> Array:
        """Amplitude, deg."""
        return self._at(self.amplitude, x)

    def rate_at(self, x: Array) -> Array:
        """Rate, s/day."""
        return self._at(self.rate, x)

    def _at(self, values: Array, x: Array) -> Array:
        return np.interp(x, self.x, values)


@dataclass
class Curves:
    """The curves of one movement in one condition, each made when it is first asked for."""

    movement: Movement
    condition: Condition
    _single: dict[tuple[str, float], Curve] = field(default_factory=dict)
    _mixed: dict[tuple[tuple[tuple[str, float], ...], float], Curve] = field(default_factory=dict)

    def prepare(self, wanted: Sequence[tuple[str, float]]) -> None:
        """Settle the positions and temperatures that will be asked for, a temperature at a time."""
        for warmth in dict.fromkeys(warmth for _, warmth in wanted):
            symbols = tuple(
                symbol
                for symbol in dict.fromkeys(symbol for symbol, there in wanted if there == warmth)
                if (symbol, warmth) not in self._single
            )
            if symbols:
                self._settle(symbols, warmth)

    def of(self, stretch: Stretch) -> Curve:
        """The curve of a stretch: its positions' by their shares; it stops where the first of them stops."""
        at = (stretch.mix, stretch.temperature_c)
        if at not in self._mixed:
            self.prepare([(symbol, stretch.temperature_c) for symbol, _ in stretch.mix])
            self._mixed[at] = _mixed(
                [self._single[symbol, stretch.temperature_c] for symbol, _ in stretch.mix],
                np.array([share for _, share in stretch.mix]),
            )
        return self._mixed[at]

    def _settle(self, symbols: tuple[str, ...], warmth: float) -> None:
        setting = Setting(positions=symbols, temperature_c=warmth, condition=self.condition)
        as_is = self.condition.applied_to(self.movement)
        run = rundown(self.movement, setting, step_h=self._step())
        stands = run.points.code[:, 0] == CODE[State.STOPS]
        if stands.any():
            raise InputError(
                f"{self.movement.name} stops fully wound in {symbols[int(np.argmax(stands))]} at {warmth:g} °C: "
                "there is no day to follow"
            )
        last = np.maximum(run.stop_hours - _LAST, 0.5 * run.stop_hours)
        hours = last[:, None] * (1.0 - (1.0 - np.linspace(0.0, 1.0, _POINTS)) ** 2)
        points = settled_points(points_in(as_is, setting, hours))
        for i, (symbol, stop) in enumerate(zip(symbols, run.stop_hours, strict=True)):
            # as it is in use: where it knocks, the swing at the horn and the rate with the rebounds
            x, code = hours[i], points.code[i]
            rate, swing = points.shown_rate_s_per_day[i], points.shown_amplitude_deg[i]
            there = np.isfinite(rate)
            fine = np.linspace(0.0, x[there][-1], _FINE)
            rates = monotone(x[there], rate[there])
            amplitude = monotone(x[there], swing[there]).value(fine)
            worst = max((STATES[one] for one in code[there]), key=BEST_FIRST.index)
            limit = np.nanmin(points.knock_angle_deg[i])
            self._single[symbol, warmth] = Curve(
                x=fine,
                rate=rates.value(fine),
                gained=rates.area(fine) / 24.0,
                amplitude=amplitude,
                knocks=(amplitude > limit - _AT_HORN_DEG) & (worst in TOO_FAR),
                stop_hours=float(stop),
                state=worst,
                residual_rad=float(np.nanmax(points.residual_rad[i][there])),
            )

    def _step(self) -> float:
        return max(0.01, min(100.0, float(hours_of_wind(self.movement, 1.0)) / 4.0))


@lru_cache(maxsize=8)
def curves_of(movement: Movement, condition: Condition) -> Curves:
    """The curves of a movement in a condition; kept, since they do not depend on the day."""
    return Curves(movement, condition)


def _mixed(curves: Sequence[Curve], shares: Array) -> Curve:
    if len(curves) == 1:
        return curves[0]
    stop = min(one.stop_hours for one in curves)
    x = np.linspace(0.0, min(one.x[-1] for one in curves), _FINE)

    def mean(values: str) -> Array:
        return np.asarray(
            sum(s * np.interp(x, c.x, getattr(c, values)) for s, c in zip(shares, curves, strict=True))
        )

    return Curve(
        x=x,
        rate=mean("rate"),
        gained=mean("gained"),
        amplitude=mean("amplitude"),
        knocks=mean("knocks") > 0.0,
        stop_hours=stop,
        state=max((one.state for one in curves), key=BEST_FIRST.index),
        residual_rad=max(one.residual_rad for one in curves),
    )


@dataclass(kw_only=True)
class Wind:
    """The state of wind of some watches side by side, arrays (watches,): hours since full wind, whether it runs, and
    what was spent, wound and slipped so far, h of running, and the hours it stood still."""

    x: Array
    runs: NDArray[np.bool_]
    error_s: Array
    spent: Array
    wound: Array
    slipped: Array
    stopped: Array

    @classmethod
    def full(cls, watches: int) -> Wind:
        """Fully wound and running, everything else nothing."""
        return cls(
            x=np.zeros(watches),
            runs=np.ones(watches, bool),
            **{name: np.zeros(watches) for name in ("error_s", "spent", "wound", "slipped", "stopped")},
        )

    def wind(self, hours: float = math.inf) -> None:
        """By the crown: fully, or by so many hours of running."""
        given = np.minimum(self.x, hours)
        self.wound += given
        self.x -= given
        self.runs = self.runs | (given > 0.0)

    def go(self, hours: float, curve: Curve, w: Array) -> None:
        """Through ``hours`` of one stretch; w (watches,): hours of running that an hour winds, 0 when not worn.

        Piece by piece between full wind and the stop, where x goes evenly. At the stop a watch whose wearer winds less
        than it spends goes and stands by turns: it runs a share w of the time.
        """
        stop = curve.stop_hours
        stays = (self.x <= 0.0) & (w >= 1.0)  # full
        ended = np.where(stays, 0.0, self.x + (1.0 - w) * hours)
        if (self.runs & (self.x < stop) & (stays | (ended > 0.0) & (ended < stop))).all():
            # nothing happens on the way
            self.error_s += curve.between(self.x, ended, hours)
            self.spent += hours
            self.wound += w * hours
            self.slipped += np.where(stays, (w - 1.0) * hours, 0.0)
            self.x = ended
            return
        left = np.full_like(self.x, hours)
        # what stood still beyond this stretch's stop is wound up to it first
        self.runs &= self.x < stop
        for _ in range(4):
            wakes = ~self.runs & (self.x < stop - 1e-9) & (w > 0.0)
            self.runs |= wakes
            by_turns = ~self.runs & (self.x <= stop + 1e-9) & (w > 0.0)
            grows = by_turns & (w >= 1.0)
            self.runs |= grows
            by_turns &= ~grows
            share = np.where(self.runs, 1.0, np.where(by_turns, w, 0.0))
            speed = share - w
            full = (self.x <= 0.0) & (speed < 0.0)
            moving = np.where(full, 0.0, speed)
            with np.errstate(divide="ignore", invalid="ignore"):
                until = np.where(moving < 0.0, self.x / -moving, math.inf)  # full
                # worn while it stands, it wakes at the stop; running down, it stops there
                until = np.where((moving < 0.0) & ~self.runs, (self.x - stop) / -moving, until)
                until = np.where((moving > 0.0) & self.runs, (stop - self.x) / moving, until)
            step = np.minimum(left, np.maximum(until, 0.0))
            ended = np.clip(self.x + moving * step, 0.0, None)
            self.error_s += share * curve.between(self.x, ended, step)
            self.spent += share * step
            self.wound += w * step
            self.slipped += np.where(full, -speed * step, 0.0)
            self.stopped += (1.0 - share) * step
            reached = (moving > 0.0) & self.runs & (step >= until)
            self.x = np.where(reached, stop, ended)
            self.runs = self.runs & ~reached
            left = left - step
            if not (left > 1e-12).any():
                break


def state_word(curve: Curve, x: float, runs: bool) -> str:
    """The state's word at one moment."""
    if not runs:
        return State.STOPS.label
    beyond = curve.knocks.any() and np.interp(x, curve.x, curve.knocks) > 0.5
    return curve.state.label if beyond else State.RUNNING.label
