"""How a settled amplitude answers to a drive that changes: by how much, and how soon.

To first order. A small change of the drive's logarithm moves the settled logarithm of the amplitude n_A times as far,
and a swing beside the settled one comes back by the factor P′ in a period. A drive that goes up and down with a period
is therefore followed less and later: (R3) of docs/physics.md §3.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array, Codes, Number
from oscsim.motion.coefficients import Oscillators, joined
from oscsim.motion.settle import SettledBatch, settle
from oscsim.motion.states import CODE, State

#: Step in the logarithm of the drive: its square is the error of the slope, far above the rounding of two amplitudes.
_STEP = 1e-4


@dataclass(frozen=True)
class Response:
    """Each (points,): state as in ``STATES``, settled amplitude rad, sensitivity n_A = d ln A/d ln M, relaxation τ in
    1/ω, |P(A) - A| rad. NaN in sensitivity and relaxation where the point does not simply run, or its neighbours in
    drive do not."""

    state: Codes
    amplitude: Array
    sensitivity: Array
    relaxation: Array
    residual: Array


def response(osc: Oscillators, knock_angle: Array) -> Response:
    """The response of every point: the settled points of a drive a little weaker and stronger, and P′ between.

    ``knock_angle`` as in ``settle``. τ = -T/ln P′(A), T the settled period; NaN where P′ were below nought.
    """
    three = joined([osc.driven(np.full(osc.size, math.exp(step))) for step in (-_STEP, 0.0, _STEP)])
    found = settle(three, np.tile(knock_angle, 3))
    less, here, more = (_third(found, i, osc.size) for i in range(3))
    runs = np.all([part.state == CODE[State.RUNNING] for part in (less, here, more)], axis=0)
    with np.errstate(all="ignore"):
        sensitivity = np.log(more.cycle.amplitude / less.cycle.amplitude) / (2.0 * _STEP)
        relaxation = -here.cycle.period / np.log(here.cycle.slope)
    return Response(
        here.state,
        here.cycle.amplitude,
        np.where(runs, sensitivity, np.nan),
        np.where(runs & (relaxation > 0.0), relaxation, np.nan),
        here.cycle.residual,
    )


def _third(batch: SettledBatch, number: int, size: int) -> SettledBatch:
    part = slice(number * size, (number + 1) * size)
    return SettledBatch(batch.state[part], batch.low[part], batch.high[part], batch.cycle.take(part))


def followed(relaxation: Number, period: Number) -> tuple[Number, Number]:
    """Share of a slow ripple's swing that is left at ``period``, and the lag in rad, of (R3): 1/√(1 + (2πτ/T)²) and
    atan(2πτ/T). Both times in one unit."""
    turned = 2.0 * math.pi * np.asarray(relaxation) / period
    return 1.0 / np.sqrt(1.0 + turned**2), np.arctan(turned)
