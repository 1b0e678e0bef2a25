"""How does the amplitude breathe with the turns of the train? What a bench would see of sound wheels and of faults."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from oscsim.answers.result import InSetting
from oscsim.arrays import Array
from oscsim.errors import InputError, nearest, shown
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.motion.response import followed, response
from oscsim.motion.states import CODE, STATES, TOO_FAR, State
from oscsim.motion.sustain import sustain
from oscsim.movement import Movement
from oscsim.operating import operating_points
from oscsim.parts.teeth import tooth_ripple
from oscsim.setting import Setting
from oscsim.turning import USUAL_ARBOR, Turning, mesh_friction, turnings, usual_tooth_ripple

DURATION = Quantity("s", "", "time to be followed", 10, 200000)
EVERY = Quantity("s", "", "time from one reading to the next", 0.2, 3600)
FAULT = Quantity("%", "", "ripple of the torque, half of peak to peak", 0, 50)
NOISE = Quantity("deg", "", "noise of one reading, standard deviation", 0, 30)
MOST_READINGS = 200_000
#: Harmonics of a tooth that are followed.
_HARMONICS = 8


@dataclass(frozen=True)
class Follows:
    """How a movement's amplitude follows its drive: state, settled amplitude deg, n_A, τ in s, |P(A) - A| rad, and the
    factor on the design's own drive."""

    state: str
    amplitude_deg: float
    sensitivity: float
    relaxation_s: float
    residual_rad: float
    drive: float = 1.0

    def share(self, period_s: float) -> float:
        """What is left of a slow ripple's swing at a period."""
        return float(followed(self.relaxation_s, period_s)[0])

    def swing_deg(self, torque: float, period_s: float) -> float:
        """Half of peak to peak of the amplitude for that of the torque, a share of it: (R3)."""
        return self.amplitude_deg * self.sensitivity * torque * self.share(period_s)


def follows_drive(
    movement: Movement, setting: Setting | None = None, amplitude_deg: float | None = None
) -> Follows:
    """The response in one position at one hour; with ``amplitude_deg`` the drive is such that it swings so far. Raises
    InputError where the movement does not simply run there."""
    setting = setting or Setting()
    setting.refuse("the amplitude followed is the balance's own", "lift_angle_deg")
    points = operating_points(movement, setting)
    osc, drive = points.oscillators, 1.0
    if osc.size != 1:
        raise InputError("positions, hours: give one position and one hour to follow the amplitude in time")
    if amplitude_deg is not None:
        kept = sustain(osc, np.array([math.radians(amplitude_deg)]))
        if not kept.sound[0]:
            raise InputError(
                f"amplitude = {amplitude_deg:.4g} deg: no torque keeps {movement.name} settled there; "
                "is it the right design?"
            )
        drive = float(kept.factor[0])
    found = response(osc.driven(np.array([drive])), points.knock_angle)
    state = STATES[int(found.state[0])]
    if state in TOO_FAR and amplitude_deg is not None:  # the response is that without the horn
        found = response(osc.driven(np.array([drive])), np.array([math.inf]))
    if not np.isfinite(found.relaxation[0]) or found.state[0] != CODE[State.RUNNING]:
        place = f"{setting.positions[0]}, {float(points.hours[0]):g} h"
        raise InputError(f"{place}: {state.value}; no even breathing to follow")
    return Follows(
        state=state.label,
        amplitude_deg=math.degrees(float(found.amplitude[0])),
        sensitivity=float(found.sensitivity[0]),
        relaxation_s=float(found.relaxation[0] / points.omega[0]),
        residual_rad=float(found.residual[0]),
        drive=drive,
    )


@dataclass(frozen=True)
class Part:
    """One thing that breathes: name, kind, period s, ripple of the torque % and swing of the amplitude deg, both half
    of peak to peak of the fundamental, and whether it was given as a fault."""

    name: str
    kind: str
    period_s: float
    torque_percent: float
    swing_deg: float
    fault: bool


def parts_of(movement: Movement, follows: Follows, faults_percent: Mapping[str, float]) -> tuple[Part, ...]:
    """What each arbor, mesh and hand does to the amplitude: sound teeth by (R2), sound arbors nothing, and the faults,
    by name, in % of torque. The numbers of a lesson about a bent pivot. Raises InputError for an unknown name."""
    known = turnings(movement)
    names = [one.name for one in known]
    for name, percent in faults_percent.items():
        if name not in names:
            raise InputError(f"fault {shown(name)}: nothing in this train; {nearest(str(name), names)}")
        FAULT.check(f"fault {name}", percent)

    def part(one: Turning) -> Part:
        own = 100.0 * usual_tooth_ripple(movement, one.mesh) if one.mesh else 0.0
        percent = faults_percent.get(one.name, own)
        swing = follows.swing_deg(0.01 * percent, one.period_s)
        return Part(one.name, one.kind, one.period_s, float(percent), swing, one.name in faults_percent)

    return tuple(part(one) for one in known)


