"""The engine's own arithmetic as straight scalar code, compiled by numba: the limit to approach.

The same nodes, sweeps, events and Newton steps as oscsim.motion (arcs.py, contact.py, lift.py, cycle.py) for beats
that give their impulse, point by point; lost impulses, index pins, further rungs and decisions from above are left
out, so a whole compiled path would be somewhat slower and several times longer. For the benchmark only.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from oscsim.motion.rules import LADDER, collocation
from tests.benchmarks import compiled as at

NODES = 32


def _matrices(count: int, *, arcs: bool) -> tuple[Any, ...]:
    made = collocation(count)
    if arcs:
        return made.nodes[:, 0], made.folded, made.folded_end, made.weights
    return made.nodes[:, 0], made.running, made.weights, made.weights


def _rung(number: int) -> tuple[Any, ...]:
    rule = LADDER[number]
    return (
        (*_matrices(rule.arc_nodes, arcs=True), rule.arc_sweeps),
        (*_matrices(rule.contact_nodes, arcs=False), rule.contact_sweeps),
        (*_matrices(rule.event_nodes, arcs=False), rule.contact_sweeps),
    )


@njit(**at.COMPILED)
def arc(
    c: Any, way: float, heavy: float, A: float, end: float, rule: Any, work: Any
) -> tuple[float, float, float]:
    """v² at ``end``, its slope with the amplitude and the time from rest at -A; ``way`` -1 against time."""
    nodes, folded, folded_end, weights, sweeps = rule
    n = len(nodes)
    q, g, closed, sinc2, by_speed = work[0], work[1], work[2], work[3], work[4]
    viscous, dry, drag, gravity = (
        way * c[at.VISCOUS],
        way * c[at.DRY],
        way * c[at.QUADRATIC] * A,
        c[at.GRAVITY],
    )
    cos_end = -end / A
    span = np.arccos(cos_end)
    for i in range(n):
        theta = span * nodes[i]
        sin, cos = np.sin(theta), np.cos(theta)
        sin2, versed = sin * sin, 1.0 - cos
        lost = viscous * (theta - sin * cos) + drag * versed * versed * (2.0 - versed * (2.0 / 3.0))
        if gravity != 0.0:
            lost -= 2.0 * gravity / (A * A) * (np.cos(heavy - A * cos) - np.cos(heavy - A))
        closed[i] = (
            1.0 - 2.0 * dry / A / (2.0 - versed) + 0.5 * c[at.CUBIC] * A * A * (1.0 + cos * cos) - lost / sin2
        )
        q[i], sinc2[i], by_speed[i] = np.sqrt(closed[i]), sin2 / (theta * theta), drag * sin
    for _ in range(sweeps):
        for i in range(n):
            g[i] = sinc2[i] * (q[i] * (viscous + by_speed[i] * q[i]) - viscous - by_speed[i])
        for i in range(n):
            total = 0.0
            for j in range(n):
                total += folded[i, j] * g[j]
            q[i] = np.sqrt(closed[i] - span / sinc2[i] * total)
    rest, time = 0.0, 0.0
    for i in range(n):
        rest += folded_end[i] * sinc2[i] * (q[i] * (viscous + by_speed[i] * q[i]) - viscous - by_speed[i])
        time += weights[i] / q[i]
    versed, travel = 1.0 - cos_end, A + end
    lost = viscous * (span - np.sqrt(versed * (1.0 + cos_end)) * cos_end)
    lost += drag * versed * versed * (2.0 - (2.0 / 3.0) * versed) + span**3 * rest
    w = gain(c, heavy, -A, travel, 0.0) - 2.0 * dry * travel - A * A * lost
    pull = A - dry + c[at.CUBIC] * A * A * A
    if gravity != 0.0:
        pull -= gravity * np.sin(heavy - A)
    return w, 2.0 * (pull - viscous * A * span - 2.0 * drag * travel), span * time


@njit(**at.COMPILED)
def gain(c: Any, heavy: float, start: float, travel: float, pull: float) -> float:
    """What v² gains over ``travel`` by hairspring, gravity and an even torque, without inertia."""
    drop, end = (pull - 2.0 * start - travel) * travel, start + travel
    drop -= travel * (start + end) * 0.5 * c[at.CUBIC] * (start * start + end * end)
    if c[at.GRAVITY] != 0.0:
        drop += 2.0 * c[at.GRAVITY] * (np.cos(end + heavy) - np.cos(start + heavy))
    return drop


@njit(**at.COMPILED)
def torque(c: Any, heavy: float, x: float, v: float) -> float:
    f = -x - c[at.DRY] - v * (c[at.VISCOUS] + c[at.QUADRATIC] * v) - c[at.CUBIC] * x * x * x
    if c[at.GRAVITY] != 0.0:
        f -= c[at.GRAVITY] * np.sin(x + heavy)
    return f


@njit(**at.COMPILED)
def push(
    c: Any,
    heavy: float,
    start: float,
    length: float,
    w: float,
    inertia: float,
    extra: float,
    rule: Any,
    work: Any,
) -> tuple[float, float, float, float]:
    """v², time and their slopes with v² at the start, after ``length``. As contact.py."""
    nodes, running, weights, _, sweeps = rule
    n = len(nodes)
    v, g, inner, share = work[0], work[1], work[2], work[3]
    pull, lightness, v_start = 2.0 * (extra - c[at.DRY]), 1.0 / inertia, np.sqrt(w)
    drag = 2.0 * v_start * (c[at.VISCOUS] + c[at.QUADRATIC] * v_start)
    w_end = w + length * (pull - 2.0 * start - length - drag) * lightness
    linear = 2.0 * v_start / (v_start + np.sqrt(max(w_end, 0.0)))
    bend = 1.0 - linear
    for i in range(n):
        travel = length * (linear + bend * nodes[i]) * nodes[i]
        share[i] = length * (linear + 2.0 * bend * nodes[i])
        inner[i] = w + lightness * gain(c, heavy, start, travel, pull)
        v[i] = np.sqrt(inner[i] - travel * drag * lightness)
    for _ in range(sweeps):
        for i in range(n):
            g[i] = 2.0 * lightness * share[i] * v[i] * (c[at.VISCOUS] + c[at.QUADRATIC] * v[i])
        for i in range(n):
            total = 0.0
            for j in range(n):
                total += running[i, j] * g[j]
            v[i] = np.sqrt(inner[i] - total)
    w_end, time = w + lightness * gain(c, heavy, start, length, pull), 0.0
    for i in range(n):
        w_end -= weights[i] * 2.0 * lightness * share[i] * v[i] * (c[at.VISCOUS] + c[at.QUADRATIC] * v[i])
        time += weights[i] * share[i] / v[i]
    slope = 1.0 - (c[at.VISCOUS] * time + 2.0 * c[at.QUADRATIC] * length) * lightness
    return w_end, time, slope, -0.5 * time / (v_start * np.sqrt(w_end))


@njit(**at.COMPILED)
def lift(
    c: Any, side: float, w_contact: float, contacts: Any, events: Any, near: Any, work: Any
) -> tuple[float, float, float]:
    """v² at drop, its slope with v² at contact, and the time, with the impulse given. ``near`` (5,): travels of both
    events, their slopes and the v² they belong to; NaN the first time. As lift.py."""
    heavy, x0 = side * c[at.HEAVY], side * c[at.CENTRE] - c[at.CONTACT]
    w = w_contact / c[at.I_U] ** 2
    w, total, slope, _ = push(c, heavy, x0, c[at.UNLOCKING], w, c[at.I_U], -c[at.M_U], contacts, work)
    xr, dw, v = x0 + c[at.UNLOCKING], slope / c[at.I_U] ** 2, np.sqrt(w)
    back, dback = c[at.RECOIL] * v, c[at.RECOIL] * 0.5 * dw / v
    if np.isnan(near[0]):
        a = torque(c, heavy, xr, v) / c[at.I_L]
        time = 2.0 * (v + back) / (c[at.WHEEL] - a)
        travel = (v + 0.5 * a * time) * time
    else:
        travel = near[0] + near[2] * (w_contact - near[4])
    w_end, time, slope, time_slope = push(c, heavy, xr, travel, w, c[at.I_L], 0.0, events, work)
    v = np.sqrt(w_end)
    a = torque(c, heavy, xr + travel, v) / c[at.I_L]
    miss = ((0.5 * c[at.WHEEL] * time - back) * time - travel) / ((c[at.WHEEL] * time - back) / v - 1.0)
    travel, time, w = travel - miss, time - miss / v, w_end - 2.0 * a * miss
    v, total, wheel = np.sqrt(w), total + time, c[at.WHEEL] * time - back
    dtime = time_slope * dw
    dcatching = (time * dback - wheel * dtime) / (wheel / v - 1.0)
    dtime += dcatching / v
    dw = slope * dw + 2.0 * a * dcatching
    near[0], near[2] = travel, dcatching
    start, dv = xr + travel, 0.5 * dw / v
    lever = v + c[at.SHARE] * (wheel - v)
    dlever = dv + c[at.SHARE] * (c[at.WHEEL] * dtime - dback - dv)
    room, running = c[at.LIFT] - travel - c[at.SHAKE], 0.0
    if c[at.SHAKE] > 0.0:
        if np.isnan(near[1]):
            a, faster = torque(c, heavy, start, v), lever - v
            time = (
                2.0
                * c[at.SHAKE]
                / (faster + np.sqrt(faster * faster + 2.0 * max(c[at.LEVER] - a, 0.0) * c[at.SHAKE]))
            )
            running = (v + 0.5 * a * time) * time
        else:
            running = near[1] + near[3] * (w_contact - near[4])
        w_end, time, slope, time_slope = push(c, heavy, start, running, w, 1.0, 0.0, events, work)
        v = np.sqrt(w_end)
        a = torque(c, heavy, start + running, v)
        miss = ((lever + 0.5 * c[at.LEVER] * time) * time - running - c[at.SHAKE]) / (
            (lever + c[at.LEVER] * time) / v - 1.0
        )
        running, time, w = running - miss, time - miss / v, w_end - 2.0 * a * miss
        v, total = np.sqrt(w), total + time
        lever += c[at.LEVER] * time
        dtime = time_slope * dw
        drunning = (-time * dlever - lever * dtime) / (lever / v - 1.0)
        dlever += c[at.LEVER] * (dtime + drunning / v)
        dw = slope * dw - 2.0 * running * dcatching + 2.0 * a * drunning
    else:
        drunning = 0.0
    near[1], near[3], near[4] = running, drunning, w_contact
    added = c[at.I_I] - 1.0
    dv = (0.5 * dw / v + added * dlever) / c[at.I_I]
    v = (v + added * lever) / c[at.I_I]
    start += running
    w, time, slope, _ = push(c, heavy, start, room - running, v * v, c[at.I_I], c[at.M_I], contacts, work)
    pull = (torque(c, heavy, start, v) + c[at.M_I]) / c[at.I_I]
    return w, slope * 2.0 * v * dv - 2.0 * pull * (dcatching + drunning), total + time


@njit(**at.COMPILED)
def evaluate(
    c: Any, left: float, right: float, rung: Any, near: Any, work: Any
) -> tuple[float, float, float]:
    """Newton's steps of both turning points, and the period. As cycle.py."""
    arcs, contacts, events = rung
    R, D, E, period = (0.0, 0.0), (0.0, 0.0), (0.0, 0.0), 0.0
    for beat in range(2):
        side = 1.0 - 2.0 * beat
        here, there = (left, right) if beat == 0 else (right, left)
        x0 = side * c[at.CENTRE] - c[at.CONTACT]
        drop = x0 + c[at.UNLOCKING] + c[at.LIFT] - c[at.SHAKE]
        w, coming, t1 = arc(c, 1.0, side * c[at.HEAVY], here, x0, arcs, work)
        w, through, t2 = lift(c, side, w, contacts, events, near[beat], work)
        w_out, going, t3 = arc(c, -1.0, -side * c[at.HEAVY], there, -drop, arcs, work)
        period += t1 + t2 + t3
        if beat == 0:
            R, D, E = (w_out - w, 0.0), (through * coming, 0.0), (going, 0.0)
        else:
            R, D, E = (R[0], w_out - w), (D[0], through * coming), (E[0], going)
    det = D[0] * D[1] - E[0] * E[1]
    return (R[0] * D[1] + R[1] * E[0]) / det, (R[1] * D[0] + R[0] * E[1]) / det, period


@njit(**at.COMPILED)
def _settle_all(c: Any, start: Any, rough: Any, fine: Any) -> Any:
    amplitude, work, near = np.empty(len(c)), np.empty((5, NODES)), np.empty((2, 5))
    for n in range(len(c)):
        left = right = start[n]
        near[:] = np.nan
        for number in range(3):
            if number < 2:
                step_left, step_right, _ = evaluate(c[n], left, right, rough, near, work)
            else:
                step_left, step_right, _ = evaluate(c[n], left, right, fine, near, work)
            left, right = left + step_left, right + step_right
        amplitude[n] = 0.5 * (left + right)
    return amplitude


def settle_all(c: Any, start: Any) -> Any:
    """Settled amplitudes (points,) by the engine's three evaluations: two on the first rung, one on the second."""
    return _settle_all(c, start, _rung(0), _rung(1))
