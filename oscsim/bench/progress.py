"""What did the work change, and is it what was predicted? Two sets of readings of one movement, before and after."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

import numpy as np

from oscsim.answers.result import OneMovement
from oscsim.arrays import Array
from oscsim.bench.diagnose import diagnose
from oscsim.bench.findings import Diagnose
from oscsim.bench.fitting import Fit, fit
from oscsim.bench.model import (
    CAUSES,
    PARAMETERS,
    Places,
    parameters_of,
    places_of,
    predict,
    predictions,
    prior_sd,
)
from oscsim.bench.poise_effect import lift_told
from oscsim.bench.posterior import NINETY
from oscsim.condition import Condition
from oscsim.errors import InputError
from oscsim.files import takes_design
from oscsim.movement import Movement
from oscsim.slips.readings import READ, Reading, Readings
from oscsim.stack import stack_of

#: Rates share whatever regulating was done with the work, s/day.
_REGULATION = 1e3
#: Misfits this rare are not put down to chance; of all changes together, and of the size of what was predicted.
_RARE = 0.025


@dataclass(frozen=True)
class Moved:
    """One value read before and after: its change with the 90 % half width of the readings, the change predicted, and
    whether the two agree. Rates: the change that all share (regulating) stands in both."""

    position: str
    hours: float
    kind: str
    before: float
    after: float
    change: float
    half_width: float
    predicted: float
    predicted_half_width: float

    @property
    def moved(self) -> bool:
        """Whether the change is more than the readings' uncertainty."""
        return abs(self.change) > self.half_width

    @property
    def as_predicted(self) -> bool:
        """Whether the change agrees with the prediction, nine times in ten."""
        return abs(self.change - self.predicted) <= math.hypot(self.half_width, self.predicted_half_width)


@dataclass(frozen=True)
class CauseMoved:
    """One cause: its estimate before, and the change with its 90 % interval: as a factor where ``unit`` is empty, else
    added, in the unit. For want of poise the change is the length of the vector taken away or added."""

    name: str
    unit: str
    before: float
    change: float
    low: float
    high: float
    moved: bool
    unlearnt: bool


@dataclass(frozen=True, repr=False)
class Progress(OneMovement):
    """Before and after: readings, causes (changed ones first), the verdicts, and whether it went as predicted.

    prediction: what the prediction stands for, in words; gain_deg: mean change of the amplitudes, with the predicted
    mean; common_rate_s_per_day: change that all rates share; misfit: chi-squared of the changes against the
    prediction over ``freedom``.
    """

    before: Diagnose
    after: Diagnose
    moved: tuple[Moved, ...]
    causes: tuple[CauseMoved, ...]
    prediction: str
    gain_deg: float
    predicted_gain_deg: float
    common_rate_s_per_day: float
    misfit: float
    freedom: int
    as_predicted: bool
    predicted_condition: Condition | None = None

    def rows(self) -> list[dict[str, Any]]:
        return [
            {f.name: getattr(one, f.name) for f in fields(one)}
            | {"moved": one.moved, "as_predicted": one.as_predicted}
            for one in self.moved
        ]

    def settings(self) -> dict[str, Any]:
        return {
            "before": self.before.readings.settings(),
            "after": self.after.readings.settings(),
            "prediction": self.prediction,
            "predicted_condition": asdict(self.predicted_condition) if self.predicted_condition else None,
        }

    def body(self) -> dict[str, Any]:
        return {
            "as_predicted": self.as_predicted,
            "gain_deg": self.gain_deg,
            "predicted_gain_deg": self.predicted_gain_deg,
            "common_rate_s_per_day": self.common_rate_s_per_day,
            "chi_squared": self.misfit,
            "degrees_of_freedom": self.freedom,
            "healthy_before": self.before.healthy,
            "healthy_after": self.after.healthy,
            "verdict_before": self.before.verdict,
            "verdict_after": self.after.verdict,
            "readings": self.rows(),
            "causes": [dict(vars(cause)) for cause in self.causes],
        }


@takes_design
def progress(
    movement: Movement, before: Readings, after: Readings, predicted_condition: Condition | None = None
) -> Progress:
    """Compare readings taken before and after a piece of work, place by place.

    ``predicted_condition``: what the movement should be in afterwards; without it, the diagnosis before with its first
    found cause put right. Amplitudes after are given for the lift angle told before. What one example differs from its
    design stays with it, so changes are judged by the readings' own uncertainty. Raises InputError when no place was
    read both times, or too little for a diagnosis.
    """
    pairs = _pairs(before, after, lift_told(movement, before) / lift_told(movement, after))
    first, second = diagnose(movement, before), diagnose(movement, after)
    kinds = [
        [math.isfinite(getattr(a, kind)) and math.isfinite(getattr(b, kind)) for kind in READ]
        for a, b in pairs
    ]
    was = places_of([a for a, _ in pairs], lift_told(movement, before), kinds)
    now = places_of([b for _, b in pairs], lift_told(movement, before), kinds)
    what = [
        (n, kind) for n, row in enumerate(kinds) for kind, wanted in zip(READ, row, strict=True) if wanted
    ]
    values = np.array([[getattr(pairs[n][k], kind) for n, kind in what] for k in range(2)])
    noise = np.array([[getattr(pairs[n][k], f"{kind}_uncertainty") for n, kind in what] for k in range(2)])
    rates = np.array([kind == "rate_s_per_day" for _, kind in what])
    z = first.fit.z
    model_before = predictions(movement, z[None, :], was)[0]
    # what this example differs from the model before stays with it
    carried = values[0] - model_before
    uncertain = np.diag((noise**2).sum(axis=0))
    change = fit(movement, values[1] - carried, uncertain, now, range(len(PARAMETERS)), start=z, mean=z)
    said, predicted, spread = _predicted(movement, first, now, predicted_condition)
    predicted = predicted - model_before
    changes = values[1] - values[0]
    common = float((changes - predicted)[rates].mean()) if rates.any() else 0.0
    predicted = predicted + np.where(rates, common, 0.0)
    # a regulator moved on the way shifts every rate alike
    against = uncertain + spread + _REGULATION**2 * np.outer(rates, rates)
    off = changes - predicted
    misfit, freedom = float(off @ np.linalg.solve(against, off)), len(off) - int(rates.any())
    pattern = predicted - np.where(rates, common, 0.0)
    as_predicted = _likely(misfit, freedom) and _likely(_along(pattern, off, against), 1)
    amplitudes = np.array([kind == "amplitude_deg" for _, kind in what])
    return Progress(
        movement,
        first,
        second,
        tuple(
            Moved(
                pairs[n][0].position,
                pairs[n][0].hours,
                kind,
                float(values[0, i]),
                float(values[1, i]),
                float(changes[i]),
                NINETY * math.sqrt(uncertain[i, i]),
                float(predicted[i]),
                NINETY * math.sqrt(spread[i, i]),
            )
            for i, (n, kind) in enumerate(what)
        ),
        _causes(movement, first, change),
        said,
        float(changes[amplitudes].mean()) if amplitudes.any() else math.nan,
        float(predicted[amplitudes].mean()) if amplitudes.any() else math.nan,
        common,
        misfit,
        freedom,
        as_predicted,
        predicted_condition,
    )


