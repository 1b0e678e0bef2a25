"""Free arcs: the balance alone with its hairspring, between a turning point and the fork.

Every free arc is computed outward from its turning point, where the balance stands still: towards the fork
in time, or back from it against time, when every drag has the other sign. With x = -A cos ϑ and
v = A q sin ϑ the unknown q stays near 1 and smooth, and the work of the drag from the turning point on,

    q² = q_c² - (2/sin²ϑ) ∫₀^ϑ (viscous q + quadratic A q² sin ϑ) sin²ϑ dϑ,

is found by Picard sweeps through a few Gauss nodes in ϑ; hairspring, dry friction, gravity and the series enter
in closed form through q_c, and so does the drag's work at q = 1, so that the nodes carry only what q - 1 adds to it.
Each sweep gains a factor of about Q. Arrays of nodes are reused in place: that they stay in the processor's cache
matters more than the arithmetic.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.balance import Balance
from oscsim.motion.contact import push
from oscsim.motion.rules import FEW_SWEEPS, SWEPT, Rule, collocation


@dataclass(frozen=True)
class Arc:
    """Free arcs of shape (points,): squared speed at the fork, its slope with amplitude, the time taken."""

    speed_squared: Array
    slope: Array  # d(speed_squared)/dA at a fixed end, true to order (1/Q)²
    time: Array


def free_arc(balance: Balance, amplitude: Array, end: Array, rule: Rule, *, backwards: bool = False) -> Arc:
    """From rest at -amplitude to ``end``; ``backwards``: from rest at +amplitude, against time, to ``end``.

    All arrays (points,), rad. Where there is no such motion (the arc does not reach ``end``) the answer is
    NaN: the caller's failed beat.
    """
    if backwards:
        balance, end = balance.against_time, -end
    if not balance.any_pins:
        return _smooth_arc(balance, amplitude, end, rule)
    # index pins: the torque has a corner at each contact angle, so the arc is taken in pieces between them
    low, high = balance.kinks(-amplitude, end)
    first = np.where(low > -amplitude, low, np.where(high > -amplitude, high, end))
    arc = _smooth_arc(balance, amplitude, first, rule)
    nodes, sweeps = collocation(rule.arc_nodes), rule.arc_sweeps + 1
    rest = push(balance, first, end - first, arc.speed_squared, 1.0, 0.0, nodes, sweeps)
    return Arc(rest.speed_squared, arc.slope * rest.slope, arc.time + rest.time)


def _smooth_arc(balance: Balance, amplitude: Array, end: Array, rule: Rule) -> Arc:
    """``free_arc`` forward in time, over a stretch without corners in the torque."""
    nodes = collocation(rule.arc_nodes)
    A, heavy, viscous, drag = amplitude, balance.heavy, balance.viscous, balance.quadratic * amplitude
    cos_end = -end / A
    span = np.arccos(cos_end)
    theta = span * nodes.nodes
    sin, cos = nodes.sine_and_cosine(span)
    sin2 = sin * sin

    # q² without drag, less the work of the drag at q = 1: both in closed form
    work = sin * cos
    np.subtract(theta, work, out=work)
    work *= viscous
    versed = 1.0 - cos
    ramp = versed * (-2.0 / 3.0 * drag)
    ramp += 2.0 * drag
    ramp *= versed
    ramp *= versed
    work += ramp
    if balance.any_gravity:
        np.multiply(cos, -A, out=ramp)
        ramp += heavy
        np.cos(ramp, out=ramp)
        ramp -= np.cos(heavy - A)
        ramp *= 2.0 * balance.gravity / (A * A)
        work -= ramp
    if balance.any_pins:
        work -= balance.pins_drop(-A, A * versed) / (A * A)
    travel, shape = A + end, np.zeros(1)
    if balance.any_series:
        by_series = balance.series_drop(-A, np.concatenate([A * versed, travel[None]]))
        work -= by_series[:-1] / (A * A)
        shape = by_series[-1]
    work /= sin2
    np.subtract(2.0, versed, out=versed)
    closed = (-2.0 * balance.dry / A) / versed
    closed += 1.0
    if balance.any_cubic:
        closed += (0.5 * balance.cubic * A * A) * (1.0 + cos * cos)
    closed -= work
    q = np.sqrt(closed)

    # the rest of the drag's work, from q - 1, by sweeps; the weight ϑ² is in the matrix, so sin²ϑ/ϑ² is left
    theta *= theta
    sinc2 = sin2
    sinc2 /= theta
    whole = span / sinc2
    by_speed = sin
    by_speed *= drag
    at_one = by_speed + viscous

    def rest() -> Array:
        np.multiply(by_speed, q, out=work)
        np.add(work, viscous, out=work)
        np.multiply(work, q, out=work)
        np.subtract(work, at_one, out=work)
        np.multiply(work, sinc2, out=work)
        return work

    for _ in range(rule.arc_sweeps):
        np.matmul(nodes.folded, rest(), out=ramp)
        ramp *= whole
        np.subtract(closed, ramp, out=ramp)
        np.sqrt(ramp, out=ramp)
        q, ramp = ramp, q
        if rule.arc_sweeps > FEW_SWEEPS and not (np.abs(np.subtract(q, ramp, out=ramp)) > SWEPT).any():
            break
    versed_end = 1.0 - cos_end
    lost = viscous * (span - np.sqrt(versed_end * (1.0 + cos_end)) * cos_end)
    lost += drag * versed_end * versed_end * (2.0 - (2.0 / 3.0) * versed_end)
    lost += span**3 * (nodes.folded_end @ rest())
    return Arc(
        speed_squared=balance.plain_drop(-A, travel, -2.0 * balance.dry) + shape - A * A * lost,
        slope=2.0 * (balance.torque_at(-A, np.zeros_like(A)) - viscous * A * span - 2.0 * drag * travel),
        time=span * (nodes.weights @ np.divide(1.0, q, out=q)),
    )
