"""A design fitted to readings: what was put in is found, and what is written is read back."""

from dataclasses import replace

import numpy as np
import pytest

import oscsim
from oscsim.answers.points import settled_points
from oscsim.answers.tolerance import draw, spreads_of
from oscsim.operating import operating_points
from oscsim.stack import varied
from oscsim.tables import value_at

NAMES = ("balance.viscous_q", "mainspring.coil_efficiency")


def readings_of(movement, hours=(0.0, 12.0, 30.0), noise=None):
    """Six positions at these hours, by the engine."""
    setting = oscsim.Setting(positions=tuple(oscsim.POSITIONS), hours=hours)
    p = oscsim.settle(movement, setting).points
    rows = []
    for i, symbol in enumerate(setting.positions):
        for j, hour in enumerate(hours):
            off = (0.0, 0.0) if noise is None else noise.standard_normal(2) * (5.0, 2.0)
            rows.append(
                oscsim.Reading(
                    symbol, hour, p.apparent_amplitude_deg[i, j] + off[0], p.rate_s_per_day[i, j] + off[1]
                )
            )
    return oscsim.Readings(tuple(rows))


POSITIONS = tuple(oscsim.POSITIONS)


def examples_of(movement, count, rng, spreads, hours=(0.0, 24.0)):
    """Readings of sound examples of a design: every number of ``spreads`` its own, and an instrument with all its
    errors.

    Noise 4 deg and 2 s/day, an offset of 3 deg and a lift angle told 1 deg wrong (one standard deviation each), 3 deg
    by position, an unknown regulation. Gives the readings and the drawn numbers of each.
    """
    drawn = draw(movement, spreads, count, rng)
    setting = oscsim.Setting(positions=POSITIONS, hours=hours)
    points = settled_points(operating_points(varied(replace(movement, tolerance=()), drawn), setting))
    own = float(points.lift_angle_deg[0, 0, 0])
    found = []
    for k in range(count):
        told, offset = 1.0 + rng.standard_normal() / own, 3.0 * rng.standard_normal()
        by_position, set_to = 3.0 * rng.standard_normal(len(POSITIONS)), 20.0 * rng.standard_normal()
        rows = tuple(
            oscsim.Reading(
                symbol,
                hour,
                points.amplitude_deg[k, i, j] * told + offset + by_position[i] + 4.0 * rng.standard_normal(),
                points.rate_s_per_day[k, i, j] + set_to + 2.0 * rng.standard_normal(),
            )
            for i, symbol in enumerate(POSITIONS)
            for j, hour in enumerate(hours)
        )
        found.append((oscsim.Readings(rows), {name: values[k] for name, values in drawn.items()}))
    return found


def test_intervals_of_a_sound_example_hold_its_numbers():
    """Every number of the example departs from the drawing, not only the fitted ones: 90 % meant, 85 % asked."""
    rng = np.random.default_rng(2)
    inside = []
    for name in ("ferryman", "dockhand"):
        movement = oscsim.load(name)
        for readings, truth in examples_of(movement, 15, rng, spreads_of(movement)):
            found = oscsim.fit(movement, readings, NAMES)
            assert found.converged
            assert found.apart is None
            inside += [n.low < truth.get(n.name, n.before) < n.high for n in found.numbers]
    assert np.mean(inside) >= 0.85


def test_several_examples_give_the_kind_and_how_far_they_lie_apart():
    """Ten examples twice as far apart as the design says, of a kind with more drag than drawn."""
    movement = oscsim.load("packet")
    kind = movement.with_({"balance.viscous_q": 0.8 * movement.balance.viscous_q})
    wide = [
        replace(s, plus_minus=2.0 * s.half_width(value_at(kind, s.name)), percent=None)
        for s in spreads_of(kind)
    ]
    rng = np.random.default_rng(8)
    readings = [one for one, _ in examples_of(kind, 10, rng, wide)]
    found = oscsim.fit(movement, readings, ["balance.viscous_q"], width=5.0)
    (q,) = found.numbers
    assert q.low < kind.balance.viscous_q < q.high
    assert q.sd < 0.1 * q.value
    low, middle, high = found.apart
    assert low < 2.0 < high
    assert 1.3 < middle < 3.0
    alone = oscsim.fit(movement, readings[0], ["balance.viscous_q"], width=5.0)
    assert q.sd < alone.numbers[0].sd
    assert "times as far apart as the design's spreads say" in " ".join(found.text().split())


@pytest.mark.parametrize("start", [0.0, 90.0, 180.0, 270.0])
def test_the_heavy_point_is_found_from_any_direction(start):
    movement = oscsim.load("dockhand")
    truth = movement.with_({"balance.unbalance_ug_cm": 8.0, "balance.heavy_point_deg": 135.0})
    begun = movement.with_({"balance.unbalance_ug_cm": 3.0, "balance.heavy_point_deg": start})
    names = ["balance.unbalance_ug_cm", "balance.heavy_point_deg"]
    found = oscsim.fit(begun, readings_of(truth, noise=np.random.default_rng(1)), names)
    moment, angle = found.numbers
    assert moment.value == pytest.approx(8.0, abs=2.5)
    assert (angle.value - 135.0 + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=15.0)


