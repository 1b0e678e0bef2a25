"""How likely what was read is in every row of a table: readings, findings, sister movements, one bad value or none.

The covariance is one for all rows, since what is linear in it is taken at the amplitudes that were read.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array
from oscsim.bench.causes import NAMES, PLACES
from oscsim.bench.hypotheses import Moment, Table
from oscsim.slips.readings import Findings, Reading, Readings, Swing
from oscsim.units import DAY, POSITIONS

#: One standard deviation of what all amplitudes have in common, deg; of the hour as told, h (common practice without
#: source).
OFFSET, HOUR = 3.0, 0.7
#: The uncertainty of the lift angle told, widened so that 2 deg, which is common, lies within the 90 % (common practice
#: without source).
_LIFT = 1.25
#: What a position keeps through the hours, deg, with the chance of each: mostly little, sometimes much. Which it is,
#: positions that should show alike tell. On average of the squares 4 deg (common practice without source).
BY_POSITION = ((1.0, 0.5), (4.0, 0.35), (8.0, 0.15))
#: Share of bad values, how far off they are, deg or s/day.
BAD, FAR = 0.05, 40.0
#: Rates: regulation, s/day; isochronism, 1/rad² (where a flat hairspring is pinned moves the rate between 280 and 220
#: deg by up to 14 s/day either way, which is 4.7e-5, and most are pinned better); want of poise as a torque
#: over the hairspring's stiffness; the hairspring's weight between upright positions, s/day (half of the 12 to 15
#: that are called the natural error); what a position has of its own, s/day.
REGULATION, ISOCHRONISM, POISE, SPRING_WEIGHT, RATE_BY_POSITION = 100.0, 2e-5, 0.002, 6.0, 3.0
#: How far a sister lies off, in level and vertical against flat, deg.
SISTER_LEVEL, SISTER_SIDE = 10.0, 4.0
#: Amplitude below which a movement may as well stand, deg, and the chance of a wrong note of either.
STANDS, _WRONG = 110.0, 0.02
#: Chance that worn pivots are seen as such, and that sound ones are.
_SEEN_WORN, _SEEN_SO = 0.8, 0.1
PIVOT_OF = {
    "pivot_sides_worn": "pivot_vertical",
    "pivot_upper_worn": "pivot_flat_upper",
    "pivot_lower_worn": "pivot_flat_lower",
}
#: Steps between two counted swings.
_STEPS = 12


#: A day after full wind, of which every table has rows.
DAY_LATER = Moment(24.0, 0.0, 23.0)


def moments_of(readings: Readings) -> tuple[Moment, ...]:
    """When a table must have its rows: fully wound first, a day later, and whenever something was read."""
    rows = list(readings.rows)
    rows += [row for sister in readings.findings.sisters for row in sister.readings.rows]
    first = Moment(0.0, 0.0, 23.0)
    return (first, *sorted({DAY_LATER, *map(moment_of, rows)} - {first}))


def moment_of(row: Reading) -> Moment:
    return Moment(row.hours, row.turns_let_down, row.temperature_c)


def place_of(position: str) -> int:
    """Which of ``PLACES`` stands for a position."""
    return PLACES.index(position) if position in PLACES else 2


def bessel_1(x: Array) -> Array:
    """J1 by its integral: (1/π)∫ cos(t − x sin t) dt."""
    t = (np.arange(64) + 0.5) * math.pi / 64
    return np.asarray(np.cos(t - np.multiply.outer(x, np.sin(t))).mean(axis=-1))


@dataclass(frozen=True)
class Values:
    """What was read as numbers: read (values,) and what every row of a table would show for it, (rows, values), with
    one covariance, but for what positions keep, which is by_position times the square of its size; names: position,
    what was read, hours of each; told: lift angle that the instrument was told, deg, one for all rows or (rows,)."""

    read: Array
    expected: Array
    covariance: Array
    by_position: Array
    names: tuple[tuple[str, str, float], ...]
    told: Array | float


def values_of(t: Table, readings: Readings, nominal: float | None) -> Values:
    """Amplitudes of the movement and of its sisters, and rates; an instrument is told the lift angle as read, else the
    design's ``nominal`` one, else each movement's own."""

    def told(by: Readings) -> Array | float:
        if by.lift_angle_deg is not None:
            return by.lift_angle_deg
        return t.lift_deg if nominal is None else nominal

    everyone = (readings, *(sister.readings for sister in readings.findings.sisters))
    swung = [
        (who, row) for who, one in enumerate(everyone) for row in one.rows if math.isfinite(row.amplitude_deg)
    ]
    who, rows = np.array([n for n, _ in swung]), [row for _, row in swung]
    timed = [row for row in readings.rows if math.isfinite(row.rate_s_per_day)]
    well = t.shown[t.healthy]
    shown = [at_rows(well if n else t.shown, t, [row])[:, 0] * told(everyone[n]) for n, row in swung]
    expected = np.column_stack([*shown, at_rows(t.rate, t, timed)])
    read = np.array([*(row.amplitude_deg for row in rows), *(row.rate_s_per_day for row in timed)])
    noise = [row.amplitude_deg_uncertainty for row in rows]
    noise += [row.rate_s_per_day_uncertainty for row in timed]
    cov = np.diag(np.square(noise))
    swings, rate = slice(0, len(rows)), slice(len(rows), len(read))
    # amplitudes read on one occasion, the movement's or its sisters', share an offset and what a position keeps; those
    # of one hour share that it is only about the hour told
    together = same((who == 0).tolist())
    place = np.zeros_like(cov)
    place[swings, swings] = together * same([row.position for row in rows])
    later = np.array([float(row.hours > 0.0) for row in rows])
    fall = t.before(t.swing[:, 0, 0] - t.swing[:, 0, t.moments.index(DAY_LATER)]) / 24.0
    hours = same([row.hours for row in rows]) * np.outer(later, later) * (fall * HOUR) ** 2
    cov[swings, swings] += together * (OFFSET**2 + hours)
    # a sister is another example; the lift angle is told to all
    upright = np.array([float(place_of(row.position) == 2) for row in rows])
    sister = same(who.tolist()) * (who > 0)
    cov[swings, swings] += sister * (SISTER_LEVEL**2 + SISTER_SIDE**2 * np.outer(upright, upright))
    lift = readings.lift_angle_uncertainty_deg / float(np.mean(told(readings)))
    cov[swings, swings] += np.outer(read[swings], read[swings]) * lift**2
    # rates share regulation, isochronism and want of poise; the hairspring's weight acts as a heavy point does, but
    # about as much at any swing
    cov[rate, rate] += RATE_BY_POSITION**2 * same([row.position for row in timed])
    linear = rate_columns(t, timed) * np.array([REGULATION, ISOCHRONISM, POISE, POISE])
    weight = SPRING_WEIGHT * _upright(timed)
    cov[rate, rate] += linear @ linear.T + weight @ weight.T
    names = [(row.position, "sister" if n else "amplitude_deg", row.hours) for n, row in swung]
    names += [(row.position, "rate_s_per_day", row.hours) for row in timed]
    return Values(read, expected, cov, place, tuple(names), told(readings))


def at_rows(array: Array, t: Table, rows: Sequence[Reading]) -> Array:
    """(rows of the table, rows read) of an array (rows, places, moments)."""
    place = np.array([place_of(r.position) for r in rows], int)
    moment = np.array([t.moments.index(moment_of(r)) for r in rows], int)
    return np.asarray(array[:, place, moment])


def same(what: Sequence[object]) -> Array:
    return np.array([[float(a == b) for b in what] for a in what]).reshape(len(what), len(what))


def rate_columns(t: Table, rows: Sequence[Reading], off_deg: float = 0.0) -> Array:
    """What one unit of regulation, isochronism and want of poise towards 12 and 3 does to rates, (rows read, 4), at
    amplitudes ``off_deg`` larger than read."""
    swing = np.radians([swing_of(t, row) + off_deg for row in rows])
    # a heavy point that is up loses below the node and gains above it: −γ J1(A)/A, of γ = its torque over the stiffness
    poise = -DAY * bessel_1(swing) / swing
    return np.column_stack(
        [np.ones(len(rows)), DAY * 0.375 * swing**2, poise[:, None] * _upright(rows)]
    ).reshape(len(rows), 4)


def _upright(rows: Sequence[Reading]) -> Array:
    """Share of a weight towards 12 and towards 3 that points up, (rows read, 2); none dial up and down."""
    up = [
        (0.0, 0.0) if math.isnan(p.hour_up) else (math.cos(p.hour_up), math.sin(p.hour_up))
        for p in (POSITIONS[row.position] for row in rows)
    ]
    return np.array(up).reshape(len(rows), 2)


def alike_off(readings: Readings, told: float, shown: Array) -> Array:
    """One standard deviation of what all amplitudes are off alike, deg: an offset, and the lift angle as told."""
    return np.asarray(np.hypot(OFFSET, _LIFT * readings.lift_angle_uncertainty_deg / told * shown))


def swing_of(t: Table, row: Reading) -> float:
    """Amplitude at which a rate was read, deg: as read, else as such movements have it."""
    if math.isfinite(row.amplitude_deg):
        return row.amplitude_deg
    return t.before(at_rows(t.swing, t, [row])[:, 0])


@dataclass(frozen=True)
class Likelihood:
    """log (rows,): of all values in every row; each (sizes of what positions keep, rows, 1 + values): its parts, where
    no value is bad and where that one is; chi2, the same shape: of the values that are not bad."""

    log: Array
    each: Array
    chi2: Array

    def doubts(self, weight: Array, freedom: int) -> tuple[Array, float]:
        """Chance that no value is bad, or that one, (1 + values,), and that movements like these show ``freedom``
        values that are as far off; by the weights of rows (rows,)."""
        kept = weight > 1e-3 * weight.max()
        share = (
            np.exp(self.each[:, kept] - self.log[kept, None]) * (weight[kept] / weight[kept].sum())[:, None]
        )
        none, one = self.chi2[:, kept, :1], self.chi2[:, kept, 1:]
        odd = np.concatenate([more_than(none, freedom), more_than(one, freedom - 1)], axis=2)
        return np.asarray(share.sum(axis=(0, 1))), float((share * odd).sum())


def more_than(chi2: Array, freedom: int) -> Array:
    """Chance of a larger chi-squared: its finite series (Abramowitz and Stegun, 26.4.4 and 26.4.5), the error function
    by their 7.1.26 to 1.5e-7."""
    x = 0.5 * np.maximum(chi2, 0.0)
    fall = np.exp(-x)
    if max(freedom, 1) % 2:
        root = np.sqrt(x)
        t = 1.0 / (1.0 + 0.3275911 * root)
        series = (0.254829592, -0.284496736, 1.421413741, -1.453152027, 1.061405429)
        total = fall * t * np.polyval(series[::-1], t)
        term, first = fall * root * 2.0 / math.sqrt(math.pi), 1.5
    else:
        total, term, first = fall, fall * x, 2.0
    for a in np.arange(first, 0.5 * freedom + 1.0):
        total, term = total + term, term * x / a
    return np.asarray(total)


def likelihood(values: Values) -> Likelihood:
    """How likely the values are in every row, with one bad value or none."""
    y = values.read - values.expected
    y = np.where(np.isfinite(y), y, 1e3)
    each, chi2 = [], []
    for size, chance in BY_POSITION:
        covariance = values.covariance + size**2 * values.by_position
        inverse = np.linalg.inv(covariance)
        q, d = y @ inverse, np.diag(inverse)
        whole = np.einsum("ij,ij->i", y, q)[:, None]
        none = math.log(chance) - 0.5 * float(np.linalg.slogdet(covariance)[1]) - 0.5 * whole
        # without one value chi-squared is less by off; a bad one is as wide as FAR more
        off, far = q**2 / d, FAR**2 * d / (1.0 + FAR**2 * d)
        bad = math.log(BAD / (1.0 - BAD)) + 0.5 * np.log1p(-far) + 0.5 * far * off
        each.append(np.concatenate([none, none + bad], axis=1))
        chi2.append(np.concatenate([whole, whole - off], axis=1))
    parts = np.array(each)
    top = parts.max(axis=(0, 2))
    return Likelihood(top + np.log(np.exp(parts - top[:, None]).sum(axis=(0, 2))), parts, np.array(chi2))


def log_findings(t: Table, readings: Readings, sound: dict[str, Array]) -> Array:
    """Log likelihood (rows,) of what was looked at, of a balance swinging alone, and of a movement that stood.

    ``sound``: numbers of the sound movements by dotted name, (movements,).
    """
    found: Findings = readings.findings
    total = np.zeros(len(t.healthy))
    seen = {**t.looks, "usual_amplitude_deg": t.swing[t.healthy, 0, 0]}
    for key, name in (("balance_mass_mg", "balance.mass_mg"), ("inertia_mg_cm2", "balance.inertia_mg_cm2")):
        if name in sound:
            seen[key] = sound[name][t.healthy]
    for name, look in found.looked.items():
        if name in seen:
            total += _log_seen((seen[name] - look.value) / look.uncertainty)
    for weights in found.rim_weights:
        if "inertia_mg_cm2" in seen:
            # two masses add 2 m r² to the inertia, and half of its share to the period
            more = 2.0 * weights.mass_mg * (weights.radius_mm / 10.0) ** 2 / seen["inertia_mg_cm2"]
            total += _log_seen(
                (0.5 * DAY * more - abs(weights.rate_change_s_per_day)) / weights.uncertainty_s_per_day
            )
    for name, worn in found.worn.items():
        chance = np.where(t.size[:, NAMES.index(PIVOT_OF[name])] > 0.0, _SEEN_WORN, _SEEN_SO)
        total += np.log(chance if worn else 1.0 - chance)
    for alone in found.swings:
        total += _log_swing(t, alone)
    for row in readings.rows:
        if row.stops:
            swing = at_rows(t.swing, t, [row])[:, 0]
            total += np.where(swing < STANDS, 0.0, math.log(_WRONG))
    return total


def _log_swing(t: Table, swing: Swing) -> Array:
    """Log likelihood of a balance swinging out by itself: a period takes πA/Q, 8cA²/3 and four times the dry
    friction."""
    place = place_of(swing.position)
    a = np.full(len(t.healthy), math.radians(swing.amplitude_deg[0]))
    total = np.zeros(len(a))
    sd = math.sqrt(2.0) * swing.amplitude_deg_uncertainty
    done = swing.periods[0]
    for until, read in zip(swing.periods[1:], swing.amplitude_deg[1:], strict=True):
        step = (until - done) / _STEPS
        for _ in range(_STEPS):
            middle = a - 0.5 * step * _fall(t, a, place)
            a = np.maximum(a - step * _fall(t, middle, place), 0.0)
        total += _log_seen((np.degrees(a) - read) / sd)
        done = until
    return total


def _fall(t: Table, a: Array, place: int) -> Array:
    return np.asarray(math.pi * t.viscous * a + 8.0 / 3.0 * t.quadratic * a**2 + 4.0 * t.dry[:, place])


def _log_seen(z: Array) -> Array:
    """Log density of what was seen, with tails: one look in fifty is wrong."""
    return np.asarray(np.logaddexp(math.log(0.98) - 0.5 * z**2, math.log(0.02) - 0.5 * (z / 5.0) ** 2))
