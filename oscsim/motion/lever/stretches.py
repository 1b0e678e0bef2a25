"""The stretches of a lever's lift, told once: for the motion in time and for the account of energy."""

from __future__ import annotations

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.escapement import Stretch
from oscsim.motion.lever.lift import LeverLift, Speeds
from oscsim.motion.lever.numbers import LeverNumbers


def stretches(lever: LeverNumbers, lifts: LeverLift) -> tuple[Stretch, ...]:
    """Unlocking, catch-up, run through the shake, impulse; of length zero where a beat has none.

    In the hands' units the wheel keeps step with the lever while it drives it.
    """
    v = Speeds(*lifts.speeds)
    x0, centre = lever.pin_contact, lever.centre
    release = x0 + lever.unlocking
    caught = release + lifts.catching
    running = np.where(lifts.missed, 0.0, lifts.running)
    pushed = np.where(lifts.lost, 0.0, lifts.drop - caught - running)
    heavier, none = lever.inertia_unlocking, np.zeros_like(centre)
    back = lever.recoil * v.release
    locked, held = -lever.recoil * lever.unlocking, ~lifts.missed

    def with_the_pin(x: Array, time: Array) -> tuple[Array, Array]:
        return x - centre, -lever.recoil * (x - x0)

    def wheel_free(x: Array, time: Array) -> tuple[Array, Array]:
        return x - centre, locked + (0.5 * lever.wheel_acceleration * time - back) * time

    def ahead_of_the_pin(x: Array, time: Array) -> tuple[Array, Array]:
        lead = (v.lever + 0.5 * lever.lever_acceleration * time) * time
        return caught - centre + lead, locked + lifts.catching + lead

    def driving(x: Array, time: Array) -> tuple[Array, Array]:
        return x - centre + lever.shake, locked + x - release + lever.shake

    there, one = np.ones_like(held), np.ones_like(centre)
    _, unlocking, catch_up, run, impulse, _ = lever.phases
    return (
        Stretch(phase=unlocking, there=there, start=x0, length=lever.unlocking, w=lifts.contact / heavier**2,
                inertia=heavier, torque=-lever.unlocking_torque, hands=with_the_pin),
        Stretch(phase=catch_up, there=there, start=release, length=lifts.catching, w=v.release**2,
                inertia=lever.inertia_lever, torque=none, hands=wheel_free),
        Stretch(phase=run, there=held, start=caught, length=running, w=v.catch**2, inertia=one, torque=none,
                hands=ahead_of_the_pin),
        Stretch(phase=impulse, there=~lifts.lost, start=lifts.drop - pushed, length=pushed, w=v.together**2,
                inertia=lever.inertia_impulse, torque=lever.impulse_torque, hands=driving),
    )  # fmt: skip
