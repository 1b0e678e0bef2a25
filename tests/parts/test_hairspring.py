"""The hairspring from its shape against independent shooting, and what must hold of any spring."""

import dataclasses
import json
import math
from pathlib import Path

import numpy as np
import pytest

import oscsim
from oscsim import InputError
from oscsim.parts import coil
from oscsim.parts import hairspring as hair
from oscsim.parts.hairspring_table import Hairspring, coil_on_dial, coils_of, strip_mass
from oscsim.stack import stack_of, varied

#: Five springs by shooting (DOP853 at 1e-13), which a second method met to 1.5e-13.
SHOT = json.loads((Path(__file__).parents[1] / "outside" / "reference" / "springs.json").read_text("utf-8"))
SIZE = {"collet_radius_mm": 0.6, "outer_radius_mm": 2.6, "winds": "clockwise"}
SPRINGS = {
    "whole": Hairspring(turns=12.0, **SIZE),
    "half": Hairspring(turns=12.5, **SIZE),
    "quarter": Hairspring(turns=12.25, **SIZE),
    "outer_curve": Hairspring(turns=12.0, outer_curve="phillips", **SIZE),
    "eccentric": Hairspring(turns=12.0, stud_offset_um=(50.0, 30.0), stud_turn_deg=1.0, **SIZE),
}
AMPLITUDES = np.radians([60.0, 150.0, 270.0, 320.0])


@pytest.mark.parametrize("name", SPRINGS)
def test_torque_force_centroid_and_rates_are_those_of_shooting(name):
    shot, spring = SHOT[name], SPRINGS[name]
    rows, rates = np.array(shot["rows"]), np.array(shot["rates"])
    bent = coil.bend(coils_of(spring), np.radians(rows[:, 0]))
    found = hair.response(spring)
    assert found.length[0] == pytest.approx(shot["L_mm"], rel=1e-13)
    assert np.abs(bent.torque[0] - rows[:, 1]).max() < 1e-9
    assert np.abs(bent.force[0] - (rows[:, 2] + 1j * rows[:, 3])).max() < 1e-6
    assert np.abs(bent.centroid[0] - (rows[:, 4] + 1j * rows[:, 5])).max() < 1e-9
    series = hair.at_angles(found.departure, np.radians(rows[:, 0]))[:, 0]
    assert np.abs(series - np.radians(rows[:, 0]) - rows[:, 1]).max() < 1e-9
    amplitude = np.radians(rates[:, 0])
    assert np.abs(hair.shape_rate(found.departure, amplitude)[:, 0] - rates[:, 1]).max() < 1e-6
    lever = hair.weight_lever(found.centroid, amplitude)[:, 0]
    assert np.abs(lever - (rates[:, 3] + 1j * rates[:, 4])).max() < 1e-9


def test_torque_and_force_are_the_slopes_of_one_energy():
    """(H4) by differences: dF/dθ at a fixed stud is what the torque gains where the stud is moved."""
    theta, step = np.array([-4.0, 1.0, 5.0]), 1e-2
    away = [
        dataclasses.replace(SPRINGS["half"], stud_offset_um=(x, y))
        for x, y in ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0))
    ]
    torque = [coil.bend(coils_of(spring), theta).torque[0] for spring in away]
    force = [coil.bend(coils_of(SPRINGS["half"]), theta + s).force[0] for s in (step, -step)]
    length = hair.response(SPRINGS["half"]).length[0]
    moved = (torque[0] - torque[1]) / 2e-3 * length, (torque[2] - torque[3]) / 2e-3 * length
    slope = (force[0] - force[1]) / (2.0 * step)
    assert moved[0] == pytest.approx(-slope.real, abs=1e-3 * np.abs(slope).max())
    assert moved[1] == pytest.approx(-slope.imag, abs=1e-3 * np.abs(slope).max())


def test_winding_the_other_way_mirrors_the_dial():
    one = dataclasses.replace(SPRINGS["eccentric"], pinning_deg=0.0)
    other = dataclasses.replace(one, winds="anticlockwise", stud_offset_um=(50.0, -30.0), stud_turn_deg=-1.0)
    theta = np.radians([-300.0, -50.0, 10.0, 200.0])
    a, b = hair.response(one), hair.response(other)
    assert hair.at_angles(b.departure, -theta) == pytest.approx(
        -hair.at_angles(a.departure, theta), abs=1e-12
    )
    for mine, yours in ((a.force, b.force), (a.centroid, b.centroid)):
        assert np.abs(hair.at_angles(yours, -theta) - np.conj(hair.at_angles(mine, theta))).max() < 1e-10


