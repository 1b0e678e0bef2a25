"""Where is the heavy point, and how much is it? From the rates of the vertical positions, at their own amplitudes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from oscsim.answers.result import OneMovement
from oscsim.arrays import Array
from oscsim.bench.likelihood import alike_off
from oscsim.bench.poise_effect import Effect, lift_told, poise_effect
from oscsim.bench.poising_work import Work, work_of
from oscsim.bench.spring_effect import SpringEffect, any_spring_effect, half_a_coil_further
from oscsim.errors import InputError
from oscsim.files import takes_design
from oscsim.movement import Movement
from oscsim.slips.reading_files import Read, readings_of
from oscsim.slips.readings import READ, Reading, Readings
from oscsim.tolerances import NORMAL_90

VERTICAL = ("12H", "3H", "6H", "9H")
_FEWEST = 3
#: Passes in which the amplitudes' uncertainty takes the unbalance found before (effective variance).
_PASSES = 12
#: Share of misfits this large that chance alone gives; rarer ones are not put down to the readings.
_MISFIT = 0.01
#: A heavy point known no better than this share of itself, all read so near the node, is to be read again.
_LOOSE, _CLOSE_DEG = 0.4, 30.0
#: Where want of poise is silent, deg.
_SILENT = 220.0
#: Mahalanobis distance squared inside which a plane normal vector lies nine times in ten: chi-squared, 2 degrees.
ELLIPSE_90 = -2.0 * math.log(0.1)


@dataclass(frozen=True)
class Vertical:
    """One vertical reading: amplitude shown and true, rate read and by the model, and the rate once the heavy point is
    taken away, ± half its 90 % interval (of the taking away, not of the reading)."""

    position: str
    hours: float
    shown_deg: float
    amplitude_deg: float
    rate_s_per_day: float
    uncertainty_s_per_day: float
    model_s_per_day: float
    after_s_per_day: float
    after_half_width_s_per_day: float


@dataclass(frozen=True)
class Offset:
    """The part of the rate that all vertical positions share at one hour: regulation and isochronism."""

    hours: float
    amplitude_deg: float
    rate_s_per_day: float
    half_width_s_per_day: float


@dataclass(frozen=True, repr=False, kw_only=True)
class Poise(OneMovement):
    """The unbalance and what to do. Where ``told`` is false the readings cannot tell it from a poised balance, and
    only ``most_ug_cm`` means anything: there is no direction and no work.

    vector_ug_cm (2,) towards 12 and towards 3 with covariance (2, 2); moment with its 90 % interval low to high;
    direction of the heavy point, deg clockwise from 12 seen from the dial, ± its half width; node_deg, node_shown_deg:
    where the effect turns over, true and as this instrument shows it; spring_s_per_day: what the hairspring's weight
    does in each vertical position at 220°, where want of poise is silent, and half its 90 % interval;
    further_s_per_day: the same pinned half a coil further at the collet (empty where too few turns are left); misfit:
    chi-squared of the residuals over its ``freedom``; fits: whether a heavy point explains the rates; cautions:
    sentences.
    """

    readings: Readings
    vector_ug_cm: Array
    covariance: Array
    told: bool
    moment_ug_cm: float
    low_ug_cm: float
    high_ug_cm: float
    most_ug_cm: float
    direction_deg: float
    direction_half_width_deg: float
    node_deg: float
    node_shown_deg: float
    offsets: tuple[Offset, ...]
    verticals: tuple[Vertical, ...]
    misfit: float
    freedom: int
    fits: bool
    work: Work | None
    cautions: tuple[str, ...]
    spring_s_per_day: Mapping[str, tuple[float, float]]
    further_s_per_day: Mapping[str, float]

    @property
    def silent(self) -> bool:
        """Whether all was read so near the node that nothing can be told of a heavy point."""
        return math.isnan(self.most_ug_cm)

    @property
    def spreads(self) -> dict[float, tuple[float, float]]:
        """Spread of the vertical rates by hour, s/day: as read, and after the work; of hours with two rates or more."""
        hours = np.array([v.hours for v in self.verticals])
        rates = np.array([(v.rate_s_per_day, v.after_s_per_day) for v in self.verticals])
        each = {float(hour): rates[hours == hour] for hour in np.unique(hours)}
        ends = {hour: np.ptp(at, axis=0) for hour, at in each.items() if len(at) > 1}
        return {hour: (float(now), float(then)) for hour, (now, then) in ends.items()}

    @property
    def helps(self) -> bool:
        """Whether the work brings the verticals together where they lie furthest apart."""
        now, then = (max(ends) for ends in zip(*self.spreads.values(), strict=True))
        return self.told and then < now

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "position": v.position,
                "hours": v.hours,
                "shown_amplitude_deg": v.shown_deg,
                "amplitude_deg": v.amplitude_deg,
                "rate_s_per_day": v.rate_s_per_day,
                "model_rate_s_per_day": v.model_s_per_day,
                "rate_after_s_per_day": v.after_s_per_day if self.told else math.nan,
                "rate_after_half_width_s_per_day": v.after_half_width_s_per_day if self.told else math.nan,
            }
            for v in self.verticals
        ]

    def settings(self) -> dict[str, Any]:
        work = self.work
        asked = None if work is None else {
            "radius_mm": work.radius_mm, "drill_mm": work.drill_mm, "density_g_cm3": work.density_g_cm3,
        }  # fmt: skip
        return self.readings.settings() | {"work": asked}

    def body(self) -> dict[str, Any]:
        return {
            "told": self.told,
            "moment_ug_cm": self.moment_ug_cm,
            "low_ug_cm": self.low_ug_cm,
            "high_ug_cm": self.high_ug_cm,
            "most_ug_cm": self.most_ug_cm,
            "direction_deg": self.direction_deg,
            "direction_half_width_deg": self.direction_half_width_deg,
            "node_deg": self.node_deg,
            "node_shown_deg": self.node_shown_deg,
            "chi_squared": self.misfit,
            "degrees_of_freedom": self.freedom,
            "fits": self.fits,
            "shared_rates": [
                {
                    "hours": o.hours,
                    "amplitude_deg": o.amplitude_deg,
                    "rate_s_per_day": o.rate_s_per_day,
                    "half_width_s_per_day": o.half_width_s_per_day,
                }
                for o in self.offsets
            ],
            "readings": self.rows(),
            "work": self.work.to_dict() if self.work else None,
            "work_helps": self.helps if self.told else None,
            "spring_at_220_deg_s_per_day": None
            if self.silent
            else {
                symbol: {
                    "rate_s_per_day": rate,
                    "half_width_s_per_day": half,
                    "half_a_coil_further_s_per_day": self.further_s_per_day.get(symbol),
                }
                for symbol, (rate, half) in self.spring_s_per_day.items()
            },
            "cautions": self.cautions,
        }


@takes_design
def poise(
    movement: Movement,
    readings: Read,
    *,
    amplitude_deg: float | None = None,
    radius_mm: float | None = None,
    drill_mm: float = 0.3,
    density_g_cm3: float = 8.25,
) -> Poise:
    """The heavy point from the vertical rates, apart from what all positions share at each hour.

    ``amplitude_deg``: shown amplitude to be taken where none was read. The work is at ``radius_mm`` (default: the
    balance's radius of gyration) with a drill of ``drill_mm`` in metal of ``density_g_cm3`` (default: a beryllium
    bronze). Raises InputError naming the missing positions where there are fewer than three vertical ones.
    """
    readings = readings_of(readings)
    rows = _verticals(readings, amplitude_deg)
    shown = np.array([row.amplitude_deg for row in rows])
    effect = poise_effect(movement, rows, shown, lift_told(movement, readings), readings.source)
    rate = np.array([row.rate_s_per_day for row in rows])
    times = sorted({(row.hours, row.temperature_c) for row in rows})
    at = np.array([[(row.hours, row.temperature_c) == time for time in times] for row in rows], float)
    spring = any_spring_effect(movement, [row.position for row in rows], effect.amplitude_deg)
    columns = np.column_stack([effect.effect.T, at])
    if np.linalg.matrix_rank(columns * _scales(columns)) < columns.shape[1]:
        raise InputError(
            f"{readings.source}: no hour has enough vertical rates side by side; read three of "
            f"{', '.join(VERTICAL)} at one hour"
        )
    freedom = len(rows) - columns.shape[1]
    columns = np.column_stack([effect.effect.T, spring.columns, at])
    off = alike_off(readings, lift_told(movement, readings), shown)
    found, covariance, sigma = _solve(columns, rate, rows, effect, spring, off)
    residual = rate - columns @ found
    own = slice(2, 2 + len(spring.expected))
    drawn = (found[own] - spring.expected) / spring.spread
    misfit = float(np.sum((residual / sigma) ** 2) + np.sum(drawn**2))
    from scipy import special

    fits = freedom == 0 or bool(special.chdtrc(freedom, misfit) > _MISFIT)
    if not fits:
        covariance = covariance * misfit / freedom
    vector, spread = found[:2], covariance[:2, :2]
    away = float(vector @ np.linalg.inv(spread) @ vector)
    moment = float(np.hypot(*vector))
    along = vector / moment if moment > 0.0 else np.array([1.0, 0.0])
    across = np.array([-along[1], along[0]])
    half = NORMAL_90 * math.sqrt(along @ spread @ along)
    turned = math.degrees(math.atan2(NORMAL_90 * math.sqrt(across @ spread @ across), moment))
    near = _near_node(rows, effect, off)
    told = away > ELLIPSE_90 and not near
    after = rate - columns[:, :2] @ vector
    unsure = NORMAL_90 * np.sqrt(np.einsum("ni,ij,nj->n", columns[:, :2], spread, columns[:, :2]))
    nan = math.nan
    node_shown = effect.node_deg * float(np.mean(effect.shown_over_true))
    close = bool((np.abs(effect.amplitude_deg - effect.node_deg) < _CLOSE_DEG).all())
    loose = half / moment if told and close and half > _LOOSE * moment else 0.0
    work = work_of(movement, moment, half, radius_mm, drill_mm, density_g_cm3)
    return Poise(
        movement=movement,
        readings=readings,
        vector_ug_cm=vector,
        covariance=spread,
        told=told,
        moment_ug_cm=moment if told else nan,
        low_ug_cm=max(moment - half, 0.0) if told else nan,
        high_ug_cm=moment + half if told else nan,
        most_ug_cm=moment + half if not near else nan,
        direction_deg=math.degrees(math.atan2(vector[1], vector[0])) % 360.0 if told else nan,
        direction_half_width_deg=turned if told else nan,
        node_deg=effect.node_deg,
        node_shown_deg=node_shown,
        offsets=tuple(_offsets(times, at, effect, found, covariance)),
        verticals=tuple(
            Vertical(
                row.position,
                row.hours,
                row.amplitude_deg,
                float(effect.amplitude_deg[n]),
                row.rate_s_per_day,
                float(sigma[n]),
                float(columns[n] @ found),
                float(after[n]),
                float(unsure[n]),
            )
            for n, row in enumerate(rows)
        ),
        misfit=misfit,
        freedom=freedom,
        fits=fits,
        work=work if told else None,
        cautions=tuple(_cautions(told, near, fits, freedom, node_shown, loose)),
        spring_s_per_day=_remaining(movement, found[own], covariance[own, own]),
        further_s_per_day=_further(movement, found[own]),
    )


def _remaining(movement: Movement, found: Array, covariance: Array) -> dict[str, tuple[float, float]]:
    """What the hairspring's weight does in each vertical position at 220°, s/day, and half its 90 % interval."""
    at = any_spring_effect(movement, VERTICAL, np.full(len(VERTICAL), _SILENT)).columns
    half = NORMAL_90 * np.sqrt(np.einsum("ni,ij,nj->n", at, covariance, at))
    return {symbol: (float(at[n] @ found), float(half[n])) for n, symbol in enumerate(VERTICAL)}


