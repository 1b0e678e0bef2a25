"""Friction of the balance's pivots, and of pivots dry and oiled; checks 17 and 18."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import dblquad

import oscsim
from oscsim.condition import Condition
from oscsim.operating import operating_points
from tests.levers import LEVERS

from .book import Ledger
from .designs import DESIGNS
from .sources import DERIVED, JENKIN, TEXTBOOK

BUNDLED = {name: oscsim.load(name) for name in LEVERS}
#: Check 17: friction 0.12, balance 40 mg, pivot radius 45 µm, domed end with Hertz contact radius 0.581 µm.
CONTACT_UM = 0.581


def friction(position: str, end_um: float, **setting: float) -> float:
    """Dry friction at the pivots in N·m, as the motion is given it."""
    pivot = {
        "balance.pivot_friction": 0.12,
        "balance.mass_mg": 40.0,
        "balance.pivot_radius_mm": 0.045,
        "balance.end_friction_radius_um": end_um,
    }
    points = operating_points(DESIGNS["fast"].with_(pivot), oscsim.Setting(positions=position, **setting))
    return float(points.oscillators.dry[0] * points.stiffness[0])


@pytest.mark.check(17)
def test_pivot_on_its_side_and_on_its_end(ledger: Ledger) -> None:
    digits = "the last digit given"
    domed = 3 * math.pi / 16 * CONTACT_UM
    for position in ("CH", "FH"):
        ledger.value(
            f"domed end of contact radius 0.581 µm, given as (3π/16) a, μ 0.12, 40 mg, {position}",
            1e11 * friction(position, domed),
            1.61,
            "1e-11 N·m",
            source=DERIVED,
            within=5e-3,
            why=digits,
        )
    for position in ("12H", "3H", "6H", "9H"):
        ledger.value(
            "pivot of radius 45 µm on its side, μ 0.12, 40 mg, four verticals",
            1e9 * friction(position, domed),
            2.12,
            "1e-9 N·m",
            source=DERIVED,
            within=5e-3,
            why=digits,
        )
    ledger.value(
        "vertical over flat",
        friction("9H", domed) / friction("CH", domed),
        132.0,
        source=DERIVED,
        within=0.6,
        why=digits,
    )
    ledger.value(
        "dial tilted to 45°: end and side share the load",
        1e9 * friction("9H", domed, tilt_deg=45.0),
        1e9 * 0.12 * 40e-6 * 9.80665 * (domed * 1e-6 + 45e-6) * math.sqrt(0.5),
        "1e-9 N·m",
        source=DERIVED,
        relative=1e-12,
        why="exact: rounding",
    )


@pytest.mark.check(17)
def test_flat_end(ledger: Ledger) -> None:
    """A flat end of radius r under even pressure: μ W times the mean radius, by quadrature over its face."""
    r = 45.0
    moment, _ = dblquad(lambda radius, _: radius * radius / (math.pi * r**2), 0.0, 2 * math.pi, 0.0, r)
    ledger.value(
        "flat end of radius 45 µm, given as ⅔ r: friction over μ W",
        friction("CH", 2 / 3 * r) / (0.12 * 40e-6 * 9.80665),
        moment * 1e-6,
        "m",
        source=TEXTBOOK,
        relative=1e-9,
        why="quadrature",
    )
    hertz, _ = dblquad(
        lambda radius, _: radius**2 * 3 / (2 * math.pi) * math.sqrt(1 - radius**2), 0.0, 2 * math.pi, 0.0, 1.0
    )
    ledger.value(
        "domed end under Hertz pressure, given as (3π/16) a: friction over μ W",
        friction("CH", 3 * math.pi / 16 * CONTACT_UM) / (0.12 * 40e-6 * 9.80665),
        hertz * CONTACT_UM * 1e-6,
        "m",
        source=TEXTBOOK,
        relative=1e-6,
        why="quadrature with an edge",
    )


@pytest.mark.check(17)
def test_contact_radius_is_not_ours(ledger: Ledger) -> None:
    ledger.not_reached(
        "contact radius of a domed end",
        "0.581 µm: steel 210 GPa/0.3 on sapphire 400 GPa/0.27, dome 100 µm",
        source=TEXTBOOK,
        why="the design gives the effective radius; docs/physics.md says how to prepare it",
    )


@pytest.mark.check(18)
@pytest.mark.parametrize("name", BUNDLED)
def test_dry_over_oiled(ledger: Ledger, name: str) -> None:
    fresh, dry = (Condition(oil_age_years=age).applied_to(BUNDLED[name]).movement for age in (0.0, 10.0))
    for what, part, key, outside in (
        ("stone: train holes", "train", "jewel_friction", (1.0, 0.200 / 0.107)),
        ("stone: balance pivots", "balance", "pivot_friction", (1.0, 0.200 / 0.107)),
        ("stone: pallet stones", "escapement", "pallet_friction", (1.0, 0.200 / 0.107)),
        ("brass: train holes", "train", "brass_friction", (0.195 / 0.146, 0.35 / 0.11)),
    ):
        ratio = getattr(getattr(dry, part), key) / getattr(getattr(fresh, part), key)
        ledger.band(
            f"friction when the oil is gone over freshly oiled, {what}",
            [ratio],
            *outside,
            source=JENKIN,
            why="from sapphire, 0.15 clean or oiled (CRC Handbook), or his brass, to his agate or handbooks' dry brass",
        )
    before, after = (
        oscsim.settle(
            BUNDLED[name], oscsim.Setting(condition=Condition(oil_age_years=age))
        ).points.amplitude_deg[0, 0]
        for age in (0.0, 10.0)
    )
    ledger.says(
        "amplitude of bundled designs with dry pivots",
        after < before,
        "dry pivots rub more, so it is lower",
        source=JENKIN,
    )


@pytest.mark.check(18)
def test_friction_of_the_bundled_designs(ledger: Ledger) -> None:
    train = [m.train for m in BUNDLED.values()]
    ledger.band(
        "friction in brass holes, bundled designs",
        [t.brass_friction for t in train],
        0.146,
        0.195,
        source=JENKIN,
        why="steel on brass, oiled to dry, slow",
    )
    ledger.band(
        "friction on pallet stones, bundled designs",
        [m.escapement.pallet_friction for m in BUNDLED.values()],
        0.107,
        0.200,
        source=JENKIN,
        why="steel on agate, oiled to dry, slow",
    )
    jewels = np.array([t.jewel_friction for t in train])
    ledger.apart(
        "friction in jewelled holes, bundled designs",
        jewels,
        0.107,
        0.200,
        source=JENKIN,
        why="two designs take 0.10 for polished ruby, common practice; his stone was agate",
    )
    ledger.apart(
        "friction of the balance pivots, bundled designs",
        [m.balance.pivot_friction for m in BUNDLED.values()],
        0.107,
        0.200,
        source=JENKIN,
        why="0.075 to 0.12: these pivots are not slow, and his are; common practice, no source",
    )
