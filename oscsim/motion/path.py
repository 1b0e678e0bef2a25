"""The motion within a beat, densely: the engine's own arcs and pushes, each ended at many angles.

One point at a time, for pictures and lessons: a batch's columns are here the samples of one motion.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.arcs import free_arc
from oscsim.motion.coefficients import SERIES, Oscillators
from oscsim.motion.contact import push
from oscsim.motion.lift import lift
from oscsim.motion.rules import LADDER, collocation

#: Phases in the order of a beat, in the words of the trade; a Path holds their index.
PHASES = ("free arc in", "unlocking", "catch-up", "run through the shake", "impulse", "free arc out")
RULE = LADDER[2]
#: Newton steps for the turning point that belongs to a speed; each gains four digits or more.
_STEPS = 6


@dataclass(frozen=True)
class Path:
    """Samples of one stretch of motion, each (samples,), in the frame of its beat: balance moving to positive x.

    phase: index into PHASES; time in 1/ω; x, rad; speed in rad·ω; lever: its angle from the line of centres over
    the fork ratio, rad; wheel: its angle since the beat began over (p times the fork ratio), so that in the
    impulse it keeps step with the lever; torque: of the escapement on the balance, over k.
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


def turning_point(osc: Oscillators, x: float, speed: float, *, backwards: bool) -> float:
    """Amplitude, rad, of the arc that passes ``x`` at ``speed``: outward to it (backwards), or inward from it."""
    at, w = np.array([x]), speed * speed
    turn = np.sqrt(at * at + w)
    for _ in range(_STEPS):
        arc = free_arc(osc, turn, at, RULE, backwards=backwards)
        turn = np.maximum(turn - (arc.speed_squared - w) / arc.slope, 0.5 * (turn + np.abs(at)))
    return float(turn[0])


def arc_path(
    osc: Oscillators, amplitude: float, near: float, far: float, samples: int, *, outward: bool
) -> Path:
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
    many = osc.take(np.zeros(samples, int))
    turn = np.full(samples, amplitude)
    arc = free_arc(many, turn, np.where(resting, 0.0, x), RULE, backwards=outward)
    time = np.where(resting, 0.0, arc.time)
    speed = np.where(resting, 0.0, np.sqrt(arc.speed_squared))
    bank = sign * osc.contact[0]
    order = slice(None, None, -1) if outward else slice(None)
    return Path(
        phase=np.full(samples, PHASES.index("free arc out" if outward else "free arc in")),
        time=(-time if outward else time)[order],
        x=x[order],
        speed=speed[order],
        lever=np.full(samples, bank),
        wheel=np.zeros(samples),
        torque=np.zeros(samples),
    )


def lift_path(osc: Oscillators, speed: float, samples: int) -> Path:
    """The lift from pin contact at ``speed``, time counting from there; it ends early where the balance stops."""
    many = osc.take(np.zeros(samples, int))
    share = np.linspace(0.0, 1.0, samples)
    nodes, sweeps = collocation(RULE.contact_nodes), RULE.contact_sweeps
    lifts = lift(osc, np.array([speed * speed]), RULE)
    one = {f.name: float(getattr(osc, f.name)[0]) for f in fields(osc) if f.name not in SERIES}
    stretches: list[Path] = []

    def stretch(start: float, length: float, w: float, inertia: float, torque: float) -> tuple[Array, Array]:
        """Times and speeds at even shares of a push."""
        first, whole = np.full(samples, start), length * share
        end = push(many, first, whole, np.full(samples, w), inertia, torque, nodes, sweeps)
        return np.where(share > 0.0, end.time, 0.0), np.sqrt(np.where(share > 0.0, end.speed_squared, w))

    def add(phase: int, time: Array, x: Array, v: Array, lever: Array, wheel: Array, torque: float) -> None:
        begun = stretches[-1].time[-1] if stretches else 0.0
        full = np.full(samples, phase), time + begun, x, v, lever, wheel, np.full(samples, torque)
        stretches.append(Path(*full))

    x0, centre = float(osc.pin_contact[0]), one["centre"]
    heavier = one["inertia_unlocking"]
    time, v = stretch(x0, one["unlocking"], (speed / heavier) ** 2, heavier, -one["unlocking_torque"])
    x = x0 + one["unlocking"] * share
    add(1, time, x, v, x - centre, -one["recoil"] * (x - x0), -one["unlocking_torque"])
    release, wheel_then = x[-1], stretches[-1].wheel[-1]
    catching, running = float(lifts.catching[0]), float(lifts.running[0])
    missed = catching >= one["lift"] * (1.0 - 1e-12)
    back = one["recoil"] * v[-1]
    time, v = stretch(release, catching, v[-1] ** 2, one["inertia_lever"], 0.0)
    x = release + catching * share
    wheel = wheel_then + (0.5 * one["wheel_acceleration"] * time - back) * time
    add(2, time, x, v, x - centre, wheel, 0.0)
    if not missed:
        start, caught = x[-1], v[-1]
        wheel_speed = one["wheel_acceleration"] * time[-1] - back
        lever_speed = caught + one["wheel_share"] * (wheel_speed - caught)
        time, v = stretch(start, running, caught**2, 1.0, 0.0)
        lead = (lever_speed + 0.5 * one["lever_acceleration"] * time) * time
        wheel_then = stretches[-1].wheel[-1]
        add(3, time, start + running * share, v, start - centre + lead, wheel_then + lead, 0.0)
        if not lifts.lost[0]:
            lever_speed += one["lever_acceleration"] * time[-1]
            heavier = one["inertia_impulse"]
            met = (v[-1] + (heavier - 1.0) * lever_speed) / heavier
            begin, end = start + running, float(lifts.drop[0])
            lever_then, wheel_then = stretches[-1].lever[-1], stretches[-1].wheel[-1]
            time, v = stretch(begin, end - begin, met**2, heavier, one["impulse_torque"])
            gone = (end - begin) * share
            add(4, time, begin + gone, v, lever_then + gone, wheel_then + gone, one["impulse_torque"])
    path = joined(stretches)
    moving = np.isfinite(path.time) & np.isfinite(path.speed)
    stopped = len(moving) if moving.all() else int(np.argmin(moving))
    return Path(*(getattr(path, f.name)[:stopped] for f in fields(path)))
