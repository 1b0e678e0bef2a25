"""Settled operating points in bench units: what every answer about amplitude and rate is made of."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oscsim.arrays import Array, Codes, Flags, Indices
from oscsim.errors import InputError
from oscsim.motion.rebound import rebounding
from oscsim.motion.settle import SettledBatch, settle
from oscsim.motion.states import CODE, STATES, State, steady, too_far
from oscsim.motion.sustain import sustain
from oscsim.operating import OperatingPoints
from oscsim.setting import Setting
from oscsim.units import N_MM, position


@dataclass(frozen=True, kw_only=True)
class SettledPoints:
    """Settled points, every array of the points' shape (…, positions, hours); NaN where the state is stops.

    Two sounds: pin contact and drop. The beat error is NaN where the escapement's two beats are not alike.
    ``stability`` is ``|P'(A)|`` of the period map, ``residual_rad`` its
    ``|P(A) - A|``; the range (low, high) differs from the amplitude only where the state is unsettled. A watch that
    knocks does not show the amplitude and rate it would have without a horn: ``shown_…`` are the swing at the horn and
    the rate with the rebounds, elsewhere the same numbers; ``excess_drive_percent`` is by how much its drive exceeds
    the one that would bring the swing just to the horn, nought elsewhere. ``positions``: symbols along the last axis
    but one, where the points are a setting's; ``at`` finds one by name.
    """

    code: Codes
    hours: Array
    turns: Array
    amplitude_deg: Array
    amplitude_low_deg: Array
    amplitude_high_deg: Array
    rate_s_per_day: Array
    shown_amplitude_deg: Array
    shown_rate_s_per_day: Array
    excess_drive_percent: Array
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
    positions: tuple[str, ...] = ()

    @property
    def state(self) -> NDArray[np.str_]:
        """The state's word at every point."""
        return np.array([s.label for s in STATES])[self.code]

    def at(self, place: str, hours: float = 0.0) -> SettledPoints:
        """The points in one position (``"CH"``, ``"12 up"``) and hour, for every movement of a stack: arrays (…).

        Raises InputError for a position or an hour that is not among the points.
        """
        symbol, grid = position(place).symbol, self.hours.reshape(-1, self.hours.shape[-1])[0]
        if symbol not in self.positions:
            raise InputError(f"position {symbol}: not computed here, there are {', '.join(self.positions)}")
        near = int(np.argmin(np.abs(grid - hours)))
        if abs(grid[near] - hours) > 1e-9 * max(1.0, abs(hours)):
            raise InputError(f"hours = {hours:g} h: not computed here, nearest is {grid[near]:g} h")
        return self._each(lambda values: values[..., self.positions.index(symbol), near], ())

    def at_hours(self, kept: NDArray[np.bool_]) -> SettledPoints:
        """The same points at some of the hours, the last axis."""
        return self._each(lambda values: values[..., kept])

    def shaped(self, shape: tuple[int, ...]) -> SettledPoints:
        """The same points in another shape, (…, positions, hours)."""
        return self._each(lambda values: values.reshape(shape))

    def taken(self, index: int | Indices) -> SettledPoints:
        """The points of one movement of a stack, (positions, hours), or of some of them."""
        return self._each(lambda values: values[index])

    def point(self, index: int) -> SettledPoints:
        """One of the last axis's points, everywhere."""
        return self._each(lambda values: values[..., index], ())

    def _each(self, change: Callable[[Any], Any], positions: tuple[str, ...] | None = None) -> SettledPoints:
        arrays = {f.name: change(getattr(self, f.name)) for f in fields(self) if f.name != "positions"}
        return SettledPoints(**arrays, positions=self.positions if positions is None else positions)

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

    @property
    def too_far(self) -> Flags:
        """Where it swings too far: it knocks or trips."""
        return too_far(self.code)

    @property
    def steady(self) -> Flags:
        """Where the swing repeats from period to period: it runs, knocks or trips."""
        return steady(self.code)

    def has(self, state: State) -> NDArray[np.bool_]:
        """Where the state is this one."""
        return np.asarray(self.code == CODE[state])