@dataclass(frozen=True, repr=False, kw_only=True)
class Breathing(InSetting):
    """Amplitude over minutes or hours: time_s and amplitude_deg as read, clean_deg without the reading's noise, each
    (readings,); parts: what breathes, and how much; follows: the response at the start."""

    follows: Follows
    parts: tuple[Part, ...]
    noise_deg: float
    time_s: Array
    amplitude_deg: Array
    clean_deg: Array

    def settings(self) -> dict[str, Any]:
        faults = {part.name: part.torque_percent for part in self.parts if part.fault}
        return super().settings() | {"faults_percent": faults, "noise_deg": self.noise_deg}

    def rows(self) -> list[dict[str, Any]]:
        return [
            {"time_s": t, "amplitude_deg": a} for t, a in zip(self.time_s, self.amplitude_deg, strict=True)
        ]

    def body(self) -> dict[str, Any]:
        return {
            "state": self.follows.state,
            "residual_rad": self.follows.residual_rad,
            "settled_deg": self.follows.amplitude_deg,
            "sensitivity": self.follows.sensitivity,
            "relaxation_s": self.follows.relaxation_s,
            "parts": [dict(vars(part)) for part in self.parts],
            "time_s": self.time_s,
            "amplitude_deg": self.amplitude_deg,
            "clean_deg": self.clean_deg,
        }


@takes_design
def breathing(
    movement: Movement,
    setting: Setting | None = None,
    *,
    faults_percent: Mapping[str, float] | None = None,
    duration_s: float = 1800.0,
    every_s: float = 5.0,
    noise_deg: float = 0.0,
    rng: np.random.Generator | None = None,
) -> Breathing:
    """The amplitude for ``duration_s``, a reading ``every_s``, by (R3) of docs/physics.md §3: sound teeth by (R2), and
    faults by name (arbors as 'fourth', meshes as 'third-fourth', hands as 'second hand') in % of torque, half of peak
    to peak. The mean falls with the hours as in ``rundown``, phases are drawn from ``rng`` (default: seed 0), and so is
    the noise of a reading. Raises InputError.
    """
    DURATION.check("duration_s", duration_s)
    EVERY.check("every_s", every_s)
    NOISE.check("noise_deg", noise_deg)
    if duration_s / every_s > MOST_READINGS:
        raise InputError(f"duration_s, every_s: {duration_s / every_s:.0f} readings, at most {MOST_READINGS}")
    setting = setting or Setting()
    rng = np.random.default_rng(0) if rng is None else rng
    time = np.arange(0.0, duration_s + 0.5 * every_s, every_s)
    follows, mean = _course(movement, setting, float(time[-1]))
    parts = parts_of(movement, follows, faults_percent or {})
    relative = np.zeros_like(time)
    for part, one in zip(parts, turnings(movement), strict=True):
        start = rng.uniform(0.0, 2.0 * math.pi)
        shape = _tooth_shape(movement, one) if one.mesh else np.array([1.0])
        for number, size in enumerate(shape, start=1):
            share, lag = followed(follows.relaxation_s, one.period_s / number)
            phase = number * (2.0 * math.pi * time / one.period_s + start) - lag
            turned = np.cos(phase + np.angle(size))
            relative += 0.01 * part.torque_percent * abs(size) * follows.sensitivity * share * turned
    clean = mean(time) * (1.0 + relative)
    read = clean + noise_deg * rng.standard_normal(len(time)) if noise_deg > 0.0 else clean
    return Breathing(
        movement=movement, setting=setting, follows=follows, parts=parts, noise_deg=float(noise_deg), time_s=time,
        amplitude_deg=read, clean_deg=clean,
    )  # fmt: skip


def _tooth_shape(movement: Movement, one: Turning) -> Array:
    """Harmonics of a tooth over its fundamental, complex."""
    assert one.mesh is not None
    leaf = (np.arange(256) + 0.5) / 256.0
    waves = np.fft.rfft(tooth_ripple(one.mesh, mesh_friction(movement, one.mesh), leaf))
    if not abs(waves[1]) > 1e-12:
        return np.array([1.0])
    number = np.arange(1, _HARMONICS + 1)
    # where the fundamental begins at nought, the others begin with it
    return np.asarray(waves[number] / abs(waves[1]) * np.exp(-1j * number * np.angle(waves[1])))


@lru_cache(maxsize=8)
def _course(movement: Movement, setting: Setting, seconds: float) -> tuple[Follows, Callable[[Array], Array]]:
    """The response at the start, and the amplitude without ripple, deg, at times, s: settled at a few hours up to
    ``seconds``, and a curve through them. Kept, since faults change neither."""
    follows = follows_drive(movement, setting)
    if setting.turns is not None:
        return follows, lambda time: np.full(len(time), follows.amplitude_deg)
    start = float(np.ravel(setting.hours)[0])
    hours = start + np.linspace(0.0, seconds / 3600.0, 5)
    points = operating_points(movement, replace(setting, hours=tuple(hours)))
    found = response(points.oscillators, points.knock_angle)
    if not np.isfinite(found.sensitivity).all():
        raise InputError(
            f"hours: from {hours[0]:.3g} to {hours[-1]:.3g} h the watch does not run evenly all the time"
        )
    curve = np.polynomial.Polynomial.fit(hours, np.degrees(found.amplitude), 4)
    return follows, lambda time: np.asarray(curve(start + time / 3600.0))


def reading_uncertainty_deg(
    follows: Follows, movement: Movement, seconds: float, *, arbor_percent: float = 100.0 * USUAL_ARBOR / 2.0
) -> float:
    """Standard uncertainty, deg, that the train's usual ripple gives a reading which averages over ``seconds``: sound
    teeth by (R2), arbors out of round by ``arbor_percent``, each at a phase nobody knows."""
    total = 0.0
    for one in turnings(movement):
        torque = usual_tooth_ripple(movement, one.mesh) if one.mesh else 0.01 * arbor_percent
        if one.kind == "hand":
            continue
        swing = follows.swing_deg(torque, one.period_s) * float(np.sinc(seconds / one.period_s))
        total += 0.5 * swing**2
    return math.sqrt(total)
