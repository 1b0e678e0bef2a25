"""The train by its teeth: what follows from them, and what a mesh passes on.

Sources beside each check: equation (R2) of docs/physics.md integrated by scipy, figures computed elsewhere from the
same equation, and usual trains by counting (a wheel of 80 and a pinion of 10 turn 1 : 8).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

import oscsim
from oscsim import InputError
from oscsim.parts.teeth import (
    Mesh,
    friction_of,
    fundamental,
    mean_efficiency,
    passes,
    peak_to_peak,
    tooth_ripple,
)
from oscsim.parts.train import efficiency, meshes, radii
from oscsim.stack import stack_of, varied
from oscsim.turning import HANDS, train_turnings
from oscsim.typical.trains import usual_teeth
from tests.movements import design_text

BUNDLED = {name: oscsim.load(name) for name in oscsim.bundled()}
#: wheel, pinion, friction, mean efficiency, peak to peak of it in per cent: computed elsewhere from (R2).
FIGURES = (
    (80, 10, 0.10, 0.964, 7.8),
    (80, 10, 0.15, 0.947, 11.5),
    (80, 10, 0.20, 0.931, 15.1),
    (78, 12, 0.15, 0.955, 9.5),
    (84, 7, 0.15, 0.957, 11.2),
)
#: Usual trains: teeth, leaves, teeth of the escape wheel, beats an hour; turns of barrel, centre, third, fourth and
#: escape, and a tooth of the four meshes, s.
USUAL = (
    ([72, 80, 75, 70], [12, 10, 10, 7], 15, 18000, (21600, 3600, 450, 60, 6), (300, 45, 6, 60 / 70)),
    ([72, 80, 75, 84], [12, 10, 10, 7], 15, 21600, (21600, 3600, 450, 60, 5), (300, 45, 6, 60 / 84)),
    ([78, 80, 75, 84], [15, 10, 10, 7], 20, 28800, (18720, 3600, 450, 60, 5), (240, 45, 6, 60 / 84)),
    ([72, 80, 75, 105], [12, 10, 10, 7], 20, 36000, (21600, 3600, 450, 60, 4), (300, 45, 6, 60 / 105)),
)


def counted(teeth: list[int], leaves: list[int], **more: object) -> oscsim.Movement:
    changes = {"train.wheel_teeth": teeth, "train.pinion_leaves": leaves, **more}
    return BUNDLED["dockhand"].with_(changes)


@pytest.mark.parametrize(("teeth", "leaves", "friction", "mean", "swing"), FIGURES)
def test_what_a_mesh_passes_on(teeth: int, leaves: int, friction: float, mean: float, swing: float) -> None:
    mesh = Mesh("third", "fourth", teeth, leaves)
    assert mean_efficiency(mesh, friction) == pytest.approx(mean, abs=5e-4)
    assert 100.0 * peak_to_peak(mesh, friction) == pytest.approx(swing, abs=0.06)
    first, whole = (0.0 if leaves >= 10 else math.radians(15.0)), 2.0 * math.pi / leaves

    def after(b: float) -> float:  # (R2), written out a second time
        return 1.0 / (1.0 + friction * (1.0 + leaves / teeth) * math.tan(b))

    def before(b: float) -> float:
        return 1.0 - friction * (1.0 + teeth / leaves) * math.tan(b * leaves / teeth)

    work = quad(after, 0.0, whole - first, epsrel=1e-13)[0] + quad(before, 0.0, first, epsrel=1e-13)[0]
    assert mean_efficiency(mesh, friction) == pytest.approx(work / whole, rel=1e-12)
    assert float(passes(mesh, friction, 0.3)) == pytest.approx(after(0.3), rel=1e-14)
    assert float(passes(mesh, friction, -0.2)) == pytest.approx(before(0.2), rel=1e-14)


def test_ripple_of_a_tooth() -> None:
    """Its mean is one; its fundamental by Fourier's integral; friction is found again from the mean."""
    mesh, friction = Mesh("third", "fourth", 75, 10), 0.15
    assert quad(lambda x: float(tooth_ripple(mesh, friction, x)), 0.0, 1.0)[0] == pytest.approx(
        1.0, abs=1e-10
    )
    parts = [
        2.0 * quad(lambda x, f=f: float(tooth_ripple(mesh, friction, x)) * f(2.0 * math.pi * x), 0.0, 1.0)[0]
        for f in (math.cos, math.sin)
    ]
    assert fundamental(mesh, friction) == pytest.approx(math.hypot(*parts), rel=1e-4)
    assert tooth_ripple(mesh, friction, np.array([0.25, 7.25])) == pytest.approx(
        np.full(2, tooth_ripple(mesh, friction, 0.25))
    )
    assert friction_of(mesh, float(mean_efficiency(mesh, friction))) == pytest.approx(friction, abs=1e-12)


