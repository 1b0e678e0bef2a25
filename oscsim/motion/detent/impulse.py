"""The impulse of the detent escapement: a tooth on the impulse face, with a gearing that changes on the way.

With J(x) = J₀ + p² J_w, 2T = J v² gains twice the work of all torques, whatever p does: M_e p has the wheel's angle as
its potential, what friction takes of it is summed through the nodes, and the drag is found by sweeps as in contact.py.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.balance import Balance
from oscsim.motion.contact import Contact
from oscsim.motion.detent.numbers import DetentNumbers
from oscsim.motion.rules import Collocation


def drive(
    balance: Balance,
    detent: DetentNumbers,
    start: Array,
    length: Array,
    w: Array,
    nodes: Collocation,
    sweeps: int,
) -> Contact:
    """From ``start`` over ``length`` with squared speed ``w``, the tooth on the face; all (points,).

    The detent goes along as far as it is carried. In pieces between the corners of the torque: the line of centres,
    where friction changes sides, the angle where the detent is let go, and the index pins.
    """
    end = start + length
    let_go = detent.centre + detent.let_go
    corners = [detent.centre + 0.0 * start]
    if (start < let_go).any():
        corners.append(let_go)
    if balance.any_pins:
        corners += [balance.pins_low, balance.pins_high]
    cuts = np.sort(np.stack([start, *(np.clip(corner, start, end) for corner in corners), end]), axis=0)
    so_far = Contact(w, np.zeros_like(w), np.ones_like(w), np.zeros_like(w))
    for a, b in pairwise(cuts):
        carried = 0.5 * (a + b) < let_go
        one = _smooth(balance, detent, carried, a, b - a, so_far.speed_squared, nodes, sweeps)
        so_far = Contact(
            one.speed_squared,
            so_far.time + one.time,
            so_far.slope * one.slope,
            so_far.time_slope + so_far.slope * one.time_slope,
        )
    return so_far


def _smooth(
    balance: Balance,
    detent: DetentNumbers,
    carried: Array,
    start: Array,
    length: Array,
    w: Array,
    nodes: Collocation,
    sweeps: int,
) -> Contact:
    """``drive`` over a stretch without corners; ``carried``: whether the detent goes along."""
    torque, inertia_w = detent.wheel_torque, detent.wheel_inertia
    alone = 1.0 + np.where(carried, detent.detent_inertia, 0.0)
    pull = -2.0 * (balance.dry + np.where(carried, detent.spring_torque, 0.0))
    from_centre = start - detent.centre
    first, last = detent.gearing(from_centre), detent.gearing(from_centre + length)
    J_first, J_last = alone + first.p**2 * inertia_w, alone + last.p**2 * inertia_w
    # nodes even in the time of a motion uniformly accelerated, as in contact.py
    v_start = np.sqrt(w)
    worked = balance.forward_drop(start, length, pull) + 2.0 * torque * (last.wheel - first.wheel)
    v_end = np.sqrt(np.maximum((J_first * w + worked) / J_last, 0.0))
    linear = 2.0 * v_start / (v_start + v_end)
    bend = 1.0 - linear
    travel = length * (bend * nodes.to_end + linear) * nodes.to_end
    share = length * (2.0 * bend * nodes.nodes + linear)
    gear = detent.gearing(from_centre + travel)
    twice = (
        J_first * w + balance.forward_drop(start, travel, pull) + 2.0 * torque * (gear.wheel - first.wheel)
    )
    rubbed = 2.0 * torque * (gear.p * (1.0 - gear.passed))[:-1] * share
    inner = twice[:-1] - nodes.running @ rubbed
    J = alone + gear.p[:-1] ** 2 * inertia_w
    v = np.sqrt(inner / J)

    def lost() -> Array:
        return np.asarray(2.0 * share * v * balance.drag(v))

    for _ in range(sweeps + 1):
        v = np.sqrt((inner - nodes.running @ lost()) / J)
    w_end = (twice[-1] - nodes.weights @ rubbed - nodes.weights @ lost()) / J_last
    slowed = nodes.weights @ (share * (balance.viscous + 2.0 * balance.quadratic * v) / (J * v))
    return Contact(
        w_end,
        nodes.weights @ (share / v),
        J_first / J_last * (1.0 - slowed),
        -0.5 * J_first * (nodes.weights @ (share / (J * v**3))),
    )
