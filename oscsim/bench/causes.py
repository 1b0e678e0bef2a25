"""Causes in order of evidence: what each adds to the fit, how large it is, and which others look the same."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from oscsim.arrays import Array
from oscsim.bench.findings import FOUND, Cause
from oscsim.bench.fitting import Fit, Task, fits
from oscsim.bench.model import ADJUSTMENTS, CAUSES, PARAMETERS, Places, own_unbalance, parameters_of, prior_sd
from oscsim.bench.next_reading import Next
from oscsim.bench.together import Together
from oscsim.movement import Movement

#: Units of the causes' estimates; factors have none.
UNITS = {
    "lock": "deg",
    "unbalance": "µg·cm",
    "out_of_beat": "deg",
    "regulation": "s/day",
    "isochronism": "1/rad²",
}
#: Posterior correlation beyond which two causes cannot be told apart, and share of the prior's width that says
#: nothing was learnt.
_ALIKE, _UNLEARNT = 0.75, 0.9
_DRAWS = 2000
#: Causes that are a loss where they are less, and where they are more.
_WORSE = {
    "drive": -1.0,
    "mainspring": -1.0,
    "pivot_vertical": 1.0,
    "pivot_flat": 1.0,
    "drag": 1.0,
    "lock": 1.0,
}
#: Causes given with what the design has of them, not as a departure from it.
_WHOLE = ("unbalance", "out_of_beat")
#: Share of the faults that make things worse than the design has them (common practice without source): the priors of
#: the estimates know no side, the evidence does.
_WORSENS = 0.9


@dataclass(frozen=True)
class Alone:
    """A cause by itself: the evidence for it, in nats, and the fit in which the adjustments are its only company."""

    evidence: float
    fit: Fit


def each_alone(movement: Movement, values: Array, places: Places, joint: Together) -> dict[str, Alone]:
    """Evidence for each cause: what a fault adds to the adjustments; what is lost without an adjustment.

    Rates move with every fault, so an adjustment counts only for what nothing else explains.
    """
    whole = joint.best
    adjustments = tuple(i for name in ADJUSTMENTS for i in parameters_of(name))
    tasks, names = [Task(adjustments, whole.z)], [""]
    for name in CAUSES:
        own = parameters_of(name)
        if name in ADJUSTMENTS:
            names.append(name)
            tasks.append(Task(tuple(i for i in range(len(PARAMETERS)) if i not in own), whole.z))
            continue
        # a tired spring hides behind a slipping bridle at first, so the search also starts from a real fault
        for size in (0.0, _WORSE.get(name, 1.0)):
            start = whole.z.copy()
            start[own[0]] = size * prior_sd(movement)[own[0]]
            names.append(name)
            tasks.append(Task((*adjustments, *own), start))
    base, *others = fits(movement, values, joint.covariance, places, tasks)
    found: dict[str, Alone] = {}
    for name, one in zip(names[1:], others, strict=True):
        if name in ADJUSTMENTS:
            found[name] = Alone(whole.log_evidence - one.log_evidence, base)
        elif name not in found or one.log_evidence > found[name].fit.log_evidence:
            found[name] = Alone(one.log_evidence - base.log_evidence, one)
    return {
        name: replace(alone, evidence=alone.evidence + _by_side(name, alone.fit)) if name in _WORSE else alone
        for name, alone in found.items()
    }


def _by_side(name: str, fit: Fit) -> float:
    """What knowing on which side faults lie adds to the evidence for a fault, in nats."""
    (own,) = parameters_of(name)
    worse = 0.5 * math.erfc(-_WORSE[name] * float(fit.z[own]) / fit.sd(own) / math.sqrt(2.0))
    return math.log(2.0 * (_WORSENS * worse + (1.0 - _WORSENS) * (1.0 - worse)))


def judged_cause(
    movement: Movement, name: str, joint: Together, alone: dict[str, Alone], following: Next
) -> Cause:
    """One cause as the joint distribution has it: the middle of its own distribution and the middle 90 %."""
    own, whole, only = parameters_of(name), joint.best, alone[name].fit
    draws = joint.draws[:, own]
    low, estimate, high = _middle(_sizes(movement, name, draws))
    columns = [only.columns.index(i) for i in own]
    normal = np.random.default_rng(0).standard_normal((_DRAWS, len(own)))
    root = np.linalg.cholesky(only.covariance[np.ix_(columns, columns)])
    # each draw with its mirror image, so that the middle is the fit
    around = only.z[own] + np.concatenate([normal, -normal]) @ root.T
    alone_low, alone_estimate, alone_high = _middle(_sizes(movement, name, around))
    direction = None
    if name == "unbalance":
        towards = draws.mean(axis=0) + own_unbalance(movement)
        direction = math.degrees(math.atan2(towards[1], towards[0])) % 360.0
    return Cause(
        name,
        estimate,
        low,
        high,
        UNITS.get(name, ""),
        alone[name].evidence,
        _alike(name, whole, alone),
        bool((draws.std(axis=0) / prior_sd(movement)[own]).max() > _UNLEARNT),
        direction,
        {following.read: float(following.slope[own] @ whole.z[own])},
        alone_estimate,
        alone_low,
        alone_high,
        name in _WHOLE and bool(estimate < _sizes(movement, name, np.zeros((1, len(own))))[0]),
    )


def _sizes(movement: Movement, name: str, draws: Array) -> Array:
    """Draws (draws, own parameters) in the cause's unit: factors by their logarithm, unbalance as a moment.

    Out of beat without its sign, which the beat error does not show.
    """
    if name == "unbalance":
        vector = draws + np.array(own_unbalance(movement))
        return np.asarray(np.hypot(vector[:, 0], vector[:, 1]))
    if name == "out_of_beat":
        return np.abs(draws[:, 0] + movement.balance.out_of_beat_deg)
    return draws[:, 0] if name in UNITS else np.exp(draws[:, 0])


def _middle(sizes: Array) -> tuple[float, float, float]:
    """The 5, 50 and 95 % points."""
    low, middle, high = np.quantile(sizes, (0.05, 0.5, 0.95))
    return float(low), float(middle), float(high)


def _alike(name: str, whole: Fit, alone: dict[str, Alone]) -> tuple[str, ...]:
    """Causes that these readings cannot tell from this one: both explain them, or what one takes the other gives."""
    sd = np.sqrt(np.diag(whole.covariance))
    correlation = whole.covariance / np.outer(sd, sd)
    evidence = alone[name].evidence
    alike = []
    for other, found in alone.items():
        if other == name:
            continue
        close = not {name, other} & set(ADJUSTMENTS) and abs(evidence - found.evidence) < FOUND
        pairs = product(parameters_of(name), parameters_of(other))
        if (close and min(evidence, found.evidence) > 0.0) or max(
            abs(correlation[a, b]) for a, b in pairs
        ) > _ALIKE:
            alike.append(other)
    return tuple(alike)