def _further(movement: Movement, found: Array) -> dict[str, float]:
    """The same where the spring is pinned half a coil further at the collet; empty where it cannot be."""
    rates = half_a_coil_further(movement, VERTICAL, np.full(len(VERTICAL), _SILENT), found)
    return {} if rates is None else dict(zip(VERTICAL, map(float, rates), strict=True))


def _verticals(readings: Readings, amplitude_deg: float | None) -> list[Reading]:
    """The vertical rows with a rate, each with an amplitude; raises InputError naming what is missing."""
    if amplitude_deg is not None:
        READ["amplitude_deg"].check("amplitude_deg", amplitude_deg)
    rows = []
    for row in readings.rows:
        if row.position not in VERTICAL or not math.isfinite(row.rate_s_per_day):
            continue
        if not math.isfinite(row.amplitude_deg):
            if amplitude_deg is None:
                raise InputError(
                    f"{readings.source}: {row.position} at {row.hours:g} h: no amplitude was read, and the heavy "
                    "point's effect depends on it; read it, or give one for all"
                )
            row = replace(row, amplitude_deg=float(amplitude_deg))
        rows.append(row)
    there = {row.position for row in rows}
    if len(there) < _FEWEST:
        missing = [symbol for symbol in VERTICAL if symbol not in there]
        raise InputError(
            f"{readings.source}: rates in {len(there)} vertical positions, poising needs at least {_FEWEST} at one "
            f"hour; missing are {', '.join(missing)}"
        )
    return rows


