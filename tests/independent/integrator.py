"""Settled states and marches of one watch: independent integration of docs/physics.md, sections 1 to 5.

Source: docs/physics.md; the library itself is not imported. (One point the text leaves open, the heavy point
of a watch tilted from CH or FH, follows the reference numbers: see `operating.py`.) This is the outside check
for the library: one watch and one beat at a time, plain and slow, and it shares no method with it.
`operating.py` turns a design into coefficients, `one_beat.py` integrates a beat, and this file, the one to
import, puts beats together.

Angles are rad, times s, torques N m, inertias kg m2, energies J, unless a name says otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import brentq

from . import detent
from .one_beat import Beat, Integrate, beat, dop853
from .operating import Coefficients, Design, changed, load, operating, spring, train_efficiency, with_torque

__all__ = [
    "Beat", "Coefficients", "Design", "March", "Period", "beat", "changed", "high_start", "load", "march",
    "operating", "period", "reading", "settled", "spring", "train_efficiency", "with_torque",
]  # fmt: skip

Array = np.ndarray[Any, np.dtype[np.float64]]


class Period(NamedTuple):
    """Two beats, s = +1 then -1. `amplitude` is P(A), `time` the period (both NaN when a beat failed)."""

    amplitude: float
    time: float
    first: Beat
    second: Beat | None

    @property
    def failed(self) -> str:
        return self.first.failed if self.second is None else self.second.failed

    @property
    def lost(self) -> bool:
        return self.first.lost or (self.second is not None and self.second.lost)


def period(op: Coefficients, A: float, *, energy: bool = False, integrate: Integrate = dop853) -> Period:
    """The period map P from the turning point x = -A of a beat with s = +1."""
    if "detent" in op:
        first = detent.beat(op, A, +1, integrate=integrate)
    else:
        first = beat(op, A, +1, energy=energy, integrate=integrate)
    if first.failed:
        return Period(math.nan, math.nan, first, None)
    if "detent" in op:
        second = detent.beat(op, first.next_amplitude, -1, integrate=integrate)
    else:
        second = beat(op, first.next_amplitude, -1, energy=energy, integrate=integrate)
    if second.failed:
        return Period(math.nan, math.nan, first, second)
    return Period(second.next_amplitude, first.time + second.time, first, second)


def high_start(op: Coefficients) -> float:
    """An amplitude above the settled one: a whole lift's drive against section 6's drags alone, plus 2 %."""
    if "detent" in op:
        drive, low = op["M_e"] * (2.0 * op["w0"] + op["drop"]), 1.5 * (abs(op["epsilon"]) - op["x_u0"])
    else:
        drive = 2.0 * op["M_i"] * op["fork_efficiency"] * op["lift"]
        low = 1.5 * (op["bank"] / (2.0 * op["g"]) + abs(op["epsilon"]))
    if drive <= _drag_loss(op, low):
        return low
    return 1.02 * float(brentq(lambda A: _drag_loss(op, A) - drive, low, 1e4))


def _drag_loss(op: Coefficients, A: float) -> float:
    w = op["omega"]
    return math.pi * op["b"] * w * A**2 + 8.0 / 3.0 * op["c"] * w**2 * A**3 + 4.0 * op["M_c"] * A


def settled(
    op: Coefficients,
    start: float | None = None,
    *,
    lift_angle: float | None = None,
    residual: float = 1e-13,
    by_marching: bool = False,
    tries: int = 12,
    followed: int = 200,
    integrate: Integrate = dop853,
) -> dict[str, Any]:
    """Settled state reached from `start` (rad; by default from above), and what a timing instrument shows.

    `lift_angle` (rad) is what the instrument is told; by default the model's own. The root is sought by the
    secant method; where that leaves the basin, by marching 40 periods and trying again, so many `tries`, or
    `by_marching` alone; what has not settled by then is `followed` for so many periods more.
    Returned: state (running, knocks, stops, unsettled), amplitude_deg, rate_s_per_day, beat_error_ms (and
    signed: the interval from the contact of s = +1 to that of s = -1 less the other, halved), tick_s,
    apparent_amplitude_deg, lift_angle_deg (the model's own), knock_deg, residual_rad, evaluations; when
    unsettled the mean amplitude and amplitude_range_deg. None where the state has no number.
    """
    answer: dict[str, Any] = dict.fromkeys(
        ("amplitude_deg", "rate_s_per_day", "beat_error_ms", "beat_error_signed_ms", "tick_s",
         "apparent_amplitude_deg", "lift_angle_deg", "amplitude_range_deg", "residual_rad")
    )  # fmt: skip
    answer |= {"state": "stops", "knock_deg": math.degrees(op["knock"]), "evaluations": 0}
    if op["M_e"] <= 0.0:
        return answer

    def step(A: float) -> Period:
        answer["evaluations"] += 1
        return period(op, A, integrate=integrate)

    A = high_start(op) if start is None else start
    last = None if by_marching else _secant(op, step, A, residual)
    for _ in range(100 if by_marching else tries):
        if last is not None:
            break
        for _ in range(40):  # march, then try the secant again
            turn = step(A)
            if turn.failed:
                return answer
            if abs(turn.amplitude - A) < residual:
                last = turn
                break
            A = turn.amplitude
        if last is None and not by_marching:
            last = _secant(op, step, A, residual)
    if last is None:
        swings = []
        for _ in range(followed):
            turn = step(A)
            if turn.failed:
                return answer
            swings.append(0.5 * (A + turn.first.next_amplitude))
            A = turn.amplitude
        answer["state"] = "unsettled"
        answer["amplitude_deg"] = math.degrees(sum(swings) / len(swings))
        answer["amplitude_range_deg"] = [math.degrees(min(swings)), math.degrees(max(swings))]
        return answer
    return answer | reading(op, last, lift_angle)


def _secant(op: Coefficients, step: Callable[[float], Period], A: float, residual: float) -> Period | None:
    """Stable root of P(A) - A near or below A, or None when the way to it is not smooth."""
    turn = step(A)
    if turn.failed:
        return None
    gap = turn.amplitude - A
    small = 1e-4 * A
    slope = -(_drag_loss(op, A + small) - _drag_loss(op, A)) / small / (op["k"] * A)
    for _ in range(20):
        if abs(gap) < residual:
            return turn if -2.0 < slope < 0.0 else None
        new = A - gap / slope
        if not 0.3 * A < new < 1.6 * A:
            return None
        before = turn
        turn = step(new)
        if turn.failed or turn.lost != before.lost:
            return None
        new_gap = turn.amplitude - new
        if abs(gap) < 1e-11 and abs(new_gap) > 0.9 * abs(gap):  # the rounding floor
            return before if abs(new_gap) > abs(gap) else turn
        if abs(new_gap) > 0.9 * abs(gap):
            return None
        if abs(new - A) > 1e-8:
            slope = (new_gap - gap) / (new - A)
        A, gap = new, new_gap
        if slope >= 0.0:
            return None
    return None


def reading(op: Coefficients, turn: Period, lift_angle: float | None = None) -> dict[str, Any]:
    """What the settled period `turn` shows, in bench units, with its state."""
    one, two = turn.first, turn.second
    assert two is not None
    high = max(one.amplitude, one.next_amplitude)
    result: dict[str, Any] = {
        "state": "knocks" if high > op["knock"] else "running",
        "residual_rad": abs(turn.amplitude - one.amplitude),
    }
    amplitude = math.degrees(0.5 * (one.amplitude + one.next_amplitude))
    if amplitude > 400.0:
        return result
    tick = 0.5 * ((one.drop - one.contact) + (two.drop - two.contact))
    own = 0.5 * sum(b.angles["drop"] - b.angles["contact"] for b in (one, two))
    told = own if lift_angle is None else lift_angle
    # Contacts at c1, T1 + c2, T1 + T2 + c1: the two intervals differ by T1 - T2 + 2 (c2 - c1).
    signed = 0.5 * (one.time - two.time) + (two.contact - one.contact)
    return result | {
        "amplitude_deg": amplitude,
        "rate_s_per_day": 86400.0 * (op["T_0"] - turn.time) / turn.time,
        "beat_error_signed_ms": 1e3 * signed,
        "beat_error_ms": 1e3 * abs(signed),
        "tick_s": tick,
        "lift_angle_deg": math.degrees(own),
        "apparent_amplitude_deg": math.degrees(0.5 * told / math.sin(math.pi * tick / turn.time)),
    }


# --------------------------------------------------------------------------------------- section 5: run-down


class March(NamedTuple):
    """Turning points: times (n,) s, amplitudes (n,) rad, and why the march ended early ("" if it did not)."""

    time: Array
    amplitude: Array
    failed: str


def march(op_of_time: Callable[[float], Coefficients], A: float, duration: float) -> March:
    """Beats one after another, s = +1 first, for `duration` s, each with the coefficients at its start.

    For a falling torque alone: `march(lambda t: with_torque(op, M(t)), A, duration)`.
    """
    times, amplitudes, side, t = [0.0], [A], +1, 0.0
    while t < duration:
        one = beat(op_of_time(t), A, side)
        if one.failed:
            return March(np.array(times), np.array(amplitudes), one.failed)
        t, A, side = t + one.time, one.next_amplitude, -side
        times.append(t)
        amplitudes.append(A)
    return March(np.array(times), np.array(amplitudes), "")
