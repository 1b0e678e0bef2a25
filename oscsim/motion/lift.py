"""The lift: from pin contact to drop, phases 2-8 of docs/physics.md §2, for a batch of beats.

In each phase v² is followed over the balance angle; what has a potential enters in closed form and the
drag by Picard sweeps. Catch and the end of the shake are events, placed by Newton steps on the angle.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from oscsim.arrays import Array, Flags
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.rules import Collocation, Rule, collocation


class Contact(NamedTuple):
    """End of a contact phase, each (points,): v², time taken."""

    speed_squared: Array
    time: Array


@dataclass(frozen=True)
class Lift:
    """One lift per point, each of shape (points,); NaN where the balance stops in the lift."""

    drop: Array  # x at drop, rad
    speed_squared: Array  # v² at drop
    time: Array  # from pin contact to drop
    lost: Flags  # no impulse this beat: the wheel did not catch, or the tooth dropped in the shake
    catching: Array  # balance angle from release to catch, rad
    running: Array  # balance angle from catch to the meeting of the fork's other wall, rad


def push(
    osc: Oscillators,
    start: Array,
    length: Array,
    w: Array,
    inertia: Array | float,
    torque: Array | float,
    nodes: Collocation,
    sweeps: int,
) -> Contact:
    """Move from ``start`` over ``length`` with squared speed ``w`` at the start.

    ``inertia`` and extra ``torque`` are those of the phase. All (points,).
    """
    pull = 2.0 * (torque - osc.dry)
    v_start = np.sqrt(w)
    drag = v_start * osc.drag(v_start)
    # nodes lie evenly in the time of a motion uniformly accelerated by hairspring and torque: the integrands stay
    # smooth even where the balance almost stands still at one end
    w_end = w + length * (pull - 2.0 * start - length - 2.0 * drag) / inertia
    v_end = np.sqrt(np.maximum(w_end, 0.0))
    linear = 2.0 * v_start / (v_start + v_end)
    bend = 1.0 - linear
    travel = length * (linear + bend * nodes.to_end) * nodes.to_end
    share = length * (linear + (2.0 * bend) * nodes.nodes)
    before = w + (osc.potential_drop(start, travel) + pull * travel) / inertia
    inner, share2 = before[:-1], (2.0 / inertia) * share
    v = np.sqrt(inner - travel[:-1] * (2.0 * drag / inertia))
    for _ in range(sweeps):
        v = np.sqrt(inner - nodes.running @ (share2 * v * osc.drag(v)))
    return Contact(before[-1] - nodes.weights @ (share2 * v * osc.drag(v)), nodes.weights @ (share / v))


def push_until(
    osc: Oscillators,
    start: Array,
    guess: Array,
    limit: Array,
    w: Array,
    inertia: Array | float,
    event: Callable[[Array, Array, Array], tuple[Array, Array]],
    rule: Rule,
) -> tuple[Array, Contact, Flags]:
    """Coast from ``start`` until ``event(travel, time, v)``, which gives value and slope per angle, is zero.

    Returns the travel (points,), the contact's end, and whether the event lay beyond ``limit``, the
    farthest travel there is.
    """
    nodes = collocation(rule.event_nodes)
    travel = np.minimum(guess, limit)
    for step in range(rule.event_steps + 1):
        end = push(osc, start, travel, w, inertia, 0.0, nodes, rule.contact_sweeps)
        v = np.sqrt(end.speed_squared)
        value, slope = event(travel, end.time, v)
        # the value is below zero until the event; a falling one says only that the event lies farther on
        correction = np.minimum(np.where(slope > 0.0, -value / slope, np.inf), limit - travel)
        beyond = (travel >= limit) & (value < 0.0)
        if step < rule.event_steps:
            travel = np.where(travel + correction > 0.0, travel + correction, 0.5 * travel)
    # the last, tiny step is carried along to first order instead of pushing once more
    acceleration = osc.torque_at(start + travel, v) / inertia
    end = Contact(end.speed_squared + 2.0 * acceleration * correction, end.time + correction / v)
    return travel + correction, end, beyond


def lift(osc: Oscillators, w_contact: Array, rule: Rule, near: Lift | None = None) -> Lift:
    """Through the lift from pin contact with squared speed ``w_contact``; all arrays (points,).

    ``near``: the lifts of the same beats at almost the same speed, whose events then are the first guesses.
    """
    # 2, 3: pick-up and unlocking
    heavier = osc.inertia_unlocking
    nodes, sweeps = collocation(rule.contact_nodes), rule.contact_sweeps
    w = w_contact / heavier**2
    unlocked = push(osc, osc.pin_contact, osc.unlocking, w, heavier, -osc.unlocking_torque, nodes, sweeps)

    # 4: release and catch-up
    release = osc.pin_contact + osc.unlocking
    v_release = np.sqrt(unlocked.speed_squared)
    wheel = _Wheel(osc.recoil * v_release, osc.wheel_acceleration)
    guess = _catch_guess(osc, release, v_release, wheel) if near is None else near.catching
    event = wheel.behind_balance
    catching, caught, missed = push_until(
        osc, release, guess, osc.lift, unlocked.speed_squared, osc.inertia_lever, event, rule
    )

    # 5: catch, then the lever runs ahead of the pin through the notch's shake
    v_caught = np.sqrt(caught.speed_squared)
    speed = v_caught + osc.wheel_share * (wheel.acceleration * caught.time - wheel.back - v_caught)
    lever = _Lever(speed, osc.lever_acceleration, osc.shake, osc.lift - catching)
    start = release + catching
    guess = _run_guess(osc, start, v_caught, lever) if near is None else near.running
    event = lever.ahead_of_pin
    running, met, _ = push_until(osc, start, guess, lever.rest, caught.speed_squared, 1.0, event, rule)
    dropped = running >= lever.room

    # 6, 7: the fork's other wall meets the pin; impulse until the lever has done its lift
    lost = missed | dropped
    added = osc.inertia_impulse - 1.0
    v = np.sqrt(met.speed_squared) + added * (lever.speed + lever.acceleration * met.time)
    length = np.where(lost, 0.0, lever.room - running)
    w = np.square(v / osc.inertia_impulse)
    given = push(osc, start + running, length, w, osc.inertia_impulse, osc.impulse_torque, nodes, sweeps)

    # 8: drop, with what the balance then has
    drop = np.where(missed, release + osc.lift, start + np.where(dropped, running, lever.room))
    w = np.where(missed, caught.speed_squared, np.where(dropped, met.speed_squared, given.speed_squared))
    time = unlocked.time + caught.time + np.where(missed, 0.0, met.time) + np.where(lost, 0.0, given.time)
    return Lift(drop, w, time, lost, catching, running)


class _Wheel(NamedTuple):
    """The free wheel after release, as balance angle: -back t + ½ acceleration t²."""

    back: Array
    acceleration: Array

    def behind_balance(self, travel: Array, time: Array, v: Array) -> tuple[Array, Array]:
        """Its angle less the balance's, and the slope per balance angle."""
        angle = (0.5 * self.acceleration * time - self.back) * time
        return angle - travel, (self.acceleration * time - self.back) / v - 1.0


