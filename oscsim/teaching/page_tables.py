"""Tables of a lesson: drive and rate over amplitude, inertia, lock and pivot friction, and what a heavy point adds.

Amplitude is an axis and the drive that keeps it up a value, because drive over amplitude is smooth where amplitude
over drive is not. Flat and vertical lie on the same axis of friction. A heavy point adds terms of first and second
order in its torque, which are all that is left of it to a thousandth of a second a day at the bench's sizes. Between
the nodes, which lie as Chebyshev's do, a polynomial is laid (barycentric formula, Berrut and Trefethen 2004).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from oscsim.answers.budget import GROUPS, drive_of
from oscsim.arrays import Array
from oscsim.condition import AsItIs
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.cycle import empty_cycle
from oscsim.motion.energy import account
from oscsim.motion.rules import LADDER
from oscsim.motion.series import added
from oscsim.motion.settle import settle
from oscsim.motion.sustain import Sustained, sustain
from oscsim.movement import Movement
from oscsim.operating import OperatingPoints, points_in
from oscsim.parts.escapement import fork_ratio, geometry
from oscsim.setting import Setting
from oscsim.stack import varied
from oscsim.units import DAY, G0, MG, UG_CM, UM

Span: TypeAlias = tuple[float, float]
#: Nodes along amplitude, inertia, lock and friction, for drive and rate and for the smaller terms.
FINE, COARSE = (14, 6, 6, 5), (12, 3, 3, 3)
#: The amplitude's axis runs from this many times the swing that just reaches the fork, in equal ratios, to its end.
FLOOR, CEILING = 1.25, math.radians(401.0)
#: Terms of the heavy point at φ from straight below.
HARMONICS = ("1", "cos φ", "sin φ", "cos 2φ", "sin 2φ")
_DIRECTIONS = 6
#: Random points at which the tables are held against the engine.
_COMPARED = 256
#: Share by which the drives of two rungs may differ at a node: rates there are good to 1e-3 s/day, and between
#: the nodes the tables are off by more.
_AGREE = 1e-7
_CHUNK = 1280


@dataclass(frozen=True, kw_only=True)
class Tables:
    """Tables over (amplitude, inertia, lock, friction); ``spans`` of the last three: mg·cm², deg, µm.

    drive (fine nodes): torque on the escape wheel over the design's at full wind; rate (fine): s/day less
    ``rate_offset``, times inertia over the design's; heavy_drive, heavy_rate (coarse nodes, harmonics): what the
    largest unbalance adds, likewise; taken (coarse, groups): energy by group, in the unit in which all groups add up to
    the drive. contact_deg and contact_per_lock: pin contact at lock 0 and its change per degree of lock.
    """

    spans: tuple[Span, Span, Span]
    unbalance_ug_cm: float
    drive: Array
    rate: Array
    rate_offset: float
    heavy_drive: Array
    heavy_rate: Array
    taken: Array
    contact_deg: float
    contact_per_lock: float
    compared: int = 0
    amplitude_error_deg: float = math.nan
    rate_error_s_per_day: float = math.nan


def nodes(count: int, low: float, high: float) -> Array:
    """Chebyshev points of the second kind from low to high, (count,)."""
    return low + (high - low) * 0.5 * (1.0 - np.cos(math.pi * np.arange(count) / (count - 1)))


def weights(x: Array, count: int, low: float, high: float) -> Array:
    """What each node weighs at ``x`` (points,): (points, count), the barycentric formula."""
    if high == low:
        return np.eye(1, count).repeat(len(x), axis=0)
    away = np.asarray(x)[:, None] - nodes(count, low, high)
    on = np.abs(away) < 1e-12 * (high - low)
    sign = (-1.0) ** np.arange(count)
    sign[[0, -1]] *= 0.5
    share = sign / np.where(on, 1.0, away)
    share /= share.sum(axis=1, keepdims=True)
    return np.where(on.any(axis=1, keepdims=True), on.astype(float), share)


class _Model:
    """The engine at inertia, lock and friction of a batch, (points,) each: mg·cm², deg, µm."""

    def __init__(self, movement: Movement, inertia: Array, lock: Array, friction: Array) -> None:
        fork = float(fork_ratio(movement.escapement))
        self.as_is = AsItIs(
            varied(
                movement,
                {
                    "balance.inertia_mg_cm2": inertia,
                    "escapement.lock_deg": lock,
                    "escapement.fork_ratio": np.full(len(inertia), fork),
                },
            )
        )
        self.points: OperatingPoints = points_in(self.as_is, Setting(positions="12H"))
        moment = friction * UM * movement.balance.mass_mg * MG * G0
        # what the hairspring's weight and side thrust do by position is added by the page, to first order
        osc = self.points.oscillators
        self.osc: Oscillators = replace(
            osc,
            dry=moment / self.points.stiffness,
            gravity=np.zeros(len(inertia)),
            torque_series=added(osc.torque_series, -self.points.weight_series),
            friction_series=np.zeros((0, len(inertia))),
        )

    def amplitude(self, u: Array) -> Array:
        """The amplitude, rad, at ``u`` from 0 to 1 along its axis."""
        low = FLOOR * self.osc.reach
        return np.asarray(low * (CEILING / low) ** u)

    def heavy(self, unbalance: Array, phi: Array) -> Oscillators:
        """The batch with an unbalance, µg·cm, at φ from straight below."""
        return replace(self.osc, gravity=unbalance * UG_CM * G0 / self.points.stiffness, heavy=phi)

    def taken(self, osc: Oscillators, found: Sustained) -> Array:
        """Energy by group over what the design's full wind gives, (points, groups)."""
        drive = drive_of(self.as_is, self.points).driven(found.factor)
        given, taken = account(osc.driven(found.factor), found.cycle, drive, LADDER[0])
        groups = [sum(taken[place] for place in places) for places in GROUPS.values()]
        return np.asarray(np.stack(groups, axis=1) * (found.factor / given)[:, None])