@pytest.mark.parametrize(("teeth", "leaves", "escape", "beats", "arbors", "tooth"), USUAL)
def test_turns_of_usual_trains(teeth, leaves, escape, beats, arbors, tooth) -> None:
    movement = counted(teeth, leaves, **{"escapement.teeth": escape, "balance.beats_per_hour": beats})
    found = train_turnings(movement)
    assert [one.period_s for one in found if one.kind == "arbor"] == pytest.approx(arbors, rel=1e-12)
    assert [one.period_s for one in found if one.kind == "mesh"] == pytest.approx(tooth, rel=1e-12)
    assert [one.name for one in found] == [
        "barrel", "barrel-centre", "centre", "centre-third", "third", "third-fourth", "fourth", "fourth-escape",
        "escape",
    ]  # fmt: skip


@pytest.mark.parametrize(("teeth", "leaves", "escape", "beats", "arbors", "tooth"), USUAL)
def test_a_usual_train_is_found_from_its_ratio(teeth, leaves, escape, beats, arbors, tooth) -> None:
    """The same turns of centre, third and fourth, and of the barrel to a thousandth."""
    ratio = math.prod(teeth) / math.prod(leaves)
    found = usual_teeth(ratio, beats, escape)
    assert found is not None
    assert found[0][1:] == tuple(teeth[1:])
    assert found[0][0] / found[1][0] == pytest.approx(teeth[0] / leaves[0], rel=1e-3)
    assert usual_teeth(ratio, beats + 7, escape) is None  # no whole number of teeth at the fourth


@pytest.mark.parametrize(
    ("beats", "escape", "last"), [(14400, 15, (56, 7)), (25200, 20, (84, 8)), (17280, 15, (96, 10))]
)
def test_other_beats_take_another_escape_pinion(beats, escape, last) -> None:
    """The fourth wheel turns once a minute: teeth over leaves are beats an hour over 120 teeth of the escape wheel."""
    found = usual_teeth(4300.0, beats, escape)
    assert found is not None
    assert (found[0][-1], found[1][-1]) == last


def test_a_sketch_is_given_a_usual_train() -> None:
    slip = oscsim.Slip(given={"balance.beats_per_hour": 21600}, facts={"movement_diameter_mm": 25.6})
    made = oscsim.sketch(slip).movement
    assert made.train.ratio == pytest.approx(
        math.prod(made.train.wheel_teeth) / math.prod(made.train.pinion_leaves)
    )
    turns = {one.name: one.period_s for one in train_turnings(made)}
    assert (turns["centre"], turns["fourth"]) == (pytest.approx(3600.0), pytest.approx(60.0))
    shown = str(oscsim.breathing(made, duration_s=60.0))
    assert "Nobody counted the teeth: a usual train of its beat is taken" in shown
    # counted since: another ratio takes the teeth away, other teeth make the ratio known
    again = made.with_({"train.ratio": 3960.0})
    assert again.train.wheel_teeth is None
    assert not {"train.ratio", "train.wheel_teeth", "train.pinion_leaves"} & set(again.filled)
    counted = made.with_({"train.wheel_teeth": (72, 80, 75, 84), "train.pinion_leaves": (12, 10, 10, 7)})
    known = {f"train.{key}" for key in ("wheel_teeth", "pinion_leaves", "ratio", "meshes")}
    assert known <= set(made.filled)
    assert not known & set(counted.filled)


def test_a_ratio_that_was_counted_keeps_its_teeth_only_where_they_give_it() -> None:
    facts = {"movement_diameter_mm": 25.6}
    for ratio, there in ((4320.0, True), (4301.0, False)):
        given = {"balance.beats_per_hour": 21600, "train.ratio": ratio}
        made = oscsim.sketch(oscsim.Slip(given=given, facts=facts)).movement
        assert (made.train.wheel_teeth is not None) == there
        assert made.train.ratio == pytest.approx(ratio, rel=1e-4)


