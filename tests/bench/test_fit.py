"""A design fitted to readings: what was put in is found, and what is written is read back."""

import numpy as np
import pytest

import oscsim

NAMES = ("balance.viscous_q", "mainspring.coil_efficiency")


def readings_of(movement, hours=(0.0, 12.0, 30.0), noise=None):
    """Six positions at these hours, by the engine."""
    setting = oscsim.Setting(positions=tuple(oscsim.POSITIONS), hours=hours)
    p = oscsim.settle(movement, setting).points
    rows = []
    for i, symbol in enumerate(setting.symbols):
        for j, hour in enumerate(hours):
            off = (0.0, 0.0) if noise is None else noise.standard_normal(2) * (5.0, 2.0)
            rows.append(
                oscsim.Reading(
                    symbol, hour, p.apparent_amplitude_deg[i, j] + off[0], p.rate_s_per_day[i, j] + off[1]
                )
            )
    return oscsim.Readings(tuple(rows))


def test_intervals_hold_the_truth():
    movement = oscsim.load("ferryman")
    truth = (400.0, 0.83)
    movement_read = movement.with_(
        {**dict(zip(NAMES, truth, strict=True)), "balance.regulation_s_per_day": 40.0}
    )
    rng = np.random.default_rng(2)
    inside = []
    for _ in range(30):
        found = oscsim.fit(movement, readings_of(movement_read, noise=rng), NAMES, width=10.0)
        assert found.converged
        inside += [n.low < value < n.high for n, value in zip(found.numbers, truth, strict=True)]
    # 90 % meant; fewer than 46 of 60, were they independent, has a chance of 0.1 %
    assert sum(inside) >= 46


def test_a_large_movement_of_the_readings_is_followed():
    movement = oscsim.load("ferryman")
    truth = movement.with_({"balance.viscous_q": 330.0})
    found = oscsim.fit(movement, readings_of(truth), ["balance.viscous_q"], width=10.0)
    assert found.numbers[0].value == pytest.approx(330.0, rel=5e-3)
    assert found.misfit < 0.1
    assert found.movement.balance.viscous_q == found.numbers[0].value


def test_written_and_read_back(tmp_path):
    movement = oscsim.load("tidewaiter")
    found = oscsim.fit(movement, oscsim.load_readings("tidewaiter_known_good"), NAMES)
    oscsim.save(found.movement, tmp_path / "mine.toml")
    again = oscsim.load(tmp_path / "mine.toml")
    assert again == found.movement
    assert dict(again.fitted) == {n.name: pytest.approx(n.sd, rel=1e-5) for n in found.numbers}
    assert "[fitted.balance]" in oscsim.dumps(again)
    # given anew, a number is no longer the fitted one
    changed = again.with_({"balance.viscous_q": 400.0})
    assert [name for name, _ in changed.fitted] == ["mainspring.coil_efficiency"]


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
