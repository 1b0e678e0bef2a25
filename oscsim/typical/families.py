"""Families of movements by traits a bench can see, and the constants in which they differ.

All constants are common practice without source unless a source is named; the ranges around them are in laws.py.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from oscsim.errors import InputError, hint, shown
from oscsim.fields import Quantity

#: Facts of a bench that are no keys of a design file, by name.
FACTS = {
    "movement_diameter_mm": Quantity("mm", "", "diameter of the movement", 8, 120),
    "balance_diameter_mm": Quantity("mm", "", "outer diameter of the balance's rim", 3, 60),
    "reserve_hours": Quantity("h", "", "time from full wind to the stop", 4, 400),
}
WINDINGS = ("hand", "self")


@dataclass(frozen=True, kw_only=True)
class Family:
    """Traits in words, and what is usual: kind of escapement, beats per hour, diameters in mm, rim mass in mg of a
    balance of 10 mm, Q of one of 10 mm at 28,800 beats, pivots of a balance of 55 mg, the escapement's numbers, sizes
    of balance and barrel beside one another and of the strip beside the barrel, the strip's elastic limit in MPa, hours
    of reserve, and the amplitude that 95 of 100 sound examples show dial up when fully wound, usual_deg ±
    usual_off_deg; how much less they show with 12 up, upright_less_deg ± upright_less_off_deg; what a sound one shows
    at least a day later, flat and vertical, after_a_day_deg. share: how often
    such a movement comes to the bench beside the others, before anything is known of it. A row is all that a family
    needs."""

    name: str
    traits: str
    beats_per_hour: float
    balance_diameter_mm: float
    rim_mass_mg: float
    viscous_q: float
    kind: str = "lever"
    pivot_friction: float = 0.10
    pivot_radius_mm: float = 0.044
    end_over_pivot: float = 0.2
    pallet_friction: float = 0.16
    pallets: str = "steel on stone"
    pallet_lift_deg: float = 8.5
    teeth: int = 15
    lift_angle_deg: float = 52.0
    lock_deg: float
    run_deg: float
    drop_deg: float
    draw_deg: float = 12.0
    notch_shake_deg: float = 0.3
    jewels: int = 17
    mesh_efficiency: float = 0.962
    balance_over_movement: float = 0.39
    barrel_over_balance: float = 0.95
    height_over_barrel: float = 0.13
    strip: str = "a modern alloy"
    elastic_limit_mpa: float = 2900.0
    reversed_per_m: float = -40.0
    reserve_hours: float = 42.0
    winding: str = "hand"
    usual_deg: float
    usual_off_deg: float
    upright_less_deg: float = 30.0
    upright_less_off_deg: float = 30.0
    after_a_day_deg: float = 150.0
    share: float = 1.0


#: Where the beat is slow the balance is heavy: the barrel gives the same power, and a balance takes I f³ of it.
#: Lock, run, drop and draw of ``pocket`` and ``plain`` begin from H. R. Playtner, An Analysis of the Lever Escapement,
#: 1910: lock 1.5, run 0.25, lift 8.5, drop 1.5, draw 12 deg; the others are deeper or freer by common practice.
FAMILIES = {
    f.name: f
    for f in (
        Family(
            name="plain", traits="a man's wrist movement of no special kind, 18,000 to 21,600 beats",
            beats_per_hour=21600, balance_diameter_mm=10.0, rim_mass_mg=68, viscous_q=265, height_over_barrel=0.125,
            lock_deg=1.8, run_deg=0.3, drop_deg=1.8,
            usual_deg=280, usual_off_deg=45,
        ),
        Family(
            name="small", traits="balance under 8.5 mm, movement under 19 mm or barrel under 7 mm",
            beats_per_hour=21600, balance_diameter_mm=7.0, rim_mass_mg=80, viscous_q=190, mesh_efficiency=0.955,
            barrel_over_balance=0.9, height_over_barrel=0.115,
            lock_deg=2.0, run_deg=0.4, drop_deg=2.0, notch_shake_deg=0.4, reserve_hours=38,
            usual_deg=270, usual_off_deg=45, upright_less_deg=38.0,
        ),
        Family(
            name="pocket", traits="balance or barrel over 13 mm or movement over 34 mm, thick strip of carbon steel",
            beats_per_hour=18000, balance_diameter_mm=16.0, rim_mass_mg=52, viscous_q=300, lift_angle_deg=50.0,
            balance_over_movement=0.40,
            lock_deg=1.6, run_deg=0.3, drop_deg=1.6, jewels=15, strip="carbon steel", elastic_limit_mpa=2100.0,
            reversed_per_m=0.0, reserve_hours=38,
            usual_deg=275, usual_off_deg=45,
        ),
        Family(
            name="sturdy", traits="heavy balance, deep lock, soft self-winding strip; seldom",
            beats_per_hour=21600, balance_diameter_mm=11.0, rim_mass_mg=54, viscous_q=270,
            barrel_over_balance=0.9, height_over_barrel=0.12,
            lock_deg=2.6, run_deg=0.4, drop_deg=1.9, draw_deg=12.5, winding="self",
            usual_deg=250, usual_off_deg=30, share=0.3,
        ),
        Family(
            name="fast", traits="25,200 beats or more, self-winding, many jewels",
            beats_per_hour=28800, balance_diameter_mm=9.8, rim_mass_mg=55, viscous_q=330, barrel_over_balance=1.08,
            teeth=20, lock_deg=1.7, run_deg=0.3, drop_deg=1.4,
            jewels=25, elastic_limit_mpa=3100.0, winding="self",
            usual_deg=295, usual_off_deg=30,
        ),
        Family(
            name="fine", traits="free-sprung or adjusted in many positions, careful finish; seldom",
            beats_per_hour=28800, balance_diameter_mm=10.5, rim_mass_mg=50, viscous_q=380, pivot_friction=0.095,
            barrel_over_balance=1.08,
            teeth=20, lock_deg=1.5, run_deg=0.25, drop_deg=1.3, notch_shake_deg=0.25,
            jewels=25, mesh_efficiency=0.97, elastic_limit_mpa=3100.0, reserve_hours=50, winding="self",
            usual_deg=290, usual_off_deg=30, share=0.3,
        ),
        # from memory: bands of such movements, coned pivots running in cups, steel pins on steel teeth, no stones
        Family(
            name="pin-pallet", traits="pins for pallets, coned pivots in cups, few jewels; only when asked for",
            kind="pin-pallet",
            beats_per_hour=18000, balance_diameter_mm=13.0, rim_mass_mg=62, viscous_q=230, pivot_friction=0.14,
            pivot_radius_mm=0.07, end_over_pivot=0.4, pallet_friction=0.175, pallets="steel pin on steel tooth",
            pallet_lift_deg=9.0, lift_angle_deg=48.0,
            lock_deg=2.5, run_deg=0.4, drop_deg=2.0, draw_deg=14.0, notch_shake_deg=0.5, jewels=0,
            mesh_efficiency=0.95, strip="carbon steel", elastic_limit_mpa=2000.0, reversed_per_m=0.0,
            barrel_over_balance=1.05, height_over_barrel=0.1, reserve_hours=34,
            usual_deg=225, usual_off_deg=45, upright_less_deg=35.0, after_a_day_deg=85.0,
            share=0.05,
        ),
    )
}  # fmt: skip


def family_named(name: object) -> Family:
    """The family of that name; raises InputError."""
    if not isinstance(name, str) or name not in FAMILIES:
        known = ", ".join(FAMILIES)
        raise InputError(f"family {shown(name)}: must be one of {known}{hint(str(name), FAMILIES)}")
    return FAMILIES[name]


#: How far apart movements of one family lie: of logarithms of beat, balance and mass beside its size; of the lift
#: angle, deg.
_APART = {"beats": 0.12, "size": 0.15, "mass": 0.20, "lift": 2.5}
#: A trait four of these away says no more than that it is none of the family's; a family this seldom is left out.
_FARTHEST, _SELDOM = 16.0, 0.02
#: How much less often a family is wound the other way than the usual one.
_OTHERWISE = 0.25


def family_weights(
    given: Mapping[str, Any], facts: Mapping[str, Any], winding: str | None = None
) -> dict[str, float]:
    """How probable each family is from what a bench sees: name to weight, most probable first; they add up to 1.

    Beat, size of balance, movement or barrel, the balance's mass beside its size, lift angle and winding are compared
    with what is usual in the family. Families that are next to impossible are left out.
    """
    beats, mass = given.get("balance.beats_per_hour"), given.get("balance.mass_mg")
    lift, barrel = given.get("escapement.lift_angle_deg"), given.get("barrel.inner_diameter_mm")
    score = {}
    for f in FAMILIES.values():
        size = facts.get("balance_diameter_mm")
        if size is None and facts.get("movement_diameter_mm") is not None:
            size = f.balance_over_movement * facts["movement_diameter_mm"]
        if size is None and barrel is not None:
            size = barrel / f.barrel_over_balance
        off = [math.log(beats / f.beats_per_hour) / _APART["beats"]] if beats else []
        off += [math.log(size / f.balance_diameter_mm) / _APART["size"]] if size else []
        off += [math.log(mass / f.rim_mass_mg / (size / 10.0) ** 3) / _APART["mass"]] if size and mass else []
        off += [(lift - f.lift_angle_deg) / _APART["lift"]] if lift else []
        how_often = f.share * (_OTHERWISE if winding is not None and winding != f.winding else 1.0)
        score[f.name] = math.log(how_often) - 0.5 * sum(min(x * x, _FARTHEST) for x in off)
    most = max(score.values())
    kept = {name: math.exp(value - most) for name, value in score.items() if value - most > math.log(_SELDOM)}
    return {
        name: value / sum(kept.values()) for name, value in sorted(kept.items(), key=lambda item: -item[1])
    }
