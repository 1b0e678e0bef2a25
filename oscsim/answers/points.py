"""Settled operating points in bench units: what every answer about amplitude and rate is made of."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oscsim.arrays import Array, Codes
from oscsim.motion.settle import SettledBatch, settle
from oscsim.motion.states import CODE, STATES, State
from oscsim.operating import OperatingPoints
from oscsim.setting import Setting
from oscsim.units import DAY, N_MM


@dataclass(frozen=True)
class SettledPoints:
    """Settled points, every array of the points' shape (…, positions, hours); NaN where the state is stops.

    Two sounds: pin contact and drop. ``stability`` is ``|P'(A)|`` of the period map, ``residual_rad`` its
    ``|P(A) - A|``; the range (low, high) differs from the amplitude only where the state is unsettled.
    """

    code: Codes
    hours: Array
    turns: Array
    amplitude_deg: Array
    amplitude_low_deg: Array
    amplitude_high_deg: Array
    rate_s_per_day: Array
    beat_error_ms: Array
    signed_beat_error_ms: Array
    apparent_amplitude_deg: Array
    lift_angle_deg: Array
    tick_s: Array
    period_s: Array
    barrel_torque_n_mm: Array
    escape_torque_n_m: Array
    knock_angle_deg: Array
    residual_rad: Array
    stability: Array

    @property
    def state(self) -> NDArray[np.str_]:
        """The state's word at every point."""
        return np.array([s.label for s in STATES])[self.code]

    def at_hours(self, kept: NDArray[np.bool_]) -> SettledPoints:
        """The same points at some of the hours, the last axis."""
        return SettledPoints(*(getattr(self, f.name)[..., kept] for f in fields(self)))

    def shaped(self, shape: tuple[int, ...]) -> SettledPoints:
        """The same points in another shape."""
        return SettledPoints(*(getattr(self, f.name).reshape(shape) for f in fields(self)))

    def taken(self, index: int) -> SettledPoints:
        """The points of one movement of a stack, (positions, hours)."""
        return SettledPoints(*(getattr(self, f.name)[index] for f in fields(self)))

    def point(self, index: int) -> SettledPoints:
        """One of the last axis's points, everywhere."""
        return SettledPoints(*(getattr(self, f.name)[..., index] for f in fields(self)))

    def rows(
        self, names: Sequence[str], **axes: Sequence[Any]
    ) -> Iterator[tuple[tuple[int, ...], dict[str, Any]]]:
        """Every point in order, as its index and a row for a table: its place along each of ``axes`` (name to
        labels, first axis first; the last axis is the hours), its state, and the numbers of these ``names``."""
        state = self.state
        for index in np.ndindex(self.code.shape):
            place = {axis: labels[i] for (axis, labels), i in zip(axes.items(), index, strict=False)}
            numbers = {name: getattr(self, name)[index] for name in names}
            yield index, {**place, "hours": self.hours[index], "state": str(state[index]), **numbers}

    def has(self, state: State) -> NDArray[np.bool_]:
        """Where the state is this one."""
        return np.asarray(self.code == CODE[state])


def first_of(setting: Setting) -> Setting:
    """The setting with its first position and its first hour, or turns, alone."""
    if setting.turns is not None:
        return replace(setting, positions=setting.symbols[:1], turns=float(np.ravel(setting.turns)[0]))
    return replace(setting, positions=setting.symbols[:1], hours=float(np.ravel(setting.hours)[0]))


def settled_points(
    points: OperatingPoints, lift_angle_deg: float | None = None, *, thorough: bool = True
) -> SettledPoints:
    """Settle a batch; ``lift_angle_deg`` is what the instrument is told, default the design's own at each point.

    ``thorough``: as in ``motion.settle.settle``.
    """
    batch = settle(points.oscillators, points.knock_angle, thorough=thorough)
    return points_from(points, batch, lift_angle_deg)


def points_from(
    points: OperatingPoints, batch: SettledBatch, lift_angle_deg: float | None = None
) -> SettledPoints:
    """The settled batch of ``points`` in bench units."""
    cycle = batch.cycle
    with np.errstate(invalid="ignore"):
        turned = cycle.turned.mean(axis=0)
        told = turned if lift_angle_deg is None else np.full_like(turned, math.radians(lift_angle_deg))
        tick = cycle.ticks.mean(axis=0)
        apparent = 0.5 * told / np.sin(math.pi * tick / cycle.period)
        signed = 0.5 * (cycle.intervals[0] - cycle.intervals[1]) / points.omega * 1e3
        stopped = batch.state == CODE[State.STOPS]

    def shaped(values: Array) -> Array:
        return np.where(stopped, np.nan, values).reshape(points.shape)

    return SettledPoints(
        code=batch.state.reshape(points.shape),
        hours=points.hours.reshape(points.shape),
        turns=shaped(points.turns),
        amplitude_deg=shaped(np.degrees(cycle.amplitude)),
        amplitude_low_deg=shaped(np.degrees(batch.low)),
        amplitude_high_deg=shaped(np.degrees(batch.high)),
        rate_s_per_day=shaped(
            DAY * (2.0 * math.pi * points.omega / (points.nominal_omega * cycle.period) - 1.0)
        ),
        beat_error_ms=shaped(np.abs(signed)),
        signed_beat_error_ms=shaped(signed),
        apparent_amplitude_deg=shaped(np.degrees(apparent)),
        lift_angle_deg=shaped(np.degrees(turned)),
        tick_s=shaped(tick / points.omega),
        period_s=shaped(cycle.period / points.omega),
        barrel_torque_n_mm=shaped(points.barrel_torque / N_MM),
        escape_torque_n_m=shaped(points.escape_torque),
        knock_angle_deg=shaped(np.degrees(points.knock_angle)),
        residual_rad=shaped(cycle.residual),
        stability=shaped(np.abs(cycle.slope)),
    )
