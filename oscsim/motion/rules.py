"""How finely the motion is computed: collocation nodes, integration matrices, sweeps.

A rule belongs to the numerics only. Rules form a ladder: a point is settled on a cheap rung, finished on
the next, and climbs on for as long as the two do not agree.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from oscsim.arrays import Array


@cache
def gauss(nodes: int) -> tuple[Array, Array]:
    """Gauss-Legendre nodes and weights on (0, 1), each of shape (nodes,); made once."""
    x, w = np.polynomial.legendre.leggauss(nodes)
    return 0.5 * (x + 1.0), 0.5 * w


def lagrange(nodes: Array, x: Array) -> Array:
    """Values of the Lagrange polynomials on ``nodes`` at ``x``: shape (len(x), len(nodes)).

    Barycentric formula of the first kind, which is backward stable (N. J. Higham, IMA J. Numer. Anal. 24, 2004, 547).
    """
    apart = nodes[:, None] - nodes
    np.fill_diagonal(apart, 1.0)
    away = x[:, None] - nodes
    on = away == 0.0
    away[on] = 1.0
    values: Array = away.prod(axis=1, keepdims=True) / (away * apart.prod(axis=1))
    return np.asarray(np.where(on.any(axis=1, keepdims=True), on, values), float)


def weighted_integrals(nodes: Array, ends: Array, power: int) -> Array:
    """∫₀^end s^power ℓ_j(s) ds for each end: shape (len(ends), len(nodes))."""
    inner, weight = gauss(len(nodes) + power)
    s = ends[:, None] * inner
    values = lagrange(nodes, s.ravel()).reshape(*s.shape, len(nodes))
    return np.asarray(ends[:, None] * np.einsum("ei,eij->ej", weight * s**power, values))


#: Change of a sweep below which the next would change nothing, and how many sweeps are done without asking.
SWEPT, FEW_SWEEPS = 1e-15, 4

#: Terms of sine and cosine about a quarter turn: (π/2)^24/24! is below the rounding, and so is 0.4^14/14!, which
#: does for swings above 60° or so.
_TERMS, _FEW_TERMS, _NEAR = 24, 14, 0.4


def sine_series(nodes: Array) -> Array:
    """Matrix (2 n, terms) that makes sin(span s_i), then cos(span s_i), of the powers of span - π/2."""
    power = np.arange(_TERMS)
    scale = np.cumprod(np.append(1.0, 1.0 / power[1:]))
    angle = 0.5 * np.pi * (nodes[:, None] + power)
    return np.concatenate([np.sin(angle), np.cos(angle)]) * np.tile(nodes[:, None] ** power * scale, (2, 1))


def powers(x: Array, terms: int) -> Array:
    """1, x, x², … (terms, points), by doubling."""
    table = np.empty((terms, len(x)))
    table[0], table[1] = 1.0, x
    have, square = 2, x * x
    while have < terms:
        more = min(have, terms - have)
        np.multiply(table[:more], square, out=table[have : have + more])
        have += more
        square = square * square
    return table


@dataclass(frozen=True)
class Collocation:
    """Gauss nodes on (0, 1) with the matrices that integrate through them.

    nodes, weights (n, 1), (n,); to_end (n + 1, 1): the nodes and 1; running (n, n): ∫₀^{s_i};
    folded (n, n): (2/s_i²) ∫₀^{s_i} s²; folded_end (n,): 2 ∫₀¹ s²; sines: see ``sine_series``.
    """

    nodes: Array
    to_end: Array
    weights: Array
    running: Array
    folded: Array
    folded_end: Array
    sines: Array

    def sine_and_cosine(self, span: Array) -> tuple[Array, Array]:
        """sin and cos of ``span`` (points,), rad, 0 to π, times each node: (n, points).

        A matrix product: numpy has no vectorised sine or cosine of doubles on most machines.
        """
        past = span - 0.5 * np.pi
        terms = _FEW_TERMS if np.abs(past).max(initial=0.0) <= _NEAR else _TERMS
        table, n = powers(past, terms), len(self.nodes)
        return self.sines[:n, :terms] @ table, self.sines[n:, :terms] @ table


@cache
def collocation(count: int) -> Collocation:
    """The collocation with ``count`` nodes, made once."""
    s, b = gauss(count)
    return Collocation(
        nodes=s[:, None],
        to_end=np.append(s, 1.0)[:, None],
        weights=b,
        running=weighted_integrals(s, s, 0),
        folded=2.0 * weighted_integrals(s, s, 2) / (s * s)[:, None],
        folded_end=2.0 * weighted_integrals(s, np.ones(1), 2)[0],
        sines=sine_series(s),
    )


@dataclass(frozen=True)
class Rule:
    """One rung: nodes and Picard sweeps of the free arcs and of the contact phases; nodes of the two short
    phases that end in an event (catch, shake taken up), and the Newton steps that place it from a rough guess."""

    arc_nodes: int
    arc_sweeps: int
    contact_nodes: int
    contact_sweeps: int
    event_nodes: int
    event_steps: int


LADDER = (
    Rule(arc_nodes=6, arc_sweeps=2, contact_nodes=4, contact_sweeps=1, event_nodes=2, event_steps=0),
    Rule(arc_nodes=8, arc_sweeps=3, contact_nodes=6, contact_sweeps=2, event_nodes=3, event_steps=2),
    Rule(arc_nodes=16, arc_sweeps=8, contact_nodes=10, contact_sweeps=4, event_nodes=8, event_steps=4),
    Rule(arc_nodes=28, arc_sweeps=16, contact_nodes=20, contact_sweeps=8, event_nodes=16, event_steps=8),
    Rule(arc_nodes=44, arc_sweeps=40, contact_nodes=40, contact_sweeps=16, event_nodes=32, event_steps=16),
)
#: For a first evaluation at a start that is a thousandth off: its error is below that of the step.
OPENING = Rule(arc_nodes=4, arc_sweeps=1, contact_nodes=2, contact_sweeps=1, event_nodes=2, event_steps=0)
