"""The motion within a beat for a lesson: balance, lever and escape wheel at chosen swings and locks."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import islice

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.path import Path
from oscsim.motion.sustain import sustain
from oscsim.motion.transient import swings
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
    rows = []
    for i in range(osc.size):
        one = osc.take(np.array([i])).driven(found.factor[i : i + 1])
        beats = islice(
            swings(one, float(found.cycle.left[i]), math.inf, 0.0, wheel_pitch=half_tooth / per_wheel, samples=SAMPLES),
            2,
        )  # fmt: skip
        rows.append(np.concatenate([_laid_out(beat.path, osc.right.phases) for beat in beats], axis=1))
    time, angle, lever, wheel = np.array(rows).reshape(len(locks), SWINGS, 4, -1).transpose(2, 0, 1, 3)
    return Motion(
        lock_deg=np.array(locks),
        swing_deg=np.degrees(swing).reshape(len(locks), SWINGS),
        time=np.maximum.accumulate(time, axis=-1) / time[..., -1:],  # rounding must not turn it back
        balance=angle / swing.reshape(len(locks), SWINGS, 1),
        lever_deg=np.degrees(lever * fork),
        wheel_deg=np.degrees(wheel * per_wheel),
        drawing={
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


def _laid_out(path: Path | None, phases: tuple[str, ...]) -> Array:
    """Time, angle, lever and wheel of a beat with SAMPLES samples for every phase: (4, len(phases) · SAMPLES).

    A phase that did not happen stands still at the end of the one before.
    """
    assert path is not None
    kept, last = [], 0
    for phase in range(len(phases)):
        index = np.flatnonzero(path.phase == phase)
        index = index if len(index) == SAMPLES else np.full(SAMPLES, last)
        last = int(index[-1])
        kept.append(index)
    order = np.concatenate(kept)
    return np.stack([path.time[order], path.x[order], path.lever[order], path.wheel[order]])
