"""Which numbers of a design file make it show what a known-good movement shows? Chosen numbers, the rest as drawn."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from oscsim.answers.result import OneMovement
from oscsim.arrays import Array
from oscsim.bench.model import predict, read_values
from oscsim.bench.poise_effect import lift_told
from oscsim.bench.posterior import NINETY, Posterior, Prior, maximise
from oscsim.condition import AsItIs
from oscsim.errors import InputError, nearest, shown
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.movement import Movement, number_names
from oscsim.slips.readings import Readings
from oscsim.stack import varied
from oscsim.tables import quantity_of, value_at
from oscsim.tolerances import NORMAL_95, Spread
from oscsim.typical.numbers import DEFAULT_SPREADS

WIDTH = Quantity("", "", "factor on the design's spreads for the priors", 0.1, 100)
#: Priors of numbers without a spread: ± in percent of the value, and for a value of 0 in percent of the range
#: (common practice without source).
_PERCENT, _OF_RANGE = 20.0, 1.0
#: Rates share an unknown regulation, s/day, unless it is fitted.
_REGULATION = 1e3
#: A number is not learnt where its standard deviation stays above this share of the prior's.
_UNLEARNT = 0.9
#: Posterior correlation beyond which two numbers stand in for each other.
_ALIKE = 0.9
_INSIDE = 1e-6
_BEAT, _SET = "balance.out_of_beat_deg", "balance.regulation_s_per_day"
_DIGITS = 6


@dataclass(frozen=True)
class Fitted:
    """One fitted number: before, its prior's standard deviation, the fitted value, its standard deviation and 90 %
    interval, as far as the number's own range goes."""

    name: str
    unit: str
    before: float
    prior_sd: float
    value: float
    sd: float
    low: float
    high: float
    unlearnt: bool
    alike: tuple[str, ...]


@dataclass(frozen=True)
class Compared:
    """One value read, what the design gave, and what the fitted design gives; rates about their own mean."""

    position: str
    hours: float
    kind: str
    value: float
    before: float
    after: float
    uncertainty: float


@dataclass(frozen=True, repr=False)
class Fit(OneMovement):
    """``movement`` is the design with the fitted numbers and a ``[fitted]`` table; numbers; the readings compared.

    misfit: chi-squared of the readings; converged: whether the search ended; start, width: the design that the search
    set out from, and how wide its priors were. The standard deviations are those that
    remain if everything not fitted is exactly as drawn.
    """

    readings: Readings
    numbers: tuple[Fitted, ...]
    compared: tuple[Compared, ...]
    misfit: float
    converged: bool
    start: Movement
    width: float

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "name": n.name,
                "unit": n.unit,
                "before": n.before,
                "prior_sd": n.prior_sd,
                "value": n.value,
                "sd": n.sd,
                "low": n.low,
                "high": n.high,
                "unlearnt": n.unlearnt,
            }
            for n in self.numbers
        ]

    def settings(self) -> dict[str, Any]:
        asked = {"numbers": [number.name for number in self.numbers], "width": self.width}
        return self.readings.settings() | asked | {"start_design_hash": self.start.design_hash}

    def body(self) -> dict[str, Any]:
        return {
            "fitted": [
                {**row, "alike": number.alike} for row, number in zip(self.rows(), self.numbers, strict=True)
            ],
            "readings": [dict(vars(one)) for one in self.compared],
            "chi_squared": self.misfit,
            "converged": self.converged,
        }


@takes_design
def fit(movement: Movement, readings: Readings, names: Sequence[str], *, width: float = 3.0) -> Fit:
    """Fit the numbers at dotted ``names`` to the readings of a movement known to be in order.

    Priors: normal about the design's values, ``width`` times as wide as its ``[tolerance]`` (or the default spread,
    or 20 %). Rates are taken about their own mean unless ``balance.regulation_s_per_day`` is fitted, beat errors count
    only where ``balance.out_of_beat_deg`` is. Raises InputError for a name that is not a number of this design and for
    readings that it cannot be held against.
    """
    WIDTH.check("width", width)
    infos = _checked(movement, names)
    used = _used(readings, names)
    values, sigma, what, places = read_values(used)
    # the instrument knows the design as it was, not what the search makes of it
    places = replace(places, lift_angle_deg=lift_told(movement, used))
    rates = np.array([kind == "rate_s_per_day" for _, kind in what])
    covariance = np.diag(sigma**2)
    if _SET not in names:
        covariance = covariance + _REGULATION**2 * np.outer(rates, rates)
    start = np.array([float(value_at(movement, name)) for name in names])
    sd = width * np.array([_prior_sd(movement, name, info) for name, info in zip(names, infos, strict=True)])
    low, high = np.array([(info.low, info.high) for info in infos]).T
    margin = _INSIDE * (high - low)
    plain = replace(movement, tolerance=(), fitted=())

    def model(rows: Array) -> Array:
        # the search's difference quotients may step over the edge of the range
        columns = np.clip(rows, low, high).T
        return predict(AsItIs(varied(plain, dict(zip(names, columns, strict=True)))), places)

    before = model(start[None, :])[0]
    if not np.isfinite(before).all():
        row = used.rows[what[int(np.argmin(np.isfinite(before)))][0]]
        raise InputError(
            f"{readings.source}: this design does not run at {row.position}, {row.hours:g} h; start from a nearer one"
        )
    found = maximise(model, values, covariance, Prior(start, sd, low + margin, high - margin), start)
    return _result(movement, width, readings, used, names, infos, sd, found, before, values, sigma, what)


