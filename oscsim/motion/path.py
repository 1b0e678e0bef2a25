"""The motion within a beat, densely: the engine's own arcs and pushes, each ended at many angles.

For pictures and lessons. Of one point at a time, a batch's columns being the samples of one motion; or the settled
cycles of a batch with as many samples of every phase (``cycle_paths``).
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.arcs import free_arc
from oscsim.motion.balance import Balance
from oscsim.motion.coefficients import Beats, Oscillators
from oscsim.motion.cycle import Cycle, gaps
from oscsim.motion.rules import LADDER

RULE = LADDER[2]
#: Newton steps for the turning point that belongs to a speed; each gains four digits or more.
_STEPS = 6


@dataclass(frozen=True)
class Path:
    """Samples of one stretch of motion, each (samples,), in the frame of its beat: balance moving to positive x.

    phase: index into the phases of the escapement; time in 1/ω; x, rad; speed in rad·ω; lever: its angle from the
    line of centres over the fork ratio, rad; wheel: its angle since the beat began over (p times the fork ratio), so
    that in the impulse it keeps step with the lever; torque: of the escapement on the balance, over k.
    """

    phase: Array
    time: Array
    x: Array
    speed: Array
    lever: Array
    wheel: Array
    torque: Array


def joined(paths: list[Path]) -> Path:
    """Stretches one after another."""
    return Path(*(np.concatenate([getattr(path, f.name) for path in paths]) for f in fields(Path)))


def turning_point(balance: Balance, x: float, speed: float, *, backwards: bool) -> float:
    """Amplitude, rad, of the arc that passes ``x`` at ``speed``: outward to it (backwards), or inward from it."""
    at, w = np.array([x]), speed * speed
    turn = np.sqrt(at * at + w)
    for _ in range(_STEPS):
        arc = free_arc(balance, turn, at, RULE, backwards=backwards)
        turn = np.maximum(turn - (arc.speed_squared - w) / arc.slope, 0.5 * (turn + np.abs(at)))
    return float(turn[0])


def arc_path(one: Beats, amplitude: float, near: float, far: float, samples: int, *, outward: bool) -> Path:
    """A free arc between the angles ``near`` and ``far`` from its turning point at ``amplitude``, in order of time.

    Inward (from -amplitude) or outward (to +amplitude); time counts from or to the turning point. ``near`` may be
    the turning point itself.
    """
    sign = 1.0 if outward else -1.0
    reach = max(amplitude, 1e-300)  # a balance at rest has no phase angle
    # even steps of the phase angle crowd the samples where the balance is slow
    ends = np.arccos(np.clip([sign * near / reach, sign * far / reach], -1.0, 1.0))
    x = sign * amplitude * np.cos(np.linspace(float(ends[0]), float(ends[1]), samples))
    resting = np.abs(x) >= amplitude * (1.0 - 1e-14)
    turn = np.full(samples, amplitude)
    arc = free_arc(one.repeated(samples), turn, np.where(resting, 0.0, x), RULE, backwards=outward)
    time = np.where(resting, 0.0, arc.time)
    speed = np.where(resting, 0.0, np.sqrt(arc.speed_squared))
    order = slice(None, None, -1) if outward else slice(None)
    return Path(
        phase=np.full(samples, len(one.escapement.phases) - 1 if outward else 0),
        time=(-time if outward else time)[order],
        x=x[order],
        speed=speed[order],
        lever=np.full(samples, float(one.escapement.at_rest(outward=outward)[0])),
        wheel=np.zeros(samples),
        torque=np.zeros(samples),
    )


def lift_path(one: Beats, speed: float, samples: int) -> Path:
    """The lift from pin contact at ``speed``, time counting from there; it ends early where the balance stops."""
    many, share = one.repeated(samples), np.linspace(0.0, 1.0, samples)
    lifts = one.escapement.lift(one, np.array([speed * speed]), RULE)
    paths: list[Path] = []
    begun = 0.0
    for stretch in one.escapement.stretches(lifts):
        if not stretch.there[0]:
            continue
        end = stretch.repeated(samples).to(many, stretch.length * share, RULE)
        time = np.where(share > 0.0, end.time, 0.0)
        v = np.sqrt(np.where(share > 0.0, end.speed_squared, stretch.w))
        x = stretch.start + stretch.length * share
        lever, wheel = stretch.hands(x, time)
        phase = np.full(samples, one.escapement.phases.index(stretch.phase))
        paths.append(Path(phase, time + begun, x, v, lever, wheel, stretch.torque_at(x)))
        begun += float(time[-1])
    path = joined(paths)
    moving = np.isfinite(path.time) & np.isfinite(path.speed)
    stopped = len(moving) if moving.all() else int(np.argmin(moving))
    return Path(*(getattr(path, f.name)[:stopped] for f in fields(path)))


def cycle_paths(osc: Oscillators, cycle: Cycle, samples: int) -> Array:
    """Two beats, right and left, of every closed ``cycle``: time, balance, lever and wheel of the frame of each beat,
    units as in ``Path``, with ``samples`` of every phase: (4, 2, points, phases · samples).

    Time begins anew with each beat. A phase that a beat does not have stands still at the end of the one before.
    """
    both = osc.both_beats
    before, after = np.concatenate([cycle.left, cycle.right]), np.concatenate([cycle.right, cycle.left])
    many, share = both.tiled(samples), np.linspace(0.0, 1.0, samples)[:, None]
    none = np.zeros((samples, both.size))
    with np.errstate(all="ignore"):
        lifts = gaps(both, cycle.left, cycle.right, RULE).lifts

        def arc(turn: Array, end: Array, outward: bool) -> tuple[Array, Array, Array, Array]:
            """Inward to ``end`` from the turning point, or outward from it."""
            sign = 1.0 if outward else -1.0
            phase = np.arccos(sign * end / turn) * share
            x = sign * turn * np.cos(phase)
            # half the swing stands in where the balance rests: an arc of no length has no time to be computed
            ends = np.where(share > 0.0, x, 0.5 * sign * turn)
            found = free_arc(many, np.tile(turn, samples), ends.reshape(-1), RULE, backwards=outward)
            time = np.where(share > 0.0, found.time.reshape(x.shape), 0.0)
            if outward:
                x, time = x[::-1], (time[-1] - time)[::-1]
            return time, x, none + both.escapement.at_rest(outward=outward), none

        parts = [arc(before, both.escapement.pin_contact, False)]
        for stretch in both.escapement.stretches(lifts):
            travel = stretch.length * share
            end = stretch.tiled(samples).to(many, travel.reshape(-1), RULE)
            time = np.where(travel > 0.0, end.time.reshape(travel.shape), 0.0)
            x = stretch.start + travel
            lever, wheel = stretch.hands(x, time)
            last = parts[-1]
            parts.append(
                (
                    last[0][-1] + np.where(stretch.there, time, 0.0),
                    np.where(stretch.there, x, last[1][-1]),
                    np.where(stretch.there, lever, last[2][-1]),
                    np.where(stretch.there, wheel, last[3][-1]),
                )
            )
        time, *rest = arc(after, lifts.drop, True)
        parts.append((parts[-1][0][-1] + time, *rest))
    stacked = np.concatenate([np.stack(part) for part in parts], axis=1)
    return np.asarray(stacked.reshape(4, -1, 2, osc.size).transpose(0, 2, 3, 1))
