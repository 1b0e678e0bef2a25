"""The period map hand-written and compiled: Runge-Kutta of order eight, fixed steps, in numba.

What a user who knows the problem would write. Free arcs run in the polar angle of the swing (x = -R cos φ,
v = R sin φ), which ends at the turning point without a search; unlocking and impulse over the balance angle; catch-up
and shake in time, each end found by Newton steps that take the short phase again. Units as in oscsim.motion: time
in 1/ω, torques over k, inertias over I. Coefficients of the method: scipy's DOP853 (Hairer, Nørsett, Wanner 1993).
Numbers of steps are the only tolerance.
"""
# ruff: noqa: E501 (the stages of the method stand one a line)

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from scipy.integrate._ivp import dop853_coefficients as table

from oscsim.motion.coefficients import Oscillators

STAGES = 12
A = np.ascontiguousarray(table.A[:STAGES, :STAGES])
B = np.ascontiguousarray(table.B)
C = np.ascontiguousarray(table.C[:STAGES])
#: Contracted multiply-adds and reciprocals are allowed, nothing that changes what NaN means.
COMPILED: dict[str, Any] = {
    "fastmath": {"contract", "arcp", "nsz", "reassoc"},
    "error_model": "numpy",
}

#: Order of the coefficients of a point in its row.
(
    VISCOUS, QUADRATIC, DRY, GRAVITY, HEAVY, CUBIC, CENTRE, CONTACT, UNLOCKING, LIFT, SHAKE, M_U, M_I,
    I_U, I_L, I_I, RECOIL, WHEEL, SHARE, LEVER,
) = range(20)  # fmt: skip
FIELDS = (
    "viscous", "quadratic", "dry", "gravity", "heavy", "cubic", "centre", "contact", "unlocking", "rise", "shake",
    "unlocking_torque", "impulse_torque", "inertia_unlocking", "inertia_lever", "inertia_impulse", "recoil",
    "wheel_acceleration", "wheel_share", "lever_acceleration",
)  # fmt: skip


def rows(osc: Oscillators) -> Any:
    """A batch as rows of coefficients (points, 20)."""
    return np.stack([getattr(osc if hasattr(osc, name) else osc.right, name) for name in FIELDS], axis=1)


@njit(**COMPILED)
def disturbance(c: Any, side: float, x: float, v: float) -> float:
    """All torques of equation (1) but the linear spring's, moving at v > 0, in the mirrored frame."""
    f = -v * (c[VISCOUS] + c[QUADRATIC] * v) - c[DRY] - c[CUBIC] * x * x * x
    if c[GRAVITY] != 0.0:
        f -= c[GRAVITY] * np.sin(x + side * c[HEAVY])
    return f


