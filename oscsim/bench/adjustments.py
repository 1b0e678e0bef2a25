"""What moves rate and beat and takes no amplitude: poise, beat, regulation, isochronism and the hairspring's weight.

Each is ordinary or not. Rates less what the weighed rows say of them are linear in regulation, isochronism, the heavy
point and the hairspring's weight, which goes another way with the swing than want of poise, so every combination of
ordinary and not is summed in closed form.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import product

import numpy as np

from oscsim.arrays import Array, Flags
from oscsim.bench.causes import NAMES
from oscsim.bench.likelihood import (
    FAR,
    RATE_BY_POSITION,
    alike_off,
    at_rows,
    bessel_1,
    more_than,
    rate_columns,
    same,
    swing_of,
)
from oscsim.bench.spring_effect import spring_effect
from oscsim.bench.weighing import Weighed, quantiles
from oscsim.parts.balance import stiffness
from oscsim.slips.readings import Readings
from oscsim.units import DAY, G0, UG_CM


@dataclass(frozen=True, kw_only=True)
class Adjustment:
    """What moves rate or beat and takes no amplitude; unit: of its size as told; widths: one standard deviation in
    ordinary sound movements and in others (common practice without source), in that unit, but for want of poise, each
    way, as its torque over the hairspring's stiffness; the hairspring's weight each way, beside what is drawn."""

    name: str
    short: str
    do: str
    unit: str
    widths: tuple[float, float]


ADJUSTMENTS = (
    Adjustment(
        name="unbalance", short="want of poise", do="poise the balance (oscsim poise)", unit="µg·cm",
        widths=(5e-4, 3e-3)
    ),
    Adjustment(name="out_of_beat", short="out of beat", do="set it in beat", unit="ms", widths=(0.3, 2.0)),
    Adjustment(name="regulation", short="regulation", do="regulate it", unit="s/day", widths=(10.0, 100.0)),
    Adjustment(
        name="isochronism", short="the hairspring's isochronism",
        do="look at the hairspring, its pinning and its index pins", unit="1/rad²", widths=(5e-6, 3e-5),
    ),
    Adjustment(
        name="hairspring", short="the hairspring's weight", unit="s/day at 225 deg", widths=(3.0, 9.0),
        do="look where it is pinned and how it lies: pinned half a coil further the fast position turns slow, and the "
        "difference stays (oscsim hairspring, oscsim poise)",
    ),
)  # fmt: skip
WIDTHS = {one.name: one.widths for one in ADJUSTMENTS}
#: What may be said to be done.
DONE = (*NAMES, *WIDTHS)
#: Share of movements in which each is not ordinary.
SELDOM = 0.15
#: Draws of what rates say; standard deviations at which a rate is set aside.
_DRAWS, _OUT = 400, 3.5
_NAMES = ("regulation", "isochronism", "unbalance", "hairspring")
#: Which of ``_NAMES`` each column belongs to: want of poise and the hairspring's weight have two, towards 12 and 3.
_OF = (0, 1, 2, 2, 3, 3)
_POISE, _SPRING = slice(2, 4), slice(4, 6)


@dataclass(frozen=True, kw_only=True)
class Adjusted:
    """chance by name (None where nothing was read of it); size by name: 5, 50, 95 % if it is there; direction_deg of
    the heavy point, ± half its 90 % interval; heavy (2,): want of poise towards 12 and 3, its torque over the
    stiffness. Of each rate read, (rates,): expected and sound without any of it, now and in sound condition; moved:
    what all of it makes; alike: what regulation and isochronism make; sd; doubted. misfit_p: chance that rates
    are as odd as these."""

    chance: dict[str, float | None]
    size: dict[str, tuple[float, float, float] | None]
    direction_deg: float | None = None
    direction_half_width_deg: float | None = None
    heavy: Array | None = None
    expected: Array = field(default_factory=lambda: np.zeros(0))
    sound: Array = field(default_factory=lambda: np.zeros(0))
    moved: Array = field(default_factory=lambda: np.zeros(0))
    alike: Array = field(default_factory=lambda: np.zeros(0))
    sd: Array = field(default_factory=lambda: np.zeros(0))
    doubted: Flags = field(default_factory=lambda: np.zeros(0, bool))
    misfit_p: float = 1.0

    @property
    def torque(self) -> float:
        """Want of poise, its torque over the stiffness."""
        return 0.0 if self.heavy is None else float(np.hypot(*self.heavy))


def adjusted(w: Weighed, readings: Readings) -> Adjusted:
    """What rates and beat errors say of the adjustments."""
    t = w.table
    rows = [row for row in readings.rows if math.isfinite(row.rate_s_per_day)]
    chance: dict[str, float | None] = dict.fromkeys(WIDTHS)
    size: dict[str, tuple[float, float, float] | None] = dict.fromkeys(WIDTHS)
    beats = np.array(
        [
            [r.beat_error_ms, r.beat_error_ms_uncertainty]
            for r in readings.rows
            if math.isfinite(r.beat_error_ms)
        ]
    )
    if len(beats):
        chance["out_of_beat"], size["out_of_beat"] = _beat(beats)
    if not rows:
        return Adjusted(chance=chance, size=size)
    share = w.weight / w.weight.sum()
    expected = _filled(at_rows(t.rate, t, rows), share)
    middle = share @ expected
    noise = np.array([row.rate_s_per_day_uncertainty for row in rows])
    off = expected - middle
    own = (
        np.diag(noise**2)
        + RATE_BY_POSITION**2 * same([r.position for r in rows])
        + (off * share[:, None]).T @ off
    )
    swing = np.array([swing_of(t, row) for row in rows])
    spring = spring_effect(w.sound.first, [row.position for row in rows], swing)
    drawn = spring.columns @ spring.expected
    middle = middle + drawn
    columns = np.column_stack([rate_columns(t, rows), spring.columns])
    read = np.array([row.rate_s_per_day for row in rows]) - middle
    doubted = np.zeros(len(rows), bool)
    while True:  # one far out at a time is set aside
        found = _summed(read, own, columns)
        across = np.diag(own) + np.einsum("ij,jk,ik->i", columns, found.spread, columns)
        out = np.abs(read - columns @ found.mean) / np.sqrt(across)
        if out.max() < _OUT or doubted.sum() >= len(rows) // 4:
            break
        doubted[out.argmax()] = True
        own[out.argmax(), out.argmax()] += FAR**2
    most = np.array([WIDTHS[_NAMES[k]][1] for k in _OF])
    whole = own + (columns * most**2) @ columns.T
    off_alike = alike_off(readings, float(np.mean(w.values.told)), swing)
    slope = (rate_columns(t, rows, 1.0) - rate_columns(t, rows, -1.0))[:, _POISE] / 2.0 @ found.mean[_POISE]
    draws = _also_off_alike(found, columns, own, off_alike * slope)
    for k, name in enumerate(_NAMES):
        values = draws[:, k]
        if name == "unbalance":
            values = np.hypot(*draws[:, _POISE].T) * _stiffness(w) / G0 / UG_CM
        elif name == "hairspring":
            values = np.hypot(*draws[:, _SPRING].T)
        which = found.bad[:, k]
        chance[name] = float(which.mean())
        which = which if which.any() else np.ones(len(values), bool)
        size[name] = quantiles(values[which], np.ones(which.sum()))
    upright = len({row.position for row in rows} - {"CH", "FH"})
    direction, half = _direction(draws[:, _POISE], found.mean[_POISE]) if upright > 1 else (None, None)
    if upright < 2:
        for name in ("unbalance", "hairspring"):
            chance[name] = size[name] = None
    return Adjusted(
        chance=chance, size=size, direction_deg=direction, direction_half_width_deg=half,
        heavy=found.mean[_POISE], expected=middle,
        sound=share @ _filled(at_rows(t.rate[t.healthy], t, rows), share) + drawn, moved=columns @ found.mean,
        alike=columns[:, :2] @ found.mean[:2], sd=np.sqrt(np.diag(own)), doubted=doubted,
        misfit_p=float(more_than(read @ np.linalg.solve(whole, read), len(rows))),
    )  # fmt: skip


def _filled(rates: Array, share: Array) -> Array:
    """Where a row has no rate, the mean of those that have."""
    there = np.isfinite(rates)
    mean = (np.where(there, rates, 0.0) * share[:, None]).sum(axis=0) / np.maximum(
        (there * share[:, None]).sum(axis=0), 1e-300
    )
    return np.where(there, rates, mean)


@dataclass(frozen=True)
class _Summed:
    mean: Array
    spread: Array
    draws: Array
    bad: Array


def _summed(read: Array, own: Array, columns: Array) -> _Summed:
    """Posterior of what the columns are of, over all combinations of ordinary or not."""
    parts = []
    precise = np.linalg.inv(own)
    normal = columns.T @ precise @ columns
    for combination in product((0, 1), repeat=len(_NAMES)):
        sd = np.array([WIDTHS[_NAMES[k]][combination[k]] for k in _OF])
        spread = np.linalg.inv(normal + np.diag(1.0 / sd**2))
        mean = spread @ columns.T @ precise @ read
        cov = own + (columns * sd**2) @ columns.T
        evidence = -0.5 * float(read @ np.linalg.solve(cov, read)) - 0.5 * float(np.linalg.slogdet(cov)[1])
        number = sum(combination)
        parts.append(
            (
                evidence + number * math.log(SELDOM) + (len(_NAMES) - number) * math.log(1.0 - SELDOM),
                mean,
                spread,
                combination,
            )
        )
    score = np.array([p[0] for p in parts])
    share = np.exp(score - score.max())
    share /= share.sum()
    rng = np.random.default_rng(0)
    which = np.searchsorted(np.cumsum(share), (np.arange(_DRAWS) + 0.5) / _DRAWS).clip(0, len(parts) - 1)
    z = rng.standard_normal((_DRAWS, len(_OF)))
    roots = [np.linalg.cholesky(p[2]) for p in parts]
    draws = np.array([parts[k][1] + roots[k] @ z[i] for i, k in enumerate(which)])
    bad = np.array([parts[k][3] for k in which], bool)
    mean = draws.mean(axis=0)
    return _Summed(mean, np.cov(draws.T), draws, bad)


def _also_off_alike(found: _Summed, columns: Array, own: Array, rates: Array) -> Array:
    """The draws where all amplitudes may be off alike, which moves the answer along one line, as in ``poise``; rates
    (rows,): what one standard deviation of that does to them."""
    moved = found.spread @ columns.T @ np.linalg.solve(own, rates)
    return found.draws + np.outer(np.random.default_rng(1).standard_normal(_DRAWS), moved)


def _direction(draws: Array, mean: Array) -> tuple[float, float]:
    """Where the heavy point rests, deg clockwise from 12, ± half of its 90 % interval."""
    middle = math.atan2(mean[1], mean[0])
    off = (np.arctan2(draws[:, 1], draws[:, 0]) - middle + math.pi) % (2.0 * math.pi) - math.pi
    return math.degrees(middle) % 360.0, math.degrees(float(np.quantile(np.abs(off), 0.9)))


def _beat(beats: Array) -> tuple[float, tuple[float, float, float]]:
    """Chance that the beat error is more than ordinary, and its size in ms."""
    noise = math.sqrt(float(np.mean(beats[:, 1] ** 2)) / len(beats) + 0.1**2)
    mean = float(beats[:, 0].mean())
    low, high = (math.hypot(width, noise) for width in WIDTHS["out_of_beat"])
    for_it = SELDOM / high * math.exp(-0.5 * (mean / high) ** 2)
    against = (1.0 - SELDOM) / low * math.exp(-0.5 * (mean / low) ** 2)
    return for_it / (for_it + against), (max(mean - 1.645 * noise, 0.0), mean, mean + 1.645 * noise)


def _stiffness(w: Weighed) -> float:
    """The hairspring's stiffness, N·m/rad, of the movements as weighed."""
    each = np.ravel(stiffness(w.sound.stack.balance))
    return float(w.weight @ (each[w.table.healthy] if len(each) > 1 else np.full(len(w.weight), each[0])))


def spread_of(torque: float, amplitude_deg: float) -> float:
    """Spread of the vertical rates, s/day, that a want of poise makes (its torque over the stiffness), at most."""
    swing = math.radians(amplitude_deg)
    return 2.0 * DAY * torque * abs(float(bessel_1(np.array(swing)))) / swing
