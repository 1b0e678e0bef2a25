"""The strip of a hairspring as a planar inextensible elastica: equations (H1) to (H6) of docs/hairspring.md.

Lengths along the strip are counted in its length L, torques in k and forces in EI/L², so that EI = 1: only the shape
at rest is left. The plane is that of complex numbers, in the spring's own sense: the strip leaves the collet at
direction 0 and winds outward with growing angle. Nodes are Gauss's on panels of about one turn; arrays are
(panels, nodes, points), points being springs times angles.
"""

from __future__ import annotations

import math
from functools import cache
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from oscsim.arrays import Array, Complex

_Kind = TypeVar("_Kind", np.float64, np.complex128)

#: Nodes on a panel: errors of the torque 4e-12 rad, of the force 6e-11.
NODES = 12
#: Accuracy of T/k, rad, that is asked for where nothing else is said.
ACCURACY = 1e-11
#: Sweeps at most; two to four are needed for 1e-6, four to six for 1e-8, and one or two more for each two decimals.
_MOST_SWEEPS = 25
#: Error of T/k over what the last sweep changed the strip's direction by: measured up to 0.016 where few sweeps do, and
#: up to 0.005 from 1e-8 on, springs of 8 to 15 turns.
_ERROR_OVER_CHANGE = 0.012
#: No extrapolation trusts the changes to shrink more slowly than this from one sweep to the next but one.
_SHRINKS = 0.2
#: Points times panels in one block, so that its arrays stay in the processor's cache.
_BLOCK = 1000
#: Points on a coil where neighbouring coils are compared.
_ROUND = 90


class Coils(NamedTuple):
    """Springs as drawn, arrays (springs,), mm and rad: the arcs' radii and angles are 0 where there is no outer curve,
    ``offset_x``, ``offset_y`` and ``turned`` are the stud's mounting errors."""

    inner: Array
    outer: Array
    winding: Array
    first_radius: Array
    first_angle: Array
    second_radius: Array
    second_angle: Array
    offset_x: Array
    offset_y: Array
    turned: Array

    def take(self, index: slice) -> Coils:
        """Some of the springs."""
        return Coils(*(values[index] for values in self))


class Rest(NamedTuple):
    """Strips free of stress, (panels, nodes, springs): place z₀ and slope dz₀ per unit of the node's parameter (-1 to
    1), both in lengths of the strip, and the distance s from the collet; where it starts and ends; ``length`` mm
    (springs,)."""

    place: Complex
    slope: Complex
    along: Array
    start: Complex
    end: Complex
    length: Array


class Bent(NamedTuple):
    """Strips bent by the balance, arrays (springs, angles): torque T/k rad, force of the strip on the collet in EI/L²,
    centroid mm, and what the last sweep changed the strip's direction by, rad."""

    torque: Array
    force: Complex
    centroid: Complex
    residual: Array


class _Rule(NamedTuple):
    nodes: Array
    weights: Array
    running: Array  # (nodes, nodes): integrals from -1 to each node


@cache
def _rule() -> _Rule:
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    # the integral of P_j from -1 is (P_{j+1} - P_{j-1})/(2j + 1)
    values = np.polynomial.legendre.legvander(nodes, NODES)
    integrals = np.empty((NODES, NODES))
    integrals[:, 0] = nodes + 1.0
    for j in range(1, NODES):
        integrals[:, j] = (values[:, j + 1] - values[:, j - 1]) / (2 * j + 1)
    return _Rule(nodes, weights, integrals @ _projected())


@cache
def _projected() -> Array:
    """Legendre coefficients of values at the nodes."""
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    degree = np.arange(NODES)[:, None]
    return np.asarray((degree + 0.5) * np.polynomial.legendre.legvander(nodes, NODES - 1).T * weights)


def _running(values: NDArray[_Kind]) -> tuple[NDArray[_Kind], NDArray[_Kind]]:
    """Integral along the strip up to every node, and up to its end, of values per unit of the node's parameter."""
    rule, real = _rule(), values.view(np.float64)  # complex numbers as pairs: the matrices are real
    inside = np.matmul(rule.running, real)
    before = np.cumsum(np.matmul(rule.weights, real), axis=0)
    inside[1:] += before[:-1, None]
    return inside.view(values.dtype), before[-1].view(values.dtype)


def _whole(values: NDArray[_Kind]) -> NDArray[_Kind]:
    """Integral along the whole strip."""
    panels = values.view(np.float64).reshape(values.shape[0] * NODES, -1)
    return (_weights(values.shape[0]) @ panels).view(values.dtype)


@cache
def _weights(panels: int) -> Array:
    """Of all nodes in a row, (panels × nodes,)."""
    return np.tile(_rule().weights, panels)


def rest(coils: Coils) -> Rest:
    """The springs at rest, free of stress."""
    return drawn(np.concatenate([_spiral(coils), *_outer_curve(coils)]), coils.inner)


