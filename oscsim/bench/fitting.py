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
from oscsim.bench.posterior import Prior, maximise
from oscsim.movement import Movement

#: Room kept to the edges of the search, in prior standard deviations, for difference quotients.
_INSIDE = 0.01


@dataclass(frozen=True)
class Fit:
    """A fit of some parameters: z (parameters,), zero where not fitted; covariance (fitted, fitted) of ``columns``;
    residual (values,) reading less model; weight (values,) below 1 where a reading was doubted; log_evidence;
    converged; slope (values, fitted) at the end."""

    columns: tuple[int, ...]
    z: Array
    covariance: Array
    predicted: Array
    residual: Array
    weight: Array
    slope: Array
    log_evidence: float
    converged: bool

    def sd(self, column: int) -> float:
        """Standard deviation of a fitted parameter."""
        n = self.columns.index(column)
        return math.sqrt(self.covariance[n, n])


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
    columns = tuple(columns)
    part = list(columns)
    zero = np.zeros(len(PARAMETERS))
    sd = prior_sd(movement)
    low, high = search_box(movement)
    margin = _INSIDE * sd

    def embedded(rows: Array) -> Array:
        whole = np.zeros((*rows.shape[:-1], len(PARAMETERS)))
        whole[..., part] = rows
        return whole

    prior = Prior(
        (zero if mean is None else mean)[part], sd[part], (low + margin)[part], (high - margin)[part]
    )
    found = maximise(
        lambda rows: predictions(movement, embedded(rows), places),
        values,
        covariance,
        prior,
        (zero if start is None else start)[part],
        robust=robust,
    )
    return Fit(
        columns,
        embedded(found.z),
        found.covariance,
        found.predicted,
        found.residual,
        found.weight,
        found.slope,
        found.log_evidence,
        found.converged,
    )
