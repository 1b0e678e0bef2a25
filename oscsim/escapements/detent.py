"""The chronometer's detent: coefficients of ``motion/detent`` from the part."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from oscsim.arrays import Array, Number
from oscsim.escapements.kind import Driven, Hands, Put, Told
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.detent.detent import Detent
from oscsim.motion.escapement import Drive, Escapement
from oscsim.motion.states import Failure
from oscsim.parts.detent import DetentEscapement as Part
from oscsim.parts.detent import end_of_impulse, impulse_radius, unlocking_torque
from oscsim.units import MG_CM2

_UN_M = 1e-6


BEYOND = Detent.beyond
TOO_FAR = "the balance comes round, unlocks the detent a second time in one swing and trips"
ALIKE = False
RELEASE, MET = "detent", "escapement"
FAILURES = {
    Failure.LET_DOWN: "no torque is left on the escape wheel",
    Failure.NOT_UNLOCKED: "the swing dies away until the balance no longer unlocks the detent",
    Failure.NOT_CAUGHT: "the escape wheel comes too late to catch the impulse pallet",
    Failure.SETS: "at rest the wheel stands locked and nothing drives the balance, so it must be given a swing that "
    "unlocks",
}
PHASES = {
    "free arc in": ("free", "free arc"),
    "unlocking": ("unlocking", "unlocking"),
    "detent carried": ("unlocking", "unlocking"),
    "run to the catch": ("run", "run of the wheel"),
    "impulse": ("impulse", "impulse"),
    "passing spring": ("passing", "passing spring"),
    "free arc out": ("free", "free arc"),
}
WORDS = {
    "recoil": "recoil of the wheel while unlocking",
    "lock_friction": "friction on the locking faces",
    "detent_spring": "bending the detent's spring",
    "detent": "motion left in the detent when it is let go",
    "detent_pick_up": "picking up the detent",
    "wheel_catch": "the tooth's blow on the impulse pallet",
    "impulse_friction": "friction on the impulse pallet",
    "wheel_left": "motion left in the wheel at drop",
    "passing_spring": "bending the passing spring",
}
REMOVALS = {
    "draw and lock friction": ("recoil", "lock_friction"),
    "spring of the detent": ("detent_spring",),
    "friction on the impulse pallet": ("impulse_friction",),
    "inertia of detent and wheel": ("detent", "detent_pick_up", "wheel_catch", "wheel_left"),
    "passing spring": ("passing_spring",),
}
_WEIGHTLESS = {"escapement.detent_inertia_mg_cm2": 1e-5, "escapement.wheel_inertia_mg_cm2": 1e-5}


def columns(e: Part, driven: Driven) -> dict[str, Number]:
    """Coefficients by name, arrays of any shape that broadcasts."""
    draw, rho = np.radians(e.draw_deg), np.arctan(e.detent_friction)
    first, freed, let_go = (np.radians(angle) for angle in e.unlocking_deg)
    begins, ends = (np.radians(angle) for angle in e.passing_deg)
    return {
        "centre": driven.out_of_beat,
        "unlock_from": first,
        "unlock_to": freed,
        "let_go": let_go,
        "passing_from": -begins,
        "passing_to": -ends,
        "distance": e.centre_distance,
        "half_advance": np.radians(e.half_advance_deg),
        "impulse_to": end_of_impulse(e),
        "fall": np.radians(e.drop_deg),
        "friction": e.impulse_friction,
        "wheel_inertia": e.wheel_inertia_mg_cm2 / driven.inertia,
        "detent_inertia": e.detent_ratio**2 * e.detent_inertia_mg_cm2 / driven.inertia,
        "wheel_torque": driven.torque / driven.stiffness,
        "wheel_acceleration": driven.torque / (e.wheel_inertia_mg_cm2 * MG_CM2 * driven.omega**2),
        "lock_torque": unlocking_torque(e) * driven.torque / driven.stiffness,
        "draw_share": np.tan(draw) / np.maximum(np.tan(draw + rho), 1e-300),
        "spring_torque": e.detent_ratio * e.detent_spring_un_m * _UN_M / driven.stiffness,
        "passing_torque": e.passing_spring_un_m * _UN_M / driven.stiffness,
    }


def sides(columns: Mapping[str, Array]) -> tuple[Escapement, Escapement]:
    """The detent in the beats that unlock it, and in those that only pass it."""
    right = Detent(gives=np.ones(len(columns["centre"]), bool), **columns)
    return right, right.returning()


def drive(e: Part, driven: Driven) -> Drive:
    """Nothing: the batch keeps all that the account of energy needs."""
    return Drive()


def without(e: Part, osc: Oscillators, put: Put) -> dict[str, Oscillators]:
    """The batch without each of ``REMOVALS``."""
    none = np.zeros(osc.size)

    def changed(**columns: Array) -> Oscillators:
        return osc.with_escapement(lambda side: replace(side, **columns))

    return {
        "draw and lock friction": changed(lock_torque=none),
        "spring of the detent": changed(spring_torque=none),
        "friction on the impulse pallet": changed(friction=none),
        "inertia of detent and wheel": put(_WEIGHTLESS),
        "passing spring": changed(passing_torque=none),
    }


def hands(e: Part) -> Hands:
    """Scales of the hands of one movement; the wheel goes on by a whole space in every second beat."""
    return Hands(float(e.detent_ratio), 1.0, math.pi / e.teeth, None)


def follows(e: Part) -> list[Told]:
    """What follows from its numbers and is worth telling."""
    return [
        Told("lift_angle_deg", "lift angle, from the detent met to the end of the impulse", "deg",
             math.degrees(float(e.lift_angle()))),
        Told("knock_angle_deg", "swing at which it trips", "deg", math.degrees(float(e.knock_angle()))),
        Told("impulse_deg", "balance angle of the whole impulse", "deg",
             2.0 * math.degrees(float(end_of_impulse(e)))),
        Told("impulse_over_wheel_radius", "impulse pallet over wheel radius", "", float(impulse_radius(e))),
    ]  # fmt: skip
