"""What repeats itself in a series at known periods: least squares, term by term, in noise that remembers.

A generalised Lomb-Scargle fit (M. Zechmeister and M. Kürster, A&A 496, 2009, 577) at periods that are known beforehand,
with a slow trend beside, and forward selection: the period that explains most is taken, then the next beside it.
The noise's correlation from one reading to the next makes the uncertainties of slow periods larger and of fast ones
smaller. Knows no watch: times s, values in any unit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from oscsim.arrays import Array

#: Times the spacing that a period must last, and of its own length that the record must hold.
SAMPLES, TURNS = 2.2, 1.3
#: Chance of a false alarm up to which a known period is taken, and its second harmonic, and one that nobody named.
KNOWN, SECOND, UNNAMED = 0.01, 1e-3, 1e-3
#: By so much must the sum of squares, over the noise's, fall further with a handicapped period to go before another.
HANDICAP = 2.0 * math.log(20.0)
_MOST = 12
#: A trend's order up to three hours, and beyond.
_ORDERS, _LONG = (2, 3), 3.0 * 3600.0
#: Periods whose harmonics or mirror images in the sampling lie so near, in 1/duration, may stand for a free one.
_NEAR, _HARMONICS = 1.0, 6


@dataclass
class Term:
    """One period: cosine and sine parts of its fundamental, half of peak to peak, their standard uncertainty, the
    chance that noise alone makes as much, and whether its second harmonic was needed."""

    period: float
    parts: tuple[float, float] = (0.0, 0.0)
    swing: float = 0.0
    sigma: float = 0.0
    chance: float = 1.0
    second: bool = False


@dataclass
class Periodic:
    """What was found: terms taken and terms that were not by index of the candidates, terms at periods that nobody
    named, noise (standard deviation), its lag-1 correlation, the trend at every reading, its slope per s, the whole
    fit, the spectrum of what the trend leaves, times from the middle, and what would explain a term nearly as well."""

    taken: dict[int, Term]
    rest: dict[int, Term]
    unnamed: list[Term]
    noise: float
    memory: float
    trend: Array
    slope: float
    model: Array
    scan: tuple[Array, Array]
    time: Array
    near: dict[int, list[int]] = field(default_factory=dict)


class _Basis:
    """Orthonormal columns, and what they leave of the values."""

    def __init__(self, values: Array) -> None:
        self.columns = np.zeros((len(values), 0))
        self.left = values.copy()

    def rest(self, columns: Array) -> Array:
        """Orthonormal columns of what is new in ``columns``."""
        for _ in range(2):
            columns = columns - self.columns @ (self.columns.T @ columns)
        q, r = np.linalg.qr(columns)
        return np.asarray(q[:, np.abs(np.diag(r)) > 1e-6 * math.sqrt(len(columns))])

    def gain(self, columns: Array) -> float:
        """By how much the sum of squares falls with these columns."""
        return float(np.sum((self.rest(columns).T @ self.left) ** 2))

    def take(self, columns: Array) -> None:
        new = self.rest(columns)
        self.columns = np.hstack([self.columns, new])
        self.left = self.left - new @ (new.T @ self.left)


def waves(time: Array, period: float, harmonic: int = 1) -> Array:
    """Cosine and sine, (readings, 2)."""
    phase = 2.0 * math.pi * harmonic * time / period
    return np.stack([np.cos(phase), np.sin(phase)], axis=-1)


def spacing(time: Array) -> float:
    """The usual time from one reading to the next."""
    return float(np.median(np.diff(time)))


def periodic(
    time: Array,
    values: Array,
    periods: Sequence[float],
    handicapped: Sequence[bool],
    usual: Sequence[float] | None = None,
) -> Periodic:
    """Fit the ``periods`` that show, one by one, and then what no period explains. Arrays (readings,).

    usual: standard deviation of the cosine's and of the sine's part that each period has anyway, seen or not (0: none).
    What is not taken counts so much in the last fit, so that a period is no surer than its neighbours let it be.
    """
    step, whole = spacing(time), float(time[-1] - time[0])
    middle = time - time.mean()
    powers = np.arange(_ORDERS[whole > _LONG] + 1)
    trend = (2.0 * middle[:, None] / whole) ** powers
    basis = _Basis(values)
    basis.take(trend)
    taken, second, unnamed = list[int](), set[int](), list[float]()
    columns = [waves(middle, period) for period in periods]
    near = dict[int, list[int]]()
    while len(taken) < _MOST:
        memory = _memory(time, basis.left, step)
        gains = {i: basis.gain(columns[i]) for i in range(len(periods)) if i not in taken}
        if not gains:
            break
        scores = {i: (gain / _level(basis, memory, periods[i], step, gain), i) for i, gain in gains.items()}
        best = max(scores, key=lambda i: scores[i][0] - HANDICAP * handicapped[i])
        limit = KNOWN if not handicapped[best] else 0.1 * KNOWN
        if _chance(scores[best][0], basis) > limit:
            break
        near[best] = [i for i in scores if i != best and scores[i][0] > scores[best][0] - HANDICAP]
        taken.append(best)
        basis.take(columns[best])
        if periods[best] / 2.0 > SAMPLES * step:
            double = waves(middle, periods[best], 2)
            gain = basis.gain(double)
            if _chance(gain / _level(basis, memory, periods[best] / 2.0, step, gain), basis) < SECOND:
                second.add(best)
                basis.take(double)
    while len(unnamed) < 3:
        stands_out = _free(time, middle, basis, step, whole, [*periods, *unnamed])
        if stands_out is None:
            break
        unnamed.append(stands_out)
        basis.take(waves(middle, stands_out))
    parts = [trend, *(columns[i] for i in taken), *(waves(middle, p) for p in unnamed)]
    parts += [waves(middle, periods[i], 2) for i in second]
    everything = np.hstack(parts)
    fitted, *_ = np.linalg.lstsq(everything, values, rcond=None)
    left = values - everything @ fitted
    free = max(len(time) - everything.shape[1], 1)
    noise, memory = math.sqrt(float(left @ left) / free), _memory(time, left, step)
    at = trend.shape[1]
    # beside what was taken, what is there anyway, held by how much of it is usual
    hidden = [i for i in range(len(periods)) if usual is not None and usual[i] > 0.0 and i not in taken]
    held = [0.0] * everything.shape[1]
    for i in hidden:
        assert usual is not None
        held += [noise * math.sqrt(_colour(memory, periods[i], step)) / usual[i]] * 2
    whole_fit = np.hstack([everything, *(columns[i] for i in hidden)])
    spread = np.linalg.inv(whole_fit.T @ whole_fit + np.diag(np.square(held)))
    fitted = (spread @ (whole_fit.T @ values))[: everything.shape[1]]

    def term(period: float, start: int, chance: float, doubled: bool) -> Term:
        a, b = fitted[start], fitted[start + 1]
        level = noise * math.sqrt(_colour(memory, period, step))
        sigma = level * math.sqrt(0.5 * (spread[start, start] + spread[start + 1, start + 1]))
        return Term(period, (float(a), float(b)), math.hypot(a, b), sigma, chance, doubled)

    found, free_terms = dict[int, Term](), list[Term]()
    for n, (period, index) in enumerate([*((periods[i], i) for i in taken), *((p, -1) for p in unnamed)]):
        start = at + 2 * n
        # by Wald's test, which is the fall of the sum of squares beside all the others
        own = spread[start : start + 2, start : start + 2]
        gain = float(fitted[start : start + 2] @ np.linalg.solve(own, fitted[start : start + 2]))
        level = float(left @ left) / free * _colour(memory, period, step)
        chance = _chance(gain / level, basis)
        one = term(period, start, chance, index in second)
        if index < 0:
            free_terms.append(one)
        else:
            found[index] = one
    rest = dict[int, Term]()
    for i in set(range(len(periods))) - set(taken):
        new = basis.rest(columns[i])
        gain = float(np.sum((new.T @ basis.left) ** 2))
        more = np.hstack([everything, columns[i]])
        beside = np.linalg.pinv(more.T @ more)
        a, b = (beside @ (more.T @ values))[-2:]
        level = noise * math.sqrt(_colour(memory, periods[i], step))
        sigma = level * math.sqrt(0.5 * (beside[-1, -1] + beside[-2, -2]))
        chance = _chance(gain / _level(basis, memory, periods[i], step, gain), basis)
        rest[i] = Term(periods[i], (float(a), float(b)), math.hypot(a, b), sigma, chance)
    slope = float(fitted[1]) * 2.0 / whole
    return Periodic(
        found, rest, free_terms, noise, memory, trend @ fitted[:at], slope, everything @ fitted,
        spectrum(time, values - trend @ fitted[:at], step, whole), middle, near,
    )  # fmt: skip


def _memory(time: Array, left: Array, step: float) -> float:
    """Correlation of what is left from one reading to the next, between 0 and 0.95."""
    next_to = np.diff(time) < 1.5 * step
    a, b = left[:-1][next_to], left[1:][next_to]
    if len(a) < 10 or not float(left @ left) > 0.0:
        return 0.0
    return float(np.clip(np.mean(a * b) / np.mean(left * left), 0.0, 0.95))


def _colour(memory: float, period: float, step: float) -> float:
    """Power of noise with a lag-1 correlation at a period, over its mean power."""
    return (1.0 - memory**2) / (1.0 - 2.0 * memory * math.cos(2.0 * math.pi * step / period) + memory**2)


def _level(basis: _Basis, memory: float, period: float, step: float, gain: float) -> float:
    """Variance of the noise at a period, once the columns that gain so much are taken."""
    free = max(len(basis.left) - basis.columns.shape[1] - 2, 1)
    left = max(float(basis.left @ basis.left) - gain, 1e-12)
    return left / free * _colour(memory, period, step)


def _chance(score: float, basis: _Basis) -> float:
    """Chance that noise alone lowers the sum of squares by ``score`` variances with a sine and a cosine: F with two
    degrees above."""
    free = max(len(basis.left) - basis.columns.shape[1] - 2, 1)
    return float(np.exp(-0.5 * free * np.log1p(score / free)))


def spectrum(time: Array, left: Array, step: float, whole: float) -> tuple[Array, Array]:
    """Frequencies 1/s and the half of peak to peak of a sine at each, from readings put on an even grid."""
    count = round(whole / step) + 1
    grid, hits = np.zeros(count), np.zeros(count)
    place = np.clip(np.rint((time - time[0]) / step).astype(int), 0, count - 1)
    np.add.at(grid, place, left)
    np.add.at(hits, place, 1.0)
    grid /= np.maximum(hits, 1.0)
    padded = 1 << math.ceil(math.log2(4 * count))
    size = np.abs(np.fft.rfft(grid, padded)) * 2.0 / max(float((hits > 0.0).sum()), 1.0)
    return np.asarray(np.fft.rfftfreq(padded, step)), np.asarray(size)


def _free(
    time: Array, middle: Array, basis: _Basis, step: float, whole: float, known: Sequence[float]
) -> float | None:
    """The period that stands out of what is left and that nothing known explains; None where there is none."""
    frequency, size = spectrum(time, basis.left, step, whole)
    usable = (frequency > TURNS / whole) & (frequency < 1.0 / (SAMPLES * step))
    for period in known:
        for harmonic in range(1, _HARMONICS + 1):
            image = harmonic / period
            folded = abs(image - round(image * step) / step)
            usable &= np.abs(frequency - image) > _NEAR / whole
            usable &= np.abs(frequency - folded) > _NEAR / whole
    if not usable.any():
        return None
    memory = _memory(time, basis.left, step)
    phase = 2.0 * np.pi * frequency * step
    colour = (1.0 - memory**2) / (1.0 - 2.0 * memory * np.cos(phase) + memory**2)
    best = int(np.argmax(np.where(usable, size**2 / colour, 0.0)))
    around = np.linspace(frequency[best - 1], frequency[best + 1], 21)
    gains = [basis.gain(waves(middle, 1.0 / f)) for f in around]
    period, gain = 1.0 / float(around[int(np.argmax(gains))]), max(gains)
    independent = max(whole / (2.0 * step), 1.0)
    one = _chance(gain / _level(basis, memory, period, step, gain), basis)
    return period if -math.expm1(independent * math.log1p(-min(one, 0.5))) < UNNAMED else None
