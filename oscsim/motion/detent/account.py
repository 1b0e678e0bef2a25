"""Where the energy of a detent escapement's lift goes.

The wheel's run-up is its own energy until the catch: M_e times the angle is half of J_w ω², of which the plastic catch
takes a part and the impulse passes on the rest.
"""

from __future__ import annotations

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.detent.lift import DetentLift, Speeds
from oscsim.motion.detent.numbers import DetentNumbers

#: Gauss nodes for what friction takes of the impulse, on either side of the line of centres.
_NODES = 16


def account(detent: DetentNumbers, lifts: DetentLift) -> tuple[Array, dict[str, Array]]:
    """What the escapement is given and takes in each beat of the batch, over k."""
    v = Speeds(*lifts.speeds)
    heavier = 1.0 + detent.detent_inertia
    whole = detent.wheel_torque * (2.0 * detent.half_advance + detent.fall)
    lock = detent.lock_torque * (detent.unlock_to - detent.unlock_from)
    caught = detent.unlock_to + lifts.catching
    at, end = detent.gearing(caught), detent.gearing(detent.impulse_to)
    J = np.where(lifts.early, heavier, 1.0)
    wheel = detent.wheel_inertia
    together = J + at.p**2 * wheel
    hit = 0.5 * (J * v.catch**2 + wheel * v.wheel**2 - together * v.driven**2)
    let_go = np.where(lifts.early, _let_go(detent, lifts, v), v.let_go)
    taken = {
        "recoil": lock * detent.draw_share,
        "lock_friction": lock * (1.0 - detent.draw_share),
        "detent_spring": detent.spring_torque * (detent.let_go - detent.unlock_from),
        "detent": 0.5 * detent.detent_inertia * let_go**2,
        "detent_pick_up": 0.5 * lifts.contact * (1.0 - 1.0 / heavier),
        "wheel_catch": np.where(lifts.missed, whole, hit),
        "impulse_friction": np.where(lifts.missed, 0.0, _rubbed(detent, caught)),
        "wheel_left": np.where(lifts.missed, 0.0, 0.5 * wheel * end.p**2 * lifts.speed_squared),
    }
    taken = {place: np.where(detent.gives, values, 0.0) for place, values in taken.items()}
    taken["passing_spring"] = np.where(detent.gives, 0.0, detent.passing_work)
    return np.where(detent.gives, whole, 0.0), taken


def _rubbed(detent: DetentNumbers, caught: Array) -> Array:
    """Work of the friction on the impulse face from the catch on."""
    x, weights = np.polynomial.legendre.leggauss(_NODES)
    total = np.zeros_like(caught)
    for a, b in ((np.minimum(caught, 0.0), 0.0 * caught), (np.maximum(caught, 0.0), detent.impulse_to)):
        gear = detent.gearing(0.5 * (a + b) + 0.5 * (b - a) * x[:, None])
        total = total + 0.5 * (b - a) * (weights @ (gear.p * (1.0 - gear.passed)))
    return detent.wheel_torque * total


def _let_go(detent: DetentNumbers, lifts: DetentLift, v: Speeds) -> Array:
    """Speed where the detent is let go after an early catch, to the accuracy of the impulse's own work there."""
    caught = detent.unlock_to + lifts.catching
    at, then = detent.gearing(caught), detent.gearing(detent.let_go)
    heavier, wheel = 1.0 + detent.detent_inertia, detent.wheel_inertia
    worked = detent.wheel_torque * (then.wheel - at.wheel) - detent.spring_torque * (detent.let_go - caught)
    twice = (heavier + at.p**2 * wheel) * v.driven**2 + 2.0 * worked
    return np.sqrt(np.maximum(twice, 0.0) / (heavier + then.p**2 * wheel))
