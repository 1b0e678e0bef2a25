"""Contact phases: the balance moves over a known angle, or coasts until an event, with some inertia and torque.

v² is followed over the balance angle; what has a potential enters in closed form and the drag by Picard sweeps
through a few Gauss nodes. Slopes with v² at the start are returned too, true to order (1/Q)².
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from oscsim.arrays import Array, Flags
from oscsim.motion.balance import Balance
from oscsim.motion.rules import FEW_SWEEPS, SWEPT, Collocation, Rule, collocation

#: An event nearer than this to where it was sought, rad, is placed to rounding by the first-order step left.
NEAR = 1e-6


class Contact(NamedTuple):
    """End of a contact phase, each (points,): v², time taken, and their slopes with v² at the start."""

    speed_squared: Array
    time: Array
    slope: Array
    time_slope: Array


def push(
    balance: Balance,
    start: Array,
    length: Array,
    w: Array,
    inertia: Array | float,
    torque: Array | float,
    nodes: Collocation,
    sweeps: int,
) -> Contact:
    """Move from ``start`` over ``length`` with squared speed ``w`` at the start.

    ``inertia`` and extra ``torque`` are those of the phase. All (points,). NaN where the balance stops.
    """
    if not balance.any_pins:
        return _smooth_push(balance, start, length, w, inertia, torque, nodes, sweeps)
    # index pins: in pieces between the corners of the torque
    low, high = balance.kinks(start, start + length)
    end = Contact(w, np.zeros_like(w), np.ones_like(w), np.zeros_like(w))
    for a, b in ((start, low), (low, high), (high, start + length)):
        piece = _smooth_push(balance, a, b - a, end.speed_squared, inertia, torque, nodes, sweeps)
        end = Contact(
            piece.speed_squared,
            end.time + piece.time,
            end.slope * piece.slope,
            end.time_slope + end.slope * piece.time_slope,
        )
    return end


def _smooth_push(
    balance: Balance,
    start: Array,
    length: Array,
    w: Array,
    inertia: Array | float,
    torque: Array | float,
    nodes: Collocation,
    sweeps: int,
) -> Contact:
    """``push`` over a stretch without corners in the torque."""
    pull = 2.0 * (torque - balance.dry)
    lightness = 1.0 / inertia
    v_start = np.sqrt(w)
    drag = 2.0 * v_start * balance.drag(v_start)
    # nodes lie evenly in the time of a motion uniformly accelerated by hairspring and torque: the integrands stay
    # smooth even where the balance almost stands still at one end
    w_end = w + length * (pull - 2.0 * start - length - drag) * lightness
    v_end = np.sqrt(np.maximum(w_end, 0.0))
    linear = 2.0 * v_start / (v_start + v_end)
    bend = 1.0 - linear
    travel = bend * nodes.to_end
    travel += linear
    travel *= nodes.to_end
    travel *= length
    share = (2.0 * bend) * nodes.nodes
    share += linear
    share *= length
    before = balance.forward_drop(start, travel, pull)
    before *= lightness
    before += w
    inner, share2 = before[:-1], share * (2.0 * lightness)
    v = travel[:-1]
    v *= -drag * lightness
    v += inner
    np.sqrt(v, out=v)
    work: Array = np.empty_like(share)

    def lost() -> Array:
        np.multiply(v, balance.quadratic, out=work)
        np.add(work, balance.viscous, out=work)
        np.multiply(work, v, out=work)
        np.multiply(work, share2, out=work)
        return work

    for _ in range(sweeps):
        before_it = v.copy() if sweeps > FEW_SWEEPS else v
        np.subtract(inner, nodes.running @ lost(), out=v)
        np.sqrt(v, out=v)
        if sweeps > FEW_SWEEPS and not (np.abs(v - before_it) > SWEPT * v_start).any():
            break
    w_end = before[-1] - nodes.weights @ lost()
    share /= v
    time = nodes.weights @ share
    slope = 1.0 - (balance.viscous * time + 2.0 * balance.quadratic * length) / inertia
    return Contact(w_end, time, slope, -0.5 * time / (v_start * np.sqrt(w_end)))


@dataclass(frozen=True)
class Event:
    """Where a coasting phase ended, each (points,).

    travel: balance angle; then speed, its square, acceleration and time there; slopes of v² and time with v² at the
    start, at a fixed travel; beyond: the event lay beyond the farthest travel there is; placed: it was
    sought within ``NEAR``.
    """

    travel: Array
    speed: Array
    speed_squared: Array
    acceleration: Array
    time: Array
    slope: Array
    time_slope: Array
    beyond: Flags
    placed: Flags


def coast_until(
    balance: Balance,
    start: Array,
    guess: Array,
    limit: Array,
    w: Array,
    inertia: Array | float,
    value_and_slope: Callable[[Array, Array, Array], tuple[Array, Array]],
    rule: Rule,
    steps: int,
    torque: Array | float = 0.0,
) -> Event:
    """Coast from ``start`` until ``value_and_slope(travel, time, v)``, per balance angle, reaches zero.

    ``limit`` is the farthest travel there is, ``steps`` the Newton steps before the last one; ``torque`` acts on the
    way. All (points,).
    """
    nodes = collocation(rule.event_nodes)
    travel = np.minimum(guess, limit)
    if steps:
        good, far = (
            np.zeros_like(travel),
            np.full_like(travel, np.inf),
        )  # the event lies between, far once known
    for step in range(steps + 1):
        end = push(balance, start, travel, w, inertia, torque, nodes, rule.contact_sweeps)
        v = np.sqrt(end.speed_squared)
        value, slope = value_and_slope(travel, end.time, v)
        # the value is below zero until the event; a falling one says only that the event lies farther on
        correction = np.minimum(np.where(slope > 0.0, -value / slope, np.inf), limit - travel)
        beyond = (travel >= limit) & (value < 0.0)
        if step < steps:
            # where the balance cannot coast so far the event lies nearer
            stopped = np.isnan(v)
            good = np.where(value < 0.0, np.maximum(good, travel), good)
            far = np.where(stopped, np.minimum(far, travel), far)
            ahead = travel + correction
            ahead = np.where(ahead > 0.0, ahead, 0.5 * travel)
            travel = np.where(stopped | (ahead >= far), 0.5 * (good + far), ahead)
    # the last, small step is carried along to first order instead of pushing once more
    acceleration = (balance.torque_at(start + travel, v) + torque) / inertia
    w_end = end.speed_squared + 2.0 * acceleration * correction
    return Event(
        travel=travel + correction,
        speed=np.sqrt(w_end),
        speed_squared=w_end,
        acceleration=acceleration,
        time=end.time + correction / v,
        slope=end.slope,
        time_slope=end.time_slope,
        beyond=beyond,
        placed=np.abs(correction) <= NEAR,
    )