def test_hands() -> None:
    """One passes the other when it is a turn ahead: 1/(1/60 - 1/3600) s, 1/(1 - 1/12) h."""
    assert HANDS["second hand"] == pytest.approx(1.0 / (1.0 / 60.0 - 1.0 / 3600.0), rel=1e-14)
    assert HANDS["hour hand"] == pytest.approx(3600.0 / (1.0 - 1.0 / 12.0), rel=1e-14)
    assert HANDS["calendar"] == 24 * 3600


@pytest.mark.parametrize("name", BUNDLED)
def test_bundled_designs_have_one_truth(name: str) -> None:
    """Ratio: the product of the teeth, and of the sizes. The centre turns once an hour, the fourth once a minute."""
    movement = BUNDLED[name]
    by_teeth = by_size = 1.0
    size = radii(movement.train)
    for mesh in meshes(movement.train):
        by_teeth *= mesh.teeth / mesh.leaves
        by_size *= size[mesh.wheel].wheel_radius_mm / size[mesh.pinion].pinion_radius_mm
    assert movement.train.ratio == pytest.approx(by_teeth, rel=1e-14)
    assert movement.train.ratio == pytest.approx(by_size, rel=1e-12)
    turns = {one.name: one.period_s for one in train_turnings(movement)}
    assert turns["centre"] == pytest.approx(3600.0, rel=1e-12)
    assert turns["fourth"] == pytest.approx(60.0, rel=1e-12)
    assert turns["barrel"] / 3600.0 == pytest.approx(
        movement.train.ratio * 2 * movement.escapement.teeth / movement.balance.beats_per_hour, rel=1e-12
    )


def test_friction_of_the_meshes_in_place_of_their_efficiency() -> None:
    movement = BUNDLED["packet"].with_({"train.mesh_friction": 0.12})
    assert movement.train.mesh_efficiency is None
    means = math.prod(float(mean_efficiency(mesh, 0.12)) for mesh in meshes(movement.train))
    by_efficiency = BUNDLED["packet"].with_({"train.mesh_efficiency": means**0.25})
    assert efficiency(movement.train) == pytest.approx(efficiency(by_efficiency.train), rel=1e-13)
    for changed in (
        stack_of([movement, by_efficiency]),
        varied(by_efficiency, {"train.mesh_friction": np.full(2, 0.12)}),
    ):
        assert efficiency(changed.train).ravel() == pytest.approx(
            np.full(2, efficiency(movement.train)), rel=1e-13
        )
    worn = oscsim.Condition(drive=0.8).applied_to(movement).movement
    assert efficiency(worn.train) == pytest.approx(0.8 * float(efficiency(movement.train)), rel=1e-13)


def test_a_ratio_takes_the_place_of_the_teeth_and_the_wheels_keep_their_size() -> None:
    before = BUNDLED["dockhand"]
    after = before.with_({"train.ratio": 4000.0})
    assert after.train.wheel_teeth is None
    assert (after.train.ratio, after.train.meshes) == (4000.0, 4)
    assert efficiency(after.train) == pytest.approx(float(efficiency(before.train)), rel=1e-14)
    again = after.with_({"train.wheel_teeth": [66, 80, 75, 84], "train.pinion_leaves": [12, 10, 10, 7]})
    assert again.train.ratio == 3960.0
    assert oscsim.loads(oscsim.dumps(before)) == before
    assert "ratio" not in oscsim.dumps(before).split("[train]")[1].split("[mainspring]")[0]


def test_another_layout_by_its_arbors() -> None:
    names = ["barrel", "great", "centre", "third", "fourth", "escape"]
    movement = counted([60, 60, 80, 75, 84], [30, 20, 10, 10, 7], **{"train.layout": names})
    assert [mesh.name for mesh in meshes(movement.train)][:2] == ["barrel-great", "great-centre"]
    assert (movement.train.ratio, movement.train.meshes) == (2 * 3 * 8 * 7.5 * 12, 5)
    # an arbor that is not there does not rub
    short = counted([75, 90, 84], [10, 10, 7], **{"train.layout": ["barrel", "centre", "third", "escape"]})
    assert set(radii(short.train)) == {"barrel", "centre", "third", "escape"}
    assert efficiency(stack_of([short, movement]).train).ravel() == pytest.approx(
        [float(efficiency(short.train)), float(efficiency(movement.train))], rel=1e-13
    )
    assert oscsim.loads(oscsim.dumps(movement)) == movement


