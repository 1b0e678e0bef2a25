"""Rows of a table weighed by what was read: chances, losses, sizes and gains are sums over rows. Nothing is
searched."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array, Flags
from oscsim.bench.hypotheses import Table
from oscsim.bench.likelihood import FAR, Values, likelihood, log_findings, values_of
from oscsim.bench.sound import SMOOTHED, Sound
from oscsim.slips.readings import Readings

#: Rows that must hold the weight: where fewer do, the likelihood is flattened, so that intervals come out too wide
#: rather than too narrow; by what power at each step, and to which at most.
_LEAST, _FLATTER, _FLATTEST = 15.0, 0.85, 0.021
#: Of so many values one may be doubted.
_ONE_IN = 3


@dataclass(frozen=True)
class Weighed:
    """A table's rows with their weights, (rows,), summing to 1; misfit_p: chance that a movement like these shows
    readings as odd as these; readings: as sure as they were taken; doubted: values that are likelier bad than not;
    effective: rows that carry the weight before flattening; around (values,): one standard deviation of sound examples
    round each that was drawn."""

    table: Table
    sound: Sound
    readings: Readings
    values: Values
    weight: Array
    misfit_p: float
    doubted: tuple[int, ...]
    effective: float
    around: Array

    def share(self, which: Flags) -> float:
        """Chance of rows."""
        return float(self.weight @ which)

    def mean(self, values: Array, which: Flags | None = None) -> float:
        w = self.weight if which is None else self.weight * which
        return float(w @ values / max(w.sum(), 1e-300))

    def ends(self, values: Array, which: Flags | None = None) -> tuple[float, float, float]:
        """5, 50 and 95 % of values (rows,), in rows that are given; where those are so unlikely that no weight is left
        of them, all count alike."""
        weight = self.weight if which is None else self.weight * which
        if which is not None and not weight.any():
            weight = which.astype(float)
        return quantiles(values, weight)


def quantiles(values: Array, weight: Array) -> tuple[float, float, float]:
    """5, 50 and 95 %, between values in order by interpolation."""
    kept = np.flatnonzero(weight > 1e-9 * weight.max())
    order = kept[np.argsort(values[kept], kind="stable")]
    share = np.cumsum(weight[order]) - 0.5 * weight[order]
    low, middle, high = np.interp((0.05, 0.5, 0.95), share / weight[order].sum(), values[order])
    return float(low), float(middle), float(high)


def weigh(t: Table, sound: Sound, readings: Readings) -> Weighed:
    """Every row's weight after the readings and findings.

    A value that is likelier bad than not is given the width of bad ones, and all is weighed again: so several may be.
    """
    values = values_of(t, readings, sound.nominal_lift_deg)
    smoothed = np.zeros_like(values.covariance)
    if sound.drawn:
        smoothed = SMOOTHED / (1.0 - SMOOTHED) * _apart(t, values)
    values.covariance[:] += smoothed
    looked = log_findings(t, readings, sound.values)
    doubted: list[int] = []
    while True:
        like = likelihood(values)
        score = like.log + looked
        sharp = _shares(t.log_prior + score)
        bad, misfit = like.doubts(sharp, len(values.read) - len(doubted))
        top = int(bad.argmax())
        if top == 0 or len(doubted) >= len(values.read) // _ONE_IN:
            break
        doubted.append(top - 1)
        values.covariance[top - 1, top - 1] += FAR**2
    weight, flatter = sharp, 1.0
    while _effective(weight) < _LEAST and flatter > _FLATTEST:
        flatter *= _FLATTER
        weight = _shares(t.log_prior + flatter * score)
    return Weighed(
        table=t, sound=sound, readings=readings, values=values, weight=weight, misfit_p=misfit,
        doubted=tuple(doubted), effective=_effective(sharp), around=np.sqrt(np.diag(smoothed)),
    )  # fmt: skip


def _apart(t: Table, values: Values) -> Array:
    """Covariance of what sound examples would show."""
    expected = values.expected[: int(t.healthy.max()) + 1]
    runs = np.isfinite(expected)  # a rate is none where they stop
    mean = np.where(runs, expected, 0.0).sum(axis=0) / np.maximum(runs.sum(axis=0), 1)
    away = np.where(runs, expected - mean, 0.0)
    return np.asarray(away.T @ away / max(len(away) - 1, 1))


def _shares(score: Array) -> Array:
    """Weights that sum to 1, from their logarithms."""
    w = np.exp(score - score.max())
    return np.asarray(w / w.sum())


def _effective(weight: Array) -> float:
    """How many rows carry the weight."""
    return 1.0 / float(np.sum(weight**2))
