"""Amplitude against numbers of a design, and sensitivities.

Sources: each point is what ``settle`` gives for the changed design (checked in tests/independent); derivatives by
Richardson's extrapolation of two-sided differences with other steps; similarity: what multiplies every inertia, mass
and spring alike leaves all angles as they are (dimensional analysis), so by Euler's theorem the shares cancel.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

import oscsim
from oscsim.answers.whatif import sensitivities, whatif
from oscsim.errors import InputError
from oscsim.movement import Movement

DOCKHAND, FERRYMAN = oscsim.load("dockhand"), oscsim.load("ferryman")
WOUND = oscsim.Setting(positions=("CH", "12H"))
DAY = oscsim.Setting(positions=("CH", "12H"), hours=(0.0, 24.0))


def settled(movement: Movement, setting: oscsim.Setting = WOUND) -> oscsim.SettledPoints:
    return oscsim.settle(movement, setting).points


def same_points(found: oscsim.SettledPoints, at: tuple[int, ...], want: oscsim.SettledPoints) -> None:
    assert found.state[at].tolist() == want.state.tolist()
    assert found.amplitude_deg[at] == pytest.approx(want.amplitude_deg, abs=1e-9, nan_ok=True)
    assert found.rate_s_per_day[at] == pytest.approx(want.rate_s_per_day, abs=1e-6, nan_ok=True)
    assert found.hours[at] == pytest.approx(want.hours)


@pytest.mark.parametrize(
    ("name", "values", "unit"),
    [
        ("escapement.lock_deg", [1.5, 2.8, 4.0], "deg"),
        ("mainspring.thickness_mm", [0.05, 0.10, 0.12], "mm"),  # the first stops within the day
        ("balance.inertia_mg_cm2", [14.0, 20.0, 26.0], "mg·cm²"),
        ("train.jewels", [7, 15, 17, 25], ""),
        ("train.arbors.fourth.pivot_radius_mm", [0.05, 0.2], "mm"),
        ("mainspring.slip_torque_n_mm", [5.0, 7.0, 100.0], "N·mm"),
    ],
)
def test_each_point_is_that_of_the_changed_design(name: str, values: list[float], unit: str) -> None:
    found = whatif(DOCKHAND, {name: values})
    assert found.points.amplitude_deg.shape == (len(values), 2, 2)
    assert (found.units, found.values[name].tolist()) == ({name: unit}, values)
    for i, value in enumerate(values):
        same_points(found.points, (i,), settled(DOCKHAND.with_({name: value}), DAY))
    part, *steps = name.split(".")
    designed = DOCKHAND.tables()[part]
    for step in steps:
        designed = designed[step]
    assert found.as_designed == {name: designed}


def test_the_lift_angle_takes_the_place_of_the_fork_ratio() -> None:
    found = whatif(FERRYMAN, {"escapement.lift_angle_deg": [44.0, 52.0]}, WOUND)
    for i, angle in enumerate((44.0, 52.0)):
        same_points(found.points, (i,), settled(FERRYMAN.with_({"escapement.lift_angle_deg": angle})))


def test_map_has_the_first_name_first() -> None:
    values = {"balance.inertia_mg_cm2": [15.0, 20.0, 25.0], "train.jewels": [15, 21]}
    found = whatif(DOCKHAND, values, DAY)
    assert found.points.amplitude_deg.shape == (3, 2, 2, 2)
    for i, inertia in enumerate(values["balance.inertia_mg_cm2"]):
        for j, jewels in enumerate(values["train.jewels"]):
            changed = DOCKHAND.with_({"balance.inertia_mg_cm2": inertia, "train.jewels": jewels})
            same_points(found.points, (i, j), settled(changed, DAY))
    rows = found.rows()
    assert len(rows) == 24
    assert [rows[5][key] for key in (*values, "position", "hours")] == [15.0, 21.0, "CH", 24.0]
    assert rows[5]["amplitude_deg"] == found.points.amplitude_deg[0, 1, 0, 1]
    body = found.to_dict()
    assert [p["name"] for p in body["parameters"]] == list(values)
    assert body["hours"] == [0.0, 24.0]
    assert np.shape(body["amplitude_deg"]) == np.shape(body["state"]) == (3, 2, 2, 2)


# ------------------------------------------------------------------------------------------ sensitivities

NAMES = (
    "balance.inertia_mg_cm2",
    "balance.viscous_q",
    "balance.end_friction_radius_um",
    "escapement.lock_deg",
    "escapement.pallet_friction",
    "train.mesh_efficiency",
    "mainspring.thickness_mm",
    "mainspring.slip_torque_n_mm",
)


def richardson(movement: Movement, name: str, step: float) -> tuple[np.ndarray, np.ndarray]:
    """Derivatives of amplitude and rate, (positions, hours), from steps ``step`` and half of it, error of order 4."""
    part, field = name.split(".")
    value = movement.tables()[part].get(field, 0.0)
    slopes = []
    for h in (step, 0.5 * step):
        up, down = (settled(movement.with_({name: value + d})) for d in (h, -h))
        slopes.append([(up.amplitude_deg - down.amplitude_deg) / (2 * h),
                       (up.rate_s_per_day - down.rate_s_per_day) / (2 * h)])  # fmt: skip
    (a1, r1), (a2, r2) = slopes
    return (4 * a2 - a1) / 3, (4 * r2 - r1) / 3


@pytest.mark.parametrize("name", NAMES)
def test_against_richardson(name: str) -> None:
    found = sensitivities(DOCKHAND, [name])
    step = 0.004 * DOCKHAND.tables()[name.split(".")[0]][name.split(".")[1]]
    amplitude, rate = richardson(DOCKHAND, name, step)
    assert found.amplitude_deg_per_unit[0] == pytest.approx(amplitude, rel=1e-4, abs=1e-4)
    assert found.rate_s_per_day_per_unit[0] == pytest.approx(rate, rel=1e-3, abs=1e-3)


def test_signs_units_and_rows() -> None:
    found = sensitivities(DOCKHAND, list(NAMES))
    assert found.units == ("mg·cm²", "", "µm", "deg", "", "", "mm", "N·mm")
    signs = np.sign(found.amplitude_deg_per_unit[:, 0, 0].round(2)).tolist()
    # heavier, rougher, deeper costs amplitude; better and stronger gives it (common practice); the thickness decides
    # nothing where the bridle slips
    assert signs == [-1, 1, -1, -1, -1, 1, 0, 1]
    row = found.rows()[6]
    assert (row["name"], row["position"], row["as_designed"]) == (NAMES[3], "CH", 2.8)
    assert row["amplitude_deg_per_percent"] == pytest.approx(0.028 * row["amplitude_deg_per_unit"])


@pytest.mark.parametrize("movement", [DOCKHAND, FERRYMAN], ids=lambda m: m.name)
def test_similarity(movement: Movement) -> None:
    """Inertias, masses and torques all times one factor leave the amplitude: the sum of value times slope is zero."""
    names = [
        "balance.inertia_mg_cm2",
        "balance.mass_mg",
        "balance.unbalance_ug_cm",
        "escapement.lever_inertia_mg_cm2",
        "escapement.wheel_inertia_mg_cm2",
        "mainspring.height_mm",
        "mainspring.slip_torque_n_mm",
    ]
    if movement.mainspring.slip_torque_n_mm is None:
        names.pop()
    found = sensitivities(movement, names)
    parts = found.as_designed[:, None, None] * found.amplitude_deg_per_unit
    assert np.abs(parts.sum(axis=0)).max() < 1e-3
    assert np.abs(parts).sum(axis=0).min() > 50.0  # the terms that cancel


def test_all_numbers_of_a_design() -> None:
    found = sensitivities(FERRYMAN)
    assert len(set(found.names)) == len(found.names) > 45
    assert "escapement.lift_angle_deg" in found.names
    assert not {"escapement.fork_ratio", "mainspring.slip_torque_n_mm", "train.jewels"} & set(found.names)
    assert not {"escapement.teeth", "train.meshes"} & set(found.names)  # whole numbers only when named
    assert np.isfinite(found.amplitude_deg_per_unit).all()


def test_whole_numbers_take_steps_of_one() -> None:
    found = sensitivities(DOCKHAND, ["train.jewels", "escapement.teeth"])
    for n, (name, value) in enumerate({"train.jewels": 17, "escapement.teeth": 15}.items()):
        up, down = (settled(DOCKHAND.with_({name: value + d})).amplitude_deg for d in (1, -1))
        assert found.amplitude_deg_per_unit[n] == pytest.approx(0.5 * (up - down), abs=1e-8)


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"escapement.fork_efficiency": 1.0}, "escapement.fork_efficiency"),  # nothing above
        ({"balance.unbalance_ug_cm": 0.0}, "balance.unbalance_ug_cm"),  # nothing below
    ],
)
def test_one_sided_at_the_end_of_a_range(changes: dict[str, float], name: str) -> None:
    movement = DOCKHAND.with_(changes)
    inside = -1e-3 if name == "escapement.fork_efficiency" else 1e-3
    there = movement.with_({name: changes[name] + inside})
    slope = (settled(there).amplitude_deg - settled(movement).amplitude_deg) / inside
    found = sensitivities(movement, [name]).amplitude_deg_per_unit[0]
    assert found == pytest.approx(slope, rel=5e-3, abs=2e-3)


def test_the_pinning_point_moves_the_rate_alone() -> None:
    """Pinned on the other side the weight parts 12 up from dial up the other way (to first order, so nearly)."""
    found = oscsim.whatif("dinghy", {"hairspring.pinning_deg": [90.0, -90.0]})
    assert found.moves_rate_alone
    rate = found.points.rate_s_per_day[:, :, 0]
    poised = rate[:, 1].mean()
    weight = oscsim.hairspring("dinghy", (0.0,), (239.5,)).weight_rate_by_position["12H"][0]
    assert rate[:, 1] - poised == pytest.approx([weight, -weight], abs=0.05)
    assert rate[0, 0] == pytest.approx(rate[1, 0], abs=1e-6)
    text = " ".join(str(found).split())
    assert "Rate as built, s/day; rows: hairspring.pinning_deg, deg" in text
    assert f"from {rate[0, 1]:+.1f} s/day at 90 deg to {rate[1, 1]:+.1f} s/day at -90 deg" in text
    assert found.plot().get_ylabel() == "rate as built, s/day"
    assert not oscsim.whatif("dinghy", {"escapement.lock_deg": [1.5, 2.0]}).moves_rate_alone


def test_regulation_shifts_the_rate_alone() -> None:
    """A hairspring set 1 s/day fast gains 1 s/day (but for the rate's own error), whatever the amplitude."""
    found = sensitivities(DOCKHAND, ["balance.regulation_s_per_day"])
    assert found.rate_s_per_day_per_unit[0] == pytest.approx(1.0, abs=5e-3)
    assert found.amplitude_deg_per_unit[0] == pytest.approx(0.0, abs=2e-2)


# ---------------------------------------------------------------------------------------------- bad input


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({}, "parameters: 0 given, must be one, or two for a map"),
        ({key: [1.0] for key in NAMES[:3]}, "parameters: 3 given"),
        ({"escapement.lok_deg": [1.0]}, "not a number of 'Dockhand'; did you mean 'escapement.lock_deg'?"),
        ({"escapement.lift_angle_deg": [50.0]}, "not a number of 'Dockhand'; this design does not give it"),
        ({"name": [1.0]}, "'name': not a number of 'Dockhand'"),
        ({"escapement": [1.0]}, "'escapement': not a number of 'Dockhand'"),
        ({"escapement.lock_deg": []}, "escapement.lock_deg: give at least one value"),
        ({"escapement.lock_deg": [2.0, 11.0]}, "escapement.lock_deg = 11.0 deg: out of range, must be from 0.1 to 10"),
        ({"escapement.lock_deg": [math.nan]}, "escapement.lock_deg = nan deg: not a finite number"),
        ({"train.jewels": [16.5]}, "train.jewels = 16.5: not a whole number"),
        ({"mainspring.length_mm": [350.0, 3500.0]}, "the strip does not fit the barrel"),
        ({"balance.mass_mg": [1.0] * 200, "balance.viscous_q": [100.0] * 101}, "20200 combinations, at most 20000"),
    ],
)  # fmt: skip
def test_refused(values: dict[str, list[float]], said: str) -> None:
    with pytest.raises(InputError) as caught:
        whatif(DOCKHAND, values)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_sensitivity_to_nothing() -> None:
    with pytest.raises(InputError, match=r"'balance\.inertia': not a number of 'Dockhand'; did you mean"):
        sensitivities(DOCKHAND, ["balance.inertia"])


def test_sensitivities_of_every_bundled_design():
    """By default every number that may be moved alone: a radius that follows from teeth may not."""
    for name in oscsim.bundled():
        found = oscsim.sensitivities(oscsim.load(name))
        assert len(found.names) > 20
        assert np.isfinite(found.amplitude_deg_per_unit).any()


def test_where_the_bridle_hides_the_strip_it_is_said():
    setting = oscsim.Setting(hours=(0.0, 24.0))
    said = " ".join(
        sensitivities(oscsim.load("dockhand"), ["mainspring.thickness_mm"], setting).text().split()
    )
    assert "The strip itself shows nothing dial up, fully wound, where the bridle slips" in said
    free = " ".join(
        sensitivities(oscsim.load("ferryman"), ["mainspring.thickness_mm"], setting).text().split()
    )
    assert "the bridle slips at its own torque" not in free
