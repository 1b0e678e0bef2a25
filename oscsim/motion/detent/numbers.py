"""A detent escapement as coefficients.

Torques are in units of the hairspring stiffness k, inertias of the balance's I, time in 1/ω. Angles are of the balance
from the line of centres, in the frame of the beat; those of the wheel are said to be. (D1) to (D4) are those of
docs/physics.md, and so are the symbols.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple, Self

import numpy as np

from oscsim.arrays import Array, Flags
from oscsim.motion.escapement import Escapement
from oscsim.motion.states import State


class Gearing(NamedTuple):
    """Wheel and balance with a tooth on the impulse face, at some balance angles: the wheel's angle w, p = dw/dx, its
    slope p', and the share of M_e p that friction leaves (D1)."""

    wheel: Array
    p: Array
    bend: Array
    passed: Array


@dataclass(frozen=True, kw_only=True)
class DetentNumbers(Escapement):
    """Coefficients of the detent in one beat; every field has shape (points,)."""

    phases = ("free arc in", "unlocking", "detent carried", "run to the catch", "impulse", "passing spring",
              "free arc out")  # fmt: skip
    places = ("recoil", "lock_friction", "detent_spring", "detent", "detent_pick_up", "wheel_catch",
              "impulse_friction", "wheel_left", "passing_spring")  # fmt: skip
    alike = False
    beyond = State.TRIPS

    gives: Flags  # the beat with unlocking and impulse, s = +1; in the other the detent is passed
    centre: Array  # the line of centres, rad from the dead point
    unlock_from: Array  # x_u0, x_u1, x_u2: the detent is met, the tooth is free, the detent is let go
    unlock_to: Array
    let_go: Array
    passing_from: Array  # over which the passing spring is bent, coming back
    passing_to: Array
    distance: Array  # D, wheel radii
    half_advance: Array  # w₀, wheel angle
    impulse_to: Array  # X, where w(X) = w₀
    fall: Array  # drop, wheel angle
    friction: Array  # μ
    wheel_inertia: Array  # J_w/I
    detent_inertia: Array  # g_d² J_d/I
    wheel_torque: Array  # M_e/k
    wheel_acceleration: Array  # M_e/(J_w ω²)
    lock_torque: Array  # g_d M_e r_d tan(δ + ρ_d)/k
    draw_share: Array  # tan δ/tan(δ + ρ_d)
    spring_torque: Array  # g_d M_s/k
    passing_torque: Array  # M_p/k

    @property
    def pin_contact(self) -> Array:
        """Where the balance meets the detent, or its passing spring, rad from the dead point, shape (points,)."""
        return self.centre + np.where(self.gives, self.unlock_from, self.passing_from)

    @property
    def last_contact(self) -> Array:
        """Where the tooth leaves the impulse face, or the passing spring is let go."""
        return self.centre + np.where(self.gives, self.impulse_to, self.passing_to)

    def gearing(self, x: Array) -> Gearing:
        """(D1) at angles from the line of centres, (…, points)."""
        sine = self.distance * np.sin(x)
        q = np.sqrt(1.0 - sine * sine)
        p = self.distance * np.cos(x) / q - 1.0
        bend = sine * (self.distance**2 - 1.0) / q**3
        return Gearing(np.arcsin(sine) - x, p, bend, q / (q + self.friction * np.abs(sine)))

    def returning(self) -> Self:
        """The detent in the beat to the other side, which only passes it."""
        return replace(self, gives=~self.gives, centre=-self.centre)

    def in_beat(self, rest: Array) -> Self:
        """The same with its line of centres where the balance comes to rest, rad (points,): at the dead point."""
        return replace(self, centre=rest)

    def driven(self, factor: Array) -> Self:
        """The same with the torque on the escape wheel multiplied by ``factor``."""
        driven = ("wheel_torque", "wheel_acceleration", "lock_torque")
        return replace(self, **{name: getattr(self, name) * factor for name in driven})

    def at_rest(self, *, outward: bool) -> Array:
        """The detent lies against its stop."""
        return np.zeros_like(self.centre)

    @property
    def unlocking_work(self) -> Array:
        """Against draw, friction and spring of the detent."""
        lock = self.lock_torque * (self.unlock_to - self.unlock_from)
        return lock + self.spring_torque * (self.let_go - self.unlock_from)

    @property
    def passing_work(self) -> Array:
        """Against the passing spring."""
        return self.passing_torque * (self.passing_to - self.passing_from)

    def first_work(self, amplitude: Array | None) -> tuple[Array, Array]:
        """To leading order, the balance's speed being the amplitude: what the wheel does over its whole advance,
        less what the detent takes; and the speed that detent and wheel take away with them."""
        end = self.gearing(self.impulse_to)
        gain = self.wheel_torque * self.half_advance * (1.0 + end.passed) - self.unlocking_work
        heavier = 1.0 + self.detent_inertia
        taken = 0.5 * (1.0 - 1.0 / heavier) + 0.5 * self.wheel_inertia * end.p**2
        return np.where(self.gives, gain, -self.passing_work), np.where(self.gives, taken, 0.0)

    def most_work(self) -> Array:
        """M_e times all that the wheel turns through, less what the detent takes."""
        most = self.wheel_torque * (2.0 * self.half_advance + self.fall) - self.unlocking_work
        return np.where(self.gives, most, -self.passing_work)
