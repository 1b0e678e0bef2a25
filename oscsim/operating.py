"""From designs and a setting to a batch of oscillators: parts in, coefficients out, all points at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from oscsim.arrays import Array, Number
from oscsim.errors import InputError
from oscsim.motion.coefficients import Oscillators
from oscsim.movement import Movement
from oscsim.parts import balance as bal
from oscsim.parts import escapement as esc
from oscsim.parts import mainspring as spr
from oscsim.parts import train as trn
from oscsim.setting import Setting
from oscsim.units import MG_CM2


@dataclass(frozen=True)
class OperatingPoints:
    """A batch of operating points; ``shape`` is (…, positions, hours), every array is flat (points,).

    SI units: omega of balance and hairspring and nominal_omega of the beat rad/s, stiffness N·m/rad, hours in h,
    turns wound, torques N·m, knock and lift angles rad.
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


def hours_of_wind(movement: Movement, turns: Number) -> Number:
    """Hours that ``turns`` of the barrel last: one turn takes ratio · 2 · teeth / beats_per_hour hours."""
    per_turn = movement.train.ratio * 2.0 * movement.escapement.teeth / movement.balance.beats_per_hour
    return turns * per_turn


def operating_points(movement: Movement, setting: Setting) -> OperatingPoints:
    """All points of a movement (or a stack of them) in a setting: shape (…, positions, hours).

    A stack's arrays carry trailing axes of length 1 for positions and hours. Raises InputError when more turns
    are asked for than the barrel holds.
    """
    if setting.turns is not None:
        wound = setting.condition.applied_to(movement)
        full = spr.full_turns(wound.mainspring, wound.barrel)
        turns: Number = np.array(setting.turns)
        if np.any(turns > full * (1.0 + 1e-12)):
            most = float(np.min(full))
            raise InputError(
                f"turns = {np.max(turns):g} turns: more than fit, must be from 0 to {most:.4g} turns"
            )
        hours = hours_of_wind(movement, full - turns)
    else:
        hours = np.array(setting.hours)
    return points_at(movement, setting, hours)


def points_at(movement: Movement, setting: Setting, hours: Number) -> OperatingPoints:
    """The points of a setting at other hours since full wind: (hours,) for all positions or (positions, hours)."""
    moments = Moments(setting.tilts[:, None], setting.hours_up[:, None], hours, setting.temperature_c)
    return points_of(setting.condition.applied_to(movement), moments)


class Moments(NamedTuple):
    """Where the movement lies and when, arrays that broadcast together: tilt of the dial and hour that is up, rad,
    hours since full wind, °C."""

    tilt: Array
    hour_up: Array
    hours: Number
    temperature_c: Number


def points_of(movement: Movement, at: Moments) -> OperatingPoints:
    """The points of a movement (or a stack of them), in the condition it is in, at these moments."""
    tilt, hour_up, hours, warmth = at
    balance, train, spring, barrel = movement.balance, movement.train, movement.mainspring, movement.barrel
    turns = spr.full_turns(spring, barrel) - hours / hours_of_wind(movement, 1.0)
    barrel_torque = spr.barrel_torque(spring, barrel, turns)
    escape_torque = trn.escape_torque(train, barrel_torque)
    omega, stiffness = bal.angular_frequency(balance, warmth), bal.stiffness(balance, warmth)
    pins = movement.index_pins
    e, g = movement.escapement, esc.geometry(movement.escapement)
    ratio = g.fork_ratio
    inertia = balance.inertia_mg_cm2
    lever = ratio**2 * e.lever_inertia_mg_cm2 / inertia
    wheel = ratio**2 * e.wheel_inertia_mg_cm2 / inertia
    lever_and_wheel = lever + g.advance**2 * wheel
    # torques on the lever appear at the balance times the fork ratio, here in units of the stiffness
    at_balance = ratio * escape_torque / stiffness
    wheel_inertia = e.wheel_inertia_mg_cm2 * MG_CM2
    per_balance_angle = g.advance * ratio * omega**2
    columns = {
        "viscous": bal.viscous_loss(balance, warmth),
        "quadratic": balance.quadratic_drag,
        "dry": bal.pivot_torque(balance, tilt) / stiffness,
        "gravity": bal.poise_torque(balance, tilt) / stiffness,
        "heavy": bal.heavy_point_from_below(balance, hour_up),
        "cubic": balance.cubic_stiffness,
        "pins_share": pins.stiffness_share if pins else 0.0,
        "pins_low": pins.low if pins else -np.inf,
        "pins_high": pins.high if pins else np.inf,
        "centre": np.radians(balance.out_of_beat_deg),
        "contact": g.bank_to_bank / (2.0 * ratio),
        "unlocking": np.radians(e.lock_deg + e.run_deg) / ratio,
        "lift": np.radians(e.pallet_lift_deg) / ratio,
        "shake": np.radians(e.notch_shake_deg) / ratio,
        "unlocking_torque": at_balance * g.unlocking / e.fork_efficiency,
        "impulse_torque": at_balance * g.impulse * e.fork_efficiency,
        "inertia_unlocking": 1.0 + lever + g.recoil**2 * wheel,
        "inertia_lever": 1.0 + lever,
        "inertia_impulse": 1.0 + lever_and_wheel,
        "recoil": g.recoil / g.advance,
        "wheel_acceleration": escape_torque / (wheel_inertia * per_balance_angle),
        "wheel_share": g.advance**2 * wheel / lever_and_wheel,
        # M_i/(J g ω²) = (g M_i/k)/(g² J/I)
        "lever_acceleration": at_balance * g.impulse / lever_and_wheel,
    }
    others = (
        omega,
        bal.nominal_frequency(balance),
        stiffness,
        hours,
        turns,
        barrel_torque,
        escape_torque,
        esc.knock_angle(e),
        esc.lift_angle(e),
    )
    shape = np.broadcast_shapes(
        np.shape(tilt), *(np.shape(values) for values in (*columns.values(), *others))
    )

    def flat(values: Number) -> Array:
        return np.array(np.broadcast_to(np.asarray(values, float), shape)).reshape(-1)

    oscillators = Oscillators(**{name: flat(values) for name, values in columns.items()})
    return OperatingPoints(shape, oscillators, *(flat(values) for values in others))
