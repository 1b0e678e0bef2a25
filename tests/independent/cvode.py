"""SUNDIALS CVODE with root finding in DOP853's place: a second integrator for every phase of `one_beat.beat`.

Source: A. C. Hindmarsh et al., ACM Trans. Math. Softw. 31 (2005) 363, through scikit-sundae (the extra
``integrators``). An Adams multistep method of variable order up to 12 that finds its events by its own root
finding: it shares with DOP853 the right-hand sides of docs/physics.md and nothing of the method.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from sksundae.cvode import CVODE

from .one_beat import EventFunction, Rates, State

#: As tight as gains anything: from here on rounding, some 5e-12 rad a period, is what is left.
RTOL = 3e-14
ATOL = 1e-15  # rad; the speed's is this times 2 pi f


def cvode(
    rates: Rates, start: State, events: list[EventFunction], step: float, omega: float
) -> tuple[float, State, int]:
    """Integrate from t = 0 to the first of the events: time, state, which event. See `one_beat.dop853`."""
    return with_tolerance(RTOL, ATOL)(rates, start, events, step, omega)


def with_tolerance(rtol: float, atol: float) -> Any:
    """The integrator with other tolerances (the benchmark tunes them)."""

    def integrate(
        rates: Rates, start: State, events: list[EventFunction], step: float, omega: float
    ) -> tuple[float, State, int]:
        def right_hand_side(t: float, y: Any, out: Any) -> None:
            out[:] = rates(t, y)

        def found(t: float, y: Any, out: Any) -> None:
            for number, event in enumerate(events):
                out[number] = event(t, y)

        found.terminal = [True] * len(events)  # type: ignore[attr-defined]
        found.direction = [int(event.direction) for event in events]  # type: ignore[attr-defined]
        solver = CVODE(
            right_hand_side, method="Adams", rtol=rtol, atol=np.array([atol, atol * omega]), max_step=0.5 / omega,
            first_step=0.01 * step, max_num_steps=100_000, eventsfn=found, num_events=len(events),
        )  # fmt: skip
        answer = solver.solve([0.0, 10.0 / omega], start)
        if answer.i_events is None or not len(answer.i_events):
            raise RuntimeError(f"no event in ten radians of phase: {answer.message}")
        which = int(np.flatnonzero(answer.i_events[0])[0])
        return float(answer.t_events[0]), answer.y_events[0].tolist(), which

    return integrate