def _scales(columns: Array) -> Array:
    return np.asarray(1.0 / np.maximum(np.abs(columns).max(axis=0), 1e-300))


def _solve(
    columns: Array, rate: Array, rows: Sequence[Reading], effect: Effect, spring: SpringEffect, off: Array
) -> tuple[Array, Array, Array]:
    """Weighted least squares: unknowns, their covariance, and each rate's standard deviation with what the uncertainty
    of its amplitude adds. What is expected of the hairspring's weight counts as so many readings more."""
    own = np.array([row.rate_s_per_day_uncertainty for row in rows])
    swing = np.array([row.amplitude_deg_uncertainty for row in rows])
    found = np.zeros(columns.shape[1])
    count = len(spring.expected)
    known = np.zeros((count, columns.shape[1]))
    known[:, 2 : 2 + count] = np.diag(1.0 / spring.spread)
    sigma, covariance = own, np.eye(columns.shape[1])
    for _ in range(_PASSES):
        sigma = np.hypot(own, swing * (effect.slope.T @ found[:2]))
        weighted = columns / sigma[:, None]
        covariance = np.linalg.inv(weighted.T @ weighted + known.T @ known)
        found = covariance @ (weighted.T @ (rate / sigma) + known.T @ (spring.expected / spring.spread))
    # amplitudes that are all off alike move the answer along one line
    moved = covariance @ (columns.T @ (off * (effect.slope.T @ found[:2]) / sigma**2))
    return found, covariance + np.outer(moved, moved), sigma


