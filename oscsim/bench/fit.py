"""Which numbers of a design make it show what movements of its kind in good order show? Chosen numbers from the
readings of one example or several; the rest as drawn, give or take what examples of one design lie apart."""

from __future__ import annotations

import math
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from oscsim.answers.result import OneMovement
from oscsim.arrays import Array
from oscsim.bench.example_values import SET, ExampleValues, apart_by, shown_by, values_of
from oscsim.bench.search import Example, Found, search
from oscsim.errors import InputError, nearest, shown
from oscsim.escapements.kinds import needs_lever
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.movement import Movement, number_names
from oscsim.parts.balance import stiffness
from oscsim.slips.reading_files import Read, readings_of
from oscsim.slips.readings import READ, Readings
from oscsim.stack import varied
from oscsim.tables import quantity_of, value_at
from oscsim.tolerances import NORMAL_95, Spread
from oscsim.typical.numbers import DEFAULT_SPREADS
from oscsim.units import G0, UG_CM

WIDTH = Quantity("", "", "factor on the design's spreads for the priors", 0.1, 100)
#: Priors of numbers without a spread: ± in percent of the value, and for a value of 0 in percent of the range
#: (common practice without source).
_PERCENT, _OF_RANGE = 20.0, 1.0
#: A want of poise to begin from where the heavy point is sought: torque over the hairspring's stiffness.
_POISE = 0.002
_UNBALANCE, _HEAVY = "balance.unbalance_ug_cm", "balance.heavy_point_deg"
#: A normal distribution has 90 % within so many standard deviations.
NINETY = 1.6448536269514722
#: A number is not learnt where its standard deviation stays above this share of the prior's.
_UNLEARNT = 0.9
#: Posterior correlation beyond which two numbers stand in for each other.
_ALIKE = 0.9
_INSIDE = 1e-6
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
    """One value read, of which example, what the design gave, and what the fitted design gives; rates about their own
    mean."""

    example: int
    position: str
    hours: float
    kind: str
    value: float
    before: float
    after: float
    uncertainty: float


@dataclass(frozen=True, repr=False, kw_only=True)
class Fit(OneMovement):
    """``movement`` is the design with the fitted numbers and a ``[fitted]`` table; numbers; the readings compared.

    examples: the readings of each; misfit: chi-squared of the readings; converged: whether the search ended; start,
    width: the design that the search set out from, and how wide its priors were; apart: how far examples lie apart, as
    a factor on the design's spreads (low, middle, high; 90 %), None from one example, which says nothing of it.
    """

    examples: tuple[Readings, ...]
    numbers: tuple[Fitted, ...]
    compared: tuple[Compared, ...]
    misfit: float
    converged: bool
    start: Movement
    width: float
    apart: tuple[float, float, float] | None

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
        read = {"examples": [one.settings() for one in self.examples]}
        return read | asked | {"start_design_hash": self.start.design_hash}

    def body(self) -> dict[str, Any]:
        apart = None if self.apart is None else dict(zip(("low", "middle", "high"), self.apart, strict=True))
        return {
            "fitted": [
                {**row, "alike": number.alike} for row, number in zip(self.rows(), self.numbers, strict=True)
            ],
            "examples_apart": apart,
            "readings": [dict(vars(one)) for one in self.compared],
            "chi_squared": self.misfit,
            "converged": self.converged,
        }