def test_comments_and_sources_stay(tmp_path, command):
    """The file written differs in the fitted numbers alone, and loads to the fitted design."""
    text = "# From the harbour master's notebook.\n" + oscsim.designs.bundled_text("tidewaiter")
    text = text.replace("viscous_q = ", "viscous_q = 401.0  # swung out in March, was ")
    (tmp_path / "own.toml").write_text(text, "utf-8")
    out = tmp_path / "mine.toml"
    words = ("fit", tmp_path / "own.toml", "tidewaiter_known_good", "--free", *NAMES, "--output", out)
    code, _, err = command(*words)
    assert (code, err) == (0, "")
    before, after = text.splitlines(), out.read_text("utf-8").splitlines()
    assert after[0] == before[0]
    differ = [line for line in before if line not in after]
    assert all(line.split(" = ")[0] in ("viscous_q", "coil_efficiency") for line in differ)
    (kept,) = [line for line in after if "swung out in March" in line]
    assert kept.startswith("viscous_q = ")
    found = oscsim.fit(tmp_path / "own.toml", oscsim.load_readings("tidewaiter_known_good"), NAMES)
    assert oscsim.load(out) == found.movement


def test_what_was_not_learnt_stays_filled():
    movement = oscsim.load("dockhand")
    sketched = replace(movement, filled=("balance.pivot_radius_mm", "balance.viscous_q"))
    rows = tuple(
        row for row in oscsim.load_readings("dockhand_low_but_sound").rows if row.position in ("CH", "FH")
    )
    names = ["balance.pivot_radius_mm", "balance.viscous_q"]
    found = oscsim.fit(sketched, oscsim.Readings(rows), names)
    assert found.movement.filled == ("balance.pivot_radius_mm",)
    assert [name for name, _ in found.movement.fitted] == ["balance.viscous_q"]
    assert found.movement.balance.pivot_radius_mm == movement.balance.pivot_radius_mm


def test_a_large_movement_of_the_readings_is_followed():
    movement = oscsim.load("ferryman")
    truth = movement.with_({"balance.viscous_q": 330.0})
    found = oscsim.fit(movement, readings_of(truth), ["balance.viscous_q"], width=10.0)
    assert found.numbers[0].value == pytest.approx(330.0, rel=5e-3)
    assert found.misfit < 1.0
    assert found.movement.balance.viscous_q == found.numbers[0].value


def test_written_and_read_back(tmp_path):
    movement = oscsim.load("tidewaiter")
    found = oscsim.fit(movement, oscsim.load_readings("tidewaiter_known_good"), NAMES)
    oscsim.save(found.movement, tmp_path / "mine.toml")
    again = oscsim.load(tmp_path / "mine.toml")
    assert again == found.movement
    assert dict(again.fitted) == {
        n.name: pytest.approx(n.sd, rel=1e-5) for n in found.numbers if not n.unlearnt
    }
    assert "balance.viscous_q" in dict(again.fitted)
    assert "[fitted.balance]" in oscsim.dumps(again)
    # given anew, a number is no longer the fitted one
    changed = again.with_({"balance.viscous_q": 400.0})
    assert "balance.viscous_q" not in dict(changed.fitted)


def test_fitted_takes_no_part_in_answers():
    movement = oscsim.load("dockhand")
    noted = oscsim.loads(oscsim.dumps(movement) + "[fitted.balance]\nviscous_q = 12.0\n")
    assert noted.fitted == (("balance.viscous_q", 12.0),)
    same = [oscsim.settle(m).points.amplitude_deg for m in (movement, noted)]
    np.testing.assert_array_equal(*same)


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ("[fitted.balance]\nviscous = 1.0", "did you mean 'balance.viscous_q'"),
        ("[fitted.balance]\nviscous_q = -1.0", "finite number above 0"),
        ("[fitted.balance]\nviscous_q = true", "finite number above 0"),
    ],
)
def test_wrong_fitted_tables_are_refused(entry, said):
    with pytest.raises(oscsim.InputError, match=said):
        oscsim.loads(oscsim.dumps(oscsim.load("dockhand")) + entry)


@pytest.mark.parametrize(
    ("names", "said"),
    [
        ([], "names: empty"),
        (["balance.viscous"], "did you mean 'balance.viscous_q'"),
        (["train.meshes"], "whole number"),
        (["escapement.lift_angle_deg"], "does not give"),
        (["balance.viscous_q", "balance.viscous_q"], "twice"),
        (["name"], "no number"),
    ],
)
def test_wrong_names_are_refused(names, said):
    movement = oscsim.load("dockhand")
    with pytest.raises(oscsim.InputError, match=said):
        oscsim.fit(movement, oscsim.load_readings("dockhand_low_but_sound"), names)


def test_what_the_readings_do_not_tell_is_said():
    # rates and amplitudes flat say nothing of the friction at the sides of the pivots
    rows = [
        row for row in oscsim.load_readings("dockhand_low_but_sound").rows if row.position in ("CH", "FH")
    ]
    found = oscsim.fit(
        oscsim.load("dockhand"),
        oscsim.Readings(tuple(rows)),
        ["balance.pivot_radius_mm", "balance.viscous_q"],
    )
    assert [n.unlearnt for n in found.numbers] == [True, False]
    assert "say nothing about balance.pivot_radius_mm" in " ".join(found.text().split())