def tables(
    movement: Movement,
    inertia: Span,
    lock: Span,
    friction: Span,
    unbalance_ug_cm: float,
    tell: Callable[[str, float], None],
) -> Tables | None:
    """The tables over these ranges, with their error measured; None where the engine has no sound cycle somewhere."""
    spans = (inertia, lock, friction)
    own = movement.balance.inertia_mg_cm2
    work = _Work(tell, math.prod(FINE) + (1 + _DIRECTIONS) * math.prod(COARSE))

    def settled(axes: tuple[Array, ...], unbalance: Array, phi: Array) -> tuple[_Model, Sustained]:
        model = _Model(movement, *axes[1:])
        osc = model.heavy(unbalance, phi) if unbalance.any() else model.osc
        return model, work.sustained(osc, model.amplitude(axes[0]))

    def spread(counts: tuple[int, ...]) -> tuple[Array, ...]:
        axes = [nodes(n, *span) for n, span in zip(counts, ((0.0, 1.0), *spans), strict=True)]
        return tuple(axis.ravel() for axis in np.meshgrid(*axes, indexing="ij"))

    if _too_short(movement, lock):
        return None
    fine, coarse = spread(FINE), spread(COARSE)
    nothing = np.zeros(len(fine[0]))
    model, found = settled(fine, nothing, nothing)
    if not found.sound.all():
        return None
    offset = float(DAY * (model.points.omega[0] / model.points.nominal_omega[0] - 1.0))
    rate = (model.points.rate(found.cycle.period) - offset) * fine[1] / own

    count = len(coarse[0])
    poised, still = settled(coarse, np.zeros(count), np.zeros(count))
    phi = 2.0 * math.pi * np.arange(_DIRECTIONS) / _DIRECTIONS
    around = tuple(np.repeat(axis, _DIRECTIONS) for axis in coarse)
    turned, swung = settled(around, np.full(len(around[0]), unbalance_ug_cm), np.tile(phi, count))
    if not (still.sound.all() and swung.sound.all()):
        return None
    basis = np.stack([np.ones(_DIRECTIONS), *(f(n * phi) for n in (1, 2) for f in (np.cos, np.sin))])

    def harmonics(values: Array, middle: Array) -> Array:
        found = (values.reshape(count, _DIRECTIONS) - middle[:, None]) @ basis.T / _DIRECTIONS
        found[:, 1:] *= 2.0
        return np.asarray(found.reshape(*COARSE, len(HARMONICS)))

    slower = coarse[1] / own
    contact_deg, contact_per_lock = _contact(movement)
    made = Tables(
        spans=spans,
        unbalance_ug_cm=unbalance_ug_cm,
        drive=found.factor.reshape(FINE),
        rate=rate.reshape(FINE),
        rate_offset=offset,
        heavy_drive=harmonics(swung.factor, still.factor),
        heavy_rate=harmonics(
            turned.points.rate(swung.cycle.period) * np.repeat(slower, _DIRECTIONS),
            poised.points.rate(still.cycle.period) * slower,
        ),
        taken=poised.taken(poised.osc, still).reshape(*COARSE, len(GROUPS)),
        contact_deg=contact_deg,
        contact_per_lock=contact_per_lock,
    )
    tell("comparing with the engine", 0.9)
    return _compared(movement, made)


