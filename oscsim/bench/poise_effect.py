"""What one µg·cm of unbalance does to the rate at the amplitudes read, by the engine, escapement and all."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from oscsim.answers.heavy_point import Turned
from oscsim.arrays import Array
from oscsim.errors import InputError
from oscsim.motion.coefficients import Oscillators, joined
from oscsim.motion.sustain import Sustained, sustain
from oscsim.movement import Movement
from oscsim.operating import operating_points
from oscsim.setting import Setting
from oscsim.slips.readings import Reading, Readings
from oscsim.units import DAY, G0, UG_CM

#: Directions of a unit unbalance, deg clockwise from 12: both ways along 12-6 and along 3-9.
_WAYS = (0.0, 180.0, 90.0, 270.0)
#: Unbalance of the difference quotient, as a torque over the hairspring's stiffness, and its step in amplitude, rad.
_GAMMA, _STEP = 1e-4, 1e-3
#: Steps from apparent to true amplitude: they are proportional to within a few thousandths.
_STEPS, _CLOSE = 8, 1e-10


@dataclass(frozen=True)
class Effect:
    """For each reading: true amplitude_deg; effect (2, readings) in s/day per µg·cm towards 12 and towards 3; slope
    (2, readings), the effect's change per degree of amplitude shown; node_deg, the true amplitude at which the sign
    turns over; shown_over_true (readings,)."""

    amplitude_deg: Array
    effect: Array
    slope: Array
    node_deg: float
    shown_over_true: Array


def lift_told(movement: Movement, readings: Readings) -> float:
    """The lift angle the instrument was told, deg: the design's own unless the readings say otherwise."""
    if readings.lift_angle_deg is not None:
        return readings.lift_angle_deg
    return math.degrees(float(movement.escapement.lift_angle()))


def poise_effect(
    movement: Movement, rows: Sequence[Reading], shown_deg: Array, lift_angle_deg: float, source: str
) -> Effect:
    """The effect at amplitudes ``shown_deg`` (readings,) by an instrument told ``lift_angle_deg``.

    Raises InputError naming the reading where this design cannot swing so far or so little.
    """
    positions = tuple(dict.fromkeys(row.position for row in rows))
    points = operating_points(movement, Setting(positions=positions))
    which = np.array([positions.index(row.position) for row in rows])
    osc = replace(points.oscillators, gravity=np.zeros(len(positions))).take(which)
    # φ = heavy point - hour up - 180°, so that of 12 o'clock is what the design's own is not
    twelve = points.oscillators.heavy[which] - math.radians(movement.balance.heavy_point_deg)
    unit = UG_CM * G0 / points.stiffness[which]
    faster = points.omega[which] / points.nominal_omega[which]
    true, shown = _true_amplitude(osc, np.radians(shown_deg), math.radians(lift_angle_deg))
    bad = ~np.isfinite(true)
    if bad.any():
        row = rows[int(np.argmax(bad))]
        raise InputError(
            f"{source}: {row.position} at {row.hours:g} h: this design cannot swing at the "
            f"{shown_deg[np.argmax(bad)]:g} deg shown; check amplitude and lift angle"
        )
    scale = unit / _GAMMA * DAY * faster

    def both(swing: Array) -> Array:
        ways = [_odd(osc, twelve, swing, _WAYS[:2]), _odd(osc, twelve, swing, _WAYS[2:])]
        return np.asarray(np.stack(ways) * scale)

    ratio = shown / true
    slope = (both(true + _STEP) - both(true - _STEP)) / (2.0 * _STEP) / ratio
    node = math.degrees(Turned(points.take(np.array([0])), _GAMMA).node())
    return Effect(
        np.degrees(true),
        both(true),
        np.radians(slope),
        node,
        ratio,
    )


def _true_amplitude(osc: Oscillators, shown: Array, told: float) -> tuple[Array, Array]:
    """The amplitudes (points,) whose sounds an instrument takes for ``shown``, and what it shows there, rad."""
    true = shown.copy()
    apparent = shown
    for _ in range(_STEPS):
        found = sustain(osc, true)
        cycle = found.cycle
        with np.errstate(invalid="ignore"):
            # where only one of the beats has an impulse, that is the one that is heard whole
            tick = cycle.ticks.mean(axis=0) if osc.right.alike else cycle.ticks[0]
            apparent = 0.5 * told / np.sin(math.pi * tick / cycle.period)
        following = np.where(found.sound, true * shown / apparent, np.nan)
        if not np.nanmax(np.abs(following - true), initial=0.0) > _CLOSE:
            return following, apparent
        true = following
    return true, apparent


def _odd(osc: Oscillators, twelve: Array, swing: Array, ways: tuple[float, ...]) -> Array:
    """Half the difference of 1/period with a small unbalance one way and the other: its linear effect, (points,)."""
    gravity = np.full(osc.size, _GAMMA)
    batch = joined([replace(osc, gravity=gravity, heavy=twelve + math.radians(way)) for way in ways])
    found: Sustained = sustain(batch, np.tile(swing, len(ways)))
    faster = (2.0 * math.pi / found.cycle.period).reshape(len(ways), -1)
    return np.asarray(0.5 * (faster[0] - faster[1]))
