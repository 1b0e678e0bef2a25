"""Draws from a distribution that several normal ones come near: adaptive importance resampling.

Drawn around every likely point from Student's t, then around what those draws come to, and drawn again by what the
distribution says of each, so that neither bends nor corners are taken for straight (D. B. Rubin, J. Am. Stat. Assoc.
82, 1987, 543; adapted and tempered between rounds).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array

#: Draws to give, and of each round; rounds at most; independent draws that the weights should be worth.
_DRAWS, _ROUND, _ROUNDS, _ENOUGH = 2000, 1200, 2, 300.0
#: Degrees of freedom of the draws around a mode: tails wider than the normal's.
_FREEDOM = 8.0
#: Share of the draws that a point without evidence has, of that with most.
_LEAST = 0.1
#: Powers of the weights between rounds: the first that leaves so many draws per parameter.
_TEMPERED, _PER_PARAMETER = (1.0, 0.5, 0.25, 0.125), 10.0
#: Least spread of a round, in prior standard deviations.
_NARROWEST = 0.01


@dataclass(frozen=True)
class _Around:
    """Student's t around a point, and how many are drawn from it."""

    middle: Array
    covariance: Array
    count: int

    def draw(self, rng: np.random.Generator) -> Array:
        stretch = np.sqrt(_FREEDOM / rng.chisquare(_FREEDOM, (self.count, 1)))
        steps = rng.standard_normal((self.count, len(self.middle))) @ np.linalg.cholesky(self.covariance).T
        return np.asarray(self.middle + stretch * steps)

    def log_density(self, z: Array) -> Array:
        """Times the count, but for a constant that all share."""
        root = np.linalg.cholesky(self.covariance)
        away = np.linalg.solve(root, (z - self.middle).T)
        tail = 0.5 * (_FREEDOM + len(self.middle)) * np.log1p((away**2).sum(axis=0) / _FREEDOM)
        return np.asarray(math.log(self.count) - np.log(np.diag(root)).sum() - tail)


def draws_of(log_density: Callable[[Array], Array], near: Sequence[tuple[Array, Array]], sd: Array) -> Array:
    """Draws (draws, parameters) from ``log_density``, rows to (rows,); the same at every call.

    ``near``: points (parameters,) where it may be large, modes first among them, each with a covariance (parameters,
    parameters) of what lies around; ``sd`` (parameters,): the priors' standard deviations.
    """
    rng = np.random.default_rng(0)
    height = log_density(np.array([z for z, _ in near]))
    mass = height + [0.5 * np.linalg.slogdet(covariance)[1] for _, covariance in near]
    share = np.exp(mass - mass.max()) + _LEAST
    counts = np.ceil(_ROUND * share / share.sum()).astype(int)
    around = [_Around(z, covariance, int(n)) for (z, covariance), n in zip(near, counts, strict=True)]
    z = np.concatenate([one.draw(rng) for one in around])
    wanted = log_density(z)
    weight = _weights(wanted, z, around)
    for _ in range(_ROUNDS):
        if weight.sum() ** 2 > _ENOUGH * np.sum(weight**2):
            break
        around.append(_next_round(z, weight, sd))
        more = around[-1].draw(rng)
        z, wanted = np.concatenate([z, more]), np.concatenate([wanted, log_density(more)])
        weight = _weights(wanted, z, around)
    below = np.cumsum(weight) / weight.sum()
    return np.asarray(z[np.searchsorted(below, (np.arange(_DRAWS) + 0.5) / _DRAWS)])


def _weights(wanted: Array, z: Array, around: Sequence[_Around]) -> Array:
    """Wanted over drawn density; none counts for more than the root of their number times the mean.

    (E. L. Ionides, J. Comput. Graph. Stat. 17, 2008, 295: one draw where hardly any were made must not be everything.)
    """
    ratio = wanted - np.logaddexp.reduce([one.log_density(z) for one in around])
    weight = np.exp(ratio - ratio.max())
    return np.asarray(np.minimum(weight, math.sqrt(len(weight)) * weight.mean()))


def _next_round(z: Array, weight: Array, sd: Array) -> _Around:
    """Around what the draws come to; tempered, so that a few of them do not decide where the next ones go."""
    for power in _TEMPERED:
        tempered = weight**power / np.sum(weight**power)
        if 1.0 / np.sum(tempered**2) > _PER_PARAMETER * len(sd):
            break
    middle = tempered @ z
    apart = (z - middle) * np.sqrt(tempered)[:, None]
    return _Around(middle, apart.T @ apart + np.diag((_NARROWEST * sd) ** 2), _ROUND)
