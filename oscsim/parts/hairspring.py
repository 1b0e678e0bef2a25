"""What a hairspring does by its shape: equations (H6) to (H9) of docs/hairspring.md.

``coil`` solves the strip, (H1) to (H5), in the spring's own sense. Here torque, force and centroid come onto the dial,
(towards 12) + i (towards 3), as Chebyshev series in θ over ±400°, the ceiling of every amplitude, and act on the
balance.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from oscsim.arrays import Array, Complex, Number
from oscsim.errors import InputError
from oscsim.parts import coil
from oscsim.parts.hairspring_table import SPAN, Hairspring, coils_of, numbers_of, sense, strip_mass
from oscsim.units import DAY, G0, MM

#: Terms of the series.
TERMS = 33
#: In the watch the shape counts less what it does to the rate here: so far the spring is regulated.
REGULATED_AT = math.radians(270.0)
#: Points on a swing for the averages over its phase.
_PHASES = 64
#: Angles at which the side thrust is taken: it has a corner where the force passes zero.
_ANGLES = 128
#: Steps to the angle of rest; each gains some decimals, the departure being small.
_RESTING = 12
#: Sine of the tilt below which the watch lies flat.
_FLAT = 1e-9


class Response(NamedTuple):
    """What the spring does to the balance, Chebyshev coefficients in θ/SPAN, (TERMS, springs), on the dial:
    departure (T + kθ)/k rad, force in EI/L², centroid z̄ mm; length mm (springs,)."""

    departure: Array
    force: Complex
    centroid: Complex
    length: Array


def response(spring: Hairspring) -> Response:
    """(H1) to (H6) at the angles of the series, for one spring or a stack of them."""
    own = _response(np.array(coils_of(spring)).tobytes())
    way, turned = (np.ravel(v) for v in np.broadcast_arrays(sense(spring), spring.pinning_deg))
    alternating = np.where(
        way < 0.0, (-1.0) ** np.arange(TERMS)[:, None], 1.0
    )  # θ → -θ, where it is mirrored
    dial = np.abs(way) * np.exp(1j * np.radians(turned))

    def placed(series: Complex) -> Complex:
        return np.asarray(np.where(way < 0.0, np.conj(series), series) * alternating * dial)

    departure = own.departure * alternating * way
    return Response(departure, placed(own.force), placed(own.centroid), own.length)


@lru_cache(maxsize=64)
def _response(numbers: bytes) -> Response:
    """Response in the spring's own sense of the springs of a table of ``Coils``; equal ones are solved once. Of many
    that differ in their turns alone a few are solved, and the others lie between them."""
    table = np.frombuffer(numbers).reshape(len(coil.Coils._fields), -1)
    different, back = np.unique(table, axis=1, return_inverse=True)
    winding = different[_WINDING]
    span, middle = float(np.ptp(winding)), 0.5 * float(winding.min() + winding.max())
    nodes = _NODES_BETWEEN + math.ceil(_NODES_A_TURN * span / (2.0 * math.pi))
    alone = span > 0.0 and not np.any(np.ptp(np.delete(different, _WINDING, axis=0), axis=1))
    if alone and nodes < different.shape[1]:
        # what a spring does is smooth in its turns, and comes again from one whole turn to the next
        few = np.repeat(different[:, :1], nodes, axis=1)
        few[_WINDING] = middle + 0.5 * span * _nodes(nodes)
        at = np.polynomial.chebyshev.chebvander((winding - middle) / (0.5 * span), nodes - 1)
        between = (at @ _to_series(nodes)).T
        return _each(_solved(few), lambda part: (part @ between)[..., np.ravel(back)])
    return _each(_solved(different), lambda part: part[..., np.ravel(back)])


def _each(found: Response, change: Callable[[Any], Any]) -> Response:
    return Response(*map(change, found))


_WINDING = coil.Coils._fields.index("winding")
#: Springs that are solved to know all of some turns: errors of T/k below 1e-10 rad, of the force 5e-8, measured on
#: 6 to 14 turns and stretches of up to four.
_NODES_BETWEEN, _NODES_A_TURN = 20, 10


def _nodes(count: int) -> Array:
    """Chebyshev's nodes of the first kind, from 1 to -1."""
    return np.asarray(np.cos(math.pi * (np.arange(count) + 0.5) / count))


@lru_cache
def _to_series(count: int) -> Array:
    """This times values at ``_nodes`` is their Chebyshev series: (terms, nodes)."""
    wave = np.polynomial.chebyshev.chebvander(_nodes(count), count - 1).T * (2.0 / count)
    wave[0] *= 0.5
    return np.asarray(wave)


def _solved(table: Array) -> Response:
    """The response of every spring of a table of ``Coils``."""
    some = coil.Coils(*table)
    theta = SPAN * _nodes(TERMS)
    bent, wave = coil.bend(some, theta), _to_series(TERMS)

    def series(values: Any) -> Any:
        return wave @ values.T

    departure, force, centroid = series(bent.torque + theta), series(bent.force), series(bent.centroid)
    return Response(departure, force, centroid, coil.rest(some).length)


