"""The condition of a movement: each factor acts where it says and nowhere else.

Sources: a condition is checked against the same change made by hand in the design (``with_``), whose amplitudes the
independent integrator confirms; friction of dry and oiled pivots by F. Jenkin and J. A. Ewing, Phil. Trans. 167 (1877)
502, in W. T. Lewis, Friction, Lubrication and the Lubricants in Horology (1896), Table I.
"""

import dataclasses
import json
import math

import numpy as np
import pytest

import oscsim
from oscsim.answers.points import settled_points
from oscsim.cli import main
from oscsim.condition import Condition
from oscsim.operating import operating_points
from oscsim.parts.escapement import fork_ratio
from oscsim.parts.train import efficiency
from oscsim.stack import stack_of
from tests.levers import LEVERS

BUNDLED = {name: oscsim.load(name) for name in LEVERS}
DOCKHAND, PACKET, FERRYMAN = (BUNDLED[name] for name in ("dockhand", "packet", "ferryman"))
PLACES = {"positions": ("CH", "FH", "12H", "3H"), "hours": (0.0, 24.0)}


def settled(movement, **condition):
    return oscsim.settle(movement, oscsim.Setting(**PLACES, condition=Condition(**condition))).points


def same(one, other):
    """Same states, amplitudes, rates and beat errors."""
    assert (one.state == other.state).all()
    for name, within in (("amplitude_deg", 1e-9), ("rate_s_per_day", 1e-6), ("signed_beat_error_ms", 1e-9)):
        assert getattr(one, name) == pytest.approx(getattr(other, name), abs=within, nan_ok=True), name


@pytest.mark.parametrize("name", BUNDLED)
def test_the_defaults_change_nothing(name):
    movement = BUNDLED[name]
    assert Condition().applied_to(movement).movement is movement
    same(settled(movement), oscsim.settle(movement, oscsim.Setting(**PLACES)).points)


@pytest.mark.parametrize(
    ("condition", "changes"),
    [
        ({"drag": 1.7}, {"balance.viscous_q": 265.0 / 1.7}),
        ({"pivot_vertical": 2.5}, {"balance.pivot_radius_mm": 0.048 * 2.5}),
        ({"pivot_flat": 3.0}, {"balance.end_friction_radius_um": 30.0}),
        ({"pallet_friction": 1.8}, {"escapement.pallet_friction": 0.16 * 1.8}),
        ({"worn_brass": 2.2}, {"train.brass_friction": 0.18 * 2.2}),
        ({"drive": 0.8}, {"train.mesh_efficiency": 0.97 * 0.8**0.25}),
        ({"mainspring": 0.9}, {"mainspring.coil_efficiency": 0.88 * 0.9}),
        ({"lock_deg": 0.7}, {"escapement.lock_deg": 3.5}),
        ({"unbalance_ug_cm": 30.0}, {"balance.unbalance_ug_cm": 30.0}),
        ({"unbalance_ug_cm": 0.0}, {"balance.unbalance_ug_cm": 0.0}),
        ({"heavy_point_deg": -40.0}, {"balance.heavy_point_deg": -40.0}),
        ({"out_of_beat_deg": -2.0}, {"balance.out_of_beat_deg": -2.0}),
        ({"out_of_beat_deg": 0.0}, {"balance.out_of_beat_deg": 0.0}),
        ({"regulation_s_per_day": 45.0}, {"balance.regulation_s_per_day": 45.0}),
        ({"cubic_stiffness": 2e-5}, {"balance.cubic_stiffness": 3e-5}),
    ],
)
def test_each_is_the_same_change_in_the_design(condition, changes):
    there = settled(DOCKHAND, **condition)
    same(there, settled(DOCKHAND.with_(changes)))
    before = settled(DOCKHAND)
    moved = [there.rate_s_per_day - before.rate_s_per_day, there.beat_error_ms - before.beat_error_ms]
    assert np.abs(moved).max() > 0.01


@pytest.mark.parametrize(("factor", "worse"), [("pivot_vertical", [2, 3]), ("pivot_flat", [0, 1])])
def test_pivots_by_position(factor, worse):
    before, after = settled(DOCKHAND), settled(DOCKHAND, **{factor: 2.0})
    lost = before.amplitude_deg - after.amplitude_deg
    others = [i for i in range(4) if i not in worse]
    assert (lost[worse] > 1.0).all()
    assert np.abs(lost[others]).max() < 1e-9


