"""The lever, on stones or on pins: coefficients of ``motion/lever`` from the part."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from oscsim.arrays import Array, Number
from oscsim.escapements.kind import Driven, Hands, Put, Told
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.escapement import Escapement
from oscsim.motion.lever.lever import Lever
from oscsim.motion.lever.numbers import LeverDrive
from oscsim.motion.states import Failure
from oscsim.parts.escapement import Escapement as Part
from oscsim.parts.escapement import geometry
from oscsim.units import MG_CM2

BEYOND = Lever.beyond
TOO_FAR = "the impulse pin strikes the fork's horn from outside"
ALIKE = True
RELEASE, MET = "lever", "fork"
FAILURES = {
    Failure.LET_DOWN: "no torque is left on the escape wheel",
    Failure.NOT_UNLOCKED: "the swing dies away until the balance no longer unlocks the lever",
    Failure.NOT_CAUGHT: "the escape wheel comes too late to give its impulse",
}
PHASES = {
    "free arc in": ("free", "free arc"),
    "unlocking": ("unlocking", "unlocking"),
    "catch-up": ("run", "run of wheel and lever"),
    "run through the shake": ("run", "run of wheel and lever"),
    "impulse": ("impulse", "impulse"),
    "free arc out": ("free", "free arc"),
}
WORDS = {
    "drop": "drop of the escape wheel",
    "recoil": "recoil of the wheel while unlocking",
    "lock_friction": "friction on the locking faces",
    "pallet_friction": "friction on the impulse planes",
    "fork": "fork and impulse pin",
    "pick_up": "picking up lever and wheel",
    "catch": "lift lost until the wheel catches up",
    "shake": "lift lost in the notch's shake",
    "lever_and_wheel": "motion left in lever and wheel at drop",
}
REMOVALS = {
    "drop": ("drop",),
    "draw and lock friction": ("recoil", "lock_friction"),
    "friction on the impulse planes": ("pallet_friction",),
    "fork and impulse pin": ("fork",),
    "inertia of lever and wheel": ("pick_up", "catch", "lever_and_wheel"),
    "shake of the notch": ("shake",),
}
#: Places taken together, for apprentices.
GROUPS = {
    "drop": ("drop",),
    "unlocking": ("recoil", "lock_friction"),
    "impulse faces": ("pallet_friction",),
    "fork and pin": ("fork",),
    "lever and wheel": ("pick_up", "catch", "shake", "lever_and_wheel"),
}
_WEIGHTLESS = {"escapement.lever_inertia_mg_cm2": 1e-5, "escapement.wheel_inertia_mg_cm2": 1e-5}


def columns(e: Part, driven: Driven) -> dict[str, Number]:
    """Coefficients by name, arrays of any shape that broadcasts."""
    g, ratio = geometry(e), geometry(e).fork_ratio
    lever = ratio**2 * e.lever_inertia_mg_cm2 / driven.inertia
    wheel = ratio**2 * e.wheel_inertia_mg_cm2 / driven.inertia
    lever_and_wheel = lever + g.advance**2 * wheel
    # torques on the lever appear at the balance times the fork ratio, here in units of the stiffness
    at_balance = ratio * driven.torque / driven.stiffness
    wheel_inertia = e.wheel_inertia_mg_cm2 * MG_CM2
    per_balance_angle = g.advance * ratio * driven.omega**2
    return {
        "centre": driven.out_of_beat,
        "contact": g.bank_to_bank / (2.0 * ratio),
        "unlocking": np.radians(e.lock_deg + e.run_deg) / ratio,
        "rise": np.radians(e.pallet_lift_deg) / ratio,
        "shake": np.radians(e.notch_shake_deg) / ratio,
        "unlocking_torque": at_balance * g.unlocking / e.fork_efficiency,
        "impulse_torque": at_balance * g.impulse * e.fork_efficiency,
        "inertia_unlocking": 1.0 + lever + g.recoil**2 * wheel,
        "inertia_lever": 1.0 + lever,
        "inertia_impulse": 1.0 + lever_and_wheel,
        "recoil": g.recoil / g.advance,
        "wheel_acceleration": driven.torque / (wheel_inertia * per_balance_angle),
        "wheel_share": g.advance**2 * wheel / lever_and_wheel,
        # M_i/(J g ω²) = (g M_i/k)/(g² J/I)
        "lever_acceleration": at_balance * g.impulse / lever_and_wheel,
    }


def sides(columns: Mapping[str, Array]) -> tuple[Escapement, Escapement]:
    """The lever of the beats to the right, and its mirror image."""
    right = Lever(**columns)
    return right, right.mirrored()


def drive(e: Part, driven: Driven) -> LeverDrive:
    """What the account of energy needs beside the batch."""
    g = geometry(e)
    values = {
        "at_balance": np.ravel(g.fork_ratio) * driven.torque / driven.stiffness,
        "advance": g.advance,
        "recoil": g.recoil,
        "unlocking": g.unlocking,
        "impulse": g.impulse,
        "fork_efficiency": e.fork_efficiency,
        "drop": np.radians(e.drop_deg) / g.fork_ratio,
    }
    size = np.shape(driven.torque)
    return LeverDrive(**{name: np.broadcast_to(np.ravel(value), size) for name, value in values.items()})


def without(e: Part, osc: Oscillators, put: Put) -> dict[str, Oscillators]:
    """The batch without each of ``REMOVALS``."""
    g, right, none = geometry(e), osc.right, np.zeros(osc.size)
    assert isinstance(right, Lever)
    smooth = g.advance / g.impulse

    def changed(**columns: Array) -> Oscillators:
        return osc.with_escapement(lambda side: replace(side, **columns))

    return {
        "drop": put({"escapement.drop_deg": 0.0}),
        "draw and lock friction": changed(unlocking_torque=none),
        "friction on the impulse planes": changed(
            impulse_torque=right.impulse_torque * smooth,
            lever_acceleration=right.lever_acceleration * smooth,
        ),
        "fork and impulse pin": changed(
            unlocking_torque=right.unlocking_torque * e.fork_efficiency,
            impulse_torque=right.impulse_torque / e.fork_efficiency,
        ),
        "inertia of lever and wheel": put(_WEIGHTLESS),
        "shake of the notch": changed(shake=none),
    }


def hands(e: Part) -> Hands:
    """Scales of the hands of one movement."""
    g = geometry(e)
    return Hands(float(g.fork_ratio), float(g.fork_ratio * g.advance), math.pi / e.teeth, e.knock_restitution)


def follows(e: Part) -> list[Told]:
    """What follows from its numbers and is worth telling."""
    found = [
        Told("knock_angle_deg", "swing at which the pin strikes the horn", "deg", math.degrees(float(e.knock_angle()))),
        Told("draw_beyond_friction_deg", "draw beyond the angle of friction", "deg",
             e.draw_deg - math.degrees(math.atan(e.pallet_friction))),
        Told("arm_over_wheel_radius", "pallet arm over wheel radius", "", float(geometry(e).arm)),
    ]  # fmt: skip
    if e.lift_angle_deg is None:
        found.insert(0, Told("lift_angle_deg", "lift angle", "deg", math.degrees(float(e.lift_angle()))))
    return found