def at_angles(series: Any, theta: Array) -> Any:
    """A series of ``response`` at angles of the balance, rad (angles,): (angles, springs)."""
    return np.polynomial.chebyshev.chebvander(theta / SPAN, len(series) - 1) @ series


def slope_of(series: Any) -> Any:
    """The series' derivative with θ, per rad."""
    return np.polynomial.chebyshev.chebder(series) / SPAN


def _first_harmonic(series: Any, amplitude: Array) -> Any:
    """(1/2π) ∮ f(A sin φ) sin φ dφ at each amplitude, rad (amplitudes,): (amplitudes, springs)."""
    phase = 2.0 * math.pi * (np.arange(_PHASES) + 0.5) / _PHASES
    values = at_angles(series, np.outer(amplitude, np.sin(phase)).ravel())
    return np.mean(values.reshape(len(amplitude), _PHASES, -1) * np.sin(phase)[:, None], axis=1)


def shape_rate(departure: Array, amplitude: Array) -> Array:
    """(H8): first-order rate of the shape, s/day, at each amplitude, rad: (amplitudes, springs)."""
    return np.asarray(-DAY * _first_harmonic(departure, amplitude) / amplitude[:, None])


def weight_lever(centroid: Complex, amplitude: Array) -> Complex:
    """Γ(A) of (H7), mm on the dial, at each amplitude, rad: (amplitudes, springs)."""
    return np.asarray(-_first_harmonic(slope_of(centroid), amplitude) / amplitude[:, None])


def in_the_watch(departure: Array) -> Array:
    """The departure with the stiffness that regulating takes away: none is left of its rate at 270°, to first order."""
    kept = departure.copy()
    kept[1] += SPAN * 2.0 * shape_rate(departure, np.array([REGULATED_AT]))[0] / DAY
    return kept


def rest_angle(departure: Array) -> Array:
    """Where the balance comes to rest by the spring alone, rad (springs,): T(θ) = 0; 0 for a stud in its place."""
    found = np.zeros(departure.shape[1])
    for _ in range(_RESTING):
        found = np.sum(np.polynomial.chebyshev.chebvander(found / SPAN, TERMS - 1).T * departure, axis=0)
    return found


class AtBalance(NamedTuple):
    """What the spring adds to the motion, over k, Chebyshev coefficients in θ/SPAN (TERMS, …), … being the shape of
    stack and places: torque of its shape and of its weight beside -θ, friction by its side thrust; the angle at which
    its shape lets the balance rest, rad (…)."""

    shape: Array
    weight: Array
    friction: Array
    rest: Array


def at_balance(
    spring: Hairspring, stiffness: Number, pivot: tuple[Number, Number], tilt: Array, hour_up: Array
) -> AtBalance:
    """(H7), (H8) and (H9) for one spring or a stack, by place: ``pivot`` is the balance's weight W in N and μ r_pivot
    in m, tilt ι and hour that is up η in rad. Raises InputError where the dial is tilted and no hour is up."""
    if np.any(np.isnan(hour_up) & (np.abs(np.sin(tilt)) > _FLAT)):
        raise InputError(
            f"tilt_deg = {math.degrees(np.max(tilt)):g} deg: no hour is up, so the hairspring's weight and side thrust "
            "have no direction; take a position with an hour up (12H, 3H, 6H, 9H)"
        )
    found = response(spring)
    stack = np.broadcast_shapes(*(np.shape(values) for values in numbers_of(spring)))

    ahead = (1,) * (max(len(stack), np.ndim(tilt), np.ndim(stiffness)) - len(stack))

    def shaped(series: Any) -> Any:
        """Terms first, then the stack, in line with the places."""
        return series.reshape(-1, *ahead, *stack)

    length = found.length.reshape(stack) * MM
    down = np.sin(tilt) * np.exp(1j * (np.where(np.isnan(hour_up), 0.0, hour_up) + math.pi))
    sinking = np.zeros_like(found.centroid)
    sinking[:-1] = slope_of(found.centroid) * MM
    weight = strip_mass(spring, length / MM) * G0 / stiffness * np.real(shaped(sinking) * np.conj(down))
    # |W sin ι e^{iδ} + F| at many angles, F in newtons, and its series
    theta = SPAN * _nodes(_ANGLES)
    force = shaped(at_angles(found.force, theta)) * (stiffness / length)
    heavy, rubbing = pivot
    more = np.abs(heavy * down + force) - np.abs(heavy * down)
    wave = _to_series(_ANGLES)[:TERMS]
    departure = in_the_watch(found.departure)
    return AtBalance(
        shaped(departure),
        np.asarray(weight),
        np.tensordot(wave, more, axes=1) * rubbing / stiffness,
        rest_angle(departure).reshape(stack),
    )