def test_worn_brass_holes_need_brass_holes():
    """The packet has every train hole jewelled, the dockhand its barrel in brass."""
    assert (efficiency(PACKET.train), PACKET.train.jewels) == (pytest.approx(0.7874, abs=1e-4), 25)
    same(settled(PACKET, worn_brass=4.0), settled(PACKET))
    assert (settled(DOCKHAND, worn_brass=4.0).amplitude_deg < settled(DOCKHAND).amplitude_deg - 1.0).all()


def test_the_drive_is_lost_in_the_train_and_the_mainspring_in_the_barrel():
    before, train = settled(FERRYMAN), settled(FERRYMAN, drive=0.75)
    assert train.barrel_torque_n_mm == pytest.approx(before.barrel_torque_n_mm, rel=1e-12)
    assert train.escape_torque_n_m == pytest.approx(0.75 * before.escape_torque_n_m, rel=1e-12)
    spring = settled(FERRYMAN, mainspring=0.75)  # no bridle: the turns are the same
    assert spring.barrel_torque_n_mm == pytest.approx(0.75 * before.barrel_torque_n_mm, rel=1e-12)
    same(spring, train)


def test_a_deeper_lock_keeps_the_fork():
    """The ferryman gives its lift angle: bending a banking pin does not make another fork."""
    ratio = float(fork_ratio(FERRYMAN.escapement))
    deeper = {"escapement.fork_ratio": ratio, "escapement.lock_deg": FERRYMAN.escapement.lock_deg + 0.6}
    after = settled(FERRYMAN, lock_deg=0.6)
    worn = Condition(lock_deg=0.6).applied_to(FERRYMAN).movement.escapement
    assert (worn.fork_ratio, worn.lift_angle_deg) == (pytest.approx(ratio), None)
    same(after, settled(FERRYMAN.with_(deeper)))
    assert after.lift_angle_deg[0, 0] - settled(FERRYMAN).lift_angle_deg[0, 0] == pytest.approx(
        0.6 / ratio, abs=1e-9
    )


# ----------------------------------------------------------------------------------------------------- oil

#: What ten years without service multiply: see docs/ageing.md, tests/outside/test_pivots.py for the sources.
DRY = {"stone": math.sqrt(0.200 / 0.107), "brass": 0.35 / 0.15, "drag": 1.1}


@pytest.mark.parametrize("name", ["dockhand", "ferryman"])
def test_dry_pivots_by_the_sources(name):
    movement = BUNDLED[name]
    b, e, t = movement.balance, movement.escapement, movement.train
    dry = {
        "balance.pivot_friction": b.pivot_friction * DRY["stone"],
        "escapement.pallet_friction": e.pallet_friction * DRY["stone"],
        "train.jewel_friction": t.jewel_friction * DRY["stone"],
        "train.brass_friction": t.brass_friction * DRY["brass"],
        "balance.viscous_q": b.viscous_q / DRY["drag"],
    }
    for years in (10.0, 40.0):  # after ten years the oil is gone, then nothing changes any more
        same(settled(movement, oil_age_years=years), settled(movement.with_(dry)))
    half = {key: 0.5 * (value + _value(movement, key)) for key, value in dry.items()}
    half["balance.viscous_q"] = b.viscous_q / (1.0 + 0.5 * (DRY["drag"] - 1.0))
    same(settled(movement, oil_age_years=5.0), settled(movement.with_(half)))


def _value(movement, key):
    part, field = key.split(".")
    return movement.tables()[part][field]


@pytest.mark.parametrize("name", BUNDLED)
def test_old_oil_lowers_the_amplitude_ever_more(name):
    setting = oscsim.Setting(positions=("CH", "12H"))
    ages = (0.0, 0.5, 2.0, 4.0, 7.0, 10.0)
    amplitudes = [
        oscsim.settle(
            BUNDLED[name], dataclasses.replace(setting, condition=Condition(oil_age_years=age))
        ).points.amplitude_deg
        for age in ages
    ]
    assert (np.diff(amplitudes, axis=0) < -0.1).all()


def test_factors_and_age_multiply():
    aged = settled(DOCKHAND, oil_age_years=10.0, pallet_friction=0.5, worn_brass=1.3)
    friction = {
        "balance.pivot_friction": 0.075 * DRY["stone"],
        "escapement.pallet_friction": 0.16 * 0.5 * DRY["stone"],
        "train.jewel_friction": 0.12 * DRY["stone"],
        "train.brass_friction": 0.18 * 1.3 * DRY["brass"],
        "balance.viscous_q": 265.0 / DRY["drag"],
    }
    same(aged, settled(DOCKHAND.with_(friction)))