@takes_design
def fit(
    movement: Movement, readings: Read | Sequence[Read], names: Sequence[str], *, width: float = 3.0
) -> Fit:
    """Fit the numbers at dotted ``names`` to readings of movements known to be in order: one example, or several.

    Priors: normal about the design's values, ``width`` times as wide as its ``[tolerance]`` (or the default spread,
    or 20 %). What is not fitted is as drawn, give or take the spreads of sound examples; of several examples the fitted
    numbers are the kind's, and how far the examples lie apart is learnt too. Want of poise and heavy point, named
    together, are sought as a vector. Rates are taken about each example's own mean unless
    ``balance.regulation_s_per_day`` is fitted, beat errors count only where ``balance.out_of_beat_deg`` is. Raises
    InputError for a name that is not a number of this design and for readings that it cannot be held against.
    """
    WIDTH.check("width", width)
    needs_lever(movement.escapement, "fitting a design")
    infos = dict(zip(names, _checked(movement, names), strict=True))
    each = (readings,) if isinstance(readings, (Readings, str, os.PathLike)) else readings
    several = tuple(readings_of(one) for one in each)
    if not several:
        raise InputError("readings: none, give those of at least one example in good order")
    parts = [values_of(one, movement, names) for one in several]
    frame = _Frame(movement, names, infos, width)
    start = frame.start

    def model(z: Array) -> Array:
        stack = varied(replace(movement, tolerance=(), fitted=()), frame.numbers(z))
        return np.concatenate([shown_by(stack, one) for one in parts], axis=1)

    before = model(start[None, :])[0]
    ends = np.cumsum([0, *(len(one.read) for one in parts)])
    for one, first in zip(parts, ends, strict=False):
        there = np.isfinite(before[first : first + len(one.read)])
        if not there.all():
            row = one.rows[int(one.row[int(np.argmin(there))])]
            raise InputError(
                f"{one.source}: this design does not run at {row.position}, {row.hours:g} h; start from a nearer one"
            )
    own = () if len(several) > 1 else tuple(names)
    examples = [
        Example(slice(a, b), one.read, one.noise, apart_by(movement, one, own))
        for one, a, b in zip(parts, ends, ends[1:], strict=False)
    ]
    found = search(model, examples, start, frame.prior, frame.sd, frame.low, frame.high)
    return _result(movement, width, several, parts, names, infos, frame, found, before)


class _Frame:
    """The numbers as the search sees them: want of poise and heavy point as a vector towards 12 and 3, so that the
    heavy point is found from any direction. start, prior, sd, low, high: (numbers,) each."""

    def __init__(
        self, movement: Movement, names: Sequence[str], infos: Mapping[str, Quantity], width: float
    ) -> None:
        self.names = tuple(names)
        own = np.array([float(value_at(movement, name)) for name in names])
        sd = width * np.array([_prior_sd(movement, name, infos[name]) for name in names])
        low, high = np.array([(infos[name].low, infos[name].high) for name in names]).T
        margin = _INSIDE * (high - low)
        low, high = low + margin, high - margin
        prior, start = own.copy(), own.copy()
        self.vector: tuple[int, int] | None = None
        if _UNBALANCE in names and _HEAVY in names:
            self.vector = moment, angle = self.names.index(_UNBALANCE), self.names.index(_HEAVY)
            balance = movement.balance
            usual = _POISE * float(stiffness(balance)) / (G0 * UG_CM)
            towards = np.array([math.cos(math.radians(own[angle])), math.sin(math.radians(own[angle]))])
            for n, value in zip(self.vector, own[moment] * towards, strict=True):
                start[n], prior[n], sd[n] = value, 0.0, max(usual, own[moment])
                low[n], high[n] = -infos[_UNBALANCE].high, infos[_UNBALANCE].high
        self.start, self.prior, self.sd, self.low, self.high = start, prior, sd, low, high

    def numbers(self, z: Array) -> dict[str, Array]:
        """Rows of the search (samples, numbers) as numbers of the design, (samples,) each."""
        columns = np.clip(z, self.low, self.high).T.copy()
        if self.vector is not None:
            x, y = columns[list(self.vector)]
            columns[list(self.vector)] = np.hypot(x, y), np.degrees(np.arctan2(y, x))
        return dict(zip(self.names, columns, strict=True))

    def spread(self, found: Found) -> tuple[Array, Array]:
        """The numbers found and their standard deviations, each (numbers,)."""
        values = np.array([column[0] for column in self.numbers(found.z[None]).values()])
        slopes = np.eye(len(self.names))
        if self.vector is not None:
            moment, angle = self.vector
            x, y = found.z[moment], found.z[angle]
            far = max(math.hypot(x, y), 1e-9)
            slopes[np.ix_(self.vector, self.vector)] = [
                [x / far, y / far],
                [math.degrees(-y / far**2), math.degrees(x / far**2)],
            ]
        return values, np.sqrt(np.diag(slopes @ found.covariance @ slopes.T))


