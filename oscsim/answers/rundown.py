"""How does the amplitude fall until the watch stops? The run-down, hour by hour, and the hour of the stop."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Any

import numpy as np

from oscsim.answers.crossing import section
from oscsim.answers.failures import failures
from oscsim.answers.points import SettledPoints, points_from
from oscsim.answers.result import InSetting
from oscsim.arrays import Array, Flags, Indices
from oscsim.condition import AsItIs
from oscsim.errors import InputError
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.motion.from_above import gains_below
from oscsim.motion.settle import settle, stopped
from oscsim.motion.states import CODE, State, too_far
from oscsim.motion.sustain import least_drive, sustain
from oscsim.movement import Movement
from oscsim.operating import OperatingPoints, hours_of_wind, points_in, reserve, turns_left
from oscsim.parts.mainspring import barrel_torque, turns_at_torque
from oscsim.setting import Setting
from oscsim.units import POSITIONS

STEP = Quantity("h", "", "hours between the points of the curve", 0.01, 100)
#: The hour of the stop is found to this, h.
_PRECISION = 0.002
#: Hours about the foretold stop at which it is looked whether any swing gains: close by, and farther where that does
#: not tell it.
_CLOSE, _WIDE = np.array([-0.00099, 0.00099]), np.array([-0.02, -0.003, -0.00099, 0.00099, 0.003, 0.02])
#: Torque of the heavy point over the hairspring's stiffness from which a stop is not foretold; designs have 1e-3.
_STRONG = 0.03
#: A settled amplitude is the one asked for when it is so near, rad.
_SAME = 1e-9
#: A watch that wanders for so many periods is taken to go on: only its state is asked.
_FOLLOWED = (60, 2)
_MOST = 20000
#: Before the stop the curve is computed for so many steps, at these shares of the root of the time left.
_SHORT, _LAST = 2.0, np.linspace(1.0, 0.0, 17)


@dataclass(frozen=True, repr=False, kw_only=True)
class RunDown(InSetting):
    """Run-down of one movement; ``points`` holds arrays of shape (positions, hours), ``hours`` (hours,) from
    full wind to past the last stop, ``stop_hours`` (positions,)."""

    hours: Array
    stop_hours: Array
    points: SettledPoints

    @cached_property
    def near_stop(self) -> SettledPoints:
        """The last of each curve, arrays (positions, n): crowded towards the stop, where the amplitude falls as the
        root of the time that is left. Computed when it is first asked for, as for a picture."""
        step = float(self.hours[1] - self.hours[0]) if len(self.hours) > 1 else 0.0
        left = np.minimum(_SHORT * step, self.stop_hours)[:, None] * _LAST**2 + 2.0 * _PRECISION
        hours = np.maximum(self.stop_hours[:, None] - left, 0.0)
        points = points_in(self.setting.condition.applied_to(self.movement), self.setting, hours)
        batch = settle(points.oscillators, points.knock_angle, thorough=False)
        return points_from(points, batch, self.setting.lift_angle_deg)

    def stop_failures(self) -> list[str]:
        """Why it stops where it stops, a word for each position."""
        hours = self.stop_hours[:, None] + 2.0 * _PRECISION
        points = points_in(self.setting.condition.applied_to(self.movement), self.setting, hours)
        return [
            str(word) for word in failures(points, np.full(hours.shape, CODE[State.STOPS], np.int8))[:, 0]
        ]

    def rows(self) -> list[dict[str, Any]]:
        names = (
            "amplitude_deg",
            "rate_s_per_day",
            "beat_error_ms",
            "barrel_torque_n_mm",
            "residual_rad",
            "shown_amplitude_deg",
            "shown_rate_s_per_day",
        )
        return [row for _, row in self.points.rows(names, position=self.setting.positions)]

    def settings(self) -> dict[str, Any]:
        return super().settings() | {"hours": self.hours.tolist()}

    def body(self) -> dict[str, Any]:
        p = self.points
        curves = {
            symbol: {
                "state": p.state[i].tolist(),
                "amplitude_deg": p.amplitude_deg[i],
                "rate_s_per_day": p.rate_s_per_day[i],
                "shown_amplitude_deg": p.shown_amplitude_deg[i],
                "shown_rate_s_per_day": p.shown_rate_s_per_day[i],
                "residual_rad": p.residual_rad[i],
            }
            for i, symbol in enumerate(self.setting.positions)
        }
        return {
            "hours": self.hours,
            "stop_hours": dict(zip(self.setting.positions, self.stop_hours, strict=True)),
            "stop_failure": dict(zip(self.setting.positions, self.stop_failures(), strict=True)),
            "curves": curves,
        }


@takes_design
def rundown(movement: Movement, setting: Setting | None = None, *, step_h: float = 1.0) -> RunDown:
    """Run-down from full wind in the positions of ``setting`` (default: all six), every ``step_h`` hours.

    Raises InputError for a step out of range or too fine, and for a setting with hours or turns: a run-down
    has its own.
    """
    STEP.check("step_h", step_h)
    setting = setting or Setting(positions=tuple(POSITIONS))
    if len(set(setting.positions)) < len(setting.positions):
        raise InputError(f"positions = {' '.join(setting.positions)}: one is given twice")
    setting.refuse("a run-down starts at full wind and has its own hours", "hours", "turns")
    as_is = setting.condition.applied_to(movement)
    last = float(reserve(as_is))
    count = int(np.floor(last / step_h)) + 1
    if count > _MOST:
        raise InputError(f"step_h = {step_h:g} h: too fine for a run of {last:.0f} h, at most {_MOST} points")
    hours: Array = step_h * np.arange(count + 1, dtype=float)
    points, stop = _run(as_is, setting, hours, last)
    kept = hours <= np.max(stop) + step_h
    points = points.at_hours(kept)
    return RunDown(
        movement=movement,
        setting=setting,
        hours=hours[kept],
        stop_hours=stop,
        points=points,
    )


def _run(as_is: AsItIs, setting: Setting, hours: Array, last: float) -> tuple[SettledPoints, Array]:
    """The points at ``hours`` (hours,), the last of them past the ``last`` hour of the spring, and the hour of the stop
    in each position, (positions,).

    The least drive that keeps up any swing says when the watch stops: up to then Newton's method must find it running,
    then no swing may gain any more. Where it is not so, every point of the position is decided from above.
    """
    points = points_in(as_is, setting, hours)
    full = points.take(np.arange(0, points.oscillators.size, len(hours)))  # the first hour is none
    about, likely, apart = _least_hours(as_is, full)
    tried = hours < about[:, None] + _WIDE[-1]
    index = np.flatnonzero(tried)
    batch = stopped(points.oscillators.size)
    batch.put(index, settle(points.oscillators.take(index), points.knock_angle[index], thorough=False))
    runs = (batch.state != CODE[State.STOPS]).reshape(points.shape)
    amplitude = batch.cycle.amplitude.reshape(points.shape)
    smallest = np.fmin.reduce(np.where(runs, amplitude, math.inf), axis=1)
    stop = _foretold_stop(as_is, full, about, likely, apart, smallest)
    stop[(runs != (hours < stop[:, None])).any(axis=1)] = math.nan
    if (rows := np.flatnonzero(np.isnan(stop))).size:
        left = np.flatnonzero((np.isnan(stop)[:, None] & ~runs).reshape(-1))
        batch.put(left, settle(points.oscillators.take(left), points.knock_angle[left]))
        runs = (batch.state != CODE[State.STOPS]).reshape(points.shape)
        first = np.argmin(runs[rows], axis=1)  # the last hour is past the spring's, so one stops
        stop[rows] = _decided_stop(as_is, _some(setting, rows), *_around(hours, first, last))
    return points_from(points, batch, setting.lift_angle_deg), stop


def _least_hours(as_is: AsItIs, full: OperatingPoints) -> tuple[Array, Array, Array]:
    """The hour at which the spring gives the least drive that keeps up any swing, that (left) swing and by how much the
    right one is larger, rad, by position; the hour NaN where there is none. ``full``: fully wound, (positions,)."""
    factor, likely, apart = least_drive(full.oscillators)
    torque = factor * full.barrel_torque
    turns = turns_at_torque(as_is.movement.mainspring, as_is.movement.barrel, torque)
    hours = np.asarray(hours_of_wind(as_is.movement, as_is.full_wind - turns), float)
    # a heavy point that strong holds the balance far from the dead point: swings are lopsided, and few of them gain
    known = (factor < 1.0) & (full.oscillators.gravity < _STRONG)
    return np.where(known, hours, math.nan), likely, apart


def _foretold_stop(
    as_is: AsItIs, full: OperatingPoints, about: Array, likely: Array, apart: Array, smallest: Array
) -> Array:
    """The hour of the stop close to ``about``, NaN where swings gain after it or none before; all (positions,)."""

    def gains(tried: Array, wider: Array | None = None) -> Flags:
        def each(values: Array) -> Array:
            return np.repeat(values, tried.shape[1])

        torque = barrel_torque(as_is.movement.mainspring, as_is.movement.barrel, turns_left(as_is, tried))
        # with the hours the drive alone changes
        osc = full.oscillators.repeated(tried.shape[1]).driven(torque.ravel() / each(full.barrel_torque))
        wider = None if wider is None else each(wider)
        return gains_below(osc, each(smallest), each(likely), wider).reshape(tried.shape)

    stop = _closed_in(partial(gains, wider=apart), about, _CLOSE)
    if (rows := np.flatnonzero(np.isnan(stop) & np.isfinite(about))).size:
        stop[rows] = _closed_in(gains, about, _WIDE)[rows]
    return stop


def _closed_in(gains: Callable[[Array], Flags], about: Array, apart: Array) -> Array:
    """The hour between those ``apart`` from ``about`` (positions,) where swings cease to gain; NaN where they do not so
    once and for all."""
    tried = about[:, None] + apart
    yes = gains(tried)
    running = yes.sum(axis=1)
    clear = (yes == (np.arange(len(apart)) < running[:, None])).all(axis=1)
    clear &= (running > 0) & (running < len(apart))
    edge, rows = np.clip(running, 1, len(apart) - 1), np.arange(len(about))
    before, after = tried[rows, edge - 1], tried[rows, edge]
    before, after = section(gains, np.where(clear, before, 0.0), np.where(clear, after, 0.0), _PRECISION)
    return np.where(clear, 0.5 * (before + after), math.nan)


def _some(setting: Setting, rows: Indices) -> Setting:
    """The setting with some of its positions."""
    return replace(setting, positions=tuple(setting.positions[row] for row in rows))


def _around(hours: Array, first: Indices, last: float) -> tuple[Array, Array]:
    """The last running and the first stopping hour, ``first`` being the place of that in ``hours``."""
    after = np.where(first > 0, np.minimum(hours[first], last), 0.0)
    return np.where(first > 0, hours[np.maximum(first - 1, 0)], 0.0), after


def _decided_stop(as_is: AsItIs, setting: Setting, before: Array, after: Array) -> Array:
    """The hour of the stop between two hours (positions,), every point decided from above."""

    def runs(tried: Array) -> Flags:
        points = points_in(as_is, setting, tried)
        batch = settle(points.oscillators, points.knock_angle, followed=_FOLLOWED)
        return np.asarray(batch.state != CODE[State.STOPS]).reshape(tried.shape)

    before, after = section(runs, before, after, _PRECISION)
    return 0.5 * (before + after)


def hours_to_amplitude(movement: Movement, flat_deg: float, setting: Setting | None = None) -> float:
    """The hour at which the run-down's flat amplitude falls to ``flat_deg``; NaN for NaN.

    ``setting``: one flat position, in which it runs down (default: dial up).
    """
    if not math.isfinite(flat_deg):
        return math.nan
    setting = setting or Setting()
    as_is = setting.condition.applied_to(movement)
    return float(hours_of_amplitude(as_is, setting, np.array([math.radians(flat_deg)]))[0])


def hours_of_amplitude(as_is: AsItIs, setting: Setting, amplitude: Array) -> Array:
    """The hours, (movements,), at which the run-down of each movement of a stack, or of one, comes down to
    ``amplitude`` (movements,), rad, in the one position of ``setting``; 0 where it starts below, NaN for NaN.

    The drive that keeps the amplitude up says how far the spring is then wound. Where no sound cycle has that
    amplitude, or a larger swing is kept up by the same drive, the run-down is searched.
    """
    points = points_in(as_is, setting, np.zeros(1))
    held = sustain(points.oscillators, amplitude)
    spring, barrel = as_is.movement.mainspring, as_is.movement.barrel
    torque = np.where(held.sound, held.factor * points.barrel_torque, math.nan)
    shape = points.shape
    turns = turns_at_torque(spring, barrel, torque.reshape(shape))
    hours = np.asarray(hours_of_wind(as_is.movement, as_is.full_wind - turns)).reshape(-1)
    there = settle(points.oscillators.driven(held.factor), points.knock_angle, thorough=False)
    told = np.abs(there.cycle.amplitude - amplitude) <= _SAME
    ends = np.where(points.barrel_torque < torque, 0.0, hours)
    found = np.where(told, ends, math.nan)
    if np.any(left := ~told & np.isfinite(amplitude)):
        found[left] = _searched(as_is, setting, amplitude)[left]
    return found


def _searched(as_is: AsItIs, setting: Setting, amplitude: Array) -> Array:
    """As ``hours_of_amplitude``, the run-down itself being searched."""

    def above(tried: Array) -> Flags:
        points = points_in(as_is, setting, tried[:, None, :])
        batch = settle(points.oscillators, points.knock_angle)
        swing = batch.cycle.amplitude.reshape(tried.shape)
        # where it knocks above 400 deg there is no number
        beyond = too_far(batch.state).reshape(tried.shape)
        return np.where(np.isfinite(swing), swing > amplitude[:, None], beyond)

    last = np.asarray(reserve(as_is), float).reshape(-1)
    low, high = section(above, np.zeros_like(last), last, _PRECISION)
    return 0.5 * (low + high)