# --------------------------------------------------------------------------------------- stacks, bad input

BAD = Condition(
    drive=0.9, pivot_vertical=3.0, drag=1.2, worn_brass=2.0, lock_deg=0.4, out_of_beat_deg=1.5, oil_age_years=3.0
)  # fmt: skip


def test_stack_and_single_agree():
    setting = oscsim.Setting(**PLACES, condition=BAD)
    found = settled_points(operating_points(stack_of(list(BUNDLED.values())), setting))
    for n, movement in enumerate(BUNDLED.values()):
        alone = oscsim.settle(movement, setting).points
        assert (found.state[n] == alone.state).all()
        assert found.amplitude_deg[n] == pytest.approx(alone.amplitude_deg, abs=1e-9)
        assert found.rate_s_per_day[n] == pytest.approx(alone.rate_s_per_day, abs=1e-6)
        assert (alone.amplitude_deg < settled(movement).amplitude_deg).all()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"drive": 0.0}, "condition.drive = 0.0: out of range, must be from 0.05 to 2"),
        ({"oil_age_years": -1.0}, "condition.oil_age_years = -1.0 years: out of range, must be from 0 to 100 years"),
        ({"lock_deg": 6.0}, "condition.lock_deg = 6.0 deg: out of range, must be from -3 to 5 deg"),
        ({"pivot_flat": float("nan")}, "condition.pivot_flat = nan"),
        ({"worn_brass": "2"}, "condition.worn_brass = '2': not a number"),
        ({"unbalance_ug_cm": -1.0}, "condition.unbalance_ug_cm = -1.0 µg·cm: out of range"),
    ],
)  # fmt: skip
def test_refused(given, said):
    with pytest.raises(oscsim.InputError) as caught:
        Condition(**given)
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("command", "ask"),
    [
        ("settle", lambda m, s: oscsim.settle(m, s("CH", "12H"))),
        ("rates", lambda m, s: oscsim.rates(m, s(*oscsim.POSITIONS))),
        ("rundown --step 6", lambda m, s: oscsim.rundown(m, s(*oscsim.POSITIONS, hours=0.0), step_h=6.0)),
        ("isochronism --amplitudes 180 220",
         lambda m, s: oscsim.isochronism(m, s("CH", hours=0.0), (180.0, 220.0))),
        ("ratemap --amplitudes 200,240",
         lambda m, s: oscsim.ratemap(m, s("12H", hours=0.0), amplitudes_deg=(200.0, 240.0))),
        ("trace --samples 5", lambda m, s: oscsim.trace(m, s("CH", hours=0.0), samples=5)),
        ("budget", lambda m, s: oscsim.budget(m, s("CH", "12H"))),
    ],
    ids=lambda value: value.split()[0] if isinstance(value, str) else "",
)  # fmt: skip
def test_every_command_takes_condition_tilt_and_temperature(command, ask, capsys):
    name, *options = command.split()
    asked = ["--condition", "oil_age_years=4", "worn_brass=1.2", "--tilt", "60", "--temperature", "8"]
    assert main([name, "packet", *options, *asked, "--format", "json"]) == 0

    def setting(*positions, hours=(0.0, 24.0)):
        condition = Condition(oil_age_years=4.0, worn_brass=1.2)
        return oscsim.Setting(
            positions=positions, hours=hours, condition=condition, tilt_deg=60.0, temperature_c=8.0
        )

    assert json.loads(capsys.readouterr().out) == ask(PACKET, setting).to_dict()
    assert main([name, "packet", *options, *asked]) == 0
    said = " ".join(capsys.readouterr().out.split())
    for words in ("tilted 60 deg", "at 8 °C", "in brass holes 1.2", "was oiled 4 years"):
        assert words in said


def test_a_worn_movement_is_not_called_healthy():
    """What it shows in this condition is no standard for it."""
    setting = oscsim.Setting(positions=("CH", "12H"), condition=Condition(oil_age_years=8.0))
    for ask in (oscsim.settle, oscsim.rundown):
        said = " ".join(ask(PACKET, setting).text().split())
        assert "should show in this condition" in said
        assert "are healthy for it" not in said
        assert "What is healthy for it is what it shows without the condition." in said
