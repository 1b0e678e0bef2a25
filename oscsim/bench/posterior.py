"""Maximum a posteriori by Gauss-Newton steps: any model whose readings come in batches, any normal priors.

Steps are shortened until the cost falls; the evidence is that of the linearised model (Laplace), in nats. A search
asks for the rows it wants predicted, so that several searches can share a batch.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from oscsim.arrays import Array

#: Readings for each row of parameters: (samples, parameters) to (samples, values); NaN where it stops.
Model: TypeAlias = Callable[[Array], Array]

#: Half width of a 90 % interval, and the one-sided 5 % point, in standard deviations of the normal distribution.
NINETY = 1.6448536269514722
_STEPS = 20
_SHRINKS = 5
#: A search is done when its step is this small, in prior standard deviations, or gains this little in cost.
_CONVERGED, _GAINED = 1e-3, 1e-4
#: Longest step, in prior standard deviations: slopes hold no farther.
_FARTHEST = 1.0
#: Width of the difference quotients, in prior standard deviations: predictions are good to many digits, so one side
#: does, at half the work of both.
_WIDTH = 1e-4
#: Degrees of freedom of Student's t when one bad reading is allowed for (K. L. Lange, R. J. A. Little and
#: J. M. G. Taylor, J. Am. Stat. Assoc. 84, 1989, 881).
_FREEDOM = 4.0


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


#: A search under way: gives rows of parameters, is sent the readings of each, and returns what it found.
Search: TypeAlias = Generator[Array, Array, Posterior]


def maximise(
    model: Model, values: Array, covariance: Array, prior: Prior, start: Array, *, robust: bool = False
) -> Posterior:
    """Fit the parameters to ``values`` (values,) with covariance (values, values), from ``start`` (parameters,).

    ``robust``: readings far out weigh less.
    """
    return side_by_side(model, [search(values, covariance, prior, start, robust=robust)])[0]


def side_by_side(model: Model, searches: Sequence[Search]) -> list[Posterior]:
    """Run searches together: what they all ask for next is predicted in one batch."""
    done: dict[int, Posterior] = {}
    asked = {n: next(one) for n, one in enumerate(searches)}
    while asked:
        found = model(np.concatenate(list(asked.values())))
        following = {}
        for n, rows in asked.items():
            answer, found = found[: len(rows)], found[len(rows) :]
            try:
                following[n] = searches[n].send(answer)
            except StopIteration as end:
                done[n] = end.value
        asked = following
    return [done[n] for n in range(len(searches))]


def search(values: Array, covariance: Array, prior: Prior, start: Array, *, robust: bool = False) -> Search:
    """``maximise`` as a search that asks for its predictions."""
    z, sd = np.clip(start, prior.low, prior.high), prior.sd
    weight = np.ones(len(values))
    precise = np.linalg.inv(covariance)

    def cost(predicted: Array, z: Array) -> float:
        if not np.isfinite(predicted).all():
            return math.inf
        residual = values - predicted
        return float(residual @ precise @ residual + np.sum(((z - prior.mean) / sd) ** 2))

    found = yield neighbours(z, sd)
    for _ in range(_STEPS):
        if np.isfinite(found).all():
            break
        # it would not run there: nearer to the middle of the priors
        z = prior.mean + 0.5 * (z - prior.mean)
        found = yield neighbours(z, sd)
    else:
        nothing = np.full(len(values), math.nan)
        unknown = np.diag(sd**2)
        slope = np.zeros((len(values), len(sd)))
        return Posterior(z, unknown, nothing, nothing, weight, slope, -math.inf, False)
    converged = False
    for _ in range(_STEPS):
        predicted, slope = found[0], slopes(found, sd)
        if robust:
            weight = doubted(values - predicted, covariance, weight)
            precise = np.linalg.inv(weighted(covariance, weight))
        normal = slope.T @ precise @ slope + np.diag(1.0 / sd**2)
        downhill = slope.T @ precise @ (values - predicted) - (z - prior.mean) / sd**2
        # what stands at an edge and would go beyond stays there
        free = ((z > prior.low) | (downhill > 0.0)) & ((z < prior.high) | (downhill < 0.0))
        step = np.zeros(len(z))
        step[free] = np.linalg.solve(normal[np.ix_(free, free)], downhill[free])
        step /= max(1.0, np.abs(step / sd).max() / _FARTHEST)
        if np.abs(step / sd).max() < _CONVERGED:
            converged = True
            break
        # the whole step with its neighbours, and shortened ones should it fail, in one batch
        trials = np.clip(z + 0.5 ** np.arange(_SHRINKS + 1)[:, None] * step, prior.low, prior.high)
        answer = yield np.concatenate([trials[1:], neighbours(trials[0], sd)])
        tried = [answer[_SHRINKS], *answer[:_SHRINKS]]
        costs = [cost(row, trial) for row, trial in zip(tried, trials, strict=True)]
        best = int(np.argmin(costs))
        if not costs[best] < cost(predicted, z) - _GAINED:
            converged = True
            break
        around = answer[_SHRINKS:] if best == 0 else (yield neighbours(trials[best], sd))
        if not np.isfinite(around).all():
            break  # at the edge of where it runs there are no slopes: stay
        z, found = trials[best], around
    predicted, slope = found[0], slopes(found, sd)
    normal = slope.T @ precise @ slope + np.diag(1.0 / sd**2)
    _, log_det = np.linalg.slogdet(normal * np.outer(sd, sd))
    evidence = -0.5 * cost(predicted, z) - 0.5 * float(log_det)
    posterior = np.asarray(np.linalg.inv(normal), np.float64)
    return Posterior(z, posterior, predicted, values - predicted, weight, slope, evidence, converged)


def neighbours(z: Array, sd: Array) -> Array:
    """``z`` (parameters,) and its neighbours a small step up in each: (1 + parameters, parameters)."""
    return np.asarray(z + np.vstack([np.zeros(len(z)), np.diag(_WIDTH * sd)]))


def slopes(found: Array, sd: Array) -> Array:
    """Slopes (values, parameters) from the readings ``found`` at ``neighbours``."""
    return np.asarray((found[1:] - found[0]).T / (_WIDTH * sd))


def weighted(covariance: Array, weight: Array) -> Array:
    """The covariance with doubted readings' own part enlarged."""
    return np.asarray(covariance + np.diag(np.diag(covariance) * (1.0 / weight - 1.0)))


def doubted(residual: Array, covariance: Array, weight: Array) -> Array:
    """New weights (values,), at most 1, from the residuals under the present ones: Student's t.

    Each reading is held against what the others say of it, so that one bad reading stands out from the spread among
    sound examples, which all readings share.
    """
    precise = np.linalg.inv(weighted(covariance, weight))
    expected = 1.0 / np.diag(precise)
    apart = (precise @ residual) * expected
    own = np.diag(covariance) * (1.0 / weight - 1.0)
    return np.asarray(np.minimum(1.0, (_FREEDOM + 1.0) / (_FREEDOM + apart**2 / (expected - own))))
