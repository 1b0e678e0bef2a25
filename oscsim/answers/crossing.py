"""Where does a yes turn into a no? Brackets closed in on, many side by side."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from oscsim.arrays import Array, Flags

#: Places tried at a time: many points settle in hardly more time than one.
_CUTS = 23
#: Most steps of false position; five or six do.
_STEPS = 40


def section(
    holds: Callable[[Array], Flags], low: Array, high: Array, precision: float
) -> tuple[Array, Array]:
    """The brackets (rows,) closed in on to ``precision``, in their unit: it holds at ``low`` and no longer at ``high``.

    ``holds`` is asked at (rows, cuts) places, from low to high in every row; the first no counts. ``high`` may lie
    below ``low``.
    """
    rows = np.arange(len(low))
    while np.max(np.abs(high - low), initial=0.0) > precision:
        tried = low[:, None] + (high - low)[:, None] * np.arange(1, _CUTS + 1) / (_CUTS + 1)
        yes = holds(tried)
        first = np.where(yes.all(axis=1), _CUTS, np.argmin(yes, axis=1))
        edges = np.concatenate([low[:, None], tried, high[:, None]], axis=1)
        low, high = edges[rows, first], edges[rows, first + 1]
    return low, high


def root(
    function: Callable[[Array], Array],
    low: Array,
    high: Array,
    precision: float,
    ends: tuple[Array, Array] | None = None,
) -> Array:
    """Roots of a smooth function between ``low`` and ``high`` (rows,), to ``precision``; NaN where the ends have one
    sign or no value.

    ``ends``: the values there, where they are known. False position, the stale end's value halved (Illinois; M. Dowell
    and P. Jarratt, BIT 11, 1971, 168), every row at its own place in one call. A row that is
    found, or has no root, is asked for NaN from then on.
    """
    f_low, f_high = ends if ends is not None else (function(low), function(high))
    with np.errstate(invalid="ignore", divide="ignore"):
        middle = low = np.where(f_low * f_high <= 0.0, low, np.nan)
        done = np.isnan(middle)
        for _ in range(_STEPS):
            before = middle
            steep = f_high - f_low
            middle = np.where(~done & (steep != 0.0), (low * f_high - high * f_low) / steep, middle)
            done |= ~(np.abs(middle - before) > precision)
            if done.all():
                break
            f_middle = function(np.where(done, np.nan, middle))
            same = f_middle * f_high > 0.0
            f_low, low = np.where(same, 0.5 * f_low, f_high), np.where(same, low, high)
            high, f_high = middle, f_middle
    return middle
