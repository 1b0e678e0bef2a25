"""Panels of the lesson: the numbers they show are the engine's, and they come for every bundled lever design."""

import json
import math

import numpy as np
import pytest

import oscsim
from oscsim.teaching.panels import panels
from oscsim.teaching.words import Words

#: The design itself among the choices of mainspring, lock and balance: the middle of 5, 5 and 3.
OWN = 2 * 15 + 2 * 3 + 1


@pytest.fixture(scope="module")
def by_key():
    return {panel.key: panel for panel in panels(oscsim.load("dockhand"), Words())}


def test_every_combination_of_choices_has_a_variant(by_key):
    assert set(by_key) == {"choice", "day", "coil", "breathing", "escapements"}
    for panel in by_key.values():
        assert len(panel.variants) == math.prod(len(choice.options) for choice in panel.choices)
        assert all(one.words for one in panel.variants)
        json.dumps(panel.to_dict(), allow_nan=False)


def test_the_choice_as_designed_is_the_design(by_key):
    settled = oscsim.settle("dockhand", oscsim.Setting(positions=("CH", "12H"))).points.amplitude_deg
    own = by_key["choice"].variants[OWN]
    assert own.words == "This is the design as given."
    assert [row[1] for row in own.table[:2]] == [row[2] for row in own.table[:2]]
    assert [float(row[1]) for row in own.table[:2]] == [round(float(a)) for a in settled[:, 0]]


def test_years_are_told_no_finer_than_a_tenth(by_key):
    told = [row[1:3] for one in by_key["choice"].variants for row in one.table if "years" in row]
    numbers = {number for pair in told for number in pair if number[:1].isdigit()}
    assert len(numbers) > 3
    assert all(number == f"{float(number):.1f}" for number in numbers if float(number) < 100.0)


def test_a_deeper_lock_costs_amplitude_and_holds_better(by_key):
    """Both signs are common practice (a rule of the trade without a single source)."""
    deeper, own = by_key["choice"].variants[OWN + 3], by_key["choice"].variants[OWN]
    value = {
        row[0]: (float(row[1]), float(row[2])) for row in deeper.table if row[0] in (r[0] for r in own.table)
    }
    assert value["amplitude 12 up, wound"][1] < value["amplitude 12 up, wound"][0]
    assert value["energy of a jolt that unlocks"][1] > value["energy of a jolt that unlocks"][0]


def test_the_week_is_that_of_days(by_key):
    week = oscsim.days("dockhand", count=7, hours_worn=9.0, life="usual")
    panel = by_key["day"]
    worn, life = (choice.options for choice in panel.choices)
    one = panel.variants[worn.index("9 h a day") * len(life) + life.index("usual")]
    assert f"{week.least_morning_deg:.0f}°" in one.words
    assert np.nanmax(one.curves[0].y) == pytest.approx(np.nanmax(week.amplitude_deg), abs=0.5)


def test_an_outer_curve_levels_the_rate(by_key):
    """A curve after Phillips leaves less than 1 s/day between 220 and 280 deg where whole turns leave 10 to 20."""
    change = {}
    for name, one in zip(by_key["coil"].choices[0].options, by_key["coil"].variants, strict=True):
        x, y = np.array(one.curves[0].x), np.array(one.curves[0].y)
        change[name] = abs(y[x == 280][0] - y[x == 220][0])
    assert change["whole turns"] > 10.0 > 1.0 > change["whole turns, outer curve"]


@pytest.mark.parametrize("name", ["ferryman", "tidewaiter"])
def test_other_designs_have_them_too(name):
    assert len(panels(oscsim.load(name), Words())) == 5
