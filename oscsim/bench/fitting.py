"""Causes estimated from readings: maximum a posteriori by Gauss-Newton steps, its covariance, and the evidence.

The readings' uncertainty and the spread among sound examples together weigh the residuals; priors keep what the
readings cannot tell where it was. Evidence is that of the linearised model (Laplace), in nats.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from oscsim.arrays import Array
from oscsim.bench.model import PARAMETERS, Places, jacobian, predictions, prior_sd, search_box
from oscsim.movement import Movement

_STEPS = 14
_SHRINKS = 6
_CONVERGED = 1e-4
#: Room kept to the edges of the search, in prior standard deviations, for difference quotients.
_INSIDE = 0.01
#: Residuals beyond this many standard deviations weigh less when one bad reading is allowed for (Huber 1964).
_HUBER = 2.0


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
    robust: bool = False,
) -> Fit:
    """Fit the parameters ``columns`` to the readings ``values`` (values,) with covariance (values, values)."""
    columns = tuple(columns)
    z = np.zeros(len(PARAMETERS)) if start is None else start.copy()
    z[[i for i in range(len(z)) if i not in columns]] = 0.0
    sd = prior_sd(movement)[list(columns)]
    low, high = search_box(movement)
    margin = _INSIDE * prior_sd(movement)
    low, high = low + margin, high - margin
    z = np.clip(z, low, high)
    weight = np.ones(len(values))
    predicted, slope = jacobian(movement, z, places, columns)
    precise = np.linalg.inv(_weighted(covariance, weight))
    converged = False
    for _ in range(_STEPS):
        residual = values - predicted
        if robust:
            weight = _huber(residual, covariance)
            precise = np.linalg.inv(_weighted(covariance, weight))
        here = z[list(columns)]
        normal = slope.T @ precise @ slope + np.diag(1.0 / sd**2)
        step = np.linalg.solve(normal, slope.T @ precise @ residual - here / sd**2)
        cost = _cost(residual, precise, here, sd)
        if np.abs(step / sd).max() < _CONVERGED:
            converged = True
            break
        # the best of some shortened steps, all predicted in one batch
        sizes = 0.5 ** np.arange(_SHRINKS)
        trials = np.tile(z, (_SHRINKS, 1))
        trials[:, list(columns)] += sizes[:, None] * step
        trials = np.clip(trials, low, high)
        found = predictions(movement, trials, places)
        costs = [
            _cost(values - row, precise, trial[list(columns)], sd) if np.isfinite(row).all() else math.inf
            for row, trial in zip(found, trials, strict=True)
        ]
        best = int(np.argmin(costs))
        if costs[best] > cost - 1e-6:
            converged = True
            break
        z = trials[best]
        predicted, slope = jacobian(movement, z, places, columns)
    residual = values - predicted
    here = z[list(columns)]
    normal = slope.T @ precise @ slope + np.diag(1.0 / sd**2)
    posterior = np.asarray(np.linalg.inv(normal), np.float64)
    _, log_det = np.linalg.slogdet(normal * np.outer(sd, sd))
    evidence = -0.5 * _cost(residual, precise, here, sd) - 0.5 * log_det
    return Fit(columns, z, posterior, predicted, residual, weight, slope, float(evidence), converged)


def _cost(residual: Array, precise: Any, z: Array, sd: Array) -> float:
    return float(residual @ precise @ residual + np.sum((z / sd) ** 2))


def _weighted(covariance: Array, weight: Array) -> Array:
    """The covariance with doubted readings' own part enlarged."""
    return covariance + np.diag(np.diag(covariance) * (1.0 / weight - 1.0))


def _huber(residual: Array, covariance: Array) -> Array:
    """Weights by standardised residual."""
    standard = np.abs(residual) / np.sqrt(np.diag(covariance))
    return np.minimum(1.0, _HUBER / np.maximum(standard, 1e-12))
