"""Is it healthy for what it is? If not, what is it, how sure are we, and what should be read next?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from oscsim.answers.band import working_band
from oscsim.answers.result import Result
from oscsim.answers.rundown import hours_to_amplitude
from oscsim.arrays import Array
from oscsim.bench.fitting import Fit, fit
from oscsim.bench.model import (
    CAUSES,
    PARAMETERS,
    example_covariance,
    jacobian,
    own_unbalance,
    parameters_of,
    places_of,
    predictions,
    prior_sd,
    read_values,
)
from oscsim.bench.readings import READ, UNCERTAINTY, Reading, Readings
from oscsim.errors import InputError
from oscsim.movement import Movement
from oscsim.units import POSITIONS

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: Units of the causes' estimates; factors have none.
UNITS = {
    "lock": "deg",
    "unbalance": "µg·cm",
    "out_of_beat": "deg",
    "regulation": "s/day",
    "isochronism": "1/rad²",
}
#: Causes that are settings rather than faults of drive or friction: always allowed for.
_ADJUSTMENTS = ("unbalance", "out_of_beat", "regulation")
#: Half width of a 90 % interval, and the one-sided 5 % point, in standard deviations of the normal distribution.
_NINETY = 1.6448536269514722
#: Posterior correlation beyond which two causes cannot be told apart, and share of the prior's width that says
#: nothing was learnt.
_ALIKE, _UNLEARNT = 0.75, 0.9
#: Evidence, in nats, above which a cause counts as found, and by which two must differ to be told apart: 10 to 1,
#: strong after H. Jeffreys, Theory of Probability, 1961.
FOUND = math.log(10.0)
_FEWEST_AMPLITUDES = 2
#: Causes that are a loss where they are less.
_WORSE = {"drive": -1.0, "mainspring": -1.0}
_READ_ROWS = tuple(READ)


@dataclass(frozen=True)
class Cause:
    """One cause: estimate with its 90 % interval in ``unit``, the evidence for it in nats, and the causes that these
    readings cannot tell from it; direction_deg: of the heavy point; predicts: what it says of the next reading."""

    name: str
    estimate: float
    low: float
    high: float
    unit: str
    evidence: float
    indistinguishable_from: tuple[str, ...]
    unlearnt: bool
    direction_deg: float | None
    predicts: dict[str, float]

    def to_dict(self) -> dict[str, Any]:
        found = {key: getattr(self, key) for key in self.__dataclass_fields__}
        if self.direction_deg is None:
            del found["direction_deg"]
        return found


@dataclass(frozen=True)
class Judged:
    """One value read: the band in which 90 % of sound examples would be read, and how far outside it lies."""

    position: str
    hours: float
    kind: str
    value: float
    low: float
    high: float
    predicted: float
    residual: float
    weight: float

    @property
    def judgement(self) -> str:
        """inside, low or high."""
        return "low" if self.value < self.low else "high" if self.value > self.high else "inside"

    @property
    def outside_by(self) -> float:
        """How far outside the band, in the value's unit; 0 inside."""
        return max(self.low - self.value, self.value - self.high, 0.0)