def _likely(misfit: float, freedom: int) -> bool:
    return freedom == 0 or bool(_special().chdtrc(freedom, misfit) > _RARE)


def _along(pattern: Array, off: Array, covariance: Array) -> float:
    """Chi-squared of the part of ``off`` that is more or less of the predicted pattern: 1 degree of freedom."""
    weighed = np.linalg.solve(covariance, pattern)
    scale = float(weighed @ pattern)
    return float(weighed @ off) ** 2 / scale if scale > 1e-12 else 0.0


def _pairs(before: Readings, after: Readings, told: float) -> list[tuple[Reading, Reading]]:
    """Rows of the same position and hour with something read both times; ``told``: lift angle told before over that
    told after. Amplitudes after are given for the former, to which they are proportional.

    Raises InputError when there are none.
    """
    then = {(row.position, row.hours): row for row in before.rows}
    both = [
        (
            then[key],
            replace(
                row,
                amplitude_deg=row.amplitude_deg * told,
                amplitude_deg_uncertainty=row.amplitude_deg_uncertainty * told,
            ),
        )
        for row in after.rows
        if (key := (row.position, row.hours)) in then
    ]
    both = [
        (a, b)
        for a, b in both
        if any(math.isfinite(getattr(a, kind)) and math.isfinite(getattr(b, kind)) for kind in READ)
    ]
    if not both:
        raise InputError(
            f"{before.source}, {after.source}: no position was read at the same hour both before and after, so "
            "nothing can be compared"
        )
    return both


def _predicted(
    movement: Movement, first: Diagnose, now: Places, condition: Condition | None
) -> tuple[str, Array, Array]:
    """What the prediction stands for, the readings of the model, (values,), and their covariance."""
    z, nothing = first.fit.z, np.zeros((len(now.row),) * 2)
    if condition is not None:
        readings = predict(condition.applied_to(stack_of([movement])), now)[0]
        return "the condition given", readings, nothing
    found = first.found
    if found is None:
        return (
            "no change, since the diagnosis before found no cause",
            predictions(movement, z[None], now)[0],
            nothing,
        )
    own = parameters_of(found.name)
    right = z.copy()
    right[own] = 0.0
    # one standard deviation either way of what is to be put right
    sd = np.array([first.fit.sd(i) for i in own])
    trials = np.tile(z, (2 * len(own), 1))
    for n, column in enumerate(own):
        trials[2 * n, column] += sd[n]
        trials[2 * n + 1, column] -= sd[n]
    rows = predictions(movement, np.concatenate([right[None], trials]), now)
    half = 0.5 * (rows[1::2] - rows[2::2])
    return found.name, rows[0], np.asarray(np.where(np.isfinite(half), half, 0.0).T @ half)


def _causes(movement: Movement, first: Diagnose, change: Fit) -> tuple[CauseMoved, ...]:
    """How far each cause moved, those that did first."""
    found = []
    priors = prior_sd(movement)
    by_name = {cause.name: cause for cause in first.causes}
    for name in CAUSES:
        own, cause = parameters_of(name), by_name[name]
        step = (change.z - first.fit.z)[own]
        block = change.covariance[np.ix_(own, own)]
        size = float(np.hypot(*step)) if len(own) == 2 else float(step[0])
        along = step / size if len(own) == 2 and size > 0.0 else np.eye(len(own))[0]
        sd = math.sqrt(float(along @ block @ along))
        low, high = size - NINETY * sd, size + NINETY * sd
        if len(own) == 2:
            moved = float(step @ np.linalg.solve(block, step)) > _special().chdtri(2, 0.1)
            low = max(low, 0.0)
        else:
            moved = low > 0.0 or high < 0.0
        if not cause.unit:
            size, low, high = math.exp(size), math.exp(low), math.exp(high)
        unlearnt = max(math.sqrt(block[i, i]) / priors[own[i]] for i in range(len(own))) > 0.9
        found.append(
            CauseMoved(name, cause.unit, cause.estimate, size, low, high, bool(moved), bool(unlearnt))
        )
    return tuple(sorted(found, key=lambda one: not one.moved))


def _special() -> Any:
    from scipy import special

    return special