@njit(**COMPILED)
def step(
    rates: Any, c: Any, side: float, s: float, a: float, b: float, h: float, given: Any
) -> tuple[float, float]:
    """One step ``h`` of the independent variable from ``s``: the two unknowns after it. Written out, zeros left out."""
    # fmt: off
    k0a, k0b = rates(c, side, 0, s, a, b, given)
    k1a, k1b = rates(c, side, 1, s + h * C[1], a + h * (A[1, 0] * k0a), b + h * (A[1, 0] * k0b), given)
    k2a, k2b = rates(c, side, 2, s + h * C[2], a + h * (A[2, 0] * k0a + A[2, 1] * k1a), b + h * (A[2, 0] * k0b + A[2, 1] * k1b), given)
    k3a, k3b = rates(c, side, 3, s + h * C[3], a + h * (A[3, 0] * k0a + A[3, 2] * k2a), b + h * (A[3, 0] * k0b + A[3, 2] * k2b), given)
    k4a, k4b = rates(c, side, 4, s + h * C[4], a + h * (A[4, 0] * k0a + A[4, 2] * k2a + A[4, 3] * k3a), b + h * (A[4, 0] * k0b + A[4, 2] * k2b + A[4, 3] * k3b), given)
    k5a, k5b = rates(c, side, 5, s + h * C[5], a + h * (A[5, 0] * k0a + A[5, 3] * k3a + A[5, 4] * k4a), b + h * (A[5, 0] * k0b + A[5, 3] * k3b + A[5, 4] * k4b), given)
    k6a, k6b = rates(c, side, 6, s + h * C[6], a + h * (A[6, 0] * k0a + A[6, 3] * k3a + A[6, 4] * k4a + A[6, 5] * k5a), b + h * (A[6, 0] * k0b + A[6, 3] * k3b + A[6, 4] * k4b + A[6, 5] * k5b), given)
    k7a, k7b = rates(c, side, 7, s + h * C[7], a + h * (A[7, 0] * k0a + A[7, 3] * k3a + A[7, 4] * k4a + A[7, 5] * k5a + A[7, 6] * k6a), b + h * (A[7, 0] * k0b + A[7, 3] * k3b + A[7, 4] * k4b + A[7, 5] * k5b + A[7, 6] * k6b), given)
    k8a, k8b = rates(c, side, 8, s + h * C[8], a + h * (A[8, 0] * k0a + A[8, 3] * k3a + A[8, 4] * k4a + A[8, 5] * k5a + A[8, 6] * k6a + A[8, 7] * k7a), b + h * (A[8, 0] * k0b + A[8, 3] * k3b + A[8, 4] * k4b + A[8, 5] * k5b + A[8, 6] * k6b + A[8, 7] * k7b), given)
    k9a, k9b = rates(c, side, 9, s + h * C[9], a + h * (A[9, 0] * k0a + A[9, 3] * k3a + A[9, 4] * k4a + A[9, 5] * k5a + A[9, 6] * k6a + A[9, 7] * k7a + A[9, 8] * k8a), b + h * (A[9, 0] * k0b + A[9, 3] * k3b + A[9, 4] * k4b + A[9, 5] * k5b + A[9, 6] * k6b + A[9, 7] * k7b + A[9, 8] * k8b), given)
    k10a, k10b = rates(c, side, 10, s + h * C[10], a + h * (A[10, 0] * k0a + A[10, 3] * k3a + A[10, 4] * k4a + A[10, 5] * k5a + A[10, 6] * k6a + A[10, 7] * k7a + A[10, 8] * k8a + A[10, 9] * k9a), b + h * (A[10, 0] * k0b + A[10, 3] * k3b + A[10, 4] * k4b + A[10, 5] * k5b + A[10, 6] * k6b + A[10, 7] * k7b + A[10, 8] * k8b + A[10, 9] * k9b), given)
    k11a, k11b = rates(c, side, 11, s + h * C[11], a + h * (A[11, 0] * k0a + A[11, 3] * k3a + A[11, 4] * k4a + A[11, 5] * k5a + A[11, 6] * k6a + A[11, 7] * k7a + A[11, 8] * k8a + A[11, 9] * k9a + A[11, 10] * k10a), b + h * (A[11, 0] * k0b + A[11, 3] * k3b + A[11, 4] * k4b + A[11, 5] * k5b + A[11, 6] * k6b + A[11, 7] * k7b + A[11, 8] * k8b + A[11, 9] * k9b + A[11, 10] * k10b), given)
    a += h * (B[0] * k0a + B[5] * k5a + B[6] * k6a + B[7] * k7a + B[8] * k8a + B[9] * k9a + B[10] * k10a + B[11] * k11a)
    b += h * (B[0] * k0b + B[5] * k5b + B[6] * k6b + B[7] * k7b + B[8] * k8b + B[9] * k9b + B[10] * k10b + B[11] * k11b)
    return a, b
    # fmt: on


@njit(**COMPILED)
def polar(c: Any, side: float, stage: int, s: float, R: float, t: float, given: Any) -> tuple[float, float]:
    """Radius and time over the polar angle; sine and cosine of the step's beginning are turned by the stage's share."""
    sin0, cos0, turn = given
    sin = sin0 * turn[1, stage] + cos0 * turn[0, stage]
    cos = cos0 * turn[1, stage] - sin0 * turn[0, stage]
    f = disturbance(c, side, -R * cos, R * sin)
    slow = R / (R + cos * f)
    return sin * f * slow, slow