def drawn(slopes: Complex, start: Complex | Array) -> Rest:
    """Strips free of stress from ``start``, mm (springs,), by their slopes per unit of the node's parameter, mm."""
    along, length = _running(np.abs(slopes))
    place, end = _running(slopes)
    place += start
    first, last = start / length + 0j, (end + start) / length
    return Rest(place / length, slopes / length, along / length, first, last, length)


def _spiral(coils: Coils) -> Complex:
    """Slopes of the spiral, radius linear in the angle: z₀ = (r₀ + c α) e^{iα}."""
    panels = int(np.ceil(np.max(coils.winding) / (2.0 * math.pi) - 1e-9))
    half = coils.winding / (2.0 * panels)
    angle = (2 * np.arange(panels)[:, None, None] + 1.0 + _rule().nodes[:, None]) * half
    climb = (coils.outer - coils.inner) / coils.winding
    slopes: Complex = (climb + 1j * (coils.inner + climb * angle)) * np.exp(1j * angle) * half
    return slopes


def _outer_curve(coils: Coils) -> list[Complex]:
    """Slopes of the two arcs, the first at right angles to the radius, a panel each; none where no spring has them."""
    if not np.any(coils.first_angle + coils.second_angle):
        return []
    arcs, start = [], coils.winding
    for radius, angle in (
        (coils.first_radius, coils.first_angle),
        (coils.second_radius, coils.second_angle),
    ):
        turned = start + 0.5 * angle * (1.0 + _rule().nodes[:, None])
        arcs.append((0.5j * radius * angle * np.exp(1j * turned))[None])
        start = start + angle
    return arcs


