"""One beat of the lever escapement in time: independent integration of docs/physics.md, section 2.

Every phase is an initial value problem in SI units for scipy's DOP853 (relative tolerance 1e-13) that ends at
a located event. About 3 ms a beat. Angles are rad, times s, speeds rad/s, energies J.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from .operating import Coefficients

RTOL = 1e-13
ATOL = 1e-14  # rad; the speed's is this times 2 pi f


@dataclass
class Beat:
    """One beat from a turning point to the next, mirrored so that the balance moves upwards.

    Times run from the first turning point. When the beat fails, `failed` says why and what was not reached is
    NaN. `lost` is true when the wheel gave no impulse. `speeds` (rad/s, of the balance) are keyed by the
    moment, `angles` (rad, mirrored) likewise. `energy` (J) is filled when asked for: see `_ledger`.
    """

    amplitude: float
    side: int
    next_amplitude: float = math.nan
    contact: float = math.nan
    drop: float = math.nan
    time: float = math.nan
    failed: str = ""
    lost: bool = False
    speeds: dict[str, float] = field(default_factory=dict)
    angles: dict[str, float] = field(default_factory=dict)
    energy: dict[str, float] = field(default_factory=dict)


State = list[float]
Rates = Callable[[float, Any], tuple[float, ...]]
EventFunction = Callable[[float, Any], float]


def _event(function: EventFunction, direction: float) -> EventFunction:
    function.terminal = True  # type: ignore[attr-defined]
    function.direction = direction  # type: ignore[attr-defined]
    return function


#: (rates, start, events, first step s, omega rad/s) to the first of the events: time, state, which event.
Integrate = Callable[[Rates, State, list[EventFunction], float, float], tuple[float, State, int]]


def with_tolerance(rtol: float, atol: float, method: str = "DOP853") -> Integrate:
    """One of solve_ivp's methods as `Integrate`; ``atol`` in rad, for the speed times 2 pi f.

    solve_ivp locates the event on the dense output, whose order is one less than DOP853's step. So there the last,
    partial step is taken again as a step of its own, and one Newton correction removes what is left (some 1e-12 of
    a step).
    """

    def integrate(
        rates: Rates, start: State, events: list[EventFunction], step: float, omega: float
    ) -> tuple[float, State, int]:
        tolerance = {"rtol": rtol, "atol": [atol, atol * omega] + [1e-20] * (len(start) - 2)}
        found = solve_ivp(
            rates, (0.0, 10.0 / omega), start, method, events=events, first_step=step, max_step=0.5 / omega,
            **tolerance,
        )  # fmt: skip
        if found.status != 1:
            raise RuntimeError(f"no event in ten radians of phase: {found.message}")
        which = next(i for i, times in enumerate(found.t_events) if len(times))
        before, t = float(found.t[-2]), float(found.t[-1])
        y = found.y[:, -2] if method == "DOP853" else found.y[:, -1]
        if t > before and method == "DOP853":
            y = solve_ivp(rates, (before, t), y, method, first_step=t - before, **tolerance).y[:, -1]
        event, slope, small = events[which], np.array(rates(t, y)), 1e-7 / omega
        here = event(t, y)
        change = (event(t + small, y + small * slope) - here) / small
        late = -here / change
        return float(t + late), (y + late * slope).tolist(), which

    return integrate


dop853 = with_tolerance(RTOL, ATOL)


def beat(
    op: Coefficients, amplitude: float, s: int, *, energy: bool = False, integrate: Integrate = dop853
) -> Beat:
    """One beat of side s = +1 or -1 from the turning point x = -amplitude (rad, from the hairspring's rest).

    ``integrate`` carries every phase to its event; another integrator may take DOP853's place (`cvode.py`).
    With `energy` the work of the two drags is integrated along (a little slower) and the ledger is filled.
    """
    k, kappa3, b, c, G, omega = (op[name] for name in ("k", "kappa3", "b", "c", "G", "omega"))
    I_b, J_l, J_w, g, p, q = (op[name] for name in ("I", "J_l", "J_w", "g", "p", "q"))
    M_c, phase = op["M_c"], s * op["phi"]
    by_angle = op.get("by_angle")
    J = J_l + p * p * J_w
    I_u = I_b + g * g * (J_l + q * q * J_w)
    x_0 = s * op["epsilon"] - op["bank"] / (2.0 * g)
    x_r = x_0 + (op["lock"] + op["run"]) / g
    x_e = x_r + op["lift"] / g
    out = Beat(amplitude, s)

    def motion(inertia: float, extra: float) -> Rates:
        """(1) with v > 0; beyond a turning point, where trial steps may end, it is continued smoothly."""

        def rates(_t: float, y: Any) -> tuple[float, ...]:
            x, v = y.tolist()
            torque = -k * x * (1.0 + kappa3 * x * x) - b * v - c * v * v - M_c + extra
            if G:
                torque -= G * math.sin(x + phase)
            if by_angle:
                torque += by_angle.forward(s, x)
            return v, torque / inertia

        def rates_and_drag(_t: float, y: Any) -> tuple[float, ...]:
            x, v, _, _ = y.tolist()
            torque = -k * x * (1.0 + kappa3 * x * x) - b * v - c * v * v - M_c + extra
            if G:
                torque -= G * math.sin(x + phase)
            if by_angle:
                torque += by_angle.forward(s, x)
            return v, torque / inertia, b * v * v, c * v * v * v

        return rates_and_drag if energy else rates

    def reaches(angle: float) -> EventFunction:
        return _event(lambda _t, y: y[0] - angle, +1.0)

    turns = _event(lambda _t, y: y[1], -1.0)
    clock = 0.0

    def run(
        inertia: float, extra: float, y: State, events: list[EventFunction], step: float
    ) -> tuple[State, int]:
        nonlocal clock
        t, y, which = integrate(motion(inertia, extra), y, events, step, omega)
        clock += t
        return y, which

    def note(moment: str, y: State) -> None:
        out.angles[moment], out.speeds[moment] = y[0], y[1]

    # 1 Free arc to pin contact.
    if -amplitude >= x_0:
        out.failed = "the swing does not reach the pin contact"
        return out
    y = [-amplitude, 0.0] + [0.0, 0.0] * energy
    if motion(I_b, 0.0)(0.0, np.array(y))[1] <= 0.0:
        out.failed = "the balance sticks at the turning point"
        return out
    y, which = run(I_b, 0.0, y, [reaches(x_0), turns], 0.1 / omega)
    if which == 1:
        out.failed = "the swing does not reach the pin contact"
        return out
    note("contact", y)
    out.contact = clock

    # 2 Pick-up, plastic.
    y[1] *= I_b / I_u
    note("picked up", y)

    def guess(distance: float) -> float:
        return min(1.001 * distance / y[1], 0.15 / omega)

    # 3 Unlocking.
    y, which = run(I_u, -g * op["M_u"] / op["fork_efficiency"], y, [reaches(x_r), turns], guess(x_r - x_0))
    if which == 1:
        out.failed = "the balance stops while unlocking"
        return out
    note("release", y)

    # 4 Catch-up. The gap between wheel and stone is 0 at t = 0 too, so it is divided by t.
    v_r, thrust = y[1], op["M_e"] / J_w
    released = clock

    def gap(t: float, y: Any) -> float:
        slip = (y[0] - x_r) / t if t > 0.0 else v_r
        return -q * g * v_r + 0.5 * thrust * t - p * g * slip

    step = min(guess(x_e - x_r), 2.1 * g * v_r * (p + q) / thrust)
    y, which = run(I_b + g * g * J_l, 0.0, y, [_event(gap, +1.0), reaches(x_e), turns], step)
    if which == 2:
        out.failed = "the balance stops before the wheel has caught up"
        return out
    if which == 1:
        out.lost = True
        note("drop", y)
    else:
        # 5 Catch, plastic between lever and wheel; the lever then runs ahead through the notch's shake.
        note("catch", y)
        x_k = y[0]
        wheel = -q * g * v_r + thrust * (clock - released)
        a, alpha = (J_l * g * y[1] + p * J_w * wheel) / J, op["M_i"] / J
        out.speeds["wheel at catch"], out.speeds["lever after catch"] = wheel, a
        shake, gone = op["shake"], g * (x_k - x_r)
        caught = clock
        if shake > 0.0:
            ahead = _event(lambda t, y: t * (a + 0.5 * alpha * t) - g * (y[0] - x_k) - shake, +1.0)
            done = _event(lambda t, _y: t * (a + 0.5 * alpha * t) + gone - op["lift"], +1.0)
            lead = a - g * y[1]
            step = min(0.1 / omega, 1.05 * (math.sqrt(lead * lead + 2.0 * alpha * shake) - lead) / alpha)
            y, which = run(I_b, 0.0, y, [ahead, done, turns], step)
            if which == 2:
                out.failed = "the balance stops before the fork meets the pin"
                return out
            out.lost = which == 1
        a += alpha * (clock - caught)
        out.speeds["lever before wall"] = a
        if out.lost:
            note("drop", y)
        else:
            # 6 The other wall meets the pin, plastic.
            note("wall", y)
            y[1] = (I_b * y[1] + g * J * a) / (I_b + g * g * J)
            note("driven", y)
            # 7 Impulse, the fork ahead by the shake.
            x_d = x_e - shake / g
            y, which = run(
                I_b + g * g * J,
                g * op["M_i"] * op["fork_efficiency"],
                y,
                [reaches(x_d), turns],
                guess(x_d - y[0]),
            )
            if which == 1:
                out.failed = "the balance stops during the impulse"
                return out
            note("drop", y)

    # 8 Drop, free arc to the turning point.
    out.drop = clock
    y, _ = run(I_b, 0.0, y, [turns], 0.1 / omega)
    out.next_amplitude, out.time = y[0], clock
    if energy:
        out.energy = _ledger(op, out, y[2], y[3])
    if y[0] <= s * op["epsilon"] + op["bank"] / (2.0 * g):
        out.failed = "the swing out does not reach the next pin contact"
    return out


def _ledger(op: Coefficients, out: Beat, viscous: float, quadratic: float) -> dict[str, float]:
    """Energy of one whole beat, J.

    `spring` and `gravity` are what their potentials give (minus the gain); `viscous`, `quadratic` and `dry`
    are losses; `unlocking` and `drive` are the works of the two escapement torques on the balance. `pick_up`,
    `release`, `catch` and `drop` are the kinetic energies that leave the balance with lever and wheel there,
    `wall` what it gets when the fork's other wall strikes. `closure` is what is left of the sum: 0 but for
    the integration's error. `catch_plastic` and `wall_plastic` are the losses of those two impacts, both
    bodies together (not in the sum).
    """
    I_b, J_l, J_w, g, p, q = (op[name] for name in ("I", "J_l", "J_w", "g", "p", "q"))
    J, side, v, x = J_l + p * p * J_w, out.side, out.speeds, out.angles
    start, end = -out.amplitude, out.next_amplitude

    def stored(angle: float) -> float:
        return 0.5 * op["k"] * angle**2 * (1.0 + 0.5 * op["kappa3"] * angle**2)

    e = {
        "spring": stored(start) - stored(end),
        "gravity": op["G"] * (math.cos(end + side * op["phi"]) - math.cos(start + side * op["phi"])),
        "viscous": viscous,
        "quadratic": quadratic,
        "dry": op["M_c"] * (end - start),
        "pick_up": 0.5 * I_b * v["contact"] * (v["contact"] - v["picked up"]),
        "unlocking": g * op["M_u"] / op["fork_efficiency"] * (x["release"] - x["contact"]),
        "release": 0.5 * J_w * (q * g * v["release"]) ** 2,
        "catch": 0.0,
        "wall": 0.0,
        "drive": 0.0,
        "drop": 0.0,
        "catch_plastic": 0.0,
        "wall_plastic": 0.0,
    }
    if "catch" in v:
        carried = 0.5 * J_l * (g * v["catch"]) ** 2
        e["catch"] = carried
        e["catch_plastic"] = (
            carried + 0.5 * J_w * v["wheel at catch"] ** 2 - 0.5 * J * v["lever after catch"] ** 2
        )
    else:
        e["drop"] = 0.5 * J_l * (g * v["drop"]) ** 2
    if "wall" in v:
        e["wall"] = 0.5 * (I_b + g * g * J) * v["driven"] ** 2 - 0.5 * I_b * v["wall"] ** 2
        e["wall_plastic"] = 0.5 * J * v["lever before wall"] ** 2 - e["wall"]
        e["drive"] = g * op["M_i"] * op["fork_efficiency"] * (x["drop"] - x["wall"])
        e["drop"] = 0.5 * J * (g * v["drop"]) ** 2
    if "by_angle" in op:  # the torque with the spring, the friction with the dry friction
        e["spring"] += op["by_angle"].work_of_torque(side * start, side * end)
        e["dry"] += op["by_angle"].rubbed(side * start, side * end)
    gains = ("spring", "gravity", "wall", "drive")
    losses = ("viscous", "quadratic", "dry", "pick_up", "unlocking", "release", "catch", "drop")
    e["closure"] = sum(e[name] for name in gains) - sum(e[name] for name in losses)
    return e
