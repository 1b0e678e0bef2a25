"""How does the amplitude fall until the watch stops? The run-down, hour by hour, and the hour of the stop."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from oscsim.answers.points import SettledPoints, settled_points
from oscsim.answers.result import InSetting
from oscsim.arrays import Array
from oscsim.condition import AsItIs
from oscsim.errors import InputError
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.motion.settle import settle
from oscsim.motion.states import CODE, State
from oscsim.movement import Movement
from oscsim.operating import points_in, reserve
from oscsim.setting import Setting
from oscsim.units import POSITIONS

STEP = Quantity("h", "", "hours between the points of the curve", 0.01, 100)
#: The hour of the stop is found to this, h.
_PRECISION = 0.002
_CUTS = 23
#: A watch that wanders for so many periods is taken to go on: only its state is asked.
_FOLLOWED = (60, 2)
_MOST = 20000


@dataclass(frozen=True, repr=False, kw_only=True)
class RunDown(InSetting):
    """Run-down of one movement; ``points`` holds arrays of shape (positions, hours), ``hours`` (hours,) from
    full wind to past the last stop, ``stop_hours`` (positions,)."""

    hours: Array
    stop_hours: Array
    points: SettledPoints

    def rows(self) -> list[dict[str, Any]]:
        names = ("amplitude_deg", "rate_s_per_day", "beat_error_ms", "barrel_torque_n_mm", "residual_rad")
        return [row for _, row in self.points.rows(names, position=self.setting.symbols)]

    def settings(self) -> dict[str, Any]:
        return super().settings() | {"hours": self.hours.tolist()}

    def body(self) -> dict[str, Any]:
        p = self.points
        curves = {
            symbol: {
                "state": p.state[i].tolist(),
                "amplitude_deg": p.amplitude_deg[i],
                "rate_s_per_day": p.rate_s_per_day[i],
                "residual_rad": p.residual_rad[i],
            }
            for i, symbol in enumerate(self.setting.symbols)
        }
        return {
            "hours": self.hours,
            "stop_hours": dict(zip(self.setting.symbols, self.stop_hours, strict=True)),
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
    if len(set(setting.symbols)) < len(setting.symbols):
        raise InputError(f"positions = {' '.join(setting.symbols)}: one is given twice")
    setting.refuse("a run-down starts at full wind and has its own hours", "hours", "turns")
    as_is = setting.condition.applied_to(movement)
    last = float(reserve(as_is))
    count = int(np.floor(last / step_h)) + 1
    if count > _MOST:
        raise InputError(f"step_h = {step_h:g} h: too fine for a run of {last:.0f} h, at most {_MOST} points")
    hours: Array = step_h * np.arange(count + 1, dtype=float)
    points = settled_points(points_in(as_is, setting, hours), setting.lift_angle_deg)
    stop = _stop_hours(as_is, setting, hours, points, last)
    kept = hours <= np.max(stop) + step_h
    points = points.at_hours(kept)
    return RunDown(movement=movement, setting=setting, hours=hours[kept], stop_hours=stop, points=points)


def _stop_hours(as_is: AsItIs, setting: Setting, hours: Array, points: SettledPoints, last: float) -> Array:
    """The hour at which each position stops, (positions,): between the last running hour and the next."""
    runs = ~points.has(State.STOPS)
    first_stop = np.argmax(~runs, axis=1)  # the last hour is past the reserve, so one stops
    after = np.minimum(hours[first_stop], last)
    before = np.where(first_stop > 0, hours[np.maximum(first_stop - 1, 0)], 0.0)
    after = np.where(first_stop > 0, after, 0.0)
    while np.max(after - before) > _PRECISION:
        tried = before[:, None] + (after - before)[:, None] * np.arange(1, _CUTS + 1) / (_CUTS + 1)
        trial = points_in(as_is, setting, tried)
        batch = settle(trial.oscillators, trial.knock_angle, followed=_FOLLOWED)
        state = batch.state.reshape(tried.shape)
        stops = state == CODE[State.STOPS]
        first = np.where(stops.any(axis=1), np.argmax(stops, axis=1), _CUTS)
        edges = np.concatenate([before[:, None], tried, after[:, None]], axis=1)
        rows = np.arange(len(first))
        before, after = edges[rows, first], edges[rows, first + 1]
    return np.asarray(0.5 * (before + after))


def hours_to_amplitude(movement: Movement, flat_deg: float, setting: Setting | None = None) -> float:
    """The hour at which the run-down's flat amplitude falls to ``flat_deg``; NaN for NaN.

    ``setting``: one flat position, in which it runs down (default: dial up).
    """
    if not math.isfinite(flat_deg):
        return math.nan
    setting = setting or Setting()
    as_is = setting.condition.applied_to(movement)
    low, high = 0.0, float(reserve(as_is))
    while high - low > _PRECISION:
        hours = np.linspace(low, high, 18)[1:-1]
        points = points_in(as_is, setting, hours)
        batch = settle(points.oscillators, points.knock_angle)
        amplitude = np.degrees(batch.cycle.amplitude)
        # where it knocks above 400 deg there is no number
        above = np.where(np.isfinite(amplitude), amplitude > flat_deg, batch.state == CODE[State.KNOCKS])
        index = int(np.argmin(above)) if not above.all() else len(hours)
        edges = np.concatenate([[low], hours, [high]])
        low, high = float(edges[index]), float(edges[index + 1])
    return 0.5 * (low + high)
