"""Chebyshev series in the balance angle: whatever acts by the angle alone and has no formula of its own.

A series has the coefficients c (terms, points) and the value Σ c_n T_n(θ/REACH). Beyond ±REACH, where no number is
given anyway, it goes on straight. Without terms (0, points) the value is zero.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.batch import level

#: Angle to which a series goes on both sides, rad: the ceiling of the engine.
REACH = math.radians(400.0)
#: Terms of a series over a short stretch, at most, what of them need not be kept, and steps of the stretch, rad.
_SHORT, _SMALL, _STEP = 16, 1e-15, math.radians(5.0)


def none() -> Array:
    """A series that is not there."""
    return np.empty((0, 0))


def value(coefficients: Array, x: Array, reach: float = REACH) -> Array:
    """The series over ±``reach`` at the angles ``x`` (…, points), rad, by Clenshaw's recurrence; shape of ``x``.

    Beyond ±``reach`` it goes on with the value and the slope at that end.
    """
    if not len(coefficients):
        return np.zeros_like(x)
    u = x * (1.0 / reach)
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


def integral(coefficients: Array, reach: float = REACH) -> Array:
    """A series over ±``reach`` whose derivative with the angle is the one given: (terms + 1, points)."""
    terms, points = coefficients.shape
    if not terms:
        return coefficients
    found = np.zeros((terms + 1, points))
    n = np.arange(1, terms + 1)[:, None]
    # ∫T_n = T_{n+1}/(2(n + 1)) - T_{n-1}/(2(n - 1)); T_0 counts twice there
    found[1:] = coefficients / (2.0 * n)
    found[1] += 0.5 * coefficients[0]
    found[1 : terms - 1] -= coefficients[2:] / (2.0 * n[: terms - 2])
    return reach * found


def stretch(far: float) -> float:
    """A somewhat longer stretch than ±``far``, rad, one of few, over which a series is to be told anew."""
    return _STEP * math.ceil(far / _STEP)


def within(coefficients: Array, reach: float) -> Array | None:
    """The same torque as a series over ±``reach`` only, which has fewer terms; None where it would not."""
    if not len(coefficients):
        return coefficients
    short = _onto(len(coefficients), reach) @ coefficients
    kept = np.flatnonzero(~(np.abs(short).max(axis=1, initial=0.0) <= _SMALL))
    terms = kept[-1] + 1 if len(kept) else 0
    return short[:terms] if terms < min(_SHORT - 1, len(coefficients)) else None


@lru_cache(maxsize=64)
def _onto(terms: int, reach: float) -> Array:
    """The matrix (_SHORT, terms) that makes a series over ±``reach`` of one over ±REACH, through Chebyshev's nodes."""
    nodes = np.cos(math.pi * (np.arange(_SHORT) + 0.5) / _SHORT)
    wave = np.polynomial.chebyshev.chebvander(nodes, _SHORT - 1).T * (2.0 / _SHORT)
    wave[0] *= 0.5
    return np.asarray(wave @ np.polynomial.chebyshev.chebvander(nodes * (reach / REACH), terms - 1))


def mirrored(coefficients: Array) -> Array:
    """The series of the same values at the opposite angles."""
    turned = coefficients.copy()
    turned[1::2] *= -1.0
    return turned


def added(one: Array, other: Array) -> Array:
    """The sum of two series of the same points."""
    one, other = level([one, other])
    return np.asarray(one + other)
