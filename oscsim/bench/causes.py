"""Causes in order of evidence: what each adds to the fit, how large it is, and which others look the same."""

from __future__ import annotations

import math
from itertools import product

import numpy as np

from oscsim.arrays import Array
from oscsim.bench.findings import Cause
from oscsim.bench.fitting import Fit, fit
from oscsim.bench.model import ADJUSTMENTS, CAUSES, PARAMETERS, Places, own_unbalance, parameters_of, prior_sd
from oscsim.bench.next_reading import Next
from oscsim.bench.posterior import NINETY
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
#: Evidence, in nats, above which a cause counts as found, and by which two must differ to be told apart: 10 to 1,
#: strong after H. Jeffreys, Theory of Probability, 1961.
FOUND = math.log(10.0)
#: Causes that are a loss where they are less.
_WORSE = {"drive": -1.0, "mainspring": -1.0}


def evidence_for(
    movement: Movement, values: Array, covariance: Array, places: Places, whole: Fit, robust: bool
) -> dict[str, float]:
    """Log evidence for each cause: what a fault adds to the adjustments; what is lost without an adjustment.

    Rates move with every fault, so an adjustment counts only for what nothing else explains.
    """
    base_columns = [i for name in ADJUSTMENTS for i in parameters_of(name)]
    base = fit(movement, values, covariance, places, base_columns, robust=robust)
    found = {}
    for name in CAUSES:
        own = parameters_of(name)
        if name in ADJUSTMENTS:
            columns = [i for i in range(len(PARAMETERS)) if i not in own]
            without = fit(movement, values, covariance, places, columns, start=whole.z, robust=robust)
            found[name] = whole.log_evidence - without.log_evidence
        else:
            # a tired spring hides behind a slipping bridle at first, so the search also starts from a real fault
            starts = [base.z.copy(), base.z.copy()]
            starts[1][own[0]] = _WORSE.get(name, 1.0) * prior_sd(movement)[own[0]]
            columns = [*base_columns, *own]
            fits = [
                fit(movement, values, covariance, places, columns, start=start, robust=robust)
                for start in starts
            ]
            found[name] = max(one.log_evidence for one in fits) - base.log_evidence
    return found


def judged_cause(
    movement: Movement, name: str, whole: Fit, evidence: dict[str, float], following: Next
) -> Cause:
    """One cause as the whole fit has it."""
    own = parameters_of(name)
    sd, prior = whole.sd(own[0]), prior_sd(movement)[own[0]]
    correlation = _correlation(whole.covariance)
    alike = []
    for other in CAUSES:
        pairs = product(own, parameters_of(other))
        close = (
            name not in ADJUSTMENTS
            and other not in ADJUSTMENTS
            and abs(evidence[name] - evidence[other]) < FOUND
        )
        correlated = max(abs(correlation[a, b]) for a, b in pairs) > _ALIKE
        if other != name and (correlated or (close and min(evidence[name], evidence[other]) > 0.0)):
            alike.append(other)
    unlearnt = max(whole.sd(i) / prior for i in own) > _UNLEARNT
    direction = None
    if name == "unbalance":
        own_12, own_3 = own_unbalance(movement)
        vector = np.array([own_12 + whole.z[own[0]], own_3 + whole.z[own[1]]])
        estimate = float(np.hypot(*vector))
        along = vector / estimate if estimate > 0.0 else np.array([1.0, 0.0])
        block = whole.covariance[np.ix_(own, own)]
        sd = math.sqrt(float(along @ block @ along))
        low, high = max(estimate - NINETY * sd, 0.0), estimate + NINETY * sd
        direction = math.degrees(math.atan2(vector[1], vector[0])) % 360.0
    elif name in UNITS:
        offset = movement.balance.out_of_beat_deg if name == "out_of_beat" else 0.0
        estimate = float(whole.z[own[0]]) + offset
        low, high = estimate - NINETY * sd, estimate + NINETY * sd
    else:
        z = float(whole.z[own[0]])
        estimate, low, high = math.exp(z), math.exp(z - NINETY * sd), math.exp(z + NINETY * sd)
    predicts = {following.read: float(following.slope[own] @ whole.z[own])}
    return Cause(
        name,
        estimate,
        low,
        high,
        UNITS.get(name, ""),
        evidence[name],
        tuple(alike),
        unlearnt,
        direction,
        predicts,
    )


def _correlation(covariance: Array) -> Array:
    sd = np.sqrt(np.diag(covariance))
    return np.asarray(covariance / np.outer(sd, sd))
