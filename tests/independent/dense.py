"""A beat in time at any moment: the phases of one_beat.py once more, each with dense output.

scipy's DOP853 at relative tolerance 1e-13, steps so short that its dense output (order seven) is as good as the steps.
Where a phase begins and ends, and with what speed, comes from `one_beat.beat`.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from scipy.integrate import solve_ivp

from .one_beat import ATOL, RTOL, beat
from .operating import Coefficients


class Phase(NamedTuple):
    """One phase, mirrored so that the balance moves upwards: when it begins in the beat and how long it lasts (s),
    the balance's inertia with what it carries, and `at(t)`: angle (rad), speed (rad/s), t (n,) from its beginning."""

    name: str
    begins: float
    lasts: float
    inertia: float
    at: Any


def arc(op: Coefficients, s: int, x: float, v: float, end: float, inertia: float, extra: float) -> Any:
    """Motion from (x, v) forward in time to the angle `end`, or with `end` NaN to the turning point: scipy's result.

    Raises RuntimeError when it does not get there.
    """
    omega = op["omega"]

    def rates(_t: float, y: Any) -> tuple[float, float]:
        x, v = y
        torque = (
            -op["k"] * x * (1.0 + op["kappa3"] * x * x) - op["b"] * v - op["c"] * v * v - op["M_c"] + extra
        )
        return v, (torque - op["G"] * math.sin(x + s * op["phi"])) / inertia

    def done(_t: float, y: Any) -> float:
        return float(y[1] if math.isnan(end) else y[0] - end)

    done.terminal = True  # type: ignore[attr-defined]
    done.direction = -1.0 if math.isnan(end) else 1.0  # type: ignore[attr-defined]
    found = solve_ivp(
        rates, (0.0, 10.0 / omega), [x, v], "DOP853", events=done, dense_output=True, rtol=RTOL,
        atol=[ATOL, ATOL * omega], max_step=0.05 / omega,
    )  # fmt: skip
    if found.status != 1:
        raise RuntimeError("the end of the phase is not reached")
    return found


def dense_beat(op: Coefficients, amplitude: float, s: int) -> list[Phase]:
    """The phases of the beat that starts at rest at -amplitude (rad); it must not fail."""
    one = beat(op, amplitude, s)
    assert not one.failed
    v, x, g = one.speeds, one.angles, op["g"]
    J = op["J_l"] + op["p"] ** 2 * op["J_w"]
    alone = op["I"]
    unlocking = alone + g**2 * (op["J_l"] + op["q"] ** 2 * op["J_w"])
    plan = [
        ("free arc in", (-amplitude, 0.0), x["contact"], alone, 0.0),
        ("unlocking", (x["contact"], v["picked up"]), x["release"], unlocking, -g * op["M_u"] / op["fork_efficiency"]),
        ("catch-up", (x["release"], v["release"]), x.get("catch", x["drop"]), alone + g**2 * op["J_l"], 0.0),
    ]  # fmt: skip
    if "catch" in x and op["shake"] > 0.0:
        end = x.get("wall", x["drop"])
        plan.append(("run through the shake", (x["catch"], v["catch"]), end, alone, 0.0))
    if "wall" in x:
        drive = g * op["M_i"] * op["fork_efficiency"]
        plan.append(("impulse", (x["wall"], v["driven"]), x["drop"], alone + g**2 * J, drive))
    plan.append(("free arc out", (x["drop"], v["drop"]), math.nan, alone, 0.0))
    phases, clock = [], 0.0
    for name, start, end, inertia, extra in plan:
        found = arc(op, s, *start, end, inertia, extra)
        phases.append(Phase(name, clock, float(found.t[-1]), inertia, found.sol))
        clock += float(found.t[-1])
    assert abs(clock - one.time) < 1e-11 * one.time
    return phases
