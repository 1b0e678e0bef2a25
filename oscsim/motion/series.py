"""Chebyshev series in the balance angle: whatever acts by the angle alone and has no formula of its own.

A series has the coefficients c (terms, points) and the value Σ c_n T_n(θ/REACH). Beyond ±REACH, where no number is
given anyway, it goes on straight. Without terms (0, points) the value is zero.
"""

from __future__ import annotations

import math

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.batch import level

#: Angle to which a series goes on both sides, rad: the ceiling of the engine.
REACH = math.radians(400.0)


def none() -> Array:
    """A series that is not there."""
    return np.empty((0, 0))


def value(coefficients: Array, x: Array) -> Array:
    """The series at the angles ``x`` (…, points), rad, by Clenshaw's recurrence; shape of ``x``.

    Beyond ±REACH it goes on with the value and the slope at that end.
    """
    if not len(coefficients):
        return np.zeros_like(x)
    u = x * (1.0 / REACH)
    beyond = None
    if np.abs(u).max(initial=0.0) > 1.0:
        inside = np.clip(u, -1.0, 1.0)
        beyond, u = u - inside, inside
    twice = u + u
    one, two, new = np.zeros_like(u), np.zeros_like(u), np.empty_like(u)
    for term in coefficients[:0:-1]:
        np.multiply(twice, one, out=new)
        new -= two
        new += term
        one, two, new = new, one, two
    found = u * one
    found -= two
    found += coefficients[0]
    if beyond is not None:
        order = np.arange(len(coefficients))[:, None] ** 2
        rising = (order * coefficients).sum(axis=0)  # T_n' is n² at 1 and -(-1)^n n² at -1
        falling = -(order * mirrored(coefficients)).sum(axis=0)
        found += beyond * np.where(beyond > 0.0, rising, falling)
    return found


def integral(coefficients: Array) -> Array:
    """A series whose derivative with the angle is the one given: (terms + 1, points)."""
    terms, points = coefficients.shape
    if not terms:
        return coefficients
    found = np.zeros((terms + 1, points))
    n = np.arange(1, terms + 1)[:, None]
    # ∫T_n = T_{n+1}/(2(n + 1)) - T_{n-1}/(2(n - 1)); T_0 counts twice there
    found[1:] = coefficients / (2.0 * n)
    found[1] += 0.5 * coefficients[0]
    found[1 : terms - 1] -= coefficients[2:] / (2.0 * n[: terms - 2])
    return REACH * found


def mirrored(coefficients: Array) -> Array:
    """The series of the same values at the opposite angles."""
    turned = coefficients.copy()
    turned[1::2] *= -1.0
    return turned


def added(one: Array, other: Array) -> Array:
    """The sum of two series of the same points."""
    one, other = level([one, other])
    return np.asarray(one + other)