class _Lever(NamedTuple):
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


def _catch_guess(osc: Oscillators, release: Array, v: Array, wheel: _Wheel) -> Array:
    """Travel to the catch under constant accelerations; the whole lift where the wheel stays behind."""
    a = osc.torque_at(release, v) / osc.inertia_lever
    closing = wheel.acceleration - a
    time = 2.0 * (v + wheel.back) / np.where(closing > 0.0, closing, np.nan)
    guess = (v + 0.5 * a * time) * time
    return np.where(guess > 0.0, guess, osc.lift)


def _run_guess(osc: Oscillators, start: Array, v: Array, lever: _Lever) -> Array:
    """Travel until the shake is taken up or the lift is done, under constant accelerations."""
    a = osc.torque_at(start, v)
    faster = lever.speed - v
    gaining = 2.0 * np.maximum(lever.acceleration - a, 0.0) * lever.shake
    taken_up = 2.0 * lever.shake / (faster + np.sqrt(faster * faster + gaining))
    pushed = 2.0 * lever.acceleration * np.maximum(lever.rest, 0.0)
    done = 2.0 * lever.rest / (lever.speed + np.sqrt(lever.speed * lever.speed + pushed))
    time = np.minimum(np.where(lever.shake > 0.0, taken_up, 0.0), done)
    return (v + 0.5 * a * time) * time
