"""Where does a yes turn into a no? Brackets closed in on, many side by side."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from oscsim.arrays import Array, Flags

#: Places tried at a time: many points settle in hardly more time than one.
_CUTS = 23


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
