"""Rates by position: the summary's definitions by hand, on the engine, and the reference numbers with unbalance."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

import oscsim
from oscsim.answers.rates import Rates, rates
from oscsim.answers.shares import CAUSES
from tests.outside.test_reference import DESIGNS, EDGES, TABLES

pytestmark = pytest.mark.usefixtures("briefly")

SIX = tuple(oscsim.POSITIONS)


def by_hand(positions, numbers, **setting):
    """A table of rates, (positions, hours), with these numbers in it."""
    hours = tuple(float(i) for i in range(len(numbers[0])))
    answer = rates(DESIGNS["heavy"], oscsim.Setting(positions=positions, hours=hours, **setting))
    given = np.array(numbers, float)
    points = dataclasses.replace(answer.points, rate_s_per_day=given, shown_rate_s_per_day=given)
    return dataclasses.replace(answer, points=points)


def test_definitions_on_numbers_made_by_hand():
    # Position spread: fastest less slowest (docs); horizontal less vertical: mean of dial up and down less mean of the
    # verticals (ISO 3159 takes CH less 6H; the docs take the means). The order of the positions does not matter.
    answer = by_hand(["3H", "CH", "9H", "FH"], [[1, 4], [10, -2], [4, 4], [12, 0]])
    assert answer.mean_rate_s_per_day.tolist() == [27 / 4, 6 / 4]
    assert answer.position_spread_s_per_day.tolist() == [11, 6]
    assert answer.horizontal_less_vertical_s_per_day.tolist() == [11 - 2.5, -1 - 4]
    assert answer.to_dict()["summary"][1] == {
        "hours": 1.0,
        "mean_rate_s_per_day": 1.5,
        "position_spread_s_per_day": 6.0,
        "horizontal_less_vertical_s_per_day": -5.0,
    }


@pytest.mark.parametrize("positions", [["CH", "FH"], ["12H", "3H"], ["6H"]])
def test_no_horizontal_less_vertical_without_both(positions):
    answer = by_hand(positions, [[1.0]] * len(positions))
    assert np.isnan(answer.horizontal_less_vertical_s_per_day).all()
    assert answer.to_dict()["summary"][0]["horizontal_less_vertical_s_per_day"] is None
    assert answer.position_spread_s_per_day.tolist() == [0.0]


def test_tilted_positions_are_neither_horizontal_nor_vertical():
    answer = by_hand(["CH", "12H"], [[3.0], [1.0]], tilt_deg=30.0)
    assert np.isnan(answer.horizontal_less_vertical_s_per_day).all()


def test_where_one_position_stops_there_is_no_mean():
    # In the last hours the verticals stop before dial up does (tests/independent finds the same states).
    movement = DESIGNS["heavy"]
    stops = dict(zip(SIX, oscsim.rundown(movement).stop_hours, strict=True))
    between = (max(stops[p] for p in SIX[2:]) + stops["CH"]) / 2
    answer = rates(movement, oscsim.Setting(positions=SIX, hours=[0.0, between]))
    assert answer.points.state[:, 1].tolist() == ["running", "running", *["stops"] * 4]
    for name in ("mean_rate", "position_spread", "horizontal_less_vertical"):
        values = getattr(answer, f"{name}_s_per_day")
        assert np.isfinite(values[0])
        assert np.isnan(values[1])
        assert answer.to_dict()["summary"][1][f"{name}_s_per_day"] is None


@pytest.mark.parametrize("name", DESIGNS)
def test_reference_points(name):
    # tests/outside/reference: independent integration; every point of these designs has its unbalance.
    table = TABLES[name]["points"]
    positions = list(dict.fromkeys(p["position"] for p in table))
    hours = sorted({p["hours"] for p in table})
    answer = rates(DESIGNS[name], oscsim.Setting(positions=positions, hours=hours))
    assert DESIGNS[name].balance.unbalance_ug_cm > 0.0
    assert not answer.regulated
    want = {(p["position"], p["hours"]): p for p in table}
    rows = answer.rows()
    assert len(rows) == len(want) == 25
    for row in rows:
        point = want[row["position"], row["hours"]]
        assert row["state"] == "running"
        assert row["rate_s_per_day"] == pytest.approx(point["rate_s_per_day"], abs=1e-6)
        assert row["amplitude_deg"] == pytest.approx(point["amplitude_deg"], abs=1e-8)
        assert row["beat_error_ms"] == pytest.approx(point["beat_error_ms"], abs=1e-9)
    # the summary from the reference's own numbers
    grid = np.array([[want[p, h]["rate_s_per_day"] for h in hours] for p in positions])
    flat = np.array([p in ("CH", "FH") for p in positions])
    np.testing.assert_allclose(answer.mean_rate_s_per_day, grid.mean(axis=0), atol=1e-6)
    np.testing.assert_allclose(answer.position_spread_s_per_day, np.ptp(grid, axis=0), atol=2e-6)
    difference = grid[flat].mean(axis=0) - grid[~flat].mean(axis=0)
    np.testing.assert_allclose(answer.horizontal_less_vertical_s_per_day, difference, atol=2e-6)


def test_every_state_of_the_edges_comes_with_or_without_its_rate():
    seen = set()
    for edge in EDGES:
        setting = oscsim.Setting(
            positions=edge["position"], hours=edge["hours"], tilt_deg=edge.get("tilt_deg")
        )
        row = rates(DESIGNS[edge["design"]].with_(edge["changes"]), setting).rows()[0]
        assert row["state"] == edge["state"]
        assert math.isnan(row["rate_s_per_day"]) == (edge["state"] == "stops")
        if edge["state"] in ("running", "knocks"):
            assert row["rate_s_per_day"] == pytest.approx(edge["rate_s_per_day"], abs=1e-6)
        seen.add(edge["state"])
    assert {"running", "knocks", "stops"} <= seen


def test_default_setting():
    answer = rates(DESIGNS["slow"])
    assert answer.setting.positions == SIX
    assert answer.points.hours[0].tolist() == [0.0, 24.0]
    assert answer.shares == {}
    with pytest.raises(dataclasses.FrozenInstanceError):
        answer.shares = {}
    assert isinstance(answer, Rates)


def test_shares_beside_every_rate_add_up_to_it():
    setting = oscsim.Setting(positions=["CH", "12H", "9H"], hours=[0, 24, 400])
    answer = rates(DESIGNS["heavy"], setting, shares=True)
    assert list(answer.shares) == list(CAUSES)
    runs = answer.points.has(oscsim.State.RUNNING)
    assert runs.tolist() == [[True, True, False]] * 3
    total = sum(answer.shares.values())
    np.testing.assert_allclose(total[runs], answer.points.rate_s_per_day[runs], rtol=0, atol=1e-8)
    assert all(np.isnan(share[~runs]).all() for share in answer.shares.values())
    row = answer.rows()[0]
    assert sum(row[f"{cause}_s_per_day"] for cause in CAUSES) == pytest.approx(
        row["rate_s_per_day"], abs=1e-8
    )


def test_the_page_says_what_a_watch_does_that_swings_too_far():
    hard = oscsim.Setting(positions=["CH", "12H"], hours=[0], condition=oscsim.Condition(drive=1.5))
    told = str(rates(oscsim.load("packet"), hard))
    assert "a rate where it knocks or wanders is none to regulate by" in " ".join(told.split())
