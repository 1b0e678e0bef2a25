"""A free half-swing integrated by scipy's DOP853 at tight tolerance: the theory's outside check."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp

TOLERANCE = {"rtol": 1e-13, "atol": 1e-14, "method": "DOP853"}


@dataclass
class HalfSwing:
    time: float  # in 1/omega
    end: float  # where it comes to rest, rad
    integral: float  # of x over time
    crossings: list[float]  # times at the cuts

    @property
    def rate(self) -> float:
        """s/day, against the half-swing pi of the undisturbed balance."""
        return 86400 * (np.pi / self.time - 1)


def half_swing(
    acceleration: Callable[[float, float, int], float], start: float, cuts: tuple[float, ...] = ()
) -> HalfSwing:
    """From rest at `start` < 0 to rest. acceleration(x, v, piece): piece counts the cuts already passed.

    The path is integrated piece by piece, so a torque that switches at a cut costs no accuracy.
    """
    state, time, crossings = [start, 0.0, 0.0], 0.0, []
    for piece in range(len(cuts) + 1):

        def flow(t, y, piece=piece):
            return y[1], acceleration(y[0], y[1], piece), y[0]

        if piece < len(cuts):

            def ends(t, y, cut=cuts[piece]):
                return y[0] - cut

            ends.direction = 1
        else:

            def ends(t, y):
                return y[1]

            ends.direction = -1
        ends.terminal = True
        # Longer than any half-swing here, so a missing event shows.
        found = solve_ivp(flow, (0.0, 6.0), state, events=ends, **TOLERANCE)
        assert found.status == 1, "the half-swing did not reach its event"
        time += found.t_events[0][0]
        state = list(found.y_events[0][0])
        crossings.append(time)
    return HalfSwing(time, state[0], state[2], crossings[:-1])


def period(acceleration: Callable[[float, float, int], float], start: float) -> tuple[HalfSwing, HalfSwing]:
    """One period from rest at `start` < 0: the half-swing up and the one down, the latter seen mirrored."""
    up = half_swing(acceleration, start)
    down = half_swing(lambda x, v, piece: -acceleration(-x, -v, piece), -up.end)
    return up, down
