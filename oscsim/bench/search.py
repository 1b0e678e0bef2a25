"""Most probable numbers of a kind from readings of its examples: Gauss-Newton on all of them at once, in batches.

An example's readings are the kind's, moved by the example's own departures, and by the instrument. How far examples
lie apart, as a factor on the spreads of the design, is a number sought with the others where there are several
examples: the answer is a mixture over a grid of it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array

#: Rows of numbers (samples, numbers) to what each example would show, (samples, values of all examples).
Model = Callable[[Array], Array]

#: Factors on the spreads that are tried, and the standard deviation of their logarithm before anything is read.
FACTORS = np.exp(np.linspace(np.log(0.25), np.log(4.0), 13))
_FACTOR_SD = 0.8
_STEPS, _SMALL = 30, 1e-3
#: A difference quotient's step, and shares of a step that are tried, in standard deviations of the prior and as
#: factors.
_QUOTIENT, _SHARES = 0.02, (1.0, 0.5, 0.25, 0.1, 0.03)


@dataclass(frozen=True)
class Example:
    """Where an example's values stand among all, what was read, its noise covariance, and that of examples apart."""

    at: slice
    values: Array
    noise: Array
    apart: Array


@dataclass(frozen=True)
class Found:
    """Numbers (numbers,), their covariance, what they predict (values,), whether the search ended, the factors on the
    spreads and their weights."""

    z: Array
    covariance: Array
    predicted: Array
    converged: bool
    factors: Array
    weights: Array


def search(
    model: Model, examples: Sequence[Example], start: Array, prior: Array, sd: Array, low: Array, high: Array
) -> Found:
    """Most probable numbers with normal priors about ``prior``, ``sd`` wide, within ``low`` and ``high``, each
    (numbers,).

    Where the model has no value at a trial, a shorter step is taken.
    """
    factors = FACTORS if len(examples) > 1 else np.ones(1)
    z = np.clip(start, low, high)
    converged = False
    for _ in range(_STEPS):
        shown, slopes = _linear(model, z, sd, low, high)
        means, covariances, weights = _mixture(examples, shown, slopes, z, prior, sd, factors)
        wanted = np.clip(weights @ means, low, high)
        step = wanted - z
        best = factors[int(np.argmax(weights))]
        trials = np.clip(z + np.outer([0.0, *_SHARES], step), low, high)
        cost = _cost(model(trials), examples, trials, prior, sd, best)
        taken = int(np.nanargmin(cost))
        moved = trials[taken] - z
        z = trials[taken]
        if np.all(np.abs(moved) <= _SMALL * sd) or (taken == 0 and np.all(np.abs(step) < 0.05 * sd)):
            converged = True
            break
        if taken == 0:
            break
    shown, slopes = _linear(model, z, sd, low, high)
    means, covariances, weights = _mixture(examples, shown, slopes, z, prior, sd, factors)
    off = means - weights @ means
    covariance = np.einsum("f,fij->ij", weights, covariances + off[:, :, None] * off[:, None, :])
    return Found(z, covariance, shown, converged, factors, weights)


def _linear(model: Model, z: Array, sd: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """What is shown at z (values,), and its slopes (values, numbers); one-sided at the edge of a range."""
    up, down = (np.clip(z + sign * _QUOTIENT * np.diag(sd), low, high) for sign in (1.0, -1.0))
    rows = model(np.concatenate([z[None], up, down]))
    n = len(z)
    shown, above, below = rows[0], rows[1 : n + 1], rows[n + 1 :]
    above, below = (np.where(np.isfinite(side), side, shown) for side in (above, below))
    wide = np.diag(up - down).copy()
    wide[wide == 0.0] = np.inf
    return shown, ((above - below) / wide[:, None]).T


def _mixture(
    examples: Sequence[Example],
    shown: Array,
    slopes: Array,
    z: Array,
    prior: Array,
    sd: Array,
    factors: Array,
) -> tuple[Array, Array, Array]:
    """Of every factor: the most probable numbers of the linear model, their covariance, and the factor's weight."""
    means, covariances, logs = [], [], []
    for factor in factors:
        information = np.diag(1.0 / sd**2)
        push = (prior - z) / sd**2
        log = -0.5 * (np.log(factor) / _FACTOR_SD) ** 2 if len(factors) > 1 else 0.0
        rest = float(((prior - z) / sd) @ ((prior - z) / sd))
        for one in examples:
            cov = one.noise + factor**2 * one.apart
            inverse = np.linalg.inv(cov)
            off, slope = one.values - shown[one.at], slopes[one.at]
            information = information + slope.T @ inverse @ slope
            push = push + slope.T @ inverse @ off
            rest += float(off @ inverse @ off)
            log -= 0.5 * np.linalg.slogdet(cov)[1]
        covariance = np.linalg.inv(information)
        move = covariance @ push
        log += -0.5 * (rest - push @ move) + 0.5 * np.linalg.slogdet(covariance)[1]
        means.append(z + move)
        covariances.append(covariance)
        logs.append(log)
    weight = np.exp(np.array(logs) - max(logs))
    return np.array(means), np.array(covariances), weight / weight.sum()


def _cost(
    shown: Array, examples: Sequence[Example], z: Array, prior: Array, sd: Array, factor: float
) -> Array:
    """Twice the negative log posterior of every row of numbers, up to a constant; NaN where nothing is shown."""
    cost = (((z - prior) / sd) ** 2).sum(axis=1)
    for one in examples:
        inverse = np.linalg.inv(one.noise + factor**2 * one.apart)
        off = one.values - shown[:, one.at]
        cost = cost + np.einsum("ij,jk,ik->i", off, inverse, off)
    return np.where(np.isfinite(cost), cost, np.nan)