@pytest.mark.parametrize("winds", ["clockwise", "anticlockwise"])
def test_the_pinning_turns_the_plane_and_nothing_else(winds):
    spring = dataclasses.replace(SPRINGS["half"], winds=winds)
    turned = dataclasses.replace(spring, pinning_deg=40.0)
    a, b = hair.response(spring), hair.response(turned)
    assert np.array_equal(a.departure, b.departure)
    assert np.abs(b.centroid - a.centroid * np.exp(1j * math.radians(40.0))).max() < 1e-12
    # the inner end lies where it is said to: the strip starts at the collet in that direction, clockwise from 12
    start = coil_on_dial(turned, np.array([0.0]))[0, 0]
    assert math.degrees(math.atan2(start.imag, start.real)) == pytest.approx(40.0, abs=4.0)


def test_many_springs_at_once_are_each_alone():
    coils = [coils_of(spring) for spring in SPRINGS.values()]
    together = coil.Coils(*(np.concatenate(columns) for columns in zip(*coils, strict=True)))
    theta = np.radians([-320.0, -100.0, 30.0, 250.0])
    bent = coil.bend(together, theta)
    for i, alone in enumerate(coils):
        assert np.abs(bent.torque[i] - coil.bend(alone, theta).torque[0]).max() < 1e-9


def test_a_stack_holds_any_springs_and_none():
    plain = oscsim.load("dockhand").with_({"balance.cubic_stiffness": 0.0})
    with_springs = [dataclasses.replace(plain, hairspring=spring) for spring in SPRINGS.values()]
    stack = stack_of([plain, *with_springs]).hairspring
    found = hair.response(stack)
    assert not found.departure[:, 0].any()
    for i, spring in enumerate(SPRINGS.values(), start=1):
        alone = hair.response(spring)
        assert np.abs(found.departure[:, i] - alone.departure[:, 0]).max() < 1e-9
        assert np.abs(found.centroid[:, i] - alone.centroid[:, 0]).max() < 1e-9


def test_regulated_the_shape_leaves_no_rate_at_270():
    found = hair.response(SPRINGS["half"])
    raw = hair.shape_rate(found.departure, AMPLITUDES)[:, 0]
    kept = hair.shape_rate(hair.in_the_watch(found.departure), AMPLITUDES)[:, 0]
    assert kept == pytest.approx(raw - raw[2], abs=1e-9)


def test_mass_of_the_strip():
    strip = dataclasses.replace(SPRINGS["whole"], strip_height_mm=0.15, strip_thickness_mm=0.03)
    assert strip_mass(strip, 120.0) == pytest.approx(8000.0 * 0.15e-3 * 0.03e-3 * 0.12)
    assert strip_mass(dataclasses.replace(SPRINGS["whole"], strip_mass_mg=3.0), 1.0) == 3e-6
    assert strip_mass(SPRINGS["whole"], 120.0) == 0.0


