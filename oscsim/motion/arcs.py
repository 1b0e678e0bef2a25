"""Free arcs: the balance alone with its hairspring, between a turning point and the fork.

Every free arc is computed outward from its turning point, where the balance stands still: towards the fork
in time, or back from it against time, when every drag has the other sign. With x = -A cos ϑ and
v = A q sin ϑ the unknown q stays near 1 and smooth, and the work of the drag from the turning point on,

    q² = q_c² - direction · (2/sin²ϑ) ∫₀^ϑ (viscous q + quadratic A q² sin ϑ) sin²ϑ dϑ,

is found by Picard sweeps through a few Gauss nodes in ϑ; hairspring, dry friction and gravity enter
in closed form through q_c. Each sweep gains a factor of about Q.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.coefficients import Oscillators, cosine
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
    direction, heavy, x_end = (-1.0, -osc.heavy, -end) if backwards else (1.0, osc.heavy, end)
    nodes = collocation(rule.arc_nodes)
    A = amplitude
    span = np.arccos(-x_end / A)
    theta = span * nodes.nodes
    tangent = np.tan(0.5 * theta)  # one tangent gives sine and cosine
    squared = tangent * tangent
    cos = (1.0 - squared) / (1.0 + squared)
    sine = (1.0 + cos) * tangent
    sinc2 = sine / theta
    sinc2 *= sinc2

    closed = 1.0 + 0.5 * osc.cubic * A * A * (1.0 + cos * cos)
    closed -= (direction * osc.dry / A) * (1.0 + squared)
    closed_end = (A - x_end) * (A + x_end) * (1.0 + 0.5 * osc.cubic * (A * A + x_end * x_end))
    closed_end -= 2.0 * direction * osc.dry * (A + x_end)
    start_torque = A * (1.0 + osc.cubic * A * A) - direction * osc.dry
    if osc.any_gravity:
        at_start = cosine(heavy - A)
        closed += 2.0 * osc.gravity / (A * A) * (cosine(heavy - A * cos) - at_start) / (sine * sine)
        closed_end += 2.0 * osc.gravity * (cosine(x_end + heavy) - at_start)
        start_torque = start_torque - osc.gravity * np.sin(heavy - A)

    # first sweep in closed form: the viscous work at q = 1
    q = np.sqrt(closed - (direction * osc.viscous) * (theta - sine * cos) / (sine * sine))
    speed = A * sine
    for _ in range(rule.arc_sweeps):
        work = sinc2 * q * osc.drag(speed * q)
        q = np.sqrt(closed - (direction * span) * (nodes.folded @ work) / sinc2)
    lost = A * A * span**3 * (nodes.folded_end @ (sinc2 * q * osc.drag(speed * q)))
    lost_slope = osc.viscous * A * span + 2.0 * osc.quadratic * A * (A + x_end)
    return Arc(
        speed_squared=closed_end - direction * lost,
        slope=2.0 * (start_torque - direction * lost_slope),
        time=span * (nodes.weights @ (1.0 / q)),
    )