def _near_node(rows: Sequence[Reading], effect: Effect, off: Array) -> bool:
    """Whether at every hour the amplitude may lie on either side of the node, so that the sign is unknown."""
    from_node = np.abs(effect.amplitude_deg - effect.node_deg) * effect.shown_over_true
    unsure = NORMAL_90 * np.hypot([row.amplitude_deg_uncertainty for row in rows], off)
    hours = np.array([row.hours for row in rows])
    # an hour with a single vertical rate says nothing about the heavy point
    several = [hour for hour in set(hours) if (hours == hour).sum() > 1]
    return all(bool((from_node < unsure)[hours == hour].any()) for hour in several)


def _offsets(
    times: Sequence[tuple[float, float]], at: Array, effect: Effect, found: Array, covariance: Array
) -> list[Offset]:
    first = len(found) - len(times)
    return [
        Offset(
            hours,
            float(effect.amplitude_deg[at[:, n] > 0.0].mean()),
            float(found[first + n]),
            NORMAL_90 * math.sqrt(covariance[first + n, first + n]),
        )
        for n, (hours, _) in enumerate(times)
    ]


def _cautions(told: bool, near: bool, fits: bool, freedom: int, node_shown: float, loose: float) -> list[str]:
    said = []
    if near:
        said.append(
            f"The amplitude is so near the node, {node_shown:.0f} deg as this instrument shows it, that nothing can be "
            "told: below it a heavy point that hangs low gains, above it the same point loses. Let the mainspring "
            "down to 150 to 180 deg and read again."
        )
    elif not told:
        said.append(
            "The rates do not tell the balance from a poised one: the uncertainty is larger than the effect. Read at "
            "150 to 180 deg, where a heavy point shows most, or read longer."
        )
    if loose:
        said.append(
            f"So near the node, {node_shown:.0f} deg as this instrument shows it, the heavy point is known to "
            f"± {100.0 * loose:.0f} % only, and is hard to tell from the hairspring's weight: read at 150 to 180 deg "
            "before metal is taken away."
        )
    if not fits:
        said.append(
            "A heavy point alone does not explain these rates: opposite positions should lie as far above the mean as "
            "below. Look at the hairspring (its pinning, centring and flatness) and the pivots before touching the rim."
        )
    if freedom == 0:
        said.append(
            "There is no rate to spare, so nothing checks that a heavy point is the cause: read a fourth position."
        )
    return said