BASE = oscsim.load("dockhand").with_({"balance.cubic_stiffness": 0.0})
GIVEN = {f"hairspring.{key}": value for key, value in SIZE.items()} | {"hairspring.turns": 12.0}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"strip_thickness_mm": 0.1},
            r"coils touch at \S\d+ deg of the balance, before the knock at ±\d+ deg: 0\.\d+",
        ),
        ({"outer_radius_mm": 0.5}, "must be larger than hairspring.collet_radius_mm = 0.6 mm"),
        (
            {"outer_curve": [[3.5, 90], [2.0, 90]]},
            r"outer_curve = \[\[3.5, 90\], \[2.0, 90\]\]: leaves the barrel of the coil, 3.749 mm from the axis",
        ),
        ({"outer_curve": [[1.4, 180], [0.9, 90]]}, "comes within 0.200 mm of the axis"),
        ({"outer_curve": [[1.45, 360], [0.95, 360]], "collet_radius_mm": 0.1}, "crosses itself"),
        ({"outer_curve": "philips"}, "did you mean 'phillips'"),
        ({"outer_curve": [[1.0]]}, "two arcs"),
        ({"winds": "clokwise"}, "hairspring.winds = 'clokwise': did you mean 'clockwise'"),
        ({"winds": ["clockwise"]}, r"hairspring.winds = \['clockwise'\]: did you mean 'clockwise'"),
        ({"winds": None}, "hairspring.winds: missing"),
        ({"turns": 3}, r"hairspring.turns = 3 turns: out of range, must be from 4 to 30 turns"),
        (
            {"stud_offset_um": [0.0, 2000.0]},
            r"stud_offset_um = \[0.0, 2000.0\] µm: .* each from -1000 to 1000 µm",
        ),
        ({"strip_height_mm": 0.1}, "hairspring.strip_thickness_mm: missing"),
        ({"strip_height_mm": 0.1, "strip_thickness_mm": 0.02, "strip_mass_mg": 1.0}, "both are given"),
    ],
)
def test_refused_in_one_line(changes, said):
    with pytest.raises(oscsim.InputError, match=said) as caught:
        BASE.with_(GIVEN | {f"hairspring.{key}": value for key, value in changes.items()})
    assert "\n" not in str(caught.value)


def test_the_departure_is_not_said_twice():
    with pytest.raises(oscsim.InputError, match="cubic_stiffness = 1e-05 1/rad²: must be 0 or absent beside"):
        BASE.with_(GIVEN | {"balance.cubic_stiffness": 1e-5})


def test_a_design_file_keeps_the_spring():
    movement = BASE.with_(
        GIVEN | {"hairspring.outer_curve": [[1.9, 180], [1.6, 80]], "hairspring.stud_offset_um": [5, -3]}
    )
    again = oscsim.loads(oscsim.dumps(movement))
    assert again == movement
    assert again.design_hash == movement.design_hash != BASE.design_hash


def test_every_spring_of_the_whole_range_has_a_shape_or_is_refused():
    rng = np.random.default_rng(14)
    n = 200
    inner = rng.uniform(0.1, 5.0, n)
    outer, turns = inner * rng.uniform(1.5, 6.0, n), rng.uniform(4.0, 30.0, n)
    none = np.zeros(n)
    coils = coil.Coils(inner, outer, 2.0 * math.pi * turns, *(none,) * 4, none, none, none)
    bent = coil.bend(coils, hair.SPAN * np.linspace(-1.0, 1.0, 5))
    settled = bent.residual.max(axis=1) < 1e-6
    assert settled[turns > 6.0].all()
    assert np.isfinite(bent.torque[settled]).all()


def test_stacks_and_changes_are_looked_at_for_touching_coils() -> None:
    """The same coils are refused alone, in a stack and among the changes shown; pinned elsewhere none touch."""
    movement = oscsim.load("dinghy")
    thick = {"hairspring.strip_thickness_mm": 0.055}
    with pytest.raises(InputError) as alone:
        movement.with_(thick)
    with pytest.raises(InputError) as stacked:
        varied(movement, {"hairspring.strip_thickness_mm": np.linspace(0.02, 0.055, 200)})
    assert str(stacked.value) == f"hairspring.strip_thickness_mm = 0.055: {alone.value}"
    varied(movement, {"hairspring.pinning_deg": np.linspace(-180.0, 180.0, 200)})
    varied(movement, {"hairspring.turns": np.linspace(11.0, 12.0, 200)})
    with pytest.raises(InputError, match=r"outer_radius_mm = 0.4 mm: must be larger"):
        varied(movement, {"hairspring.outer_radius_mm": np.array([1.8, 0.4])})
    # as thick as just goes: one step further in pinning, or the stud moved, and coils touch
    at = [0.03 + 0.0005 * n for n in range(50)]
    for thickness in at:
        try:
            last = movement.with_({"hairspring.strip_thickness_mm": thickness})
        except InputError:
            break
    shown = oscsim.hairspring(last)
    assert "coils touch" in "".join(shown.refused.values())
    assert "Not shown, " in " ".join(str(shown).split())
    assert set(shown.to_dict()["refused"]) == set(shown.refused)
    assert {change.words for change in shown.changes}.isdisjoint(shown.refused)
