"""The stretches of a detent escapement's lift, told once: for the motion in time and for the account of energy."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array, Flags
from oscsim.motion.balance import Balance
from oscsim.motion.contact import Contact
from oscsim.motion.detent.impulse import drive
from oscsim.motion.detent.lift import DetentLift, Speeds
from oscsim.motion.detent.numbers import DetentNumbers
from oscsim.motion.escapement import Stretch
from oscsim.motion.rules import Rule, collocation


@dataclass(frozen=True, kw_only=True)
class Impulse(Stretch):
    """The impulse, whose inertia and torque change on the way."""

    detent: DetentNumbers

    def to(self, balance: Balance, travel: Array, rule: Rule) -> Contact:
        nodes, sweeps = collocation(rule.contact_nodes), rule.contact_sweeps
        return drive(balance, self.detent, self.start, travel, self.w, nodes, sweeps)

    def torque_at(self, x: Array) -> Array:
        gear = self.detent.gearing(x - self.detent.centre)
        carried = x < self.detent.centre + self.detent.let_go
        pushing = self.detent.wheel_torque * gear.p * gear.passed
        return np.asarray(pushing - np.where(carried, self.detent.spring_torque, 0.0))


def stretches(detent: DetentNumbers, lifts: DetentLift) -> tuple[Stretch, ...]:
    """Unlocking, detent carried, run to the catch, impulse; passing spring; of length zero where a beat has none.

    The hands are the detent's angle over its ratio to the balance, and the wheel's angle from where it was locked.
    """
    v = Speeds(*lifts.speeds)
    gives, centre = detent.gives, detent.centre
    contact, release = centre + detent.unlock_from, centre + detent.unlock_to
    let_go, end = centre + detent.let_go, centre + detent.impulse_to
    caught = np.where(lifts.missed, end, release + lifts.catching)
    heavier, one, none = 1.0 + detent.detent_inertia, np.ones_like(centre), np.zeros_like(centre)
    behind, hit = detent.half_advance + detent.fall, gives & ~lifts.missed
    left = np.minimum(let_go, caught)

    def locked(x: Array, time: Array) -> tuple[Array, Array]:
        return x - contact, 0.0 * x

    def free(x: Array, time: Array) -> tuple[Array, Array]:
        return x - contact, 0.5 * detent.wheel_acceleration * time**2

    def racing(x: Array, time: Array) -> tuple[Array, Array]:
        return 0.0 * x, 0.5 * detent.wheel_acceleration * (lifts.carried + time) ** 2

    def driving(x: Array, time: Array) -> tuple[Array, Array]:
        return np.where(x < let_go, x - contact, 0.0), behind + detent.gearing(x - centre).wheel

    def passed(x: Array, time: Array) -> tuple[Array, Array]:
        return 0.0 * x, 0.0 * x

    def long(whether: Flags, start: Array, stop: Array) -> Array:
        return np.where(whether, stop - start, 0.0)

    _, unlocking, carried, run, impulse, passing, _ = detent.phases
    against, passing_from = -detent.spring_torque - detent.lock_torque, centre + detent.passing_from
    return (
        Stretch(phase=unlocking, there=gives, start=contact, length=long(gives, contact, release),
                w=lifts.contact / heavier**2, inertia=heavier, torque=against, hands=locked),
        Stretch(phase=carried, there=gives, start=release, length=long(gives, release, left), w=v.release**2,
                inertia=heavier, torque=-detent.spring_torque, hands=free),
        Stretch(phase=run, there=gives, start=left, length=long(gives, left, caught), w=v.let_go**2, inertia=one,
                torque=none, hands=racing),
        Impulse(phase=impulse, there=hit, start=caught, length=long(hit, caught, end), w=v.driven**2, inertia=one,
                torque=none, hands=driving, detent=detent),
        Stretch(phase=passing, there=~gives, start=passing_from,
                length=long(~gives, passing_from, centre + detent.passing_to), w=lifts.contact, inertia=one,
                torque=-detent.passing_torque, hands=passed),
    )  # fmt: skip
