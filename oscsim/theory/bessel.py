"""Bessel functions of the first kind, of whole order, without SciPy, which is slow to load."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from oscsim.arrays import Array

#: Angles of the sum over half a turn: its error is of the order J_{2N}(x), below rounding for arguments up to 30.
_ANGLES = 40


def jv(order: int, x: ArrayLike) -> Array:
    """J_order(x) for |x| up to 30, far above any amplitude in rad, to rounding; of the shape of ``x``.

    Source: Bessel's integral, (1/π) ∫₀^π cos(order τ - x sin τ) dτ, by the trapezoidal rule, which converges faster
    than any power for a periodic function (L. N. Trefethen and J. A. C. Weideman, SIAM Review 56, 2014, 385).
    """
    angle = np.pi * (np.arange(_ANGLES) + 0.5) / _ANGLES
    return np.asarray(np.cos(order * angle - np.asarray(x, float)[..., None] * np.sin(angle)).mean(axis=-1))