@dataclass(frozen=True)
class Diagnosis(Result):
    """Verdict on one movement; ``causes`` in order of evidence, ``next_measurement`` the most telling reading."""

    movement: Movement
    readings: Readings
    healthy: bool
    verdict: str
    judged: tuple[Judged, ...]
    causes: tuple[Cause, ...]
    next_measurement: dict[str, Any]
    deficit_deg: float
    deficit_sd_deg: float
    floor_deg: float
    margin_deg: float
    margin_hours: float
    converged: bool

    @property
    def design(self) -> str:
        return self.movement.name

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "position": j.position,
                "hours": j.hours,
                "read": j.kind,
                "value": j.value,
                "low": j.low,
                "high": j.high,
                "judgement": j.judgement,
                "outside_by": j.outside_by,
                "predicted": j.predicted,
                "residual": j.residual,
                "weight": j.weight,
            }
            for j in self.judged
        ]

    def body(self) -> dict[str, Any]:
        return {
            "healthy": self.healthy,
            "verdict": self.verdict,
            "lift_angle_deg": self.readings.lift_angle_deg,
            "readings": self.rows(),
            "causes": [cause.to_dict() for cause in self.causes],
            "next_measurement": self.next_measurement,
            "deficit_deg": self.deficit_deg,
            "deficit_sd_deg": self.deficit_sd_deg,
            "floor_deg": self.floor_deg,
            "margin_deg": self.margin_deg,
            "margin_hours": self.margin_hours,
            "converged": self.converged,
        }

    def text(self) -> str:
        from oscsim.show.bench_tables import diagnosis_table

        return diagnosis_table(self)

    def plot(self, ax: Axes | None = None) -> Axes:
        """Readings against the bands of sound examples; draws into ``ax`` or a new figure, returns the axes."""
        from oscsim.show.bench_plots import plot_diagnosis

        return plot_diagnosis(self, ax=ax)


def diagnose(
    movement: Movement,
    readings: Readings,
    *,
    robust: bool = False,
    tolerance_s_per_day: float = 10.0,
) -> Diagnosis:
    """Judge readings against the design, estimate every cause, and rank them by evidence.

    ``robust`` lets single bad readings weigh less; the floor is that of ``working_band`` for ``tolerance_s_per_day``.
    Raises InputError when there are too few readings, saying which are missing.
    """
    values, sigma, what, places = read_values(readings)
    amplitudes = np.array([kind == "amplitude_deg" for _, kind in what])
    if amplitudes.sum() < _FEWEST_AMPLITUDES:
        raise InputError(
            f"{readings.source}: {int(amplitudes.sum())} amplitudes read, a diagnosis needs at least "
            f"{_FEWEST_AMPLITUDES}, best CH and 12H fully wound"
        )
    spread = example_covariance(movement, places)
    covariance = spread + np.diag(sigma**2)
    sound = predictions(movement, np.zeros((1, len(PARAMETERS))), places)[0]
    if not np.isfinite(sound).all():
        raise InputError(
            f"{readings.source}: this design does not run wherever it was read; check hours and file"
        )
    whole = fit(movement, values, covariance, places, range(len(PARAMETERS)), robust=robust)
    evidence = _evidence(movement, values, covariance, places, whole, robust)
    half = _NINETY * np.sqrt(np.diag(covariance))
    # a watch is regulated at the bench, so rates are judged about their own mean
    shift = np.zeros(len(values))
    rates = np.array([kind == "rate_s_per_day" for _, kind in what])
    if rates.any():
        shift[rates] = (values - sound)[rates].mean()
    judged = tuple(
        Judged(
            readings.rows[row].position,
            readings.rows[row].hours,
            kind,
            float(values[n]),
            max(float((sound + shift - half)[n]), 0.0)
            if kind == "beat_error_ms"
            else float((sound + shift - half)[n]),
            float((sound + shift + half)[n]),
            float(whole.predicted[n]),
            float(whole.residual[n]),
            float(whole.weight[n]),
        )
        for n, (row, kind) in enumerate(what)
    )
    deficit, deficit_sd = _deficit((values - sound)[amplitudes], covariance[np.ix_(amplitudes, amplitudes)])
    following = _next(movement, readings, whole)
    causes = tuple(
        sorted(
            (_cause(movement, name, whole, evidence, following) for name in CAUSES),
            key=lambda cause: -cause.evidence,
        )
    )
    lowest = max(
        (j.low - j.value) / (j.high - j.low) * 2.0 * _NINETY for j in judged if j.kind == "amplitude_deg"
    )
    healthy = bool(deficit / deficit_sd > -_NINETY and lowest < _NINETY)
    floor = working_band(movement, tolerance_s_per_day).floor_deg
    flat = predictions(movement, np.stack([whole.z]), _one_place("CH", 0.0, readings))[0, 0]
    left = _hours_left(movement, whole, floor)
    verdict = _verdict(movement, healthy, deficit, deficit_sd, causes, robust)
    return Diagnosis(
        movement,
        readings,
        healthy,
        verdict,
        judged,
        causes,
        following[0],
        float(deficit),
        float(deficit_sd),
        floor,
        float(flat) - floor,
        left,
        whole.converged,
    )


