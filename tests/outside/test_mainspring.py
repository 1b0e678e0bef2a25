"""Mainspring and barrel against geometry, bending and the bench; checks 20 to 22 and 34."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

import oscsim
from oscsim.operating import hours_of_wind
from oscsim.parts.mainspring import Barrel, barrel_torque, full_turns, turns_of_development, turns_packed
from tests.parts.test_mainspring import BARREL, strip

from .book import Ledger
from .designs import DESIGNS
from .sources import BARREL_TEXTS, DERIVED, KLEINLEIN, WHEEL_TRAIN


@pytest.mark.check(20)
def test_half_filled_barrel_gives_most_turns(ledger: Ledger) -> None:
    barrel = Barrel(inner_diameter_mm=21.3, arbor_diameter_mm=7.1)
    free = math.pi / 4.0 * (21.3**2 - 7.1**2)

    def turns(length: float) -> float:
        return float(turns_of_development(strip(thickness_mm=0.254, length_mm=length), barrel))

    best = minimize_scalar(
        lambda length: -turns(length), (300.0, 600.0, 1000.0), method="brent", options={"xtol": 1e-9}
    ).x
    what = "barrel 21.3 mm, arbor 7.1 mm, strip 0.254 mm"
    ledger.value(
        f"{what}: share of the free area at most turns",
        round(best * 0.254 / free, 6),
        0.5,
        source=BARREL_TEXTS,
        within=1e-5,
        why="a flat maximum, found by a search",
    )
    ledger.value(
        f"{what}: most turns",
        turns(best),
        6.60,
        "turns",
        source=BARREL_TEXTS,
        within=5e-3,
        why="the last digit given",
    )
    ledger.value(
        f"{what}: length of the strip that gives them",
        best,
        620.0,
        "mm",
        source=BARREL_TEXTS,
        relative=0.01,
        why="given as about 620 mm",
    )
    formula = (math.sqrt(2.0 * (21.3**2 + 7.1**2)) - (21.3 + 7.1)) / (2.0 * 0.254)
    ledger.value(
        f"{what}: most turns against the formula",
        turns(best),
        formula,
        "turns",
        source=DERIVED,
        relative=1e-9,
        why="the search for the maximum",
    )


@pytest.mark.check(21)
def test_torque_by_height_thickness_and_length(ledger: Ledger) -> None:
    def torque(**changes: float) -> float:
        spring = strip(**changes)
        n_wall = turns_packed(spring, BARREL)[1]
        return float(barrel_torque(spring, BARREL, 16.0 - n_wall))  # 16 turns of bending, whatever the strip

    for what, key, factor, exponent in (
        ("height", "height_mm", 1.1, 1),
        ("thickness", "thickness_mm", 1.1, 3),
        ("length", "length_mm", 1.1, -1),
        ("Young's modulus", "modulus_gpa", 1.1, 1),
    ):
        values = {"height_mm": 1.3, "thickness_mm": 0.12, "length_mm": 326.8, "modulus_gpa": 200.0}
        ratio = torque(**{key: factor * values[key]}) / torque()
        ledger.value(
            f"exponent of the {what} in the torque, at equal turns of bending",
            math.log(ratio) / math.log(factor),
            exponent,
            source=DERIVED,
            within=1e-10,
            why="elastic bending, exact: rounding",
        )


@pytest.mark.check(21)
def test_a_hundredth_of_a_millimetre(ledger: Ledger) -> None:
    movement, late = oscsim.load("ferryman"), oscsim.Setting(hours=24.0)
    thin = movement.with_({"mainspring.thickness_mm": movement.mainspring.thickness_mm - 0.01})
    thick, less = (2.0 * oscsim.settle(m, late).points.amplitude_deg[0, 0] for m in (movement, thin))
    section = KLEINLEIN.at("§65")
    ledger.says(
        "pocket watch, strip 0.01 mm thinner, total motion after 24 h",
        thick - less > 5.0,
        "a strip too thin costs motion late in the day",
        f"{thick - less:.0f} deg less",
        source=section,
    )
    ledger.apart(
        "pocket watch, strip 0.01 mm thinner, total motion lost after 24 h",
        thick - less,
        60.0,
        120.0,
        "deg",
        source=section,
        why="about ¼ turn, 90°, late in the day; his strip and the hour are not given, so it cannot be repeated",
    )


@pytest.mark.check(22)
def test_straight_elastic_strip(ledger: Ledger) -> None:
    # The tail hides the torque let down, so it is extrapolated to 0 turns.
    spring = strip()
    turns = np.array([float(full_turns(spring, BARREL)), 0.3, 0.6])
    wound, near, far = barrel_torque(spring, BARREL, turns) * 1e3
    what = "R 5.3, r 1.77, h 0.12, w 1.3, L 326.8 mm, E 200 GPa, elastic"
    ledger.value(
        f"{what}: torque wound", wound, 13.1, "N·mm", source=DERIVED, within=0.05, why="the last digit given"
    )
    ledger.value(
        f"{what}: torque let down",
        2.0 * near - far,
        8.09,
        "N·mm",
        source=DERIVED,
        within=5e-3,
        why="the last digit given",
    )


@pytest.mark.check(34)
def test_hours_to_a_turn(ledger: Ledger) -> None:
    train = {"train.ratio": 7 * 3600 / 5, "escapement.teeth": 15, "balance.beats_per_hour": 21600}
    movement = DESIGNS["slow"].with_(train)
    ledger.value(
        "barrel to escape wheel 5040, 15 teeth, 21,600 beats an hour: one turn of the barrel",
        float(hours_of_wind(movement, 1.0)),
        7.0,
        "h",
        source=WHEEL_TRAIN,
        relative=1e-14,
        why="exact: barrel one turn in 7 hours, escape wheel one in 5 seconds",
    )
    first, later = (oscsim.settle(movement, oscsim.Setting(hours=h)).points.turns[0, 0] for h in (0.0, 7.0))
    ledger.value(
        "turns that such a watch has run down after 7 hours",
        first - later,
        1.0,
        "turns",
        source=WHEEL_TRAIN,
        relative=1e-12,
        why="rounding",
    )
