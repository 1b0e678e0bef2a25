"""The setting a movement runs in: what it takes, how it is kept, what it refuses."""

import dataclasses
import math

import numpy as np
import pytest

from oscsim import InputError, Setting


def test_default_is_dial_up_fully_wound():
    setting = Setting()
    assert (setting.positions, setting.hours, setting.positions) == (("CH",), (0.0,), ("CH",))
    assert (setting.turns, setting.tilt_deg, setting.lift_angle_deg) == (None, None, None)
    assert setting.temperature_c == 23.0  # ISO 3159: the middle one of the three temperatures of a test


@pytest.mark.parametrize(
    "positions", ["12h", ["12H"], ("12 up",), np.array(["12H"]), iter(["12 o'clock up"])]
)
def test_one_position_however_given(positions):
    assert Setting(positions=positions).positions == ("12H",)


def test_order_and_repeats_are_kept():
    assert Setting(positions=["6H", "dial up", "6h"]).positions == ("6H", "CH", "6H")
    assert Setting(hours=[24, 0, 24]).hours == (24.0, 0.0, 24.0)


@pytest.mark.parametrize(
    "hours", [24, 24.0, [24], (24.0,), np.array([24]), np.array(24.0), np.float32(24), range(24, 25)]
)
def test_one_hour_however_given(hours):
    assert Setting(hours=hours).hours == (24.0,)
    assert all(type(hour) is float for hour in Setting(hours=hours).hours)


def test_tilt_replaces_the_tilt_and_keeps_the_hour_that_is_up():
    # docs/physics.md §1: CH 0, FH 180, nH 90 degrees; η = 30° times the hour
    plain, tilted = Setting(positions=["CH", "FH", "9H"]), Setting(positions=["CH", "FH", "9H"], tilt_deg=30)
    assert np.degrees(plain.tilts) == pytest.approx([0.0, 180.0, 90.0])
    assert np.degrees(tilted.tilts) == pytest.approx([30.0, 30.0, 30.0])
    assert tilted.hours_up == pytest.approx([math.nan, math.nan, 3 * math.pi / 2], nan_ok=True)
    assert plain.hours_up == pytest.approx(tilted.hours_up, nan_ok=True)


def test_settings_are_frozen_equal_and_hashable():
    setting = Setting(positions=["12H"], hours=[0, 24])
    with pytest.raises(dataclasses.FrozenInstanceError):
        setting.hours = (1.0,)
    assert setting == Setting(positions="12 up", hours=(0.0, 24.0))
    assert hash(setting) == hash(Setting(positions="12 up", hours=(0.0, 24.0)))
    assert setting != Setting(positions="12 up", hours=(0.0, 24.0), tilt_deg=90.0)
    assert dataclasses.replace(setting, tilt_deg=90.0) == Setting(
        positions="12 up", hours=(0, 24), tilt_deg=90.0
    )


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"positions": []}, "positions: empty, give at least one of CH"),
        ({"positions": ""}, "position '': must be one of CH"),
        ({"positions": None}, "position None: must be one of CH"),
        ({"positions": 12}, "position 12: must be one of CH"),
        ({"positions": ["CH", 3]}, "position 3: must be one of CH"),
        ({"hours": []}, "hours: empty, give at least one value, from 0 to 10000 h"),
        ({"hours": np.zeros(0)}, "hours: empty"),
        ({"hours": np.zeros((2, 2))}, "hours = [0.0, 0.0]: not a number, must be from 0 to 10000 h"),
        ({"hours": "24"}, "hours = '24': not a number"),
        ({"hours": [0, None]}, "hours = None: not a number"),
        ({"hours": None}, "hours = None: not a number"),
        ({"hours": [True]}, "hours = True: not a number"),
        ({"hours": [0, math.nan]}, "hours = nan h: not a finite number"),
        ({"hours": np.array([1.0, -1.0])}, "hours = -1.0 h: out of range, must be from 0 to 10000 h"),
        ({"hours": 10000.1}, "hours = 10000.1 h: out of range"),
        ({"turns": []}, "turns: empty, give at least one value, from 0 to 1000 turns"),
        ({"turns": -0.1}, "turns = -0.1 turns: out of range, must be from 0 to 1000 turns"),
        ({"turns": 3, "hours": 1}, "hours, turns: give one of the two, not both"),
        ({"tilt_deg": 180.1}, "tilt_deg = 180.1 deg: out of range, must be from 0 to 180 deg"),
        ({"tilt_deg": [90]}, "tilt_deg = [90]: not a number"),
        ({"tilt_deg": math.inf}, "tilt_deg = inf deg: not a finite number"),
        ({"temperature_c": 70.1}, "temperature_c = 70.1 °C: out of range, must be from -20 to 70 °C"),
        ({"temperature_c": None}, "temperature_c = None: not a number"),
        ({"lift_angle_deg": 9.9}, "lift_angle_deg = 9.9 deg: out of range, must be from 10 to 120 deg"),
        ({"lift_angle_deg": "52"}, "lift_angle_deg = '52': not a number"),
    ],
)
def test_refused(given, said):
    with pytest.raises(InputError) as caught:
        Setting(**given)
    assert said in str(caught.value)


@pytest.mark.parametrize("given", [{"hours": 10000}, {"turns": 0}, {"tilt_deg": 180}, {"lift_angle_deg": 10}])
def test_the_ends_of_the_ranges_are_inside(given):
    Setting(**given)
