"""A batch of oscillators as arrays: everything the motion needs, without units.

Time is counted in 1/ω (ω = 2πf, f the free frequency), torques in units of the hairspring stiffness k,
inertias in units of the balance's I, and lever angles as the balance angle that goes with them (lever
angle / fork ratio). Equation (1) of docs/physics.md then reads

    x'' = -x (1 + cubic x²) - viscous x' - quadratic x'|x'| - dry sgn x' - gravity sin(x + heavy) + torque

Index pins with play add pins_share (clip(x) - clip(0)), clip to [pins_low, pins_high]: within these angles the
coil is free of the pins and the hairspring acts with its whole length (docs/physics.md §6).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np

from oscsim.arrays import Array, Flags, Indices


@dataclass(frozen=True)
class Oscillators:
    """Coefficients of a batch; every field has shape (points,).

    The symbols in brackets are those of docs/physics.md.
    """

    viscous: Array  # 1/Q
    quadratic: Array  # c
    dry: Array  # M_c / k
    gravity: Array  # G / k
    heavy: Array  # φ, rad
    cubic: Array  # κ₃, 1/rad²
    pins_share: (
        Array  # Δk/k: stiffness that the stretch between the index pins takes away while the coil is free
    )
    pins_low: Array  # contact angles of the pins, rad; infinite where there is no pin
    pins_high: Array
    centre: Array  # x_c, balance angle of the line of centres, rad
    contact: Array  # B/(2g), rad before the line of centres
    unlocking: Array  # (ℓ + ϱ)/g, rad
    lift: Array  # L/g, rad
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
    def size(self) -> int:
        """Number of points."""
        return len(self.viscous)

    def each(self, change: Callable[[Array], Array]) -> Oscillators:
        """The same batch with ``change`` applied to every field."""
        return Oscillators(*(change(getattr(self, f.name)) for f in fields(self)))

    def take(self, index: Indices | Flags | slice) -> Oscillators:
        """The chosen points."""
        return self.each(lambda values: values[index])

    def mirrored(self) -> Oscillators:
        """The beats to the other side, mirrored so that the balance again moves from -A to +A."""
        return replace(
            self,
            centre=-self.centre,
            heavy=-self.heavy,
            pins_low=-self.pins_high,
            pins_high=-self.pins_low,
        )

    @cached_property
    def against_time(self) -> Oscillators:
        """The beats run backwards from the turning point, mirrored: every drag then pushes."""
        other = self.mirrored()
        return replace(other, viscous=-self.viscous, quadratic=-self.quadratic, dry=-self.dry)

    def driven(self, factor: Array) -> Oscillators:
        """The same batch with the torque on the escape wheel multiplied by ``factor``."""
        driven = ("unlocking_torque", "impulse_torque", "wheel_acceleration", "lever_acceleration")
        return replace(self, **{name: getattr(self, name) * factor for name in driven})

    def both_beats(self) -> Oscillators:
        """Shape (2 points,): the beats s = +1 of every point, then the beats s = -1."""
        return joined([self, self.mirrored()])

    @property
    def pin_contact(self) -> Array:
        """x₀: where the impulse pin meets the fork, rad, shape (points,)."""
        return self.centre - self.contact

    @cached_property
    def any_gravity(self) -> bool:
        """Whether a heavy point matters at any of the points."""
        return bool(self.gravity.any())

    @cached_property
    def any_cubic(self) -> bool:
        """Whether the hairspring departs from a linear torque at any of the points."""
        return bool(self.cubic.any())

    @cached_property
    def any_pins(self) -> bool:
        """Whether the coil has play between index pins at any of the points."""
        return bool(self.pins_share.any())

    def kinks(self, start: Array, end: Array) -> tuple[Array, Array]:
        """The pins' contact angles as far as they lie between ``start`` and ``end``, in order of travel."""
        return np.clip(self.pins_low, start, end), np.clip(self.pins_high, start, end)

    def pins_drop(self, start: Array, travel: Array) -> Array:
        """What v² gains over ``travel`` by the stiffness that the play between the pins takes away."""

        def twice_integral(x: Array) -> Array:
            leaning = np.clip(x, self.pins_low, self.pins_high)
            return leaning * (2.0 * x - leaning)

        at_rest = np.clip(0.0, self.pins_low, self.pins_high)
        gained = twice_integral(start + travel) - twice_integral(start) - 2.0 * at_rest * travel
        return np.asarray(self.pins_share * gained)

    def potential_drop(self, start: Array, travel: Array) -> Array:
        """2 [U(start) - U(start + travel)] of hairspring and gravity: what v² gains there, without inertia.

        Broadcasts over leading axes; rad in, rad² out.
        """
        return self.and_pull(start, travel, 0.0)

    def and_pull(self, start: Array, travel: Array, pull: Array | float) -> Array:
        """``potential_drop`` and the work of an even torque: ``pull`` is twice that torque, of friction too."""
        drop = (pull - 2.0 * start) - travel
        drop *= travel
        if self.any_cubic:
            end = start + travel
            drop -= travel * (start + end) * ((0.5 * self.cubic) * (start * start + end * end))
        if self.any_gravity:
            at_start = start + self.heavy
            swung = travel + at_start
            np.cos(swung, out=swung)
            swung -= np.cos(at_start)
            swung *= 2.0 * self.gravity
            drop += swung
        if self.any_pins:
            drop += self.pins_drop(start, travel)
        return drop

    def drag(self, speed: Array) -> Array:
        """Drag over speed at ``speed`` > 0, dry friction apart."""
        return self.viscous + self.quadratic * speed

    def torque_at(self, x: Array, speed: Array) -> Array:
        """Torque of everything but the escapement at angle ``x``, moving at ``speed`` > 0."""
        torque = -x - self.dry - speed * self.drag(speed)
        if self.any_cubic:
            torque -= self.cubic * (x * x * x)
        if self.any_gravity:
            torque -= self.gravity * np.sin(x + self.heavy)
        if self.any_pins:
            leaning = np.clip(x, self.pins_low, self.pins_high)
            torque += self.pins_share * (leaning - np.clip(0.0, self.pins_low, self.pins_high))
        return torque


def joined(batches: Sequence[Oscillators]) -> Oscillators:
    """Batches one after another as one batch."""
    return Oscillators(
        *(np.concatenate([getattr(batch, f.name) for batch in batches]) for f in fields(Oscillators))
    )