def _one_place(position: str, hours: float, readings: Readings) -> Any:
    row = Reading(position, hours)
    return places_of([row], readings.lift_angle_deg, [[True, False, False]])


def _hours_left(movement: Movement, whole: Fit, floor: float) -> float:
    """Hours from full wind until the flat amplitude of the movement as fitted reaches the floor."""
    from oscsim.bench.model import condition_of

    as_is = condition_of(movement, whole.z).applied_to(movement)
    hours = hours_to_amplitude(as_is, floor)
    return hours if hours > 0.01 else 0.0


def _deficit(residual: Array, covariance: Array) -> tuple[float, float]:
    """Mean departure of the amplitudes from the design's, best weighted, and its standard deviation."""
    precise = np.linalg.inv(covariance)
    weight = precise.sum(axis=0) / precise.sum()
    return float(weight @ residual), float(1.0 / math.sqrt(precise.sum()))


def _evidence(
    movement: Movement, values: Array, covariance: Array, places: Any, whole: Fit, robust: bool
) -> dict[str, float]:
    """Log evidence for each cause: what a fault adds to the adjustments; what is lost without an adjustment.

    Rates move with every fault, so an adjustment counts only for what nothing else explains.
    """
    base_columns = [i for name in _ADJUSTMENTS for i in parameters_of(name)]
    base = fit(movement, values, covariance, places, base_columns, robust=robust)
    found = {}
    for name in CAUSES:
        own = parameters_of(name)
        if name in _ADJUSTMENTS:
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


