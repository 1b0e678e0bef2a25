"""The lift: from pin contact to drop, phases 2-8 of docs/physics.md §2, for a batch of beats.

Slopes with the squared speed at pin contact, written d…, are carried along for Newton's method on the cycle.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from oscsim.arrays import Array, Flags
from oscsim.motion.balance import Balance
from oscsim.motion.contact import coast_until, push
from oscsim.motion.escapement import Lift
from oscsim.motion.lever.numbers import LeverNumbers
from oscsim.motion.rules import Rule, collocation


class Speeds(NamedTuple):
    """Speeds within a lift, as balance speed, each (points,): of the balance at release, catch and the meeting of the
    fork's other wall; of the wheel just before the catch; of lever and wheel just after it and just before the
    meeting; of all together after it."""

    release: Array
    catch: Array
    met: Array
    wheel: Array
    lever: Array
    lever_met: Array
    together: Array


@dataclass(frozen=True, kw_only=True)
class LeverLift(Lift):
    """A lift of the lever; see ``Lift``."""

    missed: Flags  # the wheel did not catch; where the impulse is lost without that, the tooth dropped in the shake
    catching: Array  # balance angle from release to catch, rad
    running: Array  # balance angle from catch to the meeting of the fork's other wall, rad
    catching_slope: Array
    running_slope: Array
    speeds: Array  # (7, points): see ``Speeds``


def lift(
    balance: Balance, lever: LeverNumbers, w_contact: Array, rule: Rule, near: LeverLift | None = None
) -> LeverLift:
    """Through the lift from pin contact with squared speed ``w_contact``; all arrays (points,).

    ``near``: the lifts of the same beats at almost the same speed, whose events then are the first guesses.
    """
    nodes, sweeps = collocation(rule.contact_nodes), rule.contact_sweeps
    steps = rule.event_steps if near is None else 0
    change = 0.0 if near is None else w_contact - near.contact

    # 2, 3: pick-up and unlocking
    heavier = lever.inertia_unlocking
    w = w_contact / (heavier * heavier)
    unlocked = push(
        balance, lever.pin_contact, lever.unlocking, w, heavier, -lever.unlocking_torque, nodes, sweeps
    )
    release, w = lever.pin_contact + lever.unlocking, unlocked.speed_squared
    dw = unlocked.slope / (heavier * heavier)

    # 4: release and catch-up: the wheel falls back by the recoil, then races after the balance
    v_release = v = np.sqrt(w)
    back, dback = lever.recoil * v, lever.recoil * (0.5 * dw / v)
    wheel = _Wheel(back, lever.wheel_acceleration)
    guess = (
        _catch_guess(balance, lever, release, v, wheel)
        if near is None
        else near.catching + near.catching_slope * change
    )
    catch = coast_until(
        balance, release, guess, lever.rise, w, lever.inertia_lever, wheel.behind_balance, rule, steps
    )
    missed, time = catch.beyond, catch.time
    wheel_speed = wheel.acceleration * time - back
    dtime = catch.time_slope * dw
    dcatching = (time * dback - wheel_speed * dtime) / (wheel_speed / catch.speed - 1.0)
    dcatching = np.where(missed, 0.0, dcatching)
    dtime = dtime + dcatching / catch.speed
    dw = catch.slope * dw + 2.0 * catch.acceleration * dcatching
    dw_missed = dw

    # 5: catch, plastic; then the lever runs ahead of the pin through the notch's shake
    start, v, dv = release + catch.travel, catch.speed, 0.5 * dw / catch.speed
    lever_speed = v + lever.wheel_share * (wheel_speed - v)
    dlever_speed = dv + lever.wheel_share * (wheel.acceleration * dtime - dback - dv)
    run = _Run(lever_speed, lever.lever_acceleration, lever.shake, lever.rise - catch.travel)
    guess = _run_guess(balance, start, v, run) if near is None else near.running + near.running_slope * change
    met = coast_until(
        balance, start, guess, run.rest, catch.speed_squared, 1.0, run.ahead_of_pin, rule, steps
    )
    dropped, running = met.travel >= run.room, met.travel
    lever_caught = lever_speed
    lever_speed = lever_speed + run.acceleration * met.time
    dtime = met.time_slope * dw
    ahead = -met.time * dlever_speed - lever_speed * dtime - np.where(dropped, dcatching, 0.0)
    drunning = ahead / (lever_speed / met.speed - np.where(dropped, 0.0, 1.0))
    dlever_speed = dlever_speed + run.acceleration * (dtime + drunning / met.speed)
    dw = met.slope * dw - 2.0 * running * dcatching + 2.0 * met.acceleration * drunning
    dw_dropped = dw

    # 6, 7: the fork's other wall meets the pin, plastic; impulse until the lever has done its lift
    lost = missed | dropped
    added = lever.inertia_impulse - 1.0
    v = (met.speed + added * lever_speed) / lever.inertia_impulse
    dv = (0.5 * dw / met.speed + added * dlever_speed) / lever.inertia_impulse
    start = start + running
    length = np.where(lost, 0.0, run.room - running)
    given = push(balance, start, length, v * v, lever.inertia_impulse, lever.impulse_torque, nodes, sweeps)
    pull = (balance.torque_at(start, v) + lever.impulse_torque) / lever.inertia_impulse
    dw = given.slope * (2.0 * v * dv) - 2.0 * pull * (dcatching + drunning)

    # 8: drop, with what the balance then has
    def ended(in_catch_up: Array, in_shake: Array, in_impulse: Array) -> Array:
        return np.where(missed, in_catch_up, np.where(dropped, in_shake, in_impulse))

    time = unlocked.time + catch.time + np.where(missed, 0.0, met.time) + np.where(lost, 0.0, given.time)
    return LeverLift(
        drop=ended(release + lever.rise, start, start + length),
        speed_squared=ended(catch.speed_squared, met.speed_squared, given.speed_squared),
        time=time,
        drop_slope=np.where(dropped & ~missed, dcatching + drunning, 0.0),
        slope=ended(dw_missed, dw_dropped, dw),
        lost=lost,
        missed=missed,
        catching=catch.travel,
        running=running,
        catching_slope=dcatching,
        running_slope=drunning,
        contact=w_contact,
        speeds=np.stack(Speeds(v_release, catch.speed, met.speed, wheel_speed, lever_caught, lever_speed, v)),
        placed=catch.placed & (met.placed | missed),
    )


class _Wheel(NamedTuple):
    """The free wheel after release, as balance angle: -back t + ½ acceleration t²."""

    back: Array
    acceleration: Array

    def behind_balance(self, travel: Array, time: Array, v: Array) -> tuple[Array, Array]:
        """Its angle less the balance's, and the slope per balance angle."""
        angle = (0.5 * self.acceleration * time - self.back) * time
        return angle - travel, (self.acceleration * time - self.back) / v - 1.0