def _result(
    movement: Movement,
    width: float,
    examples: tuple[Readings, ...],
    parts: Sequence[ExampleValues],
    names: Sequence[str],
    infos: Mapping[str, Quantity],
    frame: _Frame,
    found: Found,
    before: Array,
) -> Fit:
    values, sd = frame.spread(found)
    deviation = np.sqrt(np.diag(found.covariance))
    correlation = found.covariance / np.outer(deviation, deviation)
    unlearnt = deviation > _UNLEARNT * frame.sd
    settled = {name: _rounded(float(z)) for name, z in zip(names, values, strict=True)}
    learnt = {name: settled[name] for name, not_ in zip(names, unlearnt, strict=True) if not not_}
    after = movement.with_(learnt) if learnt else movement
    noted = dict(movement.fitted) | {
        name: _rounded(float(one)) for name, one in zip(names, sd, strict=True) if name in learnt
    }
    after = replace(after, fitted=tuple(sorted(noted.items())))
    numbers = tuple(
        Fitted(
            name=name,
            unit=infos[name].unit,
            before=float(value_at(movement, name)),
            prior_sd=float(frame.sd[n]),
            value=settled[name],
            sd=float(sd[n]),
            low=_end(name, settled[name] - NINETY * float(sd[n]), infos[name]),
            high=_end(name, settled[name] + NINETY * float(sd[n]), infos[name]),
            unlearnt=bool(unlearnt[n]),
            alike=tuple(names[m] for m in range(len(names)) if m != n and abs(correlation[n, m]) > _ALIKE),
        )
        for n, name in enumerate(names)
    )
    compared: list[Compared] = []
    misfit = 0.0
    first = 0
    for number, one in enumerate(parts, start=1):
        at = slice(first, first + len(one.read))
        first = at.stop
        rates = one.kind == 1
        was, now = before[at].copy(), found.predicted[at].copy()
        if rates.any() and SET not in names:
            was += np.where(rates, (one.read - was)[rates].mean(), 0.0)
            now += np.where(rates, (one.read - now)[rates].mean(), 0.0)
        misfit += float(np.sum(((one.read - now) / one.sigma) ** 2))
        for n in range(len(one.read)):
            row = one.rows[int(one.row[n])]
            kind = tuple(READ)[int(one.kind[n])]
            compared.append(
                Compared(
                    number, row.position, row.hours, kind, float(one.read[n]), float(was[n]), float(now[n]),
                    float(one.sigma[n]),
                )
            )  # fmt: skip
    return Fit(
        movement=after,
        examples=examples,
        numbers=numbers,
        compared=tuple(compared),
        misfit=misfit,
        converged=found.converged,
        start=movement,
        width=width,
        apart=_factors(found) if len(examples) > 1 else None,
    )


def _end(name: str, value: float, info: Quantity) -> float:
    """An end of an interval, as far as the number's range goes; a direction goes round."""
    return value if name == _HEAVY else min(max(value, info.low), info.high)


def _factors(found: Found) -> tuple[float, float, float]:
    """Ends and middle of how far examples lie apart, 90 %."""
    heap = np.cumsum(found.weights) - 0.5 * found.weights
    low, middle, high = np.exp(np.interp((0.05, 0.5, 0.95), heap, np.log(found.factors)))
    return float(low), float(middle), float(high)


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
