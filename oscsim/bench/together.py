"""All causes estimated together: their joint distribution, which may have several modes.

A spring weaker or stronger than what slips the bridle may show the same readings, and the beat error has no sign: the
search starts from many sides, and every mode counts by its evidence.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array
from oscsim.bench.draws import draws_of
from oscsim.bench.example_spread import example_spread
from oscsim.bench.fitting import Fit, Task, fits
from oscsim.bench.model import PARAMETERS, Places, example_covariance, predictions, prior_sd, search_box
from oscsim.bench.posterior import weighted
from oscsim.errors import InputError
from oscsim.movement import Movement
from oscsim.parts.balance import nominal_frequency
from oscsim.slips.readings import READ

#: Starts of the mainspring, in prior standard deviations: tired, as designed, strong.
_SPRINGS = (-1.0, 0.0, 0.5)
#: What moves amplitudes, draws of it from the priors that are tried, and the best of them that are started from.
_STRONG = ("drive", "mainspring", "pivot_vertical", "pivot_flat", "drag", "lock")
_TRIED, _BEST = 200, 4
#: Two searches found the same mode when no parameter differs by more, in its standard deviations.
_SAME = 0.3
#: Evidence, in nats below the best mode's, at which a mode no longer counts.
_NOTHING = 15.0
_KINDS = tuple(READ)


@dataclass(frozen=True)
class Together:
    """Modes of the joint distribution, best first; covariance (values, values): what the residuals were weighed by;
    weight (values,): below 1 where a reading was doubted; draws (draws, parameters) from the distribution."""

    modes: tuple[Fit, ...]
    covariance: Array
    weight: Array
    draws: Array

    @property
    def best(self) -> Fit:
        return self.modes[0]


def together(
    movement: Movement, values: Array, sigma: Array, places: Places, *, robust: bool = False
) -> Together:
    """Fit all causes to ``values`` (values,) with standard uncertainties ``sigma`` (values,).

    The spread among sound examples is that of the design at first, then that of the movement as fitted. Raises
    InputError where the design hardly runs.
    """
    everything = tuple(range(len(PARAMETERS)))
    noise = np.diag(sigma**2)
    covariance = example_covariance(movement, places) + noise
    tasks = [Task(everything, start) for start in _starts(movement, values, covariance, places)]
    found = _modes(fits(movement, values, covariance, places, tasks, robust=robust))
    if not math.isfinite(found[0].log_evidence):
        raise InputError("readings: this design hardly runs where it was read; check hours and design")
    at_fit = example_covariance(movement, places, found[0].z) + noise
    if np.isfinite(at_fit).all():
        covariance = at_fit
    weight = found[0].weight
    covariance = weighted(covariance, weight)
    tasks = [Task(everything, mode.z) for mode in found]
    modes = _modes(fits(movement, values, covariance, places, tasks))
    spread = example_spread(movement, places, modes[0], sigma, weight, covariance)
    sd, (low, high) = prior_sd(movement), search_box(movement)

    def log_density(z: Array) -> Array:
        residual = values - predictions(movement, np.clip(z, low, high), places)
        # where it would not run, or out of the search, nothing can have been read
        possible = np.isfinite(residual).all(axis=1) & ((z > low) & (z < high)).all(axis=1)
        found = np.full(len(z), -np.inf)
        found[possible] = spread.log_likelihood(residual[possible], z[possible])
        return np.asarray(found - 0.5 * ((z / sd) ** 2).sum(axis=1))

    around = [(mode.z, mode.covariance) for mode in modes]
    around += [(z, modes[0].covariance) for z in spread.z]
    return Together(tuple(modes), covariance, weight, draws_of(log_density, around, sd))


def _modes(found: list[Fit]) -> list[Fit]:
    """The different ones that count, best first."""
    kept: list[Fit] = []
    for one in sorted(found, key=lambda one: -one.log_evidence):
        sd = np.sqrt(np.diag(one.covariance))
        counts = math.isfinite(one.log_evidence) and (
            not kept or one.log_evidence > kept[0].log_evidence - _NOTHING
        )
        if counts and all((np.abs(one.z - other.z) > _SAME * sd).any() for other in kept):
            kept.append(one)
    return kept or found[:1]


def _starts(movement: Movement, values: Array, covariance: Array, places: Places) -> list[Array]:
    """Where the searches start: the design with a tired or strong spring, and the best of some draws from the priors;
    all regulated as read and out of beat as read, the first also to the other side."""
    amplitude, rate, beat = (places.kind == _KINDS.index(name) for name in _KINDS)
    low, high = search_box(movement)
    strong = [PARAMETERS.index(name) for name in _STRONG]
    z = np.zeros((len(_SPRINGS) + _TRIED, len(PARAMETERS)))
    z[: len(_SPRINGS), PARAMETERS.index("mainspring")] = _SPRINGS
    z[len(_SPRINGS) :, strong] = np.random.default_rng(0).standard_normal((_TRIED, len(strong)))
    z *= prior_sd(movement)
    own, out = movement.balance.out_of_beat_deg, PARAMETERS.index("out_of_beat")
    if beat.any():
        # half the difference of two beats is 2ε/(ωA), by derivation
        swing = np.radians(values[amplitude].mean())
        off = 0.5e-3 * values[beat].mean() * swing * float(nominal_frequency(movement.balance))
        z[:, out] = math.copysign(math.degrees(off), own) - own
    z = np.clip(z, low, high)
    residual = values - predictions(movement, z, places)
    if rate.any():
        fast = residual[:, rate].mean(axis=1, keepdims=True)
        residual[:, rate] -= fast
        z[:, PARAMETERS.index("regulation")] = np.nan_to_num(fast[:, 0])
    cost = (residual**2 / np.diag(covariance)).sum(axis=1)[len(_SPRINGS) :]
    best = len(_SPRINGS) + np.argsort(cost)[:_BEST]
    mirrored = z[0].copy()
    mirrored[out] = np.clip(-2.0 * own - mirrored[out], low[out], high[out])
    return [*z[: len(_SPRINGS)], *z[best], mirrored]
