"""A curve through points that rises and falls only where they do.

Piecewise cubic. Its slope at an inner point is the weighted harmonic mean of the slopes to both sides, nought where
they differ in sign (F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5, 1984), at an end that of the parabola
through three points, kept from overshooting. SciPy's ``PchipInterpolator`` is the same curve; it takes longer to load
than a day takes to follow.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from oscsim.arrays import Array


class Monotone(NamedTuple):
    """The curve through ``x`` (points,), rising, and ``y`` (points,); its slopes there, and its integral from the first
    point to each; all (points,)."""

    x: Array
    y: Array
    slope: Array
    integral: Array

    def value(self, at: Array) -> Array:
        """The curve at ``at``, between the first point and the last."""
        return self._between(at)[0]

    def area(self, at: Array) -> Array:
        """The integral from the first point to ``at``."""
        return self._between(at)[1]

    def _between(self, at: Array) -> tuple[Array, Array]:
        left = np.clip(np.searchsorted(self.x, at, side="right") - 1, 0, len(self.x) - 2)
        step = np.diff(self.x)[left]
        t = at - self.x[left]
        rise = (self.y[left + 1] - self.y[left]) / step
        begins, ends = self.slope[left], self.slope[left + 1]
        square, cube = (3.0 * rise - 2.0 * begins - ends) / step, (begins + ends - 2.0 * rise) / step**2
        value = ((cube * t + square) * t + begins) * t + self.y[left]
        area = (((cube / 4.0 * t + square / 3.0) * t + begins / 2.0) * t + self.y[left]) * t
        return value, area + self.integral[left]


def monotone(x: Array, y: Array) -> Monotone:
    """The curve through the points ``x`` (points,), rising, and ``y`` (points,); two points are joined by a line."""
    step = np.diff(x)
    rise = np.diff(y) / step
    if len(x) < 3:
        slope = np.repeat(rise, 2)
    else:
        before, after = step[:-1], step[1:]
        one, two = 2.0 * after + before, after + 2.0 * before
        same = rise[:-1] * rise[1:] > 0.0
        with np.errstate(divide="ignore", invalid="ignore"):
            inner = np.where(same, (one + two) / (one / rise[:-1] + two / rise[1:]), 0.0)
        slope = np.concatenate([[_end(step, rise)], inner, [_end(step[::-1], rise[::-1])]])
    each = step * (0.5 * (y[:-1] + y[1:]) + step * (slope[:-1] - slope[1:]) / 12.0)
    return Monotone(x, y, slope, np.concatenate([[0.0], np.cumsum(each)]))


def _end(step: Array, rise: Array) -> float:
    """The slope at the first point: of the parabola through three, never against the first rise and at most thrice it
    where the next goes the other way."""
    slope = float(((2.0 * step[0] + step[1]) * rise[0] - step[0] * rise[1]) / (step[0] + step[1]))
    if slope * rise[0] <= 0.0:
        return 0.0
    if rise[0] * rise[1] <= 0.0 and abs(slope) > 3.0 * abs(rise[0]):
        return float(3.0 * rise[0])
    return slope
