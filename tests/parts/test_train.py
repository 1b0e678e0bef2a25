"""The train's efficiency (4) by hand.

Source: docs/physics.md §3: radii of the five arbors in mm, order in which a jewel count reaches the holes.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from oscsim.parts.train import Arbor, Arbors, JewelledHoles, Train, efficiency, escape_torque

from ..independent.designs import MOVEMENTS

# pivot radius times (1/pinion + 1/wheel) of one hole
LEVERAGE = {
    "barrel": 0.60 / 5.3,
    "centre": 0.35 * (1 / 1.0 + 1 / 3.9),
    "third": 0.14 * (1 / 0.50 + 1 / 2.9),
    "fourth": 0.11 * (1 / 0.45 + 1 / 2.6),
    "escape": 0.09 / 0.40,
}
#: Jewelled holes of (barrel, centre, third, fourth, escape), read off the rule for each count.
BY_COUNT = {
    0: (0, 0, 0, 0, 0),
    6: (0, 0, 0, 0, 0),
    7: (0, 0, 0, 0, 0),
    8: (0, 0, 0, 0, 1),
    9: (0, 0, 0, 0, 2),
    10: (0, 0, 0, 0, 2),  # pallet arbor: no train loss
    11: (0, 0, 0, 0, 2),
    12: (0, 0, 0, 1, 2),
    13: (0, 0, 0, 2, 2),
    14: (0, 0, 1, 2, 2),
    15: (0, 0, 2, 2, 2),
    16: (0, 1, 2, 2, 2),
    17: (0, 2, 2, 2, 2),
    18: (1, 2, 2, 2, 2),
    19: (2, 2, 2, 2, 2),
    25: (2, 2, 2, 2, 2),  # caps and winding work
}
TRAIN = Train(ratio=4000.0, jewels=7, meshes=4, mesh_efficiency=0.97, jewel_friction=0.12, brass_friction=0.2)


def by_hand(jewelled: tuple[int, ...], leverage: dict[str, float] = LEVERAGE) -> float:
    result = 0.97 * 0.97 * 0.97 * 0.97
    for lever, count in zip(leverage.values(), jewelled, strict=True):
        for hole in (0, 1):
            result *= 1.0 - 0.5 * (0.12 if hole < count else 0.2) * lever
    return result


@pytest.mark.parametrize("count", BY_COUNT)
def test_by_count(count: int) -> None:
    assert efficiency(replace(TRAIN, jewels=count)) == pytest.approx(by_hand(BY_COUNT[count]), rel=1e-14)


def test_two_figures_worked_out() -> None:
    """All brass, multiplied out by hand arbor by arbor; all jewelled, from tests/outside/reference/fast.json."""
    brass = 0.885293 * 0.977487 * 0.913985 * 0.935423 * 0.943472 * 0.955506
    assert efficiency(TRAIN) == pytest.approx(brass, abs=3e-6)
    assert efficiency(replace(TRAIN, jewels=25)) == pytest.approx(0.7477954490423149, rel=1e-13)


def test_each_further_jewel_helps_or_leaves_alone() -> None:
    values = [float(efficiency(replace(TRAIN, jewels=count))) for count in range(41)]
    assert values == sorted(values)
    assert len(set(values)) == 11  # ten holes


@pytest.mark.parametrize("count", [8, 12, 16, 17, 19])
def test_by_table(count: int) -> None:
    names = dict(zip(LEVERAGE, BY_COUNT[count], strict=True))
    assert efficiency(replace(TRAIN, jewels=JewelledHoles(**names))) == pytest.approx(
        by_hand(BY_COUNT[count]), rel=1e-14
    )
    # jewels of the pallet arbor cost the train nothing
    with_pallet = replace(TRAIN, jewels=JewelledHoles(**names, pallet=2))
    assert efficiency(with_pallet) == efficiency(replace(TRAIN, jewels=JewelledHoles(**names)))


def test_table_in_any_order() -> None:
    """A table may jewel what no count would: the third arbor alone."""
    assert efficiency(replace(TRAIN, jewels=JewelledHoles(third=2))) == pytest.approx(
        by_hand((0, 0, 2, 0, 0)), rel=1e-14
    )


def test_own_radii() -> None:
    thick = Arbors(fourth=Arbor(pivot_radius_mm=0.14, pinion_radius_mm=0.45, wheel_radius_mm=2.6))
    leverage = LEVERAGE | {"fourth": 0.14 * (1 / 0.45 + 1 / 2.6)}
    assert efficiency(replace(TRAIN, arbors=thick)) == pytest.approx(by_hand((0,) * 5, leverage), rel=1e-14)
    by_name = MOVEMENTS["heavy"].with_({"train.jewels": 7, "train.arbors.fourth.pivot_radius_mm": 0.14})
    assert efficiency(by_name.train) == pytest.approx(by_hand((0,) * 5, leverage), rel=1e-14)


def test_meshes_and_ratio() -> None:
    three = replace(TRAIN, meshes=3)
    assert efficiency(three) == pytest.approx(by_hand(BY_COUNT[7]) / 0.97, rel=1e-14)
    assert escape_torque(TRAIN, 8e-3) == pytest.approx(8e-3 * by_hand(BY_COUNT[7]) / 4000.0, rel=1e-14)


def test_no_friction_passes_everything() -> None:
    free = replace(TRAIN, mesh_efficiency=1.0, jewel_friction=0.0, brass_friction=0.0)
    assert math.isclose(float(efficiency(free)), 1.0, rel_tol=1e-15)
