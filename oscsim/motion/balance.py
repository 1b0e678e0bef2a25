"""A batch of balances with their hairsprings as arrays: everything in the motion but the escapement, without units.

Time is counted in 1/ω (ω = 2πf, f the free frequency), torques in units of the hairspring stiffness k,
inertias in units of the balance's I. Equation (1) of docs/physics.md then reads

    x'' = -x (1 + cubic x²) - viscous x' - quadratic x'|x'| - dry sgn x' - gravity sin(x + heavy) + torque

Index pins with play add pins_share (clip(x) - clip(0)), clip to [pins_low, pins_high]: within these angles the
coil is free of the pins and the hairspring acts with its whole length (docs/physics.md §6). What else depends on
the angle, such as a hairspring's shape, comes as Chebyshev series (series.py): of a torque that has a potential, and
of a friction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from oscsim.arrays import Array
from oscsim.motion import series
from oscsim.motion.batch import Batch, names_of


@dataclass(frozen=True, kw_only=True)
class Balance(Batch):
    """Coefficients of a batch; every field has shape (points,), the series (terms, points).

    The symbols in brackets are those of docs/physics.md. A series left out has no terms.
    """

    viscous: Array  # 1/Q
    quadratic: Array  # c
    dry: Array  # M_c / k
    gravity: Array  # G / k
    heavy: Array  # φ, rad
    cubic: Array  # κ₃, 1/rad²
    #: Δk/k: stiffness that the stretch between the index pins takes away while the coil is free
    pins_share: Array
    #: contact angles of the pins, rad; infinite where there is no pin
    pins_low: Array
    pins_high: Array
    #: torque over k by angle, positive with θ, that has a potential
    torque_series: Array = field(default_factory=series.none)
    #: friction torque over k by angle, always against the motion
    friction_series: Array = field(default_factory=series.none)
    #: the series go so far on both sides, rad
    series_reach: float = series.REACH

    def __post_init__(self) -> None:
        for name in ("torque_series", "friction_series"):
            if getattr(self, name).shape == (0, 0):
                object.__setattr__(self, name, np.empty((0, self.size)))

    @property
    def size(self) -> int:
        """Number of points."""
        return len(self.viscous)

    def alone(self) -> dict[str, Any]:
        """The fields of the balance by name."""
        return {name: getattr(self, name) for name in names_of(Balance)}

    def turned(self) -> dict[str, Any]:
        """The fields of the balance seen from the other side, where the opposite swing is positive."""
        return self.alone() | {
            "heavy": -self.heavy,
            "pins_low": -self.pins_high,
            "pins_high": -self.pins_low,
            "torque_series": -series.mirrored(self.torque_series),
            "friction_series": series.mirrored(self.friction_series),
        }

    @cached_property
    def against_time(self) -> Balance:
        """The motion run backwards from the turning point, mirrored: every drag then pushes."""
        other = self.turned()
        drags = ("viscous", "quadratic", "dry", "friction_series")
        return Balance(**other | {name: -other[name] for name in drags})

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

    @cached_property
    def any_series(self) -> bool:
        """Whether a torque or a friction comes as a series at any of the points."""
        return bool(self.torque_series.any() or self.friction_series.any())

    @cached_property
    def _forward(self) -> Array:
        """The series of all that acts in the motion to positive x."""
        return series.added(self.torque_series, -self.friction_series)

    @cached_property
    def _forward_work(self) -> Array:
        """Of what v² gains by ``_forward``: twice its integral."""
        return 2.0 * series.integral(self._forward, self.series_reach)

    def _series(self, coefficients: Array, x: Array) -> Array:
        return series.value(coefficients, x, self.series_reach)

    def within(self, far: float) -> Balance:
        """The balance for angles up to ``far`` on both sides, rad, with series as short as that allows."""
        reach = series.stretch(far) if math.isfinite(far) else series.REACH
        if not self.any_series or reach >= series.REACH:
            return self
        torque, friction = (series.within(c, reach) for c in (self.torque_series, self.friction_series))
        if torque is None or friction is None:
            return self
        own = self.alone() | {"torque_series": torque, "friction_series": friction, "series_reach": reach}
        return Balance(**own)

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

    def series_drop(self, start: Array, travel: Array) -> Array:
        """What v² gains over ``travel`` by the series, the friction's part in it negative."""
        ends = (start + travel).reshape(-1, len(start))
        stored = self._series(self._forward_work, np.concatenate([start[None], ends]))
        return np.asarray(stored[1:] - stored[0]).reshape(travel.shape)

    def rubbed(self, start: Array, end: Array) -> Array:
        """Work of the friction that comes as a series from ``start`` up to ``end``, over k."""
        work = series.integral(self.friction_series, self.series_reach)
        return self._series(work, end) - self._series(work, start)

    def forward_drop(self, start: Array, travel: Array, pull: Array | float) -> Array:
        """What v² gains over ``travel``, without inertia, by all that depends on the angle alone: hairspring, gravity,
        the series and an even torque; ``pull`` is twice that torque, less twice the dry friction.

        Broadcasts over leading axes; rad in, rad² out.
        """
        drop = self.plain_drop(start, travel, pull)
        if self.any_series:
            drop += self.series_drop(start, travel)
        return drop

    def plain_drop(self, start: Array, travel: Array, pull: Array | float) -> Array:
        """``forward_drop`` without the series."""
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

    def _plain_torque(self, x: Array) -> Array:
        """Torque of the hairspring and its pins at angle ``x``, without the series."""
        torque = -x
        if self.any_cubic:
            torque -= self.cubic * (x * x * x)
        if self.any_pins:
            leaning = np.clip(x, self.pins_low, self.pins_high)
            torque += self.pins_share * (leaning - np.clip(0.0, self.pins_low, self.pins_high))
        return torque

    def spring_torque(self, x: Array) -> Array:
        """Torque of the hairspring, its pins and its shape at angle ``x``."""
        torque = self._plain_torque(x)
        if self.any_series:
            torque += self._series(self.torque_series, x)
        return torque

    def spring_energy(self, x: Array) -> Array:
        """Energy stored at angle ``x`` by all of ``spring_torque``, from the dead point."""
        stored = 0.5 * x * x * (1.0 + 0.5 * self.cubic * x * x)
        if self.any_pins:
            stored = stored - 0.5 * self.pins_drop(np.zeros_like(x), x)
        if self.any_series:
            work = series.integral(self.torque_series, self.series_reach)
            stored = stored - (self._series(work, x) - self._series(work, np.zeros_like(x)))
        return stored

    def gravity_torque(self, x: Array) -> Array:
        """Torque of the heavy point at angle ``x``."""
        return np.asarray(-self.gravity * np.sin(x + self.heavy))

    def gravity_energy(self, x: Array) -> Array:
        """Energy of the heavy point at angle ``x``, from the dead point."""
        return np.asarray(self.gravity * (np.cos(self.heavy) - np.cos(x + self.heavy)))

    def friction(self, x: Array, speed: Array) -> Array:
        """All that acts against the motion at angle ``x`` and ``speed`` > 0, as a positive torque."""
        lost = self.dry + speed * self.drag(speed)
        if self.any_series:
            lost += self._series(self.friction_series, x)
        return lost

    def torque_at(self, x: Array, speed: Array) -> Array:
        """Torque of everything but the escapement at angle ``x``, moving at ``speed`` > 0."""
        torque = self._plain_torque(x)
        torque -= self.dry + speed * self.drag(speed)
        if self.any_series:
            torque += self._series(self._forward, x)
        if self.any_gravity:
            torque += self.gravity_torque(x)
        return torque
