"""The period map through heyoka: an adaptive Taylor integrator, compiled, with terminal events located by it.

One integrator for each kind of phase, made once for a tolerance; starts and coefficients are put in before each phase.
Units as in oscsim.motion: time in 1/ω, torques over k, inertias over I. Written for beats that give their
impulse, which is all that the benchmark asks for.
"""

from __future__ import annotations

import math
import time
from typing import Any

import heyoka as hy
import numpy as np

from tests.benchmarks import compiled as at

_UP, _DOWN = hy.event_direction.positive, hy.event_direction.negative


class Taylor:
    """Integrators for one tolerance; ``seconds`` is what compiling them took."""

    def __init__(self, tolerance: float) -> None:
        begun = time.perf_counter()
        x, v = hy.make_vars("x", "v")
        t, p = hy.time, hy.par
        # parameters: 0-5 of equation (1), 6 torque, 7 one over the inertia, 8-11 of the phase's end
        torque = -x - p[5] * x**3 - v * (p[0] + p[1] * v) - p[2] + p[6]
        flat = [(x, v), (v, torque * p[7])]
        heavy = [(x, v), (v, (torque - p[3] * hy.sin(x + p[4])) * p[7])]
        ends = {
            "angle": (x - p[8], _UP),
            "turn": (v, _DOWN),
            "catch": ((0.5 * p[9] * t - p[10]) * t - (x - p[8]), _UP),
            "wall": ((p[10] + 0.5 * p[9] * t) * t - (x - p[8]) - p[11], _UP),
        }
        self.made = {
            (name, gravity): hy.taylor_adaptive(
                system, [0.0, 1.0], tol=tolerance, t_events=[hy.t_event(end, direction=way)]
            )
            for name, (end, way) in ends.items()
            for gravity, system in ((False, flat), (True, heavy))
        }
        for gravity, system in ((False, flat), (True, heavy)):
            self.made["time", gravity] = hy.taylor_adaptive(system, [0.0, 1.0], tol=tolerance)
        self.seconds = time.perf_counter() - begun

    def run(
        self, end: str, c: Any, side: float, x: float, v: float, phase: tuple[float, ...],
        begin: float = 0.0, until: float = 10.0,
    ) -> tuple[float, ...]:  # fmt: skip
        """Angle, speed and time at the ``end`` of a phase with parameters 6 and on, from the time ``begin``."""
        ta = self.made[end, c[at.GRAVITY] != 0.0]
        ta.time = begin
        ta.state[0], ta.state[1] = x, v
        ta.pars[:6] = (
            c[at.VISCOUS],
            c[at.QUADRATIC],
            c[at.DRY],
            c[at.GRAVITY],
            side * c[at.HEAVY],
            c[at.CUBIC],
        )
        ta.pars[6 : 6 + len(phase)] = phase
        if end == "time":
            ta.propagate_until(until)
            return ta.state[0], ta.state[1], until
        ta.reset_cooldowns()
        if ta.propagate_until(until)[0] == hy.taylor_outcome.time_limit:
            return math.nan, math.nan, math.nan
        return ta.state[0], ta.state[1], ta.time

    def beat(self, c: Any, side: float, amplitude: float) -> tuple[float, float]:
        """Next turning point and time of one beat of docs/physics.md §2; NaN where it fails or loses its impulse."""
        x0 = side * c[at.CENTRE] - c[at.CONTACT]
        xr = x0 + c[at.UNLOCKING]
        end = xr + c[at.LIFT] - c[at.SHAKE]
        _, v, t = self.run("angle", c, side, -amplitude, 0.0, (0.0, 1.0, x0))
        total = t
        x, v, t = self.run("angle", c, side, x0, v / c[at.I_U], (-c[at.M_U], 1.0 / c[at.I_U], xr))
        total += t
        back = c[at.RECOIL] * v
        # the event's function is zero at the release too, which heyoka does not bear: begin half way to the catch
        x, v, t = self.run("time", c, side, xr, v, (0.0, 1.0 / c[at.I_L]), until=(v + back) / c[at.WHEEL])
        x, v, t = self.run("catch", c, side, x, v, (0.0, 1.0 / c[at.I_L], xr, c[at.WHEEL], back), begin=t)
        total += t
        if not x < xr + c[at.LIFT]:
            return math.nan, math.nan
        wheel = c[at.WHEEL] * t - back
        lever = v + c[at.SHARE] * (wheel - v)
        if c[at.SHAKE] > 0.0:
            x, v, t = self.run("wall", c, side, x, v, (0.0, 1.0, x, c[at.LEVER], lever, c[at.SHAKE]))
            total += t
            lever += c[at.LEVER] * t
        if not x < end:
            return math.nan, math.nan
        v = (v + (c[at.I_I] - 1.0) * lever) / c[at.I_I]
        x, v, t = self.run("angle", c, side, x, v, (c[at.M_I], 1.0 / c[at.I_I], end))
        total += t
        x, v, t = self.run("turn", c, side, x, v, (0.0, 1.0))
        return x, total + t

    def period(self, c: Any, amplitude: float) -> tuple[float, float, float]:
        """Other turning point, P(A) and the period."""
        other, first = self.beat(c, 1.0, amplitude)
        again, second = self.beat(c, -1.0, other)
        return other, again, first + second


def rows_of(c: Any) -> list[Any]:
    """Rows as plain lists, quicker to index one by one."""
    return [row.tolist() for row in np.asarray(c)]
