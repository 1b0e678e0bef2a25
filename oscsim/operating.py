"""From designs and a setting to a batch of oscillators: parts in, coefficients out, all points at once."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from typing import Any, NamedTuple

import numpy as np

from oscsim.arrays import Array, Indices, Number
from oscsim.condition import AsItIs
from oscsim.errors import InputError
from oscsim.escapements.kind import Driven
from oscsim.escapements.kinds import kind_of
from oscsim.motion.coefficients import Oscillators
from oscsim.movement import Movement
from oscsim.parts import balance as bal
from oscsim.parts import hairspring as hair
from oscsim.parts import mainspring as spr
from oscsim.parts import train as trn
from oscsim.setting import Setting
from oscsim.units import DAY, G0, MG, MM


class Moments(NamedTuple):
    """Where a movement lies and when: arrays that broadcast together, (…, moments) or any other shape.

    Tilt of the dial and direction of the hour that is up, rad (NaN where it lies flat); turns wound; °C. Positions
    times hours is one way to make many, a list of readings or a stretch of a day another.
    """

    tilt: Array
    hour_up: Array
    turns: Number
    temperature_c: Number


@dataclass(frozen=True)
class OperatingPoints:
    """A batch of operating points; ``shape`` is that of the moments, (…, positions, hours) for a setting's; every array
    is flat (points,).

    SI units: omega of balance and hairspring and nominal_omega of the beat rad/s, stiffness N·m/rad, hours since full
    wind in h, turns wound, torques N·m, knock and lift angles rad, restitution of a knock. ``rest``: where the
    hairspring alone lets it rest, rad; ``weight_series``: what of the torque by angle is the hairspring's weight,
    (terms, points). ``positions``: symbols along the last axis but one, where the moments are a setting's.
    """

    shape: tuple[int, ...]
    oscillators: Oscillators
    omega: Array
    nominal_omega: Array
    stiffness: Array
    hours: Array
    turns: Array
    barrel_torque: Array
    escape_torque: Array
    knock_angle: Array
    lift_angle: Array
    restitution: Array
    rest: Array
    weight_series: Array
    positions: tuple[str, ...] = ()

    def rate(self, period: Array) -> Array:
        """Rate in s/day of a ``period`` in 1/ω, (points,), or any shape where there is but one point."""
        return np.asarray(DAY * (2.0 * math.pi * self.omega / (self.nominal_omega * period) - 1.0))

    def take(self, index: Indices) -> OperatingPoints:
        """Some of the points, any of them more than once, in one row."""
        flat = {
            f.name: getattr(self, f.name)[..., index]
            for f in fields(self)
            if f.name not in ("shape", "oscillators", "positions")
        }
        return OperatingPoints(shape=(len(index),), oscillators=self.oscillators.take(index), **flat)


def hours_of_wind(movement: Movement, turns: Number) -> Number:
    """Hours that ``turns`` of the barrel last: one turn takes ratio · 2 · teeth / beats_per_hour hours."""
    per_turn: Number = (
        movement.train.ratio * 2.0 * movement.escapement.teeth / movement.balance.beats_per_hour
    )
    return turns * per_turn


def reserve(as_is: AsItIs) -> Number:
    """Hours from full wind to no wind."""
    return hours_of_wind(as_is.movement, as_is.full_wind)


def turns_left(as_is: AsItIs, hours: Number) -> Number:
    """Turns still wound ``hours`` after full wind; below zero after the reserve."""
    return as_is.full_wind - hours / hours_of_wind(as_is.movement, 1.0)


def operating_points(movement: Movement, setting: Setting) -> OperatingPoints:
    """All points of a movement (or a stack of them) in a setting: shape (…, positions, hours).

    A stack's arrays carry trailing axes of length 1 for positions and hours. Raises InputError when more turns
    are asked for than the barrel holds.
    """
    return points_in(setting.condition.applied_to(movement), setting)


def points_in(as_is: AsItIs, setting: Setting, hours: Number | None = None) -> OperatingPoints:
    """The points of a setting, whose condition has been applied: shape (…, positions, hours).

    ``hours``: others than the setting's, (hours,) for all positions or (positions, hours). Raises InputError as
    ``operating_points`` does.
    """
    if hours is None and setting.turns is not None:
        turns: Number = np.array(setting.turns)
        full = as_is.full_wind
        if np.any(turns > full * (1.0 + 1e-12)):
            most = float(np.min(full))
            raise InputError(
                f"turns = {np.max(turns):g} turns: more than fit, must be from 0 to {most:.4g} turns"
            )
    else:
        hours = np.asarray(setting.hours if hours is None else hours, float)
        turns = turns_left(as_is, hours)
    lying = setting.tilts[:, None], setting.hours_up[:, None]
    points = points_of(as_is, Moments(*lying, turns, setting.temperature_c))
    if hours is not None:  # as they were told, to the last digit
        told = np.array(np.broadcast_to(np.asarray(hours, float), points.shape))
        points = replace(points, hours=told.reshape(-1))
    return replace(points, positions=setting.positions)


def points_of(as_is: AsItIs, at: Moments) -> OperatingPoints:
    """The points of a movement (or a stack of them), in the condition it is in, at these moments.

    A stack of movements, (movements, 1, 1), broadcasts against moments (positions, hours) or (moments, 1).
    """
    movement = as_is.movement
    tilt, hour_up, turns, warmth = at
    balance, train, spring, barrel = movement.balance, movement.train, movement.mainspring, movement.barrel
    hours = hours_of_wind(movement, as_is.full_wind - turns)
    barrel_torque = spr.barrel_torque(spring, barrel, turns)
    escape_torque = trn.escape_torque(train, barrel_torque)
    omega, stiffness = bal.angular_frequency(balance, warmth), bal.stiffness(balance, warmth)
    pins = movement.index_pins
    kind, e = kind_of(movement.escapement), movement.escapement
    driven = Driven(
        balance.inertia_mg_cm2, stiffness, omega, escape_torque, np.radians(balance.out_of_beat_deg)
    )
    columns: dict[str, Number] = {
        "viscous": bal.viscous_loss(balance, warmth),
        "quadratic": balance.quadratic_drag,
        "dry": bal.pivot_torque(balance, tilt) / stiffness,
        "gravity": bal.poise_torque(balance, tilt) / stiffness,
        "heavy": bal.heavy_point_from_below(balance, hour_up),
        "cubic": balance.cubic_stiffness,
        "pins_share": pins.stiffness_share if pins else 0.0,
        "pins_low": pins.low if pins else -np.inf,
        "pins_high": pins.high if pins else np.inf,
    }
    of_escapement = kind.columns(e, driven)
    others = {
        "omega": omega,
        "nominal_omega": bal.nominal_frequency(balance),
        "stiffness": stiffness,
        "hours": hours,
        "turns": turns,
        "barrel_torque": barrel_torque,
        "escape_torque": escape_torque,
        "knock_angle": e.knock_angle(),
        "lift_angle": e.lift_angle(),
        "restitution": e.restitution(),
        "rest": 0.0,
    }
    coiled = None
    if movement.hairspring is not None:
        pivot = balance.mass_mg * MG * G0, balance.pivot_friction * balance.pivot_radius_mm * MM
        coiled = hair.at_balance(movement.hairspring, stiffness, pivot, tilt, hour_up)
        others["rest"] = coiled.rest
    shape = np.broadcast_shapes(
        np.shape(tilt), *(np.shape(values) for values in (columns | of_escapement | others).values())
    )

    def flat(values: Number) -> Array:
        return np.array(np.broadcast_to(np.asarray(values, float), shape)).reshape(-1)

    def flat_series(values: Array) -> Array:
        return np.array(np.broadcast_to(values, (len(values), *shape))).reshape(len(values), -1)

    of_balance: dict[str, Any] = {name: flat(values) for name, values in columns.items()}
    weight_series = np.empty((0, math.prod(shape)))
    if coiled is not None:
        weight_series = flat_series(coiled.weight)
        of_balance["torque_series"] = flat_series(coiled.shape) + weight_series
        of_balance["friction_series"] = flat_series(coiled.friction)
    right, left = kind.sides({name: flat(values) for name, values in of_escapement.items()})
    oscillators = Oscillators(**of_balance, right=right, left=left)
    arrays: dict[str, Any] = {name: flat(values) for name, values in others.items()}
    return OperatingPoints(shape=shape, oscillators=oscillators, weight_series=weight_series, **arrays)
