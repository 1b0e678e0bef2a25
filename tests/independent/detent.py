"""One beat of the chronometer's detent in time: independent integration of docs/physics.md, (D1) to (D4).

Like one_beat.py: initial value problems in SI units that end at a located event. Angles are rad, times s.
Coefficients: those of the balance in `operating.py`, and of the escapement
D, w0, drop, mu, J_w, g_d, J_d, r_d, delta, mu_d, M_s, x_u0, x_u1, x_u2, M_p, x_p0, x_p1 (`passing`, coming back).
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from scipy.optimize import brentq

from .one_beat import Beat, EventFunction, Integrate, Rates, State, _event, dop853
from .operating import Coefficients


def wheel_angle(D: float, x: float) -> float:
    """Wheel's angle from the line of centres with a tooth on the impulse face, the balance at x from it."""
    return math.asin(D * math.sin(x)) - x


def gearing(D: float, x: float) -> tuple[float, float]:
    """dw/dx and its slope."""
    q = math.sqrt(1.0 - (D * math.sin(x)) ** 2)
    p = (D * math.cos(x) - q) / q
    return p, D * math.sin(x) * (D * D - 1.0) / q**3


def end_of_impulse(D: float, w0: float) -> float:
    """X with w(X) = w0."""
    top = math.acos(1.0 / D) if D > 1.0 else 0.0  # beyond asin(1/D) there is no such angle
    return float(
        brentq(
            lambda x: wheel_angle(D, x) - w0, 0.0, min(top, math.asin(1.0 / D)) * (1.0 - 1e-12), xtol=1e-15
        )
    )


def beat(op: Coefficients, amplitude: float, s: int, *, integrate: Integrate = dop853) -> Beat:
    """One beat of side s = +1 (unlocking, impulse) or -1 (passing spring) from the turning point x = -amplitude."""
    k, kappa3, b, c, G, M_c, omega, I_b = (op[n] for n in ("k", "kappa3", "b", "c", "G", "M_c", "omega", "I"))
    phase, centre, by_angle = s * op["phi"], s * op["epsilon"], op.get("by_angle")
    D, w0, M_e, J_w, mu = (op[n] for n in ("D", "w0", "M_e", "J_w", "mu"))
    out = Beat(amplitude, s)
    clock = 0.0

    def others(x: float, v: float) -> float:
        torque = -k * x * (1.0 + kappa3 * x * x) - b * v - c * v * v - M_c - G * math.sin(x + phase)
        return torque + (by_angle.forward(s, x) if by_angle else 0.0)

    def motion(inertia: float, extra: float) -> Rates:
        def rates(_t: float, y: Any) -> tuple[float, ...]:
            x, v = y.tolist()
            return v, (others(x, v) + extra) / inertia

        return rates

    def driven(inertia: float, extra: float) -> Rates:
        """With the tooth on the impulse face: (I + p² J_w) x'' + p p' J_w x'² = torques."""

        def rates(_t: float, y: Any) -> tuple[float, ...]:
            x, v = y.tolist()
            u = x - centre
            p, bend = gearing(D, u)
            q = math.sqrt(1.0 - (D * math.sin(u)) ** 2)
            push = M_e * (D * math.cos(u) - q) / (q + mu * D * abs(math.sin(u)))
            return v, (others(x, v) + extra + push - p * bend * J_w * v * v) / (inertia + p * p * J_w)

        return rates

    def reaches(angle: float) -> EventFunction:
        return _event(lambda _t, y: y[0] - angle, +1.0)

    turns = _event(lambda _t, y: y[1], -1.0)

    def run(rates: Rates, y: State, events: list[EventFunction], step: float) -> tuple[State, int]:
        nonlocal clock
        t, y, which = integrate(rates, y, events, step, omega)
        clock += t
        return y, which

    def note(moment: str, y: State) -> None:
        out.angles[moment], out.speeds[moment] = y[0], y[1]

    first = centre + (op["x_u0"] if s > 0 else -op["x_p0"])
    y: State = [-amplitude, 0.0]
    if -amplitude >= first or motion(I_b, 0.0)(0.0, np.array(y))[1] <= 0.0:
        out.failed = "the swing does not reach the detent"
        return out
    y, which = run(motion(I_b, 0.0), y, [reaches(first), turns], 0.1 / omega)
    if which == 1:
        out.failed = "the swing does not reach the detent"
        return out
    note("contact", y)
    out.contact = clock

    def guess(distance: float) -> float:
        return min(1.001 * distance / y[1], 0.15 / omega)

    if s < 0:  # (D4)
        end = centre - op["x_p1"]
        y, which = run(motion(I_b, -op["M_p"]), y, [reaches(end), turns], guess(end - first))
        if which == 1:
            out.failed = "the balance stops at the passing spring"
            return out
        note("drop", y)
    else:
        g, X = op["g_d"], end_of_impulse(D, w0)
        heavier = I_b + g * g * op["J_d"]
        lock = g * M_e * op["r_d"] * math.tan(op["delta"] + math.atan(op["mu_d"]))
        spring, x_1, x_2, x_e = g * op["M_s"], centre + op["x_u1"], centre + op["x_u2"], centre + X
        y[1] *= I_b / heavier
        note("picked up", y)
        y, which = run(motion(heavier, -spring - lock), y, [reaches(x_1), turns], guess(x_1 - first))
        if which == 1:
            out.failed = "the balance stops while unlocking"
            return out
        note("release", y)
        released = clock

        def gap(t: float, y: Any) -> float:
            turned = -w0 - op["drop"] + 0.5 * M_e / J_w * (clock - released + t) ** 2
            return turned - wheel_angle(D, y[0] - centre)

        caught = False
        inertia, extra = heavier, -spring  # until the detent is let go
        for end in (x_2, x_e):
            y, which = run(
                motion(inertia, extra), y, [_event(gap, +1.0), reaches(end), turns], guess(end - y[0])
            )
            if which == 2:
                out.failed = "the balance stops before the wheel has caught up"
                return out
            if which == 0:
                caught = True
                break
            if end == x_2:
                inertia, extra = I_b, 0.0
        if caught:
            note("catch", y)
            p, _ = gearing(D, y[0] - centre)
            wheel = M_e / J_w * (clock - released)
            out.speeds["wheel at catch"] = wheel
            y[1] = (inertia * y[1] + p * J_w * wheel) / (inertia + p * p * J_w)
            note("driven", y)
            for end in [angle for angle in (x_2, centre, x_e) if angle > y[0]]:
                if y[0] >= x_2 - 1e-12:
                    inertia, extra = I_b, 0.0
                y, which = run(driven(inertia, extra), y, [reaches(end), turns], guess(end - y[0]))
                if which == 1:
                    out.failed = "the balance stops during the impulse"
                    return out
        out.lost = not caught
        note("drop", y)
    out.drop = clock
    y, _ = run(motion(I_b, 0.0), y, [turns], 0.1 / omega)
    out.next_amplitude, out.time = y[0], clock
    back = -centre - op["x_p0"] if s > 0 else -centre + op["x_u0"]
    if y[0] <= -back:
        out.failed = "the swing out does not reach the detent again"
    return out
