"""A watch with a hairspring from its shape: the engine against shooting along the strip and integration in time."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

import oscsim

from . import hairspring as hs
from . import integrator as it
from .designs import MOVEMENTS, REFERENCE, TABLES

SIZE = {"collet_radius_mm": 0.6, "outer_radius_mm": 2.6, "winds": "clockwise"}
#: A flat spring at half turns with its weight; one with an outer curve, winding the other way, its stud out of place.
SPRINGS = {
    "half turns": SIZE
    | {"turns": 12.5, "pinning_deg": 70.0, "strip_height_mm": 0.15, "strip_thickness_mm": 0.03},
    "outer curve": SIZE
    | {
        "turns": 12.0,
        "winds": "anticlockwise",
        "pinning_deg": -35.0,
        "outer_curve": "phillips",
        "strip_mass_mg": 4.0,
        "stud_offset_um": [40.0, -25.0],
        "stud_turn_deg": 0.7,
    },
}
HOURS_UP = {"CH": None, "3H": 90.0, "6H": 180.0}


@pytest.mark.parametrize("name", ["half", "outer_curve"])
def test_shooting_meets_the_reference(name: str) -> None:
    """Against the shooting at 1e-13 that the reference numbers come from."""
    want = json.loads((REFERENCE / "springs.json").read_text("utf-8"))[name]
    rows = np.array(want["rows"])
    table = SIZE | ({"turns": 12.5} if name == "half" else {"turns": 12.0, "outer_curve": "phillips"})
    torque, force, centroid, length = hs.shot(table, np.radians(rows[:, 0]))
    assert length == pytest.approx(want["L_mm"], rel=1e-12)
    assert np.abs(torque - rows[:, 1]).max() < 1e-8
    assert np.abs(force - (rows[:, 2] + 1j * rows[:, 3])).max() < 1e-5
    assert np.abs(centroid - (rows[:, 4] + 1j * rows[:, 5])).max() < 1e-8


@pytest.mark.parametrize("spring", SPRINGS)
@pytest.mark.parametrize("position", ["CH", "3H", "6H"])
def test_settled_state_against_the_integrator(spring: str, position: str) -> None:
    """Same watch, same spring, nothing shared: shooting and time steps on one side, sweeps and arcs on the other."""
    design = it.changed(TABLES["heavy"], {"balance.cubic_stiffness": None})
    design["hairspring"] = SPRINGS[spring]
    changes = {f"hairspring.{key}": value for key, value in SPRINGS[spring].items()}
    movement = MOVEMENTS["heavy"].with_({"balance.cubic_stiffness": 0.0} | changes)
    got = oscsim.settle(movement, oscsim.Setting(positions=position)).points
    op = it.operating(design, position)
    op = op | {"by_angle": hs.by_angle(design, op, HOURS_UP[position])}
    want = it.settled(op, math.radians(1.02 * float(got.amplitude_deg[0, 0])))
    assert got.amplitude_deg[0, 0] == pytest.approx(want["amplitude_deg"], abs=2e-4)
    assert got.rate_s_per_day[0, 0] == pytest.approx(want["rate_s_per_day"], abs=2e-3)
    assert got.signed_beat_error_ms[0, 0] == pytest.approx(want["beat_error_signed_ms"], abs=1e-4)