@njit(**COMPILED)
def by_angle(
    c: Any, side: float, stage: int, x: float, w: float, t: float, given: Any
) -> tuple[float, float]:
    """v² and time over the balance angle."""
    lightness, torque = given
    v = np.sqrt(w)
    return 2.0 * (disturbance(c, side, x, v) - x + torque) * lightness, 1.0 / v


@njit(**COMPILED)
def by_time(c: Any, side: float, stage: int, t: float, x: float, v: float, given: Any) -> tuple[float, float]:
    """Angle and speed over time."""
    return v, (disturbance(c, side, x, v) - x) * given[0]


@njit(**COMPILED)
def in_phase(
    c: Any, side: float, start: float, end: float, R: float, steps: int, turn: Any
) -> tuple[float, float]:
    """Polar angle from ``start`` to ``end``: radius there and time taken. ``turn`` (2, stages) is scratch."""
    h, t = (end - start) / steps, 0.0
    for i in range(STAGES):
        turn[0, i], turn[1, i] = np.sin(h * C[i]), np.cos(h * C[i])
    for n in range(steps):
        phase = start + n * h
        R, t = step(polar, c, side, phase, R, t, h, (np.sin(phase), np.cos(phase), turn))
    return R, t


@njit(**COMPILED)
def over_angle(
    c: Any, side: float, x: float, length: float, w: float, inertia: float, torque: float, steps: int
) -> tuple[float, float]:
    """Balance angle over ``length``: v² at the end and time; NaN where the balance stops."""
    h, t = length / steps, 0.0
    for n in range(steps):
        w, t = step(by_angle, c, side, x + n * h, w, t, h, (1.0 / inertia, torque))
    return w, t


@njit(**COMPILED)
def in_time(
    c: Any, side: float, x: float, v: float, time: float, inertia: float, steps: int
) -> tuple[float, float]:
    """Time: angle and speed after ``time``."""
    h = time / steps
    for n in range(steps):
        x, v = step(by_time, c, side, n * h, x, v, h, (1.0 / inertia,))
    return x, v


