"""The mainspring against geometry integrated by scipy: docs/physics.md (5)-(7), each an integral along the strip.

Published figures are in tests/outside/test_mainspring.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from oscsim.operating import hours_of_wind
from oscsim.parts.mainspring import (
    Barrel,
    Mainspring,
    barrel_torque,
    full_turns,
    turns_of_development,
    turns_of_set,
    turns_packed,
)

from ..independent.designs import MOVEMENTS

BARREL = Barrel(inner_diameter_mm=10.6, arbor_diameter_mm=3.54)


def strip(**changes: float | None) -> Mainspring:
    """A straight strip that stays elastic, without coil friction and almost without a tail."""
    values: dict[str, float | None] = {
        "height_mm": 1.3,
        "thickness_mm": 0.12,
        "length_mm": 326.8,
        "modulus_gpa": 200.0,
        "elastic_limit_mpa": 10000.0,
        "coil_efficiency": 1.0,
        "tail_turns": 0.01,
    }
    return Mainspring(**(values | changes))


def along(curvature, length: float, corner: float = 0.0) -> float:
    """Turns of a strip: the integral of a curvature, 1/mm, along its length, mm, over 2π."""
    points = [corner] if 0.0 < corner < length else None
    total, _ = quad(curvature, 0.0, length, points=points, epsabs=0.0, epsrel=1e-12, limit=200)
    return total / (2.0 * math.pi)


@pytest.mark.parametrize(("thickness", "length"), [(0.12, 326.8), (0.08, 500.0), (0.2, 150.0)])
def test_packed_turns_are_the_coils_laid_close(thickness: float, length: float) -> None:
    """(5): from the arbor outwards, and from the wall inwards, each coil lies a thickness farther."""
    spring = strip(thickness_mm=thickness, length_mm=length)
    on_arbor = along(lambda s: 1.0 / math.sqrt(1.77**2 + s * thickness / math.pi), length)
    on_wall = along(lambda s: 1.0 / math.sqrt(5.3**2 - s * thickness / math.pi), length)
    assert turns_packed(spring, BARREL) == pytest.approx((on_arbor, on_wall), rel=1e-11)
    assert turns_of_development(spring, BARREL) == pytest.approx(on_arbor - on_wall, rel=1e-10)


@pytest.mark.parametrize("limit", [900.0, 2000.0, 2600.0, 3300.0, 10000.0])
@pytest.mark.parametrize("free", [0.0, -60.0, -400.0, 80.0])
def test_set_left_by_the_first_winding(limit: float, free: float) -> None:
    """(7) by quadrature: all of the strip bent beyond its limit, the inner part of it, or none."""
    spring = strip(elastic_limit_mpa=limit, free_curvature_per_m=free)
    elastic = 2.0 * limit * 1e6 / (200e9 * 0.12e-3) * 1e-3  # 1/mm

    def kept(s: float) -> float:
        return max(free * 1e-3, 1.0 / math.sqrt(1.77**2 + s * 0.12 / math.pi) - elastic)

    bend = elastic + free * 1e-3
    corner = (1.0 / bend**2 - 1.77**2) * math.pi / 0.12 if bend > 0.0 else 0.0
    assert turns_of_set(spring, BARREL) == pytest.approx(along(kept, 326.8, corner), rel=1e-10, abs=1e-12)


@pytest.mark.parametrize("limit", [2000.0, 10000.0])
def test_torque_is_the_mean_bending_moment(limit: float) -> None:
    """(6) fully wound: E w h³/12 times the mean change of curvature, laid close on the arbor, less the set."""
    spring = strip(elastic_limit_mpa=limit, coil_efficiency=0.8)
    turns = full_turns(spring, BARREL)
    elastic = 2.0 * limit * 1e6 / (200e9 * 0.12e-3) * 1e-3

    def change(s: float) -> float:
        wound = 1.0 / math.sqrt(1.77**2 + s * 0.12 / math.pi)
        return wound - max(0.0, wound - elastic)

    corner = (1.0 / elastic**2 - 1.77**2) * math.pi / 0.12
    mean = 2.0 * math.pi * along(change, 326.8, corner) / 326.8 * 1e3  # 1/m
    bending = 200e9 * 1.3e-3 * 0.12e-3**3 / 12.0
    assert barrel_torque(spring, BARREL, turns) == pytest.approx(0.8 * bending * mean, rel=1e-10)


def test_torque_ends_with_the_turns() -> None:
    """The tail of (6): nothing at 0 turns or below, 1 - 1/e of the straight line at one tail."""
    spring, short = strip(tail_turns=0.4), strip()
    assert barrel_torque(spring, BARREL, np.array([-1.0, 0.0])) == pytest.approx([0.0, 0.0], abs=0)
    share = barrel_torque(spring, BARREL, 0.4) / barrel_torque(short, BARREL, 0.4)
    assert share == pytest.approx(1.0 - 1.0 / math.e, rel=1e-12)


def test_bridle_slips_at_its_torque() -> None:
    """Full wind is where the torque reaches the slip torque; a stronger bridle changes nothing."""
    spring = strip(slip_torque_n_mm=12.0, tail_turns=0.4)
    turns = full_turns(spring, BARREL)
    assert 0.0 < turns < turns_of_development(spring, BARREL)
    assert barrel_torque(spring, BARREL, turns) == pytest.approx(12e-3, rel=1e-12)
    held = strip(slip_torque_n_mm=14.0, tail_turns=0.4)
    assert full_turns(held, BARREL) == turns_of_development(held, BARREL)


def test_hours_count_from_the_slip() -> None:
    """§5: the barrel turns once in ratio · 2 · teeth / beats per hour; fast: 3700 · 2 · 20 / 28800 h."""
    movement = MOVEMENTS["fast"]
    turns = full_turns(movement.mainspring, movement.barrel)
    assert hours_of_wind(movement, turns) == pytest.approx(turns * 3700.0 * 40.0 / 28800.0, rel=1e-14)


def test_reverse_curved_strip_pulls_harder_by_what_it_was_curved() -> None:
    """Elastic, curved back by κ all along: the torque is higher by E w h³/12 · κ at every turn."""
    straight, curved = strip(), strip(free_curvature_per_m=-60.0)
    turns = np.array([1.0, 3.0, 5.0])
    gain = barrel_torque(curved, BARREL, turns) - barrel_torque(straight, BARREL, turns)
    assert gain == pytest.approx(np.full(3, 200e9 * 1.3e-3 * 0.12e-3**3 / 12.0 * 60.0), rel=1e-10)
    # beyond its limit the strip keeps less than that
    soft = [
        barrel_torque(strip(elastic_limit_mpa=1500.0, free_curvature_per_m=k), BARREL, 3.0)
        for k in (-60.0, 0.0)
    ]
    assert 0.0 <= soft[0] - soft[1] < gain[0]