def _cause(
    movement: Movement,
    name: str,
    whole: Fit,
    evidence: dict[str, float],
    following: tuple[dict[str, Any], Array],
) -> Cause:
    own = parameters_of(name)
    sd, prior = whole.sd(own[0]), prior_sd(movement)[own[0]]
    correlation = _correlation(whole.covariance)
    alike = []
    for other in CAUSES:
        pairs = product(own, parameters_of(other))
        close = (
            name not in _ADJUSTMENTS
            and other not in _ADJUSTMENTS
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
        low, high = max(estimate - _NINETY * sd, 0.0), estimate + _NINETY * sd
        direction = math.degrees(math.atan2(vector[1], vector[0])) % 360.0
    elif name in UNITS:
        offset = movement.balance.out_of_beat_deg if name == "out_of_beat" else 0.0
        estimate = float(whole.z[own[0]]) + offset
        low, high = estimate - _NINETY * sd, estimate + _NINETY * sd
    else:
        z = float(whole.z[own[0]])
        estimate, low, high = math.exp(z), math.exp(z - _NINETY * sd), math.exp(z + _NINETY * sd)
    place, slopes = following
    predicts = {place["read"]: float(slopes[own] @ whole.z[own])} if place else {}
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


def _next(movement: Movement, readings: Readings, whole: Fit) -> tuple[dict[str, Any], Array]:
    """The reading not yet taken that would narrow the causes of low amplitude most, and the slopes it has.

    Gain: the drop in the posterior's entropy, in nats, of the causes that are not adjustments.
    """
    taken = {(row.position, row.hours): row for row in readings.rows}
    hours = sorted({0.0, 24.0, *(row.hours for row in readings.rows)})
    rows, kinds = [], []
    for symbol, hour in product(POSITIONS, hours):
        row = taken.get((symbol, hour))
        open_kinds = [row is None or not math.isfinite(getattr(row, kind)) for kind in READ]
        if any(open_kinds):
            rows.append(Reading(symbol, hour))
            kinds.append(open_kinds)
    if not rows:
        repeat = readings.rows[int(np.argmin([row.amplitude_deg_uncertainty for row in readings.rows]))]
        note = f"every place is read: repeat {repeat.position} at {repeat.hours:g} h more precisely"
        return {
            "position": repeat.position,
            "hours": repeat.hours,
            "read": "amplitude_deg",
            "why": note,
        }, np.zeros(len(PARAMETERS))
    places = places_of(rows, readings.lift_angle_deg, kinds)
    _, slope = jacobian(movement, whole.z, places, whole.columns)
    faults = [i for name in CAUSES if name not in _ADJUSTMENTS for i in parameters_of(name)]
    before = np.linalg.slogdet(whole.covariance[np.ix_(faults, faults)])[1]
    best, gain = 0, -math.inf
    for n, (_, _, _, kind) in enumerate(places.index):
        noise = UNCERTAINTY[_READ_ROWS[kind]] ** 2
        row = slope[n]
        if not np.isfinite(row).all():
            continue
        carried = whole.covariance @ row
        after = whole.covariance - np.outer(carried, carried) / (noise + row @ carried)
        gained = 0.5 * (before - np.linalg.slogdet(after[np.ix_(faults, faults)])[1])
        if gained > gain:
            best, gain = n, gained
    _, p, h, kind = places.index[best]
    symbol, hour = places.positions[p], places.hours[h]
    name = _READ_ROWS[kind]
    why = f"it would tell most about what these readings leave open ({gain:.2f} nats)"
    found = {"position": symbol, "hours": hour, "read": name, "gain_nats": float(gain), "why": why}
    slopes = np.zeros(len(PARAMETERS))
    slopes[list(whole.columns)] = slope[best]
    return found, slopes


_SAID = {
    "drive": "drive lost between barrel and escape wheel",
    "mainspring": "a tired or wrong mainspring",
    "pivot_vertical": "friction at the sides of the balance pivots",
    "pivot_flat": "friction at the ends of the balance pivots",
    "drag": "too much drag on the balance (oil, dirt, hairspring)",
    "lock": "a lock deeper than drawn",
    "unbalance": "want of poise",
    "out_of_beat": "out of beat",
    "regulation": "regulation",
    "isochronism": "the hairspring's isochronism",
}


def _verdict(
    movement: Movement, healthy: bool, deficit: float, sd: float, causes: tuple[Cause, ...], robust: bool
) -> str:
    """One sentence."""
    found = [cause for cause in causes if cause.evidence > FOUND and cause.name != "regulation"]
    if healthy:
        about = f"{deficit:+.0f} ± {_NINETY * sd:.0f} deg against the design"
        if not found:
            return f"Healthy for a {movement.name}: amplitudes {about} lie among those of sound examples."
        return (
            f"Amplitudes are healthy for a {movement.name} ({about}); what shows is {_SAID[found[0].name]}."
        )
    low = "low" if deficit < 0.0 else "uneven"
    if not found:
        return (
            f"Not healthy for a {movement.name}: amplitudes are {low}, {deficit:+.0f} ± {_NINETY * sd:.0f} deg against "
            "the design, and the readings do not single out a cause."
        )
    first = found[0]
    also = [_SAID[name] for name in first.indistinguishable_from if name not in _ADJUSTMENTS]
    doubt = f"; these readings cannot tell it from {' or '.join(also)}" if also else ""
    return (
        f"Not healthy for a {movement.name}: amplitudes are {low}, {deficit:+.0f} ± {_NINETY * sd:.0f} deg against the "
        f"design; most likely {_SAID[first.name]}{doubt}."
    )


__all__ = ["CAUSES", "FOUND", "Cause", "Diagnosis", "Judged", "diagnose"]
