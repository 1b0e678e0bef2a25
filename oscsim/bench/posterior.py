"""Maximum a posteriori by Gauss-Newton steps: any model whose readings come in batches, any normal priors.

Steps are shortened until the cost falls; the evidence is that of the linearised model (Laplace), in nats.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np

from oscsim.arrays import Array

#: Readings for each row of parameters: (samples, parameters) to (samples, values); NaN where it stops.
Model: TypeAlias = Callable[[Array], Array]

#: Half width of a 90 % interval, and the one-sided 5 % point, in standard deviations of the normal distribution.
NINETY = 1.6448536269514722
_STEPS = 14
_SHRINKS = 6
_CONVERGED = 1e-4
#: Half width of the difference quotients, in prior standard deviations.
_WIDTH = 1e-3
#: Residuals beyond this many standard deviations weigh less when one bad reading is allowed for (Huber 1964).
_HUBER = 2.0


@dataclass(frozen=True)
class Prior:
    """Independent normal priors and the box in which the search stays, each (parameters,)."""

    mean: Array
    sd: Array
    low: Array
    high: Array


@dataclass(frozen=True)
class Posterior:
    """z (parameters,), covariance (parameters, parameters), predicted, residual and weight (values,), slope
    (values, parameters) at the end, log_evidence in nats, and whether the search converged."""

    z: Array
    covariance: Array
    predicted: Array
    residual: Array
    weight: Array
    slope: Array
    log_evidence: float
    converged: bool


def maximise(
    model: Model, values: Array, covariance: Array, prior: Prior, start: Array, *, robust: bool = False
) -> Posterior:
    """Fit the parameters to ``values`` (values,) with covariance (values, values), from ``start`` (parameters,).

    ``robust``: readings far out weigh less.
    """
    z, sd = np.clip(start, prior.low, prior.high), prior.sd
    weight = np.ones(len(values))
    predicted, slope = slopes(model, z, sd)
    precise = np.linalg.inv(_weighted(covariance, weight))
    converged = False
    for _ in range(_STEPS):
        residual = values - predicted
        if robust:
            weight = _huber(residual, covariance)
            precise = np.linalg.inv(_weighted(covariance, weight))
        away = z - prior.mean
        normal = slope.T @ precise @ slope + np.diag(1.0 / sd**2)
        step = np.linalg.solve(normal, slope.T @ precise @ residual - away / sd**2)
        cost = _cost(residual, precise, away, sd)
        if np.abs(step / sd).max() < _CONVERGED:
            converged = True
            break
        # the best of some shortened steps, all predicted in one batch
        sizes = 0.5 ** np.arange(_SHRINKS)
        trials = np.clip(z + sizes[:, None] * step, prior.low, prior.high)
        costs = [
            _cost(values - row, precise, trial - prior.mean, sd) if np.isfinite(row).all() else math.inf
            for row, trial in zip(model(trials), trials, strict=True)
        ]
        best = int(np.argmin(costs))
        if costs[best] > cost - 1e-6:
            converged = True
            break
        z = trials[best]
        predicted, slope = slopes(model, z, sd)
    residual = values - predicted
    normal = slope.T @ precise @ slope + np.diag(1.0 / sd**2)
    posterior = np.asarray(np.linalg.inv(normal), np.float64)
    _, log_det = np.linalg.slogdet(normal * np.outer(sd, sd))
    evidence = -0.5 * _cost(residual, precise, z - prior.mean, sd) - 0.5 * log_det
    return Posterior(z, posterior, predicted, residual, weight, slope, float(evidence), converged)


def slopes(model: Model, z: Array, sd: Array) -> tuple[Array, Array]:
    """Readings at ``z`` (values,) and their slopes (values, parameters), by central differences in one batch."""
    width = _WIDTH * sd
    rows = np.tile(z, (1 + 2 * len(z), 1))
    each = np.arange(len(z))
    rows[1 + 2 * each, each] += width
    rows[2 + 2 * each, each] -= width
    found = model(rows)
    return found[0], (found[1::2] - found[2::2]).T / (2.0 * width)


def _cost(residual: Array, precise: Any, away: Array, sd: Array) -> float:
    return float(residual @ precise @ residual + np.sum((away / sd) ** 2))


def _weighted(covariance: Array, weight: Array) -> Array:
    """The covariance with doubted readings' own part enlarged."""
    return covariance + np.diag(np.diag(covariance) * (1.0 / weight - 1.0))


def _huber(residual: Array, covariance: Array) -> Array:
    """Weights by standardised residual."""
    standard = np.abs(residual) / np.sqrt(np.diag(covariance))
    return np.minimum(1.0, _HUBER / np.maximum(standard, 1e-12))
