"""Causes estimated from readings: maximum a posteriori, its covariance, and the evidence.

The readings' uncertainty and the spread among sound examples together weigh the residuals; priors keep what the
readings cannot tell where it was.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array
from oscsim.bench.model import PARAMETERS, Places, predictions, prior_sd, search_box
from oscsim.bench.posterior import Posterior, Prior, Search, search, side_by_side
from oscsim.movement import Movement

#: Room kept to the edges of the search, in prior standard deviations, for difference quotients.
_INSIDE = 0.01


@dataclass(frozen=True, kw_only=True)
class Fit(Posterior):
    """A fit of some parameters: z (parameters,), zero where not fitted; covariance (fitted, fitted) and slope (values,
    fitted) of ``columns``; the rest as in ``Posterior``."""

    columns: tuple[int, ...]

    def sd(self, column: int) -> float:
        """Standard deviation of a fitted parameter."""
        n = self.columns.index(column)
        return math.sqrt(self.covariance[n, n])


@dataclass(frozen=True)
class Task:
    """What to fit and from where: parameters not in ``columns`` stay at zero, the movement as designed.

    start and the priors' mean: (parameters,), zero unless given.
    """

    columns: tuple[int, ...]
    start: Array | None = None
    mean: Array | None = None


def fit(
    movement: Movement,
    values: Array,
    covariance: Array,
    places: Places,
    columns: Sequence[int],
    *,
    start: Array | None = None,
    mean: Array | None = None,
    robust: bool = False,
) -> Fit:
    """Fit the parameters ``columns`` to the readings ``values`` (values,) with covariance (values, values).

    ``start`` and the priors' ``mean`` (parameters,) are zero, the movement as designed, unless given; parameters not
    fitted stay at zero.
    """
    task = Task(tuple(columns), start, mean)
    return fits(movement, values, covariance, places, [task], robust=robust)[0]


def fits(
    movement: Movement,
    values: Array,
    covariance: Array,
    places: Places,
    tasks: Sequence[Task],
    *,
    robust: bool = False,
) -> list[Fit]:
    """Several fits to the same readings, side by side: much faster than one after another."""
    sd = prior_sd(movement)
    low, high = search_box(movement)
    low, high = low + _INSIDE * sd, high - _INSIDE * sd
    zero = np.zeros(len(PARAMETERS))

    def started(task: Task) -> Search:
        part = list(task.columns)
        mean, start = (zero if given is None else given for given in (task.mean, task.start))
        prior = Prior(mean[part], sd[part], low[part], high[part])
        return _embedded(search(values, covariance, prior, start[part], robust=robust), part)

    found = side_by_side(lambda rows: predictions(movement, rows, places), [started(task) for task in tasks])
    return [
        Fit(**(vars(one) | {"z": _among_all(one.z, list(task.columns))}), columns=task.columns)
        for task, one in zip(tasks, found, strict=True)
    ]


def _embedded(inner: Search, part: list[int]) -> Search:
    """The search with its rows among all parameters, zero elsewhere."""
    rows = next(inner)
    while True:
        found = yield _among_all(rows, part)
        try:
            rows = inner.send(found)
        except StopIteration as end:
            return end.value  # type: ignore[no-any-return]


def _among_all(rows: Array, part: list[int]) -> Array:
    whole = np.zeros((*rows.shape[:-1], len(PARAMETERS)))
    whole[..., part] = rows
    return whole