def bend(coils: Coils, theta: Array, accuracy: float = ACCURACY) -> Bent:
    """The springs with the balance turned by each of ``theta``, rad (angles,); block by block, with as many sweeps as
    T/k to ``accuracy``, rad, needs. Where they do not close the strip the residual says so.

    In a block stand many springs at angles of like size, since small ones need fewer sweeps.
    """
    panels = int(np.max(coils.winding) / (2.0 * math.pi)) + 3
    room = max(1, _BLOCK // panels)
    many = min(room, len(coils.inner))
    few = room // many
    order = np.argsort(np.abs(theta), kind="stable")
    back = np.argsort(order)
    rows = []
    for first in range(0, len(coils.inner), many):
        some = coils.take(slice(first, first + many))
        still = rest(some)
        parts = [
            _bent_as_held(some, still, theta[order[at : at + few]], accuracy)[0]
            for at in range(0, len(theta), few)
        ]
        rows.append([np.concatenate(values, axis=1)[:, back] for values in zip(*parts, strict=True)])
    return Bent(*(np.concatenate(values) for values in zip(*rows, strict=True)))


def shape(coils: Coils, theta: Array) -> Complex:
    """Where the strip lies bent to ``theta``, mm, at every node: (panels, nodes, springs, angles)."""
    still = rest(coils)
    place = _bent_as_held(coils, still, theta, ACCURACY)[1].reshape(*still.along.shape, len(theta))
    return np.asarray(place * still.length[:, None])


def fine(values: Any, many: int) -> Any:
    """Values at the nodes, (panels, nodes, …), amid ``many`` even steps on every panel: (panels · many, …)."""
    steps = (2.0 * np.arange(many) + 1.0) / many - 1.0
    at_steps = np.polynomial.legendre.legvander(steps, NODES - 1) @ _projected()
    return np.einsum("ij,pj...->pi...", at_steps, values).reshape(-1, *values.shape[2:])


def narrowest(coils: Coils, theta: Array) -> list[tuple[float, complex, int]]:
    """The least distance between neighbouring coils of the (one) spiral bent to each of ``theta``, rad, mm, outward
    from the axis: that distance, where it is, and after how many coils from the collet."""
    panels = len(_spiral(coils))
    found = []
    for path in fine(shape(coils, theta)[:panels, :, 0], _ROUND).T:
        angle, radius = np.unwrap(np.angle(path)), np.abs(path)
        inside = angle + 2.0 * math.pi <= angle[-1]
        gaps = np.interp(angle[inside] + 2.0 * math.pi, angle, radius) - radius[inside]
        at = int(np.argmin(gaps))
        found.append((float(gaps[at]), complex(path[at]), int((angle[at] - angle[0]) / (2.0 * math.pi)) + 1))
    return found


def _bent_as_held(coils: Coils, still: Rest, theta: Array, accuracy: float) -> tuple[Bent, Complex]:
    """One block of springs, each with its stud's mounting errors; ``still``: they at rest."""
    return bent(still, theta, accuracy, coils.offset_x + 1j * coils.offset_y, coils.turned)


def bent(
    still: Rest, theta: Array, accuracy: float, offset: Complex, turned_by: Array
) -> tuple[Bent, Complex]:
    """Strips with the balance turned by each of ``theta``, rad (angles,), the stud off its place by ``offset``, mm, and
    ``turned_by``, rad (springs,); and where they lie, in lengths of the strip (panels, nodes, points). By sweeps of
    Newton's method for the force, each on the shape found so far.
    """
    many, angles = len(still.length), len(theta)

    def each(values: NDArray[_Kind]) -> NDArray[_Kind]:
        """(…, springs) to (…, points): every spring at every angle."""
        return np.repeat(values, angles, axis=-1)

    turn, held = np.tile(theta, many), each(turned_by)
    stud = each(still.end + offset / still.length)
    start = each(still.start) * np.exp(1j * turn)
    slope, along = each(still.slope), each(still.along)
    line = np.repeat(np.abs(still.slope), 2 * angles, axis=-1)  # ds, for real and imaginary part
    free = (held - turn) * along
    free += turn
    force = np.zeros(many * angles, complex)
    turned, changes, steps = free.copy(), list[Array](), list[Complex]()
    for _ in range(_MOST_SWEEPS):
        tangent = _unit(turned)
        tangent *= slope
        place, end = _running(tangent)
        place += start
        miss = end + start - stud
        mean = _whole(_times(place, line))
        zeta = place - mean
        zeta_ds = _times(zeta, line)
        lever, _ = _running(zeta_ds)
        # (H2) with T₀ from φ(L) = ε: φ = φ_free - Im(conj(∫ζ ds) F), here for the force found so far
        if changes:
            change = free - turned
            change -= _cross(lever, force)
            miss += 1j * _whole(tangent * change)
        else:  # no force yet
            change = np.zeros_like(turned)
        # (H5): the force that brings the end to the stud on that shape
        step = -_closing(zeta, zeta_ds, miss)
        force = force + step
        change -= _cross(lever, step)
        turned += change
        changes, steps = [*changes[-2:], change], [*steps[-2:], step]
        largest = max(float(change.max()), -float(change.min()))
        if not largest * _ERROR_OVER_CHANGE > accuracy:
            break
    ahead = _ahead(changes)
    force = force + ahead * sum(steps[-2:])
    # the last change of φ, and what is still to come, move the centroid by ∫ (1 - s) i z′ δφ
    to_come = change if not np.any(ahead) else change + ahead * (changes[-1] + changes[-2])
    centroid = mean + 1j * _whole(tangent * (to_come * (1.0 - along)))
    torque = held - turn + np.imag(np.conj(centroid) * force)
    shaped = (many, angles)
    return (
        Bent(
            torque.reshape(shaped),
            force.reshape(shaped),
            (centroid.reshape(shaped) * still.length[:, None]),
            np.abs(change).max(axis=(0, 1)).reshape(shaped),
        ),
        place,
    )


def _ahead(changes: list[Array]) -> Array:
    """How much of the last two changes of φ together is still to come, (points,): every other one shrinks alike."""
    if len(changes) < 3:
        return np.zeros(changes[-1].shape[-1])
    last, _, before = changes[-1], changes[-2], changes[-3]
    size = np.einsum("pij,pij->j", before, before)
    share = np.einsum("pij,pij->j", last, before) / np.where(size > 0.0, size, 1.0)
    share = np.clip(share, -_SHRINKS, _SHRINKS)
    return np.asarray(share / (1.0 - share))


def _unit(angle: Array) -> Complex:
    """e^{iφ} = (1 + it)²/(1 + t²), t = tan(φ/2): NumPy's tangent is several times as fast as its sine and cosine."""
    half = 0.5 * angle
    np.tan(half, out=half)
    share = half * half
    share += 1.0
    np.divide(2.0, share, out=share)
    unit = np.empty(angle.shape, complex)
    np.multiply(half, share, out=unit.imag)
    np.subtract(share, 1.0, out=unit.real)
    return unit


def _times(values: Complex, pairs: Array) -> Complex:
    """Real and imaginary part each times its own of the pairs: NumPy would make a real factor complex first."""
    return (values.view(np.float64) * pairs).view(np.complex128)


def _cross(lever: Complex, force: Complex) -> Array:
    """Im(conj(lever) force)."""
    turned = lever.real * force.imag
    turned -= lever.imag * force.real
    return np.asarray(turned)


def _closing(zeta: Complex, zeta_ds: Complex, miss: Complex) -> Complex:
    """J⁻¹ R: the force that opens a gap R, (H5), with ζ = a + ib: ∫ζ² ds and ∫|ζ|² ds hold the three integrals."""
    pair, mixed = _whole(_times(zeta, zeta_ds.view(np.float64))), _whole(zeta_ds.real * zeta.imag)
    size, squared = pair.real + pair.imag, pair.real - pair.imag + 2j * mixed
    # J = ½ [[size - Re, -Im], [-Im, size + Re]] of ∫ζ² ds, so J⁻¹R = 2 (size R + ∫ζ² conj(R)) / (size² - |∫ζ²|²)
    opened: Complex = 2.0 * (size * miss + squared * np.conj(miss)) / (size * size - np.abs(squared) ** 2)
    return opened
