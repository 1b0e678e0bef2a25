"""Before and after: what changed is said, and whether it was predicted."""

from dataclasses import replace

import pytest

import oscsim
from oscsim.condition import Condition


@pytest.fixture(scope="module")
def cleaned():
    return oscsim.progress(
        oscsim.load("packet"),
        oscsim.load_readings("packet_dirty_pivots"),
        oscsim.load_readings("packet_cleaned"),
    )


def test_cleaned_pivots(cleaned):
    # the readings were made with the friction at the pivots' sides 2.1 times the design's, then as designed
    assert cleaned.as_predicted
    assert cleaned.prediction == "pivot_vertical"
    assert not cleaned.before.healthy
    assert cleaned.after.healthy
    moved = {cause.name: cause for cause in cleaned.causes if cause.moved}
    assert "drive" not in moved
    assert moved["pivot_vertical"].low < 1.0 / 2.1 < moved["pivot_vertical"].high
    # regulated from +5 to +14 s/day on the way
    assert cleaned.common_rate_s_per_day == pytest.approx(9.0, abs=2.0)


def test_flat_stayed_and_vertical_rose(cleaned):
    amplitude = [m for m in cleaned.moved if m.kind == "amplitude_deg"]
    assert len(amplitude) == 12
    assert all(m.moved for m in amplitude if m.position not in ("CH", "FH"))
    assert not any(m.moved for m in amplitude if m.position in ("CH", "FH"))
    assert sum(m.as_predicted for m in amplitude) >= 10


def test_nothing_done_is_not_as_predicted():
    before = oscsim.load_readings("packet_dirty_pivots")
    found = oscsim.progress(oscsim.load("packet"), before, before)
    assert not found.as_predicted
    assert found.gain_deg == 0.0
    assert not any(cause.moved for cause in found.causes)


def test_a_condition_can_be_predicted(cleaned):
    found = oscsim.progress(
        oscsim.load("packet"), cleaned.before.readings, cleaned.after.readings, Condition(drag=1.5)
    )
    assert not found.as_predicted
    assert found.prediction == "the condition given"


def test_other_lift_angle_after(cleaned):
    # an instrument told 5 % more shows 5 % more: the same movement, nothing changed by that
    own = 2.0 * 26.0
    before = replace(cleaned.before.readings, lift_angle_deg=own)
    after = replace(
        cleaned.after.readings,
        lift_angle_deg=1.05 * own,
        rows=tuple(
            replace(
                row,
                amplitude_deg=1.05 * row.amplitude_deg,
                amplitude_deg_uncertainty=1.05 * row.amplitude_deg_uncertainty,
            )
            for row in cleaned.after.readings.rows
        ),
    )
    movement = oscsim.load("packet")
    plain = oscsim.progress(movement, before, replace(cleaned.after.readings, lift_angle_deg=own))
    found = oscsim.progress(movement, before, after)
    assert found.gain_deg == pytest.approx(plain.gain_deg, abs=1e-9)
    assert found.misfit == pytest.approx(plain.misfit, rel=1e-6)


def test_no_place_in_common_is_refused(cleaned):
    rows = tuple(replace(row, hours=row.hours + 1.0) for row in cleaned.after.readings.rows)
    with pytest.raises(oscsim.InputError, match="nothing can be compared"):
        oscsim.progress(oscsim.load("packet"), cleaned.before.readings, oscsim.Readings(rows))
