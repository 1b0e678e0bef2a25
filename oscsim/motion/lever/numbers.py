"""A lever escapement as coefficients.

Torques are in units of the hairspring stiffness k, inertias of the balance's I, time in 1/ω, and lever angles are the
balance angle that goes with them (lever angle / fork ratio). The symbols are those of docs/physics.md §2.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.escapement import Drive, Escapement
from oscsim.motion.states import State


@dataclass(frozen=True, kw_only=True)
class LeverNumbers(Escapement):
    """Coefficients of the lever in one beat; every field has shape (points,)."""

    phases = ("free arc in", "unlocking", "catch-up", "run through the shake", "impulse", "free arc out")
    places = ("drop", "recoil", "lock_friction", "pallet_friction", "fork", "pick_up", "catch", "shake",
              "lever_and_wheel")  # fmt: skip
    alike = True
    beyond = State.KNOCKS

    centre: Array  # x_c, balance angle of the line of centres, rad
    contact: Array  # B/(2g), rad before the line of centres
    unlocking: Array  # (ℓ + ϱ)/g, rad
    rise: Array  # L/g, rad
    shake: Array  # σ/g, rad
    unlocking_torque: Array  # g M_u/(η_f k), against the balance
    impulse_torque: Array  # g M_i η_f / k, with the balance
    inertia_unlocking: Array  # 1 + g² (J_l + q² J_w)/I
    inertia_lever: Array  # 1 + g² J_l/I
    inertia_impulse: Array  # 1 + g² (J_l + p² J_w)/I
    recoil: Array  # q/p
    wheel_acceleration: Array  # M_e/(J_w p g ω²): the free wheel, as balance angle
    wheel_share: Array  # p² J_w/(J_l + p² J_w)
    lever_acceleration: Array  # M_i/((J_l + p² J_w) g ω²): lever and wheel without the balance

    @property
    def pin_contact(self) -> Array:
        """x₀: where the impulse pin meets the fork, rad, shape (points,)."""
        return self.centre - self.contact

    @property
    def last_contact(self) -> Array:
        """Where the lever has done its lift."""
        return self.pin_contact + self.unlocking + self.rise

    def mirrored(self) -> Self:
        """The lever in the beat to the other side: the same, but for the line of centres."""
        return replace(self, centre=-self.centre)

    def in_beat(self, rest: Array) -> Self:
        """The same with its line of centres where the balance comes to rest, rad (points,): at the dead point."""
        return replace(self, centre=rest)

    def driven(self, factor: Array) -> Self:
        """The same with the torque on the escape wheel multiplied by ``factor``."""
        driven = ("unlocking_torque", "impulse_torque", "wheel_acceleration", "lever_acceleration")
        return replace(self, **{name: getattr(self, name) * factor for name in driven})

    def at_rest(self, *, outward: bool) -> Array:
        """The lever lies against its banking, half the way from bank to bank off the line of centres."""
        return self.contact if outward else -self.contact

    def first_work(self, amplitude: Array | None) -> tuple[Array, Array]:
        """To leading order, with the balance's speed in the lift taken as the amplitude.

        With an ``amplitude`` near the right one the lever's own acceleration through the shake is counted too.
        """
        lead = np.maximum(self.wheel_share * (1.0 + self.recoil), 1e-3)
        if amplitude is None:
            coasting, hit = self.shake / lead, 0.0
        else:
            v = np.maximum(amplitude, 1e-3)
            gained = lead * v
            time = (
                2.0 * self.shake / (gained + np.sqrt(gained**2 + 2.0 * self.lever_acceleration * self.shake))
            )
            coasting = v * time
            hit = (self.inertia_impulse - 1.0) / self.inertia_impulse * self.lever_acceleration * time * v
        travel = np.maximum(self.rise - self.shake - np.minimum(coasting, 0.5 * self.rise), 0.0)
        gain = self.impulse_torque * travel / self.inertia_impulse + hit
        gain = gain - self.unlocking_torque * self.unlocking / self.inertia_unlocking
        picked_up = 0.5 * (1.0 - 1.0 / self.inertia_unlocking**2)
        given_back = (
            (self.inertia_impulse - 1.0) / self.inertia_impulse * self.wheel_share * (1.0 + self.recoil)
        )
        catching = (
            2.0 * self.impulse_torque * (1.0 + self.recoil) / np.maximum(self.wheel_acceleration, 1e-300)
        )
        return gain, np.maximum(picked_up - given_back + catching, 0.0)

    def most_work(self) -> Array:
        """M_e times the wheel's advance in the impulse, less what unlocking takes."""
        rounding = 4.0 * np.finfo(float).eps  # of the difference of inertias, so that the bound stays one
        torque = self.wheel_acceleration * (self.inertia_impulse - self.inertia_lever + rounding)
        return torque * self.rise - self.unlocking_torque * self.unlocking


@dataclass(frozen=True, kw_only=True)
class LeverDrive(Drive):
    """What the batch does not keep apart, each (points,): g M_e/k; wheel angle per lever angle in impulse p and
    unlocking q; M_u/M_e, M_i/M_e; fork efficiency; the drop's wheel angle over the fork ratio, rad."""

    at_balance: Array
    advance: Array
    recoil: Array
    unlocking: Array
    impulse: Array
    fork_efficiency: Array
    drop: Array

    def driven(self, factor: Array) -> LeverDrive:
        """The same with the torque on the escape wheel multiplied by ``factor``."""
        return replace(self, at_balance=self.at_balance * factor)