class _Run(NamedTuple):
    """Lever and wheel after the catch, as balance angle; ``rest`` of the lift, ``room`` for the balance in it."""

    speed: Array
    acceleration: Array
    shake: Array
    rest: Array

    @property
    def room(self) -> Array:
        return self.rest - self.shake

    def ahead_of_pin(self, travel: Array, time: Array, v: Array) -> tuple[Array, Array]:
        """Its angle less where it meets the pin or ends its lift, whichever is first; slope per balance angle."""
        angle = (self.speed + 0.5 * self.acceleration * time) * time
        leading = travel < self.room
        slope = (self.speed + self.acceleration * time) / v - np.where(leading, 1.0, 0.0)
        return angle - np.where(leading, travel + self.shake, self.rest), slope


def _catch_guess(balance: Balance, lever: LeverNumbers, release: Array, v: Array, wheel: _Wheel) -> Array:
    """Travel to the catch under constant accelerations; the whole lift where the wheel stays behind."""
    a = balance.torque_at(release, v) / lever.inertia_lever
    closing = wheel.acceleration - a
    time = 2.0 * (v + wheel.back) / np.where(closing > 0.0, closing, np.nan)
    guess = (v + 0.5 * a * time) * time
    return np.where(guess > 0.0, guess, lever.rise)


def _run_guess(balance: Balance, start: Array, v: Array, run: _Run) -> Array:
    """Travel until the shake is taken up or the lift is done, under constant accelerations."""
    a = balance.torque_at(start, v)
    faster = run.speed - v
    gaining = 2.0 * np.maximum(run.acceleration - a, 0.0) * run.shake
    taken_up = 2.0 * run.shake / (faster + np.sqrt(faster * faster + gaining))
    pushed = 2.0 * run.acceleration * np.maximum(run.rest, 0.0)
    done = 2.0 * run.rest / (run.speed + np.sqrt(run.speed * run.speed + pushed))
    time = np.minimum(np.where(run.shake > 0.0, taken_up, 0.0), done)
    return (v + 0.5 * a * time) * time
