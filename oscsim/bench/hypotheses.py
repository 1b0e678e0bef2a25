"""Sound movements, each put into every hypothesis and settled in one batch: what a diagnosis weighs by the readings.

A hypothesis is: sound; one fault; two faults; neglected, where three come together; stronger than drawn. A movement's
faults are as large in each, so that what mending one of several brings needs no settling of its own; nor does dial
down, where the other end of the balance's staff rubs. Only flat and vertical are settled. The table depends on what
is known and on where and when was read, not on the values; the last few are kept.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np

from oscsim.answers.points import settled_points
from oscsim.arrays import Array, Flags, Indices
from oscsim.bench.causes import FAULTS, LOWER, NAMES, PLACES, UPPER, condition_of, drawn_sizes
from oscsim.condition import AsItIs
from oscsim.movement import Movement
from oscsim.operating import Moments, OperatingPoints, points_of, turns_left
from oscsim.stack import put_unchecked
from oscsim.units import POSITIONS

#: Chances before anything is read (common practice without source): no fault, one, any two, neglected, stronger than
#: drawn.
P_SOUND, P_ONE, P_TWO, P_NEGLECTED, P_STRONG = 0.35, 0.50, 0.09, 0.02, 0.04
#: What comes together where nobody cleans: oil goes, dirt drags on the balance and takes drive; how many of such have
#: two of the three alone.
NEGLECTED, _BEGUN = ("oil", "drag", "drive"), 0.2
#: Pairs of faults tried of each movement; one standard deviation of how much stronger a spring is, in logarithms.
_PAIRS, _STRONGER = 4, 0.15


@dataclass(frozen=True, order=True)
class Moment:
    """When something is read: hours since full wind, turns then let down, °C."""

    hours: float
    let_down: float
    temperature_c: float


@dataclass(frozen=True)
class Table:
    """Rows of movements in hypotheses, the first axis of every array.

    healthy: row in which it is sound, which is the number of the sound movement; size (rows, faults); log_prior; swing,
    rate (rows, places, moments): true amplitude in deg and s/day, 0 and NaN where it hardly runs; shown: amplitude
    shown by an instrument told 1 deg; lift_deg (rows,): lift angle of the sound movement; mended (rows, faults): row
    that it becomes when one fault alone is mended; viscous, quadratic (rows,) and dry (rows, places): what a free swing
    loses, 1/Q, c/I and friction over stiffness; looks: lock_deg, barrel_torque_n_mm and escape_torque_un_m (rows,) as
    somebody would find them, fully wound.
    """

    moments: tuple[Moment, ...]
    healthy: Indices
    size: Array
    log_prior: Array
    swing: Array
    rate: Array
    shown: Array
    lift_deg: Array
    mended: Indices
    viscous: Array
    quadratic: Array
    dry: Array
    looks: dict[str, Array]

    def before(self, values: Array) -> float:
        """Mean of values (rows,) before anything is read."""
        w = np.exp(self.log_prior - self.log_prior.max())
        return float(w @ values / w.sum())

    @property
    def full(self) -> Array:
        """Flat and vertical amplitude fully wound, (rows, 2), as an instrument shows it that was told the lift angle of
        the sound movement: a deeper lock lengthens the lift and shows less. Flat is the worse of dial up and down."""
        first = self.shown[..., 0] * self.lift_deg[:, None]
        return np.stack([np.minimum(first[:, 0], first[:, 1]), first[:, 2]], axis=-1)

    def after(self, faults: Iterable[int]) -> Indices:
        """Row that every row becomes when these faults are mended, (rows,)."""
        row = np.arange(len(self.healthy))
        for fault in faults:
            row = self.mended[row, fault]
        return row

    @property
    def loss(self) -> Array:
        """What each shows less than in sound condition, flat and vertical, (rows, 2)."""
        full = self.full
        return np.asarray(full[self.healthy] - full)


def table(sound: Movement, log_weight: Array, moments: tuple[Moment, ...], seed: int = 0) -> Table:
    """The rows for a stack of sound movements with log weights (movements,); the first moment is fully wound."""
    rng = np.random.default_rng(seed)
    n, m = len(log_weight), len(FAULTS)
    (size, weight), rows = drawn_sizes(n, rng), np.arange(n)
    order = np.argsort(rng.random((n, m)), axis=1)
    neglect = [NAMES.index(name) for name in NEGLECTED]
    together: list[Any] = [
        *([k] for k in range(m)),
        *(order[:, 2 * k : 2 * k + 2].T for k in range(_PAIRS)),
        *combinations(neglect, 2),
        neglect,
    ]
    has = np.zeros((len(together) + 2, n, m), bool)  # the first is sound, the last stronger than drawn
    for hypothesis, faults in enumerate(together, start=1):
        for fault in faults:
            has[hypothesis, rows, fault] = True
    sizes = has * size
    sizes[-1, :, NAMES.index("mainspring")] = -_STRONGER * np.abs(rng.standard_normal(n))
    h = len(has)
    mended = _mended(has).reshape(h * n, m)
    found = _settled(sound, sizes, moments)
    for key in ("swing", "shown", "rate", "dry"):  # the other end of the staff rubs dial down
        flat, upright = found[key][:, 0], found[key][:, 1]
        found[key] = np.stack([flat[mended[:, LOWER]], flat[mended[:, UPPER]], upright], axis=1)
    often = np.array([fault.often for fault in FAULTS])
    prior = np.log([
        P_SOUND, *(P_ONE * often / often.sum()), *[P_TWO / _PAIRS] * _PAIRS,
        *[P_NEGLECTED * _BEGUN / len(neglect)] * len(neglect), P_NEGLECTED * (1.0 - _BEGUN), P_STRONG,
    ])  # fmt: skip
    own_lift = np.degrees(np.broadcast_to(sound.escapement.lift_angle(), (n, 1, 1)).reshape(n))
    likely = prior[:, None] + log_weight + (has * weight).sum(axis=2)
    return Table(
        moments=moments, healthy=np.tile(rows, h), size=sizes.reshape(h * n, m),
        log_prior=likely.reshape(h * n), lift_deg=np.tile(own_lift, h), mended=mended, **found,
    )  # fmt: skip


def _mended(has: Flags) -> Indices:
    """Row that every row becomes when one fault alone is mended, (hypotheses, movements, faults), of the faults that
    each has: the hypothesis of the same movement with all others."""
    h, n, m = has.shape
    code = has @ (1 << np.arange(m))
    at = np.arange(h * n).reshape(h, n)
    row = np.tile(at[:, :, None], m)
    for fault in range(m):
        other = (code == (code - (1 << fault))[:, None]).argmax(axis=1)
        row[..., fault] = np.where(has[..., fault], at[other, np.arange(n)], at)
    return row


def points_at(as_is: AsItIs, symbols: Iterable[str], moments: tuple[Moment, ...]) -> OperatingPoints:
    """The points of a stack in positions by symbol and at moments, (..., positions, moments)."""
    lay = [POSITIONS[symbol] for symbol in symbols]
    tilt, up = (np.array([[getattr(p, key)] for p in lay]) for key in ("tilt", "hour_up"))
    hours, down, warmth = np.array([(m.hours, m.let_down, m.temperature_c) for m in moments]).T
    return points_of(as_is, Moments(tilt, np.nan_to_num(up), turns_left(as_is, hours) - down, warmth))


def _settled(sound: Movement, sizes: Array, moments: tuple[Moment, ...]) -> dict[str, Any]:
    """What a stack's movements do with faults of ``sizes`` (hypotheses, movements, faults): arrays as in ``Table``,
    with two places, flat and vertical."""
    as_is = condition_of(sizes).applied_to(put_unchecked(sound, "balance.unbalance_ug_cm", 0.0))
    points = points_at(as_is, (PLACES[0], PLACES[2]), moments)
    settled = settled_points(points, math.degrees(1.0), thorough=False)

    def rows(values: Array) -> Array:
        return np.nan_to_num(values.reshape(-1, *points.shape[2:]))

    viscous, quadratic, dry = (
        rows(getattr(points.oscillators, key))[..., 0] for key in ("viscous", "quadratic", "dry")
    )
    lock = np.broadcast_to(as_is.movement.escapement.lock_deg, (*sizes.shape[:2], 1, 1))
    return {
        "swing": rows(settled.amplitude_deg),
        "shown": rows(np.radians(settled.apparent_amplitude_deg)),
        "rate": settled.rate_s_per_day.reshape(-1, *points.shape[2:]),
        "viscous": viscous[:, 0], "quadratic": quadratic[:, 0], "dry": dry,
        "looks": {
            "lock_deg": lock.reshape(-1),
            "barrel_torque_n_mm": rows(settled.barrel_torque_n_mm)[:, 0, 0],
            "escape_torque_un_m": rows(settled.escape_torque_n_m)[:, 0, 0] * 1e6,
        },
    }  # fmt: skip
