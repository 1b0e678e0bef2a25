"""The motion within a beat for a lesson: balance, lever and escape wheel at chosen swings and locks."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.path import cycle_paths
from oscsim.motion.sustain import sustain
from oscsim.movement import Movement
from oscsim.operating import operating_points
from oscsim.parts.escapement import fork_ratio, geometry
from oscsim.setting import Setting
from oscsim.stack import varied

#: Samples of each phase, and swings from a little above what reaches the fork to the largest, in equal ratios.
SAMPLES, SWINGS = 13, 7
_FLOOR, _LARGEST = 1.25, math.radians(340.0)


@dataclass(frozen=True, kw_only=True)
class Motion:
    """Two beats, clockwise and back, as samples (locks, swings, 2 · phases · SAMPLES): time over the period, angle of
    the balance over its swing, lever and wheel in deg. lock_deg (locks,), swing_deg (locks, swings); ``drawing``:
    angles from which wheel and pallets can be drawn, deg, and ratios."""

    lock_deg: Array
    swing_deg: Array
    time: Array
    balance: Array
    lever_deg: Array
    wheel_deg: Array
    drawing: dict[str, float]


def motion(movement: Movement, locks: tuple[float, ...]) -> Motion:
    """The motion of a poised balance at each lock, deg, dial up, the drive being what keeps up each swing."""
    fork = float(fork_ratio(movement.escapement))
    lock = np.repeat(locks, SWINGS)
    changes = {"escapement.lock_deg": lock, "escapement.fork_ratio": np.full(len(lock), fork)}
    stack = varied(movement, changes)
    points = operating_points(stack, Setting())
    osc = points.oscillators
    low = _FLOOR * osc.reach
    swing = low * (_LARGEST / low) ** np.tile(np.linspace(0.0, 1.0, SWINGS), len(locks))
    found = sustain(osc, swing)
    g, e = geometry(movement.escapement), movement.escapement
    per_wheel = fork * float(g.advance)
    half_tooth = math.pi / e.teeth
    # (beats, locks, swings, samples) each, in the frame of the watch: the second beat goes the other way
    beats = cycle_paths(osc.driven(found.factor), found.cycle, SAMPLES).reshape(4, 2, len(locks), SWINGS, -1)
    time, angle, lever, wheel = beats
    time[1] += time[0, ..., -1:]
    angle[1] *= -1.0
    lever[1] *= -1.0
    wheel[1] += half_tooth / per_wheel
    for n in range(2):  # on the free arc out the next tooth lies at the other stone
        wheel[n, ..., -SAMPLES:] = (n + 1) * half_tooth / per_wheel
    time, angle, lever, wheel = (np.concatenate(list(values), axis=-1) for values in beats)
    return Motion(
        lock_deg=np.array(locks),
        swing_deg=np.degrees(swing).reshape(len(locks), SWINGS),
        time=np.maximum.accumulate(time, axis=-1) / time[..., -1:],  # rounding must not turn it back
        balance=angle / swing.reshape(len(locks), SWINGS, 1),
        lever_deg=np.degrees(lever * fork),
        wheel_deg=np.degrees(wheel * per_wheel),
        drawing={
            "pins": e.kind == "pin-pallet",
            "teeth": e.teeth,
            "embraced": e.teeth_embraced,
            "fork_ratio": fork,
            "run_deg": e.run_deg,
            "lift_deg": e.pallet_lift_deg,
            "drop_deg": e.drop_deg,
            "advance": float(g.advance),
            "recoil": float(g.recoil),
        },
    )
