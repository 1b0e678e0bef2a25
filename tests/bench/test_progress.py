"""Before and after: what changed is said, and whether it was predicted."""

from dataclasses import replace

import pytest

import oscsim
from oscsim.condition import Condition
from oscsim.show.bench_plots import progress_figure
from oscsim.show.progress_tables import progress_sentence
from oscsim.slips.readings import Reading, Readings

from .test_diagnose import SLIP, read, rows_of


@pytest.fixture(scope="module")
def cleaned():
    return oscsim.progress(
        "packet",
        oscsim.load_readings("packet_dirty_pivots"),
        oscsim.load_readings("packet_cleaned"),
        done=["pivot_vertical"],
    )


def turn(found, name):
    (one,) = [one for one in found.turns if one.name == name]
    return one


def test_cleaned_pivots(cleaned):
    # the readings were made with the friction at the pivots' sides 2.1 times the design's, then as designed
    assert cleaned.as_predicted
    assert cleaned.before.verdict_word == "worth opening"
    assert cleaned.after.verdict_word == "sound"
    amplitude = turn(cleaned, "amplitude")
    assert amplitude.seen.low > 10.0
    assert amplitude.predicted.low < amplitude.seen.middle < amplitude.predicted.high
    # regulated from +5 to +14 s/day on the way: all rates shifted alike, which is no news
    assert all(m.as_predicted for m in cleaned.moved if m.read == "rate_s_per_day" and m.hours == 0.0)


def test_flat_stayed_and_vertical_rose(cleaned):
    amplitude = [m for m in cleaned.moved if m.read == "amplitude_deg"]
    assert len(amplitude) == 12
    for m in amplitude:
        assert (m.predicted > 15.0) == (m.position not in ("CH", "FH"))
    assert sum(m.as_predicted for m in amplitude) >= 10


def test_where_nothing_is_touched_nothing_is_foretold_to_be_sure_of(cleaned):
    """Friction at the pivots' sides takes nothing lying flat: no prediction there, and none of an uncertainty of 0."""
    page = str(cleaned)
    rows = page.split("Amplitude shown, deg")[1].split("Rate, s/day")[0].splitlines()
    told = {(line[:3].strip(), line.split()[3]): line.rstrip() for line in rows if " h " in line}
    assert len(told) == 12
    for (position, _), line in told.items():
        assert line.removesuffix("otherwise than predicted").rstrip().endswith("none") == (
            position in ("CH", "FH")
        )
    assert "± 0 " not in page.replace("\n", " \n")
    assert "none: the work done does not touch" in page.replace("\n", " ")
    assert "(0 to 0)" not in page


def test_without_a_word_of_what_was_done_the_likeliest_is_taken(cleaned):
    found = oscsim.progress("packet", cleaned.before.readings, cleaned.after.readings)
    assert found.done == ("pivot_vertical",)
    assert not found.told


def test_nothing_changed_is_not_as_predicted(cleaned):
    before = cleaned.before.readings
    found = oscsim.progress("packet", before, before, done=["pivot_vertical"])
    assert not found.as_predicted
    assert turn(found, "amplitude").seen.middle == 0.0


def test_what_was_done_decides_the_prediction(cleaned):
    other = oscsim.progress("packet", cleaned.before.readings, cleaned.after.readings, done=["regulation"])
    assert turn(other, "amplitude").predicted.middle == pytest.approx(0.0, abs=1e-9)
    assert not other.as_predicted
    with pytest.raises(oscsim.InputError, match="did you mean"):
        oscsim.progress("packet", cleaned.before.readings, cleaned.after.readings, done=["mainsprng"])


def test_set_in_beat():
    movement = oscsim.load("packet")
    before, after = (
        read(movement, condition=Condition(out_of_beat_deg=e), hours=(0.0,), seed=s)
        for e, s in ((5.0, 1), (0.0, 2))
    )
    found = oscsim.progress(movement, before, after, done=["out_of_beat"])
    beat = turn(found, "beat")
    assert beat.as_predicted
    assert beat.seen.high < -0.5


