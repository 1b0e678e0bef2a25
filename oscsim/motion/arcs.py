"""Free arcs: the balance alone with its hairspring, between a turning point and the fork.

Every free arc is computed outward from its turning point, where the balance stands still: towards the fork
in time, or back from it against time, when every drag has the other sign. With x = -A cos ϑ and
v = A q sin ϑ the unknown q stays near 1 and smooth, and the work of the drag from the turning point on,

    q² = q_c² - (2/sin²ϑ) ∫₀^ϑ (viscous q + quadratic A q² sin ϑ) sin²ϑ dϑ,

is found by Picard sweeps through a few Gauss nodes in ϑ; hairspring, dry friction and gravity enter
in closed form through q_c. Each sweep gains a factor of about Q.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.coefficients import Oscillators, cosine
from oscsim.motion.contact import push
from oscsim.motion.rules import Rule, collocation


@dataclass(frozen=True)
class Arc:
    """Free arcs of shape (points,): squared speed at the fork, its slope with amplitude, the time taken."""

    speed_squared: Array
    slope: Array  # d(speed_squared)/dA at a fixed end, true to order (1/Q)²
    time: Array


def free_arc(osc: Oscillators, amplitude: Array, end: Array, rule: Rule, *, backwards: bool = False) -> Arc:
    """From rest at -amplitude to ``end``; ``backwards``: from rest at +amplitude, against time, to ``end``.

    All arrays (points,), rad. Where there is no such motion (the arc does not reach ``end``) the answer is
    NaN: the caller's failed beat.
    """
    if backwards:
        osc, end = osc.against_time, -end
    if not osc.any_pins:
        return _smooth_arc(osc, amplitude, end, rule)
    # index pins: the torque has a corner at each contact angle, so the arc is taken in pieces between them
    low, high = osc.kinks(-amplitude, end)
    first = np.where(low > -amplitude, low, np.where(high > -amplitude, high, end))
    arc = _smooth_arc(osc, amplitude, first, rule)
    nodes, sweeps = collocation(rule.arc_nodes), rule.arc_sweeps + 1
    rest = push(osc, first, end - first, arc.speed_squared, 1.0, 0.0, nodes, sweeps)
    return Arc(rest.speed_squared, arc.slope * rest.slope, arc.time + rest.time)


def _smooth_arc(osc: Oscillators, amplitude: Array, end: Array, rule: Rule) -> Arc:
    """``free_arc`` forward in time, over a stretch without corners in the torque."""
    nodes = collocation(rule.arc_nodes)
    A, heavy = amplitude, osc.heavy
    span = np.arccos(-end / A)
    theta = span * nodes.nodes
    tangent = np.tan(0.5 * theta)  # one tangent gives sine and cosine
    squared = tangent * tangent
    half = 1.0 / (1.0 + squared)
    cos, sin = (1.0 - squared) * half, 2.0 * tangent * half
    sin2 = sin * sin
    per_sin2 = 1.0 / sin2

    closed = 1.0 - (osc.dry / A) * (1.0 + squared)
    if osc.any_cubic:
        closed += (0.5 * osc.cubic * A * A) * (1.0 + cos * cos)
    if osc.any_gravity:
        twice = 2.0 * osc.gravity / (A * A)
        closed += twice * (cosine(heavy - A * cos) - cosine(heavy - A)) * per_sin2
    if osc.any_pins:
        closed += osc.pins_drop(-A, A * (1.0 - cos)) * per_sin2 / (A * A)

    # first sweep in closed form: the viscous work at q = 1
    q = np.sqrt(closed - osc.viscous * (theta - sin * cos) * per_sin2)
    # the weight ϑ² is in the matrix, so the integrand has sin²ϑ/ϑ²
    theta2 = theta * theta
    sinc2, whole = sin2 / theta2, (span * theta2) * per_sin2
    by_speed = (osc.quadratic * A) * sin
    for _ in range(rule.arc_sweeps):
        work = nodes.folded @ (sinc2 * q * (osc.viscous + by_speed * q))
        work *= whole
        q = np.sqrt(closed - work)
    lost = A * A * span**3 * (nodes.folded_end @ (sinc2 * q * (osc.viscous + by_speed * q)))
    lost_slope = osc.viscous * A * span + 2.0 * osc.quadratic * A * (A + end)
    return Arc(
        speed_squared=osc.potential_drop(-A, A + end) - 2.0 * osc.dry * (A + end) - lost,
        slope=2.0 * (osc.torque_at(-A, np.zeros_like(A)) - lost_slope),
        time=span * (nodes.weights @ (1.0 / q)),
    )
