"""The outside check, checked: independent integration of docs/physics.md against tests/outside/reference.

Source of the numbers: another time-domain integration of the same equations (DOP853, 1e-13, located events),
kept in tests/outside/reference with the designs. Tolerances: amplitude 1e-8 deg, rate 1e-6 s/day, beat error
1e-6 ms, torques 1e-10 relative. The tilted dial-down point also fixed a convention (phi = 0 in FH), so it
checks less than the others.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from ..sizes import size
from . import integrator as it

REFERENCE = Path(__file__).parents[1] / "outside" / "reference"
DESIGNS = {name: it.load(REFERENCE / f"{name}.toml") for name in ("fast", "heavy", "slow")}
POINTS = {name: json.loads((REFERENCE / f"{name}.json").read_text()) for name in DESIGNS}
EDGES: list[dict[str, Any]] = json.loads((REFERENCE / "edges.json").read_text())


def of_edge(edge: dict[str, Any]) -> it.Coefficients:
    design = it.changed(DESIGNS[edge["design"]], edge["changes"])
    return it.operating(design, edge["position"], edge["hours"], edge.get("tilt_deg"))


def edge(
    design: str, position: str, hours: float, tilt_deg: float | None = None, **changes: float
) -> dict[str, Any]:
    """The edge point with these settings; `changes` by the last part of the key."""
    found = [
        e
        for e in EDGES
        if (e["design"], e["position"], e["hours"], e.get("tilt_deg")) == (design, position, hours, tilt_deg)
        and changes.items() <= {k.split(".")[-1]: v for k, v in e["changes"].items()}.items()
        and bool(changes) == bool(e["changes"])
    ]
    assert len(found) == 1
    return found[0]


def check_settled(op: it.Coefficients, point: dict[str, Any]) -> None:
    # From a little above the answer, so that it has to be found.
    answer = it.settled(op, 1.02 * math.radians(point["amplitude_deg"]))
    assert answer["state"] == point.get("state", "running")
    assert answer["amplitude_deg"] == pytest.approx(point["amplitude_deg"], abs=1e-8, rel=0)
    assert answer["rate_s_per_day"] == pytest.approx(point["rate_s_per_day"], abs=1e-6, rel=0)
    assert answer["beat_error_ms"] == pytest.approx(point["beat_error_ms"], abs=1e-6, rel=0)
    assert answer["tick_s"] == pytest.approx(point["tick_s"], rel=1e-9)
    for told, shown in point.get("apparent_amplitude_deg", {}).items():
        again = it.settled(op, math.radians(point["amplitude_deg"]), lift_angle=math.radians(float(told)))
        assert again["apparent_amplitude_deg"] == pytest.approx(shown, abs=1e-7, rel=0)


@pytest.mark.parametrize("name", DESIGNS)
def test_torques_of_every_point(name: str) -> None:
    for point in POINTS[name]["points"]:
        op = it.operating(DESIGNS[name], point["position"], point["hours"])
        assert op["full_turns"] == pytest.approx(POINTS[name]["turns"], rel=1e-12)
        assert op["hours_of_spring"] == pytest.approx(POINTS[name]["hours_of_spring"], rel=1e-12)
        assert op["train_efficiency"] == pytest.approx(POINTS[name]["train_efficiency"], rel=1e-12)
        assert op["barrel_torque"] == pytest.approx(point["barrel_torque_n_mm"] * 1e-3, rel=1e-10)
        assert op["M_e"] == pytest.approx(point["torque_escape_n_m"], rel=1e-10)


def test_torques_of_every_edge() -> None:
    for point in EDGES:
        op = of_edge(point)
        assert op["full_turns"] == pytest.approx(point["full_turns"], rel=1e-12)
        assert op["train_efficiency"] == pytest.approx(point["train_efficiency"], rel=1e-12)
        assert math.degrees(op["knock"]) == pytest.approx(point["knock_deg"], rel=1e-12)
        if "barrel_torque_n_mm" in point:
            assert op["barrel_torque"] == pytest.approx(point["barrel_torque_n_mm"] * 1e-3, rel=1e-10)
            assert op["M_e"] == pytest.approx(point["torque_escape_n_m"], rel=1e-10)


@pytest.mark.parametrize(
    ("name", "position", "hours"), [("fast", "3H", 36), ("heavy", "12H", 36), ("slow", "9H", 24)]
)
def test_settled_points(name: str, position: str, hours: float) -> None:
    point = next(p for p in POINTS[name]["points"] if (p["position"], p["hours"]) == (position, hours))
    check_settled(it.operating(DESIGNS[name], position, hours), point)


@pytest.mark.parametrize(
    "point",
    [
        pytest.param(edge("fast", "CH", 0, wheel_inertia_mg_cm2=0.9), id="late catch"),
        pytest.param(edge("heavy", "CH", 0, notch_shake_deg=1.5), id="wide notch"),
        pytest.param(edge("fast", "12H", 0, tilt_deg=45.0), id="tilt"),
        pytest.param(edge("fast", "FH", 0, tilt_deg=170.0), id="tilt from dial down"),
        pytest.param(edge("slow", "9H", 0, height_mm=0.15), id="low amplitude"),
        pytest.param(edge("fast", "12H", 12, height_mm=0.8), id="reverse-curved strip"),
        pytest.param(edge("fast", "CH", 0, height_mm=2.4), id="knocks"),
    ],
)
def test_settled_edges(point: dict[str, Any]) -> None:
    check_settled(of_edge(point), point)


def test_stops() -> None:
    answer = it.settled(of_edge(edge("slow", "9H", 0, height_mm=0.05)))
    assert answer["state"] == "stops"
    assert answer["amplitude_deg"] is None


def test_unsettled() -> None:
    point = edge("fast", "CH", 24, wheel_inertia_mg_cm2=3.0)
    answer = it.settled(of_edge(point), math.radians(180.0), tries=size(3, 12), followed=size(80, 200))
    assert answer["state"] == "unsettled"
    assert answer["amplitude_range_deg"] == pytest.approx(point["amplitude_range_deg"], abs=0.5, rel=0)


@pytest.mark.parametrize(
    ("inertia", "shake", "lost"), [(0.08, 0.3, False), (0.9, 0.0, False), (8.0, 0.3, True)]
)
def test_energy_of_one_beat_closes(inertia: float, shake: float, lost: bool) -> None:
    """Source: conservation of energy. The drags' work is integrated, the rest is from the phases' ends."""
    design = it.changed(
        DESIGNS["fast"], {"escapement.wheel_inertia_mg_cm2": inertia, "escapement.notch_shake_deg": shake}
    )
    op = it.operating(design, "3H")
    A = math.radians(250.0)
    one = it.beat(op, A, -1, energy=True)
    assert one.lost is lost
    assert one.energy["quadratic"] > 0.0
    assert abs(one.energy["closure"]) < 1e-13 * 0.5 * op["k"] * A**2