def test_other_lift_angle_after(cleaned):
    # an instrument told 5 % more shows 5 % more: the same movement, nothing changed by that
    own = 2.0 * 26.0
    before = replace(cleaned.before.readings, lift_angle_deg=own)
    after = replace(
        cleaned.after.readings,
        lift_angle_deg=1.05 * own,
        rows=tuple(replace(r, amplitude_deg=1.05 * r.amplitude_deg) for r in cleaned.after.readings.rows),
    )
    plain = oscsim.progress(
        "packet", before, replace(cleaned.after.readings, lift_angle_deg=own), done=["oil"]
    )
    found = oscsim.progress("packet", before, after, done=["oil"])
    assert turn(found, "amplitude").seen.middle == pytest.approx(
        turn(plain, "amplitude").seen.middle, abs=1e-9
    )


def test_a_slip_does_too():
    before = oscsim.Readings(rows_of({"CH": 208, "FH": 206, "12H": 182, "6H": 180}), 52.0)
    after = oscsim.Readings(rows_of({"CH": 270, "FH": 272, "12H": 246, "6H": 244}), 52.0)
    found = oscsim.progress(SLIP, before, after, done=["mainspring", "oil"])
    amplitude = turn(found, "amplitude")
    assert amplitude.predicted.middle > 20.0
    assert amplitude.as_predicted


def test_the_picture_has_all_three(cleaned):
    labels = [ax.get_ylabel() for ax in progress_figure(cleaned).axes]
    assert [label.split(",")[0] for label in labels] == ["amplitude shown", "rate", "beat error"]
    # a beat error is a size, no bar of it goes below nought
    foot = [bar.get_segments()[0][:, 1].min() for bar in progress_figure(cleaned).axes[2].collections]
    assert len(foot) == 12
    assert min(foot) >= 0.0


def test_no_place_in_common_is_refused(cleaned):
    rows = tuple(replace(row, hours=row.hours + 1.0) for row in cleaned.after.readings.rows)
    with pytest.raises(oscsim.InputError, match="nothing can be compared"):
        oscsim.progress("packet", cleaned.before.readings, oscsim.Readings(rows))


def test_a_value_that_went_otherwise_is_told_beside_the_whole(cleaned):
    assert "came, within the uncertainty of readings and prediction. " in f"{progress_sentence(cleaned)} "
    first = cleaned.moved[0]
    odd = replace(cleaned, moved=(replace(first, change=first.change + 60.0), *cleaned.moved[1:]))
    said = progress_sentence(odd)
    assert f"on the whole; 1 of {len(odd.moved)} values did not (CH at 0 h)" in said
    assert str(odd).count("otherwise than predicted") == 1


def test_nothing_is_taken_to_be_done_where_nothing_fits():
    flat, upright = ("CH", "FH"), ("12H", "3H", "6H")
    before, after = (
        oscsim.Readings(
            tuple(oscsim.Reading(p, 0.0, 330.0 + less, fast) for p in flat)
            + tuple(oscsim.Reading(p, 0.0, 304.0 + less, 4.0) for p in upright)
        )
        for less, fast in ((0.0, 170.0), (-30.0, 5.0))
    )
    found = oscsim.progress("packet", before, after)
    assert not found.before.fits
    assert found.done == ()


def test_readings_that_nothing_known_fits_foretell_nothing():
    """A watch that knocked, with a weaker mainspring after: its rates fell by what knocking had made of them."""
    rows = {"CH": (352.0, 900.0), "FH": (350.0, 905.0), "12H": (330.0, 100.0), "3H": (331.0, 110.0)}
    knocks = Readings(tuple(Reading(place, 0.0, swing, rate) for place, (swing, rate) in rows.items()))
    quiet = Readings(tuple(Reading(place, 0.0, swing - 50.0, 8.0) for place, (swing, _) in rows.items()))
    found = oscsim.progress("dockhand", knocks, quiet)
    assert {m.as_predicted for m in found.moved} == {found.as_predicted} == {None}
    assert {turn.predicted for turn in found.turns} == {None}
    assert "otherwise than predicted" not in str(found)
    assert "nothing known fits the readings before" in " ".join(str(found).split())
    found.plot()