@njit(**COMPILED)
def beat(c: Any, side: float, amplitude: float, arcs: int, lifts: int, turn: Any) -> tuple[float, float]:
    """One beat of docs/physics.md §2 from rest at -amplitude: next turning point and time; NaN where it fails."""
    x0 = side * c[CENTRE] - c[CONTACT]
    xr = x0 + c[UNLOCKING]
    if -amplitude >= x0:
        return np.nan, np.nan
    # 1 free arc: to the phase at which x0 lies without losses, then the small rest over the angle
    phase = np.arccos(-x0 / amplitude)
    R, time = in_phase(c, side, 0.0, phase, amplitude, arcs, turn)
    x, v = -R * np.cos(phase), R * np.sin(phase)
    w, t = over_angle(c, side, x, x0 - x, v * v, 1.0, 0.0, 1)
    time += t
    # 2, 3 pick-up and unlocking
    w, t = over_angle(c, side, x0, c[UNLOCKING], w / c[I_U] ** 2, c[I_U], -c[M_U], lifts)
    time += t
    # 4 catch-up
    v = np.sqrt(w)
    back, change, vx = c[RECOIL] * v, 0.0, v
    a = (disturbance(c, side, xr, v) - xr) / c[I_L]
    t = 2.0 * (v + back) / (c[WHEEL] - a)
    if not t > 0.0:
        t = c[LIFT] / v
    for _ in range(20):
        x, vx = in_time(c, side, xr, v, t, c[I_L], lifts)
        behind = (0.5 * c[WHEEL] * t - back) * t - (x - xr)
        change = behind / (c[WHEEL] * t - back - vx)
        if not abs(change) > 1e-6 * t:
            break
        t -= change
    # the last, small step to first order
    t -= change
    x, v = x - vx * change, vx - change * (disturbance(c, side, x, vx) - x) / c[I_L]
    if not x - xr < c[LIFT]:  # no impulse: the wheel did not catch up within the lift
        w, t = over_angle(c, side, xr, c[LIFT], w, c[I_L], 0.0, lifts)
        x, v = xr + c[LIFT], np.sqrt(w)
        time += t
    else:
        time += t
        # 5 catch and the run through the shake
        wheel = c[WHEEL] * t - back
        lever = v + c[SHARE] * (wheel - v)
        gone, faster = x - xr, lever - v
        start, v_start = x, v
        a = disturbance(c, side, x, v) - x
        t = 2.0 * c[SHAKE] / (faster + np.sqrt(faster**2 + 2.0 * max(c[LEVER] - a, 0.0) * c[SHAKE]))
        if c[SHAKE] > 0.0:
            for _ in range(20):
                x, v = in_time(c, side, start, v_start, t, 1.0, lifts)
                change = (lever + 0.5 * c[LEVER] * t) * t - (x - start) - c[SHAKE]
                change /= lever + c[LEVER] * t - v
                if not abs(change) > 1e-6 * t:
                    break
                t -= change
            t -= change
            x, v = x - v * change, v - change * (disturbance(c, side, x, v) - x)
        else:
            t = 0.0
        rest = c[LIFT] - gone
        if (lever + 0.5 * c[LEVER] * t) * t >= rest:  # the tooth drops before the shake is taken up
            t = 2.0 * rest / (lever + np.sqrt(lever**2 + 2.0 * c[LEVER] * rest))
            x, v = in_time(c, side, start, v_start, t, 1.0, lifts)
            time += t
        else:
            time += t
            # 6, 7 the other wall, and the impulse
            lever += c[LEVER] * t
            v = (v + (c[I_I] - 1.0) * lever) / c[I_I]
            end = xr + c[LIFT] - c[SHAKE]
            w, t = over_angle(c, side, x, end - x, v * v, c[I_I], c[M_I], lifts)
            x, v = end, np.sqrt(w)
            time += t
    # 8 free arc, to the turning point
    R, t = in_phase(c, side, np.arctan2(v, -x), np.pi, np.hypot(x, v), arcs, turn)
    if not side * c[CENTRE] + c[CONTACT] < R:
        return np.nan, np.nan
    return R, time + t


@njit(**COMPILED)
def settle(
    c: Any, start: float, slope: float, arcs: int, lifts: int, close: float, turn: Any
) -> tuple[float, float, int]:
    """Secant on P(A) - A: mean of both swings, period, evaluations. ``close``: last step, rad, that is taken on trust."""
    amplitude, before, gap_before = start, 0.0, 0.0
    for number in range(30):
        other, first = beat(c, 1.0, amplitude, arcs, lifts, turn)
        again, second = beat(c, -1.0, other, arcs, lifts, turn)
        gap = again - amplitude
        if number > 0 and amplitude != before:
            slope = (gap - gap_before) / (amplitude - before)
        step = -gap / slope
        # what the step will leave, from what the one before it left
        left = abs(step) * min(1.0, abs(step / (amplitude - before))) if number > 0 else abs(step)
        if not left > close:
            # the other swing follows with the root of P', the slope over both beats
            follows = np.sqrt(max(1.0 + slope, 0.0))
            return 0.5 * (amplitude + other + step * (1.0 + follows)), first + second, number + 1
        before, gap_before, amplitude = amplitude, gap, amplitude + step
    return np.nan, np.nan, 30


@njit(**COMPILED)
def settle_all(c: Any, start: Any, slope: Any, arcs: int, lifts: int, close: float) -> tuple[Any, Any, int]:
    """Every row of a batch, one after another: amplitudes, periods, evaluations in all."""
    amplitude, period, evaluations, turn = np.empty(len(c)), np.empty(len(c)), 0, np.empty((2, STAGES))
    for n in range(len(c)):
        amplitude[n], period[n], used = settle(c[n], start[n], slope[n], arcs, lifts, close, turn)
        evaluations += used
    return amplitude, period, evaluations
