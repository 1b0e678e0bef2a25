"""The beats of a detent escapement: unlocking, catch and impulse (D1) to (D3), or only the passing spring (D4).

Slopes with the squared speed at the first contact, written d…, are carried along for Newton's method on the cycle.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from oscsim.arrays import Array, Flags
from oscsim.motion.balance import Balance
from oscsim.motion.batch import joined
from oscsim.motion.contact import coast_until, push
from oscsim.motion.detent.impulse import drive
from oscsim.motion.detent.numbers import DetentNumbers
from oscsim.motion.escapement import Lift
from oscsim.motion.rules import Rule, collocation

#: Newton steps for the time to the catch under a constant speed, for a first guess.
_GUESSES = 6
#: Share of the coasting that a catch lies at least after its start where it is known from a lift near by.
_NEAREST = 1e-9


class Speeds(NamedTuple):
    """Speeds within a lift, each (points,): of the balance at release, where the detent is let go, just before the
    catch and just after it; of the wheel just before it."""

    release: Array
    let_go: Array
    catch: Array
    driven: Array
    wheel: Array


@dataclass(frozen=True, kw_only=True)
class DetentLift(Lift):
    """A lift of the detent escapement; see ``Lift``. In a beat that passes the detent the other fields are NaN."""

    missed: Flags  # the wheel did not catch the impulse face
    early: Flags  # it caught it before the detent was let go
    catching: Array  # balance angle from release to catch, rad
    catching_slope: Array
    carried: Array  # time from release until the detent is let go
    speeds: Array  # (5, points): see ``Speeds``


class _Wheel(NamedTuple):
    """The free wheel: against the impulse face after a time, the coasting having begun ``since`` its release."""

    detent: DetentNumbers
    start: Array
    since: Array

    def ahead_of_face(self, travel: Array, time: Array, v: Array) -> tuple[Array, Array]:
        """Its angle less that at which it touches the face, and the slope per balance angle."""
        detent, whole = self.detent, self.since + time
        gear = detent.gearing(self.start + travel - detent.centre)
        behind = detent.half_advance + detent.fall
        angle = 0.5 * detent.wheel_acceleration * whole**2 - behind - gear.wheel
        return angle, detent.wheel_acceleration * whole / v - gear.p


def lift(
    balance: Balance, detent: DetentNumbers, w_contact: Array, rule: Rule, near: DetentLift | None = None
) -> DetentLift:
    """Through the lift of each beat, with an impulse or without; all (points,)."""
    gives = np.flatnonzero(detent.gives)
    passes = np.flatnonzero(~detent.gives)
    if not len(passes):
        return _impulse(balance, detent, w_contact, rule, near)
    if not len(gives):
        return _passing(balance, detent, w_contact, rule)
    known = None if near is None else near.take(gives)
    # a plain balance: the beats' own escapement need not be chosen again
    alone = Balance(**balance.alone())
    found = joined(
        [
            _impulse(alone.take(gives), detent.take(gives), w_contact[gives], rule, known),
            _passing(alone.take(passes), detent.take(passes), w_contact[passes], rule),
        ]
    )
    return found.take(np.argsort(np.concatenate([gives, passes])))


def _passing(balance: Balance, detent: DetentNumbers, w_contact: Array, rule: Rule) -> DetentLift:
    """(D4)"""
    nodes, sweeps = collocation(rule.contact_nodes), rule.contact_sweeps
    start, length = detent.centre + detent.passing_from, detent.passing_to - detent.passing_from
    end = push(balance, start, length, w_contact, 1.0, -detent.passing_torque, nodes, sweeps)
    none, unknown = np.zeros(len(w_contact), bool), np.full(len(w_contact), np.nan)
    return DetentLift(
        drop=start + length,
        speed_squared=end.speed_squared,
        time=end.time,
        drop_slope=np.zeros_like(unknown),
        slope=end.slope,
        lost=none,
        contact=w_contact,
        placed=~none,
        missed=none,
        early=none,
        catching=unknown,
        catching_slope=unknown,
        carried=unknown,
        speeds=np.tile(unknown, (len(Speeds._fields), 1)),
    )


def _impulse(
    balance: Balance, detent: DetentNumbers, w_contact: Array, rule: Rule, near: DetentLift | None
) -> DetentLift:
    """(D1) to (D3)"""
    nodes, sweeps = collocation(rule.contact_nodes), rule.contact_sweeps
    steps = rule.event_steps if near is None else 0
    spring, heavier = detent.spring_torque, 1.0 + detent.detent_inertia
    release, let_go = detent.centre + detent.unlock_to, detent.centre + detent.let_go
    end = detent.centre + detent.impulse_to

    # (D2) pick-up, plastic, and unlocking; then the detent is carried on against its spring
    contact = detent.centre + detent.unlock_from
    w = w_contact / (heavier * heavier)
    against = -spring - detent.lock_torque
    unlocked = push(balance, contact, release - contact, w, heavier, against, nodes, sweeps)
    w, dw = unlocked.speed_squared, unlocked.slope / (heavier * heavier)
    carried = push(balance, release, let_go - release, w, heavier, -spring, nodes, sweeps)
    v_let_go = np.sqrt(carried.speed_squared)

    # (D3) the wheel is free from release on; it catches the face before the detent is let go, or after
    ahead, _ = _Wheel(detent, release, np.zeros_like(w)).ahead_of_face(
        let_go - release, carried.time, v_let_go
    )
    early = ahead >= 0.0
    start, limit = np.where(early, release, let_go), np.where(early, let_go, end)
    since, dsince = np.where(early, 0.0, carried.time), np.where(early, 0.0, carried.time_slope * dw)
    inertia, torque = np.where(early, heavier, 1.0), np.where(early, -spring, 0.0)
    w_start = np.where(early, w, carried.speed_squared)
    dw = np.where(early, dw, carried.slope * dw)
    wheel = _Wheel(detent, start, since)
    if near is None:
        guess = _guess(wheel, np.sqrt(w_start), limit)
    else:
        guess = release + near.catching + near.catching_slope * (w_contact - near.contact)
    guess = np.maximum(guess - start, (1e-3 if near is None else _NEAREST) * (limit - start))
    catch = coast_until(
        balance, start, guess, limit - start, w_start, inertia, wheel.ahead_of_face, rule, steps, torque
    )
    missed, v = catch.beyond, catch.speed
    at = start + catch.travel
    gear = detent.gearing(at - detent.centre)
    speed = detent.wheel_acceleration * (since + catch.time)
    dtime = dsince + catch.time_slope * dw
    dcatching = np.where(missed, 0.0, -speed * dtime / (speed / v - gear.p))
    dtime = dtime + dcatching / v
    dw = catch.slope * dw + 2.0 * catch.acceleration * dcatching
    dw_missed, dv = dw, 0.5 * dw / v

    # the catch, plastic
    J_w = detent.wheel_inertia
    together, bending = inertia + gear.p**2 * J_w, 2.0 * gear.p * gear.bend * J_w
    v_driven = (inertia * v + gear.p * J_w * speed) / together
    dshared = inertia * dv + J_w * (
        gear.bend * dcatching * speed + gear.p * detent.wheel_acceleration * dtime
    )
    dv = (dshared - v_driven * bending * dcatching) / together

    # (D1) the impulse; where its start moves on, it has done less work and is geared otherwise
    length = np.where(missed, 0.0, end - at)
    # that is long, and its gearing changes: as good as the rest of the rung with three nodes more
    finer = collocation(rule.contact_nodes + 3)
    given = drive(balance, detent, at, length, v_driven**2, finer, sweeps)
    pushing = detent.wheel_torque * gear.p * gear.passed
    pull = balance.torque_at(at, v_driven) + torque + pushing
    moved = (bending * v_driven**2 - 2.0 * pull) / together * dcatching
    dw = given.slope * (2.0 * v_driven * dv + moved)

    time = unlocked.time + since + catch.time + np.where(missed, 0.0, given.time)
    return DetentLift(
        drop=end + 0.0 * time,
        speed_squared=np.where(missed, catch.speed_squared, given.speed_squared),
        time=time,
        drop_slope=np.zeros_like(time),
        slope=np.where(missed, dw_missed, dw),
        lost=missed,
        contact=w_contact,
        placed=catch.placed,
        missed=missed,
        early=early,
        catching=at - release,
        catching_slope=dcatching,
        carried=carried.time,
        speeds=np.stack(Speeds(np.sqrt(w), v_let_go, v, v_driven, speed)),
    )


def _guess(wheel: _Wheel, v: Array, limit: Array) -> Array:
    """Balance angle of the catch at a constant speed ``v``, by Newton's method in time from beyond it."""
    detent, room = wheel.detent, limit - wheel.start
    turned = 2.0 * (2.0 * detent.half_advance + detent.fall)
    time = np.minimum(np.sqrt(turned / detent.wheel_acceleration) - wheel.since, room / v)
    time = np.maximum(time, 1e-3 * room / v)
    for _ in range(_GUESSES):
        value, slope = wheel.ahead_of_face(v * time, time, v)
        nearer = time - value / np.where(slope > 0.0, slope * v, np.inf)
        time = np.where(value > 0.0, np.clip(nearer, 0.0, room / v), time)
    return wheel.start + v * time