def joined_points(several: Sequence[SettledPoints]) -> SettledPoints:
    """Points of several stacks, (movements, positions, hours), as those of one."""
    arrays = {
        f.name: np.concatenate([getattr(points, f.name) for points in several])
        for f in fields(SettledPoints)
        if f.name != "positions"
    }
    return SettledPoints(**arrays, positions=several[0].positions)


def first_of(setting: Setting) -> Setting:
    """The setting with its first position and its first hour, or turns, alone."""
    if setting.turns is not None:
        return replace(setting, positions=setting.positions[:1], turns=setting.turns[:1])
    return replace(setting, positions=setting.positions[:1], hours=setting.hours[:1])


def settled_points(
    points: OperatingPoints, lift_angle_deg: float | None = None, *, thorough: bool = True
) -> SettledPoints:
    """Settle a batch; ``lift_angle_deg`` is what the instrument is told, default the design's own at each point.

    ``thorough``: as in ``motion.settle.settle``; a search that goes without does not ask how those run that knock, and
    what they show (``shown_…``, ``excess_drive_percent``) is NaN.
    """
    batch = settle(points.oscillators, points.knock_angle, thorough=thorough)
    return points_from(points, batch, lift_angle_deg, at_the_horn=thorough)


def points_from(
    points: OperatingPoints,
    batch: SettledBatch,
    lift_angle_deg: float | None = None,
    *,
    at_the_horn: bool = True,
) -> SettledPoints:
    """The settled batch of ``points`` in bench units; ``at_the_horn``: with what those show that knock, else NaN."""
    cycle = batch.cycle
    with np.errstate(invalid="ignore"):
        # where only one of the beats has an impulse, that is the one that is heard whole, and there is no beat error
        alike = points.oscillators.right.alike
        turned = cycle.turned.mean(axis=0) if alike else cycle.turned[0]
        told = turned if lift_angle_deg is None else np.full_like(turned, math.radians(lift_angle_deg))
        tick = cycle.ticks.mean(axis=0) if alike else cycle.ticks[0]
        apparent = 0.5 * told / np.sin(math.pi * tick / cycle.period)
        signed = 0.5 * (cycle.intervals[0] - cycle.intervals[1]) / points.omega * 1e3
        signed = signed if alike else np.full_like(signed, np.nan)
        stopped = batch.state == CODE[State.STOPS]
    amplitude, rate = np.degrees(cycle.amplitude), points.rate(cycle.period)
    if at_the_horn:
        shown, excess = _at_the_horn(points, batch, amplitude, rate)
    else:
        far = too_far(batch.state)
        shown, excess = (
            (np.where(far, np.nan, amplitude), np.where(far, np.nan, rate)),
            np.where(far, np.nan, 0.0),
        )

    def shaped(values: Array) -> Array:
        return np.where(stopped, np.nan, values).reshape(points.shape)

    return SettledPoints(
        code=batch.state.reshape(points.shape),
        hours=points.hours.reshape(points.shape),
        turns=shaped(points.turns),
        amplitude_deg=shaped(amplitude),
        amplitude_low_deg=shaped(np.degrees(batch.low)),
        amplitude_high_deg=shaped(np.degrees(batch.high)),
        rate_s_per_day=shaped(rate),
        shown_amplitude_deg=shaped(shown[0]),
        shown_rate_s_per_day=shaped(shown[1]),
        excess_drive_percent=shaped(excess),
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
        positions=points.positions,
    )


def _at_the_horn(
    points: OperatingPoints, batch: SettledBatch, amplitude: Array, rate: Array
) -> tuple[tuple[Array, Array], Array]:
    """Amplitude, deg, and rate as shown, and the excess of the drive, %; each (points,)."""
    knocks = np.flatnonzero(too_far(batch.state))
    excess = np.zeros_like(amplitude)
    if not len(knocks):
        return (amplitude, rate), excess
    part = points.take(knocks)
    found = rebounding(part.oscillators, part.knock_angle, part.restitution)
    amplitude, rate = amplitude.copy(), rate.copy()
    horn = np.isfinite(part.restitution)
    amplitude[knocks[horn]] = np.degrees(found.amplitude)[horn]
    rate[knocks[horn]] = part.rate(found.period)[horn]
    excess[knocks] = 100.0 * (1.0 / sustain(part.oscillators, part.knock_angle).factor - 1.0)
    return (amplitude, rate), excess