NO_RATIO = ("train.ratio",)
TEETH = {"train.wheel_teeth": "[78, 80, 75, 84]", "train.pinion_leaves": "[15, 10, 10, 7]"}


@pytest.mark.parametrize(
    ("changes", "without", "said"),
    [
        (
            TEETH | {"train.ratio": "3700"},
            (),
            "train.ratio = 3700: the teeth give 78/15 · 80/10 · 75/10 · 84/7 = 3744, must",
        ),
        (TEETH | {"train.meshes": "5"}, NO_RATIO, "train.meshes = 5: wheel_teeth has 4"),
        (TEETH | {"train.wheel_teeth": "[78, 80, 75]"}, NO_RATIO, "4 pinions for 3 wheels"),
        (
            TEETH | {"train.wheel_teeth": "[78, 80, 75, 8]"},
            NO_RATIO,
            "train.wheel_teeth[4] = 8: out of range, must",
        ),
        (
            TEETH | {"train.pinion_leaves": "[15, 10, 10, 7.5]"},
            NO_RATIO,
            "train.pinion_leaves[4] = 7.5: not a whole",
        ),
        (
            TEETH | {"train.pinion_leaves": "[15, 10, 10, true]"},
            NO_RATIO,
            "train.pinion_leaves[4] = True: not a",
        ),
        (
            TEETH | {"train.wheel_teeth": "78"},
            NO_RATIO,
            "train.wheel_teeth = 78: must be a list of 1 to 8 whole numbers",
        ),
        (
            {"train.wheel_teeth": "[78, 80, 75, 84]"},
            (),
            "train.pinion_leaves: missing; wheel_teeth and pinion_leaves go",
        ),
        (
            {},
            NO_RATIO,
            "train.ratio: missing; turns of the escape wheel per turn of the barrel, from 100 to 50000",
        ),
        ({}, ("train.mesh_efficiency",), "train.mesh_efficiency, train.mesh_friction: exactly one is needed"),
        (
            {"train.mesh_friction": "0.1"},
            (),
            "train.mesh_efficiency, train.mesh_friction: exactly one is needed",
        ),
        (
            {"train.mesh_friction": "0.1"},
            ("train.mesh_efficiency",),
            "train.mesh_friction = 0.1: needs wheel_teeth",
        ),
        (
            TEETH | {"train.mesh_friction": "0.5"},
            ("train.mesh_efficiency", "train.ratio"),
            "must be from 0 to 0.4",
        ),
        (
            TEETH | {"train.layout": '["barrel", "centre", "third"]'},
            NO_RATIO,
            "must begin with 'barrel', end with",
        ),
        (
            TEETH | {"train.layout": '["barrel", "Centre", "x", "y", "escape"]'},
            NO_RATIO,
            "one word of at most 20",
        ),
        (
            TEETH | {"train.layout": '["barrel", "x", "y", "escape"]'},
            NO_RATIO,
            "4 wheels, but train.layout has 3",
        ),
        (
            TEETH | {"train.arbors.fourth.wheel_radius_mm": "3.0"},
            NO_RATIO,
            "train.arbors.fourth.wheel_radius_mm = 3 mm: with 84 teeth and the pinion of 7 it drives it is 4.8 mm",
        ),
    ],
)
def test_what_does_not_fit_is_refused(changes, without, said) -> None:
    with pytest.raises(InputError) as caught:
        oscsim.loads(design_text(changes, without=without))
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_ratio_within_half_a_per_cent_gives_way_to_the_teeth() -> None:
    movement = oscsim.loads(design_text(TEETH | {"train.ratio": "3740"}))
    assert movement.train.ratio == 3744.0
    wheel = oscsim.loads(
        design_text(TEETH | {"train.arbors.fourth.wheel_radius_mm": "4.79"}, without=NO_RATIO)
    )
    assert wheel == oscsim.loads(design_text(TEETH, without=NO_RATIO))
