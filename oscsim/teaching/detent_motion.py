"""A detent at work, for the lesson beside the lever: its settled cycle in time, and what it is drawn from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from oscsim.answers.trace import trace
from oscsim.arrays import Array
from oscsim.files import load
from oscsim.parts.detent import drawn_from
from oscsim.setting import Setting

#: The bundled design with a detent, which every lever is held against.
DETENT = "pilot"
#: Samples of each phase; between them a page goes in straight lines.
_SAMPLES = 16


@dataclass(frozen=True, kw_only=True)
class DetentMotion:
    """A period of the settled detent, dial up, fully wound, as samples (samples,): time over the period, angles in
    deg, index of the phase in ``phases``. swings_deg: to the left and to the right; ``drawing``: what the parts are
    drawn from, lengths over the wheel's radius."""

    name: str
    period_s: float
    swings_deg: tuple[float, float]
    phases: tuple[str, ...]
    phase: NDArray[np.int_]
    time: Array
    balance_deg: Array
    detent_deg: Array
    wheel_deg: Array
    drawing: dict[str, float]


@cache
def detent_motion() -> DetentMotion:
    """The bundled detent's period from its solution."""
    movement = load(DETENT)
    found = trace(movement, Setting(), samples=_SAMPLES)
    c, e = found.columns, movement.escapement
    time = c["time_s"] - c["time_s"][0]
    phases = tuple(dict.fromkeys(str(one) for one in found.phase))
    return DetentMotion(
        name=movement.name,
        period_s=float(time[-1]),
        swings_deg=(-float(c["angle_deg"].min()), float(c["angle_deg"].max())),
        phases=phases,
        phase=np.array([phases.index(str(one)) for one in found.phase]),
        time=time / time[-1],
        balance_deg=c["angle_deg"],
        detent_deg=c["lever_deg"],
        wheel_deg=c["wheel_deg"],
        drawing=drawn_from(e),
    )
