"""Designs that cannot be bettered in one aim without losing in another: the non-dominated ones, and the knee."""

from __future__ import annotations

import numpy as np

from oscsim.arrays import Array, Indices

#: Rows compared at a time with those that are kept.
_BLOCK = 512


def front(gains: Array) -> Indices:
    """Rows of ``gains`` (designs, aims), more being better, that no other row betters in one aim without being worse in
    another; in the order of the first aim, best first.

    Rows with an infinite loss are never on it. Rows are taken by falling sum of ranks, so that few are compared with
    many (H. T. Kung, F. Luccio and F. P. Preparata, J. ACM 22, 1975, 469, on maxima of vectors).
    """
    known = np.flatnonzero((gains > -np.inf).all(axis=1))
    ranks = np.argsort(np.argsort(gains[known], axis=0), axis=0).sum(axis=1)
    order = known[np.argsort(-ranks, kind="stable")]
    kept = np.empty((0, gains.shape[1]))
    rows: list[int] = []
    for start in range(0, len(order), _BLOCK):
        block = order[start : start + _BLOCK]
        free = block[~_bettered(gains[block], kept)]
        # within the block those of higher rank may better others
        own = gains[free]
        free = free[~_bettered(own, own)]
        fresh = gains[free]
        if len(kept):
            still = ~_bettered(kept, fresh)
            kept, rows = kept[still], [row for row, stays in zip(rows, still, strict=True) if stays]
        kept = np.concatenate([kept, fresh])
        rows += free.tolist()
    found = np.array(rows, dtype=np.intp)
    return found[np.argsort(-gains[found, 0], kind="stable")]


def _bettered(one: Array, others: Array) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Which rows of ``one`` some row of ``others`` betters."""
    if not len(others):
        return np.zeros(len(one), bool)
    as_good = np.ones((len(one), len(others)), bool)
    better = np.zeros((len(one), len(others)), bool)
    for aim in range(one.shape[1]):
        as_good &= others[:, aim] >= one[:, aim, None]
        better |= others[:, aim] > one[:, aim, None]
    return np.asarray((as_good & better).any(axis=1))


def scaled(gains: Array) -> Array:
    """Each aim from 0, the worst, to 1, the best, of the rows; 1 where all are alike."""
    finite = np.where(np.isfinite(gains), gains, np.nan)
    low, high = np.nanmin(finite, axis=0), np.nanmax(finite, axis=0)
    span = np.where(high > low, high - low, 1.0)
    return np.where(np.isfinite(gains), (gains - low) / span, 1.0) * np.where(
        high > low, 1.0, 0.0
    ) + np.where(high > low, 0.0, 1.0)


def knee(gains: Array) -> int:
    """The row of a front nearest to the best in every aim, each on its own scale: the compromise."""
    return int(np.argmin(((1.0 - scaled(gains)) ** 2).sum(axis=1)))