class _Work:
    """Sustained states chunk by chunk, telling how far it has come."""

    def __init__(self, tell: Callable[[str, float], None], points: int) -> None:
        self.tell, self.points, self.done = tell, points, 0

    def sustained(self, osc: Oscillators, amplitude: Array) -> Sustained:
        factor, cycle, sound = np.empty(osc.size), empty_cycle(osc.size), np.zeros(osc.size, bool)
        for start in range(0, osc.size, _CHUNK):
            index = np.arange(start, min(start + _CHUNK, osc.size))
            part = sustain(osc.take(index), amplitude[index], agree=_AGREE)
            factor[index], sound[index] = part.factor, part.sound
            cycle.put(index, part.cycle)
            self.done += len(index)
            self.tell("points settled", 0.9 * self.done / self.points)
        return Sustained(factor, cycle, sound)


def _contact(movement: Movement) -> tuple[float, float]:
    """Pin contact, deg of balance before the line of centres, at lock 0 and its change per degree of lock."""
    e, g = movement.escapement, geometry(movement.escapement)
    per_lock = float(0.5 / g.fork_ratio)
    return math.degrees(float(g.bank_to_bank)) * per_lock - e.lock_deg * per_lock, per_lock


def _too_short(movement: Movement, lock: Span) -> bool:
    """Whether the lift leaves no amplitudes between reaching the fork and the ceiling."""
    at_none, per_lock = _contact(movement)
    reach = at_none + per_lock * lock[1] + abs(movement.balance.out_of_beat_deg)
    return FLOOR * math.radians(reach) > 0.5 * CEILING


def _compared(movement: Movement, made: Tables) -> Tables:
    """The tables with their largest error against the engine at random points, the drive being what the tables say."""
    rng = np.random.default_rng(11)
    own = movement.balance.inertia_mg_cm2
    u = rng.uniform(0.0, 1.0, _COMPARED)
    axes = [rng.uniform(*span, _COMPARED) for span in made.spans]
    part, phi = rng.uniform(0.0, 1.0, _COMPARED), rng.uniform(0.0, 2.0 * math.pi, _COMPARED)
    terms = np.stack([part**2, *(part**n * f(n * phi) for n in (1, 2) for f in (np.cos, np.sin))], axis=1)

    def at(counts: tuple[int, ...]) -> list[Array]:
        spans = ((0.0, 1.0), *made.spans)
        return [weights(x, n, *span) for x, n, span in zip((u, *axes), counts, spans, strict=True)]

    fine, coarse = "pa,pi,pl,pf,ailf->p", "pa,pi,pl,pf,ailfh,ph->p"
    many, few = at(FINE), at(COARSE)
    drive = np.einsum(fine, *many, made.drive) + np.einsum(coarse, *few, made.heavy_drive, terms)
    rate = np.einsum(fine, *many, made.rate) + np.einsum(coarse, *few, made.heavy_rate, terms)
    model = _Model(movement, *axes)
    batch = settle(model.heavy(part * made.unbalance_ug_cm, phi).driven(drive), model.points.knock_angle)
    swing = np.degrees(batch.cycle.amplitude)
    known = np.isfinite(swing)
    amplitude = np.abs(swing - np.degrees(model.amplitude(u)))[known]
    seconds = np.abs(model.points.rate(batch.cycle.period) - (rate * own / axes[0] + made.rate_offset))[known]
    return replace(
        made,
        compared=int(known.sum()),
        amplitude_error_deg=float(amplitude.max()),
        rate_error_s_per_day=float(seconds.max()),
    )
