"""How sure a reading is: the train's breathing, uncertainties that were told, a place read several times."""

from __future__ import annotations

from dataclasses import replace

import pytest

import oscsim
from oscsim.bench.how_sure import BESIDE_RIPPLE_DEG, as_sure, ripple_deg
from oscsim.slips.readings import Reading


@pytest.mark.parametrize("name", ["bollard", "dinghy", "dockhand", "packet"])
def test_with_a_usual_train_a_reading_is_as_sure_as_benches_take_it(name):
    """5 deg: common practice without source; what the train gives is held against the simulation in test_ripple."""
    rows = (Reading("CH", 0.0, 250.0),)
    sure = as_sure(oscsim.Readings(rows), ripple_deg(oscsim.load(name))).rows[0]
    assert sure.amplitude_deg_uncertainty == pytest.approx(5.0, abs=0.4)
    assert sure.amplitude_deg_uncertainty > BESIDE_RIPPLE_DEG


def test_what_was_told_stands_and_a_place_read_four_times_is_twice_as_sure():
    packet = oscsim.load("packet")
    told = Reading("CH", 0.0, 250.0, 3.0, amplitude_deg_uncertainty=2.0)
    once, often = as_sure(
        oscsim.Readings((told, replace(told, position="12H", times=4))), ripple_deg(packet)
    ).rows
    assert once.amplitude_deg_uncertainty == 2.0
    assert often.amplitude_deg_uncertainty == 1.0
    assert often.rate_s_per_day_uncertainty == 0.5 * once.rate_s_per_day_uncertainty


def test_a_train_without_teeth_leaves_the_usual_uncertainty():
    plain = oscsim.load("packet").with_({"train.ratio": 3000.0})
    assert ripple_deg(plain) is None
    sure = as_sure(oscsim.Readings((Reading("CH", 0.0, 250.0),)), ripple_deg(plain)).rows[0]
    assert sure.amplitude_deg_uncertainty == 5.0


def test_reading_longer_is_surer():
    packet = oscsim.load("packet")
    short, long = ripple_deg(packet, 30.0), ripple_deg(packet, 300.0)
    assert short is not None
    assert long is not None
    assert long < 0.7 * short