def _result(
    movement: Movement,
    width: float,
    readings: Readings,
    used: Readings,
    names: Sequence[str],
    infos: Sequence[Quantity],
    prior_sd: Array,
    found: Posterior,
    before: Array,
    values: Array,
    sigma: Array,
    what: Sequence[tuple[int, str]],
) -> Fit:
    sd = np.sqrt(np.diag(found.covariance))
    correlation = found.covariance / np.outer(sd, sd)
    settled = {name: _rounded(float(z)) for name, z in zip(names, found.z, strict=True)}
    after = replace(
        movement.with_(settled),
        fitted=tuple(sorted((name, _rounded(float(one))) for name, one in zip(names, sd, strict=True))),
    )
    numbers = tuple(
        Fitted(
            name,
            infos[n].unit,
            float(value_at(movement, name)),
            float(prior_sd[n]),
            settled[name],
            float(sd[n]),
            max(settled[name] - NINETY * float(sd[n]), infos[n].low),
            min(settled[name] + NINETY * float(sd[n]), infos[n].high),
            bool(sd[n] > _UNLEARNT * prior_sd[n]),
            tuple(names[m] for m in range(len(names)) if m != n and abs(correlation[n, m]) > _ALIKE),
        )
        for n, name in enumerate(names)
    )
    rates = np.array([kind == "rate_s_per_day" for _, kind in what])
    fitted = found.predicted.copy()
    if rates.any() and _SET not in names:
        before = before + np.where(rates, (values - before)[rates].mean(), 0.0)
        fitted += np.where(rates, (values - fitted)[rates].mean(), 0.0)
    compared = tuple(
        Compared(
            used.rows[row].position,
            used.rows[row].hours,
            kind,
            float(values[n]),
            float(before[n]),
            float(fitted[n]),
            float(sigma[n]),
        )
        for n, (row, kind) in enumerate(what)
    )
    misfit = float(np.sum(((values - fitted) / sigma) ** 2))
    return Fit(after, readings, numbers, compared, misfit, found.converged, movement, width)


def _checked(movement: Movement, names: Sequence[str]) -> list[Quantity]:
    """Unit and bounds of every name; raises InputError."""
    if not names:
        raise InputError(
            "names: empty, give at least one number of the design file, such as balance.viscous_q"
        )
    numbers = number_names()
    found = []
    for name in names:
        info = quantity_of(Movement, name) if name in numbers else None
        if info is None:
            raise InputError(f"{shown(name)}: no number of a design file; {nearest(str(name), numbers)}")
        if list(names).count(name) > 1:
            raise InputError(f"{name}: named twice")
        if not isinstance(value_at(movement, name), int | float):
            raise InputError(f"{name}: {shown(movement.name)} does not give this number")
        if info.whole:
            raise InputError(f"{name}: a whole number cannot be fitted")
        found.append(info)
    return found


def _used(readings: Readings, names: Sequence[str]) -> Readings:
    """The readings without what the named numbers do not move: beat errors, and rows left empty by that."""
    if _BEAT in names:
        return readings
    rows = tuple(
        replace(row, beat_error_ms=math.nan)
        for row in readings.rows
        if math.isfinite(row.amplitude_deg) or math.isfinite(row.rate_s_per_day)
    )
    if not rows:
        raise InputError(f"{readings.source}: neither amplitudes nor rates to fit to")
    return replace(readings, rows=rows)


def _prior_sd(movement: Movement, name: str, info: Quantity) -> float:
    """Standard deviation of the design's spread of a number; a wide one where it has none."""
    value = float(value_at(movement, name))
    for spread in (*movement.tolerance, *DEFAULT_SPREADS, Spread(name, percent=_PERCENT)):
        if spread.name == name and spread.half_width(value) > 0.0:
            half = spread.half_width(value)
            return half / NORMAL_95 if spread.shape == "normal" else half / math.sqrt(3.0)
    return (info.high - info.low) * _OF_RANGE / 100.0


def _rounded(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")
