"""How the error falls from rung to rung of the engine's ladder of rules.

Source: the amplitude and period that the independent integrator settles at (tests/independent, 1e-13). What is
stated in oscsim/motion/newton.py and asserted here: each rung gains two digits or more on the one below, until
1e-11 rad.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

import oscsim
from oscsim.motion.newton import Closing, close
from oscsim.motion.rules import LADDER
from oscsim.operating import operating_points

from ..independent import integrator as it
from ..independent.designs import MOVEMENTS, TABLES

FLOOR = 1e-11


def errors(name: str, position: str, changes: dict[str, float]) -> tuple[list[float], list[float]]:
    """By rung: error of the settled amplitude, rad, and of the period, relative."""
    op = it.operating(it.changed(TABLES[name], dict(changes)), position)
    want = it.settled(op)
    start = np.radians([want["amplitude_deg"] + 0.5])
    period = op["T_0"] / (1.0 + want["rate_s_per_day"] / 86400.0)
    points = operating_points(MOVEMENTS[name].with_(changes), oscsim.Setting(positions=position))
    amplitudes, periods = [], []
    with np.errstate(all="ignore"):
        for rule in LADDER:
            cycle, _ = close(Closing.at(points.oscillators, start, start), rule, steps=12)
            amplitudes.append(abs(cycle.amplitude[0] - math.radians(want["amplitude_deg"])))
            periods.append(abs(cycle.period[0] / points.omega[0] / period - 1.0))
    return amplitudes, periods


@pytest.mark.parametrize(
    ("name", "position", "changes", "rough"),
    [
        pytest.param("heavy", "12H", {}, 3e-11, id="normal"),
        pytest.param("fast", "CH", {"escapement.wheel_inertia_mg_cm2": 0.9}, 1e-9, id="late catch"),
        pytest.param("slow", "9H", {"mainspring.height_mm": 0.15}, 1e-8, id="46 deg"),
        pytest.param("slow", "9H", {"mainspring.height_mm": 0.10}, 1e-7, id="33 deg"),
    ],
)
def test_each_rung_gains_two_digits(
    name: str, position: str, changes: dict[str, float], rough: float
) -> None:
    amplitudes, periods = errors(name, position, changes)
    print("\namplitude", [f"{e:.0e}" for e in amplitudes], "period", [f"{e:.0e}" for e in periods])
    assert amplitudes[0] > rough  # there is something to gain
    for coarse, fine in pairwise(amplitudes):
        assert fine <= max(1e-2 * coarse, FLOOR)
    for coarse, fine in pairwise(periods):
        assert fine <= max(2e-2 * coarse, 1e-12)
    assert amplitudes[-1] < 5e-12
    assert periods[-1] < 2e-12  # at 46 deg the residual at which a point is closed, 5e-14 rad, is worth 1e-12
