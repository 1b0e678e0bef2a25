"""A watch whose mainspring is too strong for it: every answer says that it knocks, and shows what such a watch shows.

The swing is that at the horn, the rate that of the motion in time with its rebounds, followed beat by beat here.
"""

import math

import numpy as np
import pytest

import oscsim

STRONG = oscsim.load("dockhand").with_({"mainspring.height_mm": 2.7, "mainspring.slip_torque_n_mm": 14.5})
HORN = math.degrees(float(STRONG.escapement.knock_angle()))


def said(answer):
    return " ".join(answer.text().split())


@pytest.fixture(scope="module")
def settled():
    return oscsim.settle(STRONG, oscsim.Setting(positions=("CH", "12H"))).points


def test_a_trace_of_it_repeats_from_beat_to_beat_at_the_settled_rate(settled):
    answer = oscsim.trace(STRONG)
    knocks = [one["energy_j"] for one in answer.knocks()]
    assert len(knocks) == 3  # before the first beat, and after each
    assert knocks == pytest.approx([knocks[0]] * 3, rel=1e-3)
    assert answer.swing_deg == pytest.approx(HORN)
    period = float(answer.columns["time_s"][-1])
    beat = 3600.0 / STRONG.balance.beats_per_hour
    rate = 86400.0 * (2.0 * beat / period - 1.0)
    assert rate == pytest.approx(float(settled.shown_rate_s_per_day[0, 0]), rel=2e-3)
    assert answer.columns["time_s"][0] == answer.columns["wheel_deg"][0] == 0.0
    text = said(answer)
    assert "knock before" in text
    assert "so the balance keeps its swing" in text
    assert "shock" not in text
    assert "knock of the shock" in said(oscsim.trace(STRONG, swing_deg=350.0))


def test_its_days_gain_by_the_minute(settled):
    days = oscsim.days(STRONG, count=2)
    rows = days.rows()
    assert max(row["amplitude_deg"] for row in rows) <= HORN + 1e-6
    assert rows[0]["state"] == "knocks"
    # a fast watch by what settle shows of it; without the horn it would gain some seconds
    assert rows[-1]["error_s"] > 2 * 600.0
    assert float(settled.shown_rate_s_per_day.min()) > 600.0
    assert "It knocks while fully wound" in said(days)
    assert "best laid" not in said(days)


def test_its_examples_show_the_swing_at_the_horn():
    found = oscsim.tolerance(STRONG, oscsim.Setting(), examples=60, sobol=False)
    shown = np.array([found.amplitude_deg.low, found.amplitude_deg.middle, found.amplitude_deg.high]).ravel()
    # the horn lies where lift and shake of the example put it, within some degrees
    assert np.abs(shown - HORN).max() < 5.0
    assert found.rate_s_per_day.middle[0, 0] > 600.0
    assert "of a hundred" in said(found)
    assert "no fault of the example" not in said(found)


def test_band_budget_ageing_and_tradeoff_say_so():
    assert "fully wound this design knocks, as its drive would carry it to 355 deg" in said(
        oscsim.band(STRONG, 10.0)
    )
    budget = oscsim.budget(STRONG)
    n = [cause for cause, cost in budget.cost_deg.items() if not math.isfinite(cost.ravel()[0])]
    assert "friction on the impulse planes" in n
    assert "friction on the impulse planes costs the most amplitude: without it" in said(budget)
    aged = oscsim.ageing(STRONG)
    assert aged.knock_deg == pytest.approx([HORN])
    assert "355 knocks" in said(aged)
    assert "Fully wound it knocks" in said(aged)
    assert "knocks" not in said(oscsim.ageing("dockhand"))
    assert "Dockhand knocks fully wound" in said(
        oscsim.tradeoff([STRONG], measures=["amplitude_flat", "below_knock"])
    )


def test_sizes_are_sought_clear_of_the_knock():
    found = oscsim.swap(STRONG, None)
    assert found.wanted_deg == math.floor(HORN - 10.0)
    assert found.candidates[0].state == "running"
    assert f"for {found.wanted_deg:g} deg dial up" in said(found)
    assert oscsim.swap("dockhand", None).wanted_deg is None


def test_near_the_horn_it_is_told():
    near = oscsim.load("dockhand").with_({"mainspring.height_mm": 2.1, "mainspring.slip_torque_n_mm": 11.5})
    answer = oscsim.settle(near)
    left = HORN - float(answer.points.amplitude_deg[0, 0])
    assert 0.0 < left < 10.0
    assert f"It comes within {left:.0f} deg of where the impulse pin strikes" in said(answer)
    assert "It comes within" not in said(oscsim.settle("packet"))


def test_what_trips_is_not_said_to_knock():
    detent = oscsim.load("pilot").with_({"mainspring.height_mm": 2.4})
    trial = oscsim.trial(detent)
    assert trial.to_dict()["state"] == "trips"
    assert "No trial: it trips in 6H" in said(trial)
    rates = oscsim.rates(detent)
    assert abs(rates.horizontal_less_vertical_s_per_day[0]) < 0.05
    assert "flat is as fast as vertical" in said(rates)
