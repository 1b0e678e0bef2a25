"""Families of movements by traits a bench can see, and the constants in which they differ.

All constants are common practice without source unless a source is named; the ranges around them are in laws.py.
"""

from __future__ import annotations

from dataclasses import dataclass

from oscsim.errors import InputError, hint, shown
from oscsim.fields import Quantity

#: Facts of a bench that are no keys of a design file, by name.
FACTS = {
    "movement_diameter_mm": Quantity("mm", "", "diameter of the movement", 8, 120),
    "balance_diameter_mm": Quantity("mm", "", "outer diameter of the balance's rim", 3, 60),
    "reserve_hours": Quantity("h", "", "time from full wind to the stop", 4, 400),
}
WINDINGS = ("hand", "self")

_SMALL_BALANCE, _LARGE_BALANCE = 8.5, 13.0
_SMALL_MOVEMENT, _LARGE_MOVEMENT = 19.0, 34.0
_SMALL_BARREL, _LARGE_BARREL = 7.0, 13.0
_FAST = 25200.0


@dataclass(frozen=True, kw_only=True)
class Family:
    """Traits in words, and what is usual: beats per hour, diameters in mm, rim mass in mg of a balance of 10 mm, Q of
    one of 10 mm at 28,800 beats, the escapement's numbers, the strip's elastic limit in MPa, hours of reserve, and the
    amplitude that 95 of 100 sound examples show dial up when fully wound, usual_deg ± usual_off_deg."""

    name: str
    traits: str
    beats_per_hour: float
    balance_diameter_mm: float
    rim_mass_mg: float
    viscous_q: float
    pivot_friction: float = 0.10
    teeth: int = 15
    lift_angle_deg: float = 52.0
    lock_deg: float
    run_deg: float
    drop_deg: float
    draw_deg: float = 12.0
    notch_shake_deg: float = 0.3
    jewels: int = 17
    mesh_efficiency: float = 0.97
    elastic_limit_mpa: float = 2900.0
    reversed_per_m: float = -40.0
    reserve_hours: float = 42.0
    winding: str = "hand"
    usual_deg: float
    usual_off_deg: float


#: Where the beat is slow the balance is heavy: the barrel gives the same power, and a balance takes I f³ of it.
#: Lock, run, drop and draw of ``pocket`` and ``plain`` begin from H. R. Playtner, An Analysis of the Lever Escapement,
#: 1910: lock 1.5, run 0.25, lift 8.5, drop 1.5, draw 12 deg; the others are deeper or freer by common practice.
FAMILIES = {
    f.name: f
    for f in (
        Family(
            name="plain", traits="a man's wrist movement of no special kind, 18,000 to 21,600 beats",
            beats_per_hour=21600, balance_diameter_mm=10.0, rim_mass_mg=65, viscous_q=270,
            lock_deg=1.8, run_deg=0.3, drop_deg=1.8,
            usual_deg=280, usual_off_deg=45,
        ),
        Family(
            name="small", traits="balance under 8.5 mm, movement under 19 mm or barrel under 7 mm",
            beats_per_hour=21600, balance_diameter_mm=7.0, rim_mass_mg=56, viscous_q=260,
            lock_deg=2.0, run_deg=0.4, drop_deg=2.0, notch_shake_deg=0.4, reserve_hours=38,
            usual_deg=270, usual_off_deg=45,
        ),
        Family(
            name="pocket", traits="balance or barrel over 13 mm or movement over 34 mm, thick strip of carbon steel",
            beats_per_hour=18000, balance_diameter_mm=16.0, rim_mass_mg=120, viscous_q=300, lift_angle_deg=50.0,
            lock_deg=1.6, run_deg=0.3, drop_deg=1.6, jewels=15, elastic_limit_mpa=2100.0,
            reversed_per_m=0.0, reserve_hours=38,
            usual_deg=275, usual_off_deg=45,
        ),
        Family(
            name="sturdy", traits="heavy balance, deep lock, soft self-winding strip; only when asked for",
            beats_per_hour=21600, balance_diameter_mm=11.0, rim_mass_mg=54, viscous_q=270,
            lock_deg=2.6, run_deg=0.4, drop_deg=1.9, draw_deg=12.5, winding="self",
            usual_deg=250, usual_off_deg=30,
        ),
        Family(
            name="fast", traits="25,200 beats or more, self-winding, many jewels",
            beats_per_hour=28800, balance_diameter_mm=9.8, rim_mass_mg=55, viscous_q=330,
            teeth=20, lock_deg=1.7, run_deg=0.3, drop_deg=1.4,
            jewels=25, elastic_limit_mpa=3100.0, winding="self",
            usual_deg=295, usual_off_deg=30,
        ),
        Family(
            name="fine", traits="free-sprung or adjusted in many positions, careful finish; only when asked for",
            beats_per_hour=28800, balance_diameter_mm=10.5, rim_mass_mg=50, viscous_q=380, pivot_friction=0.095,
            teeth=20, lock_deg=1.5, run_deg=0.25, drop_deg=1.3, notch_shake_deg=0.25,
            jewels=25, mesh_efficiency=0.975, elastic_limit_mpa=3100.0, reserve_hours=50, winding="self",
            usual_deg=290, usual_off_deg=30,
        ),
    )
}  # fmt: skip


def family_named(name: object) -> Family:
    """The family of that name; raises InputError."""
    if not isinstance(name, str) or name not in FAMILIES:
        known = ", ".join(FAMILIES)
        raise InputError(f"family {shown(name)}: must be one of {known}{hint(str(name), FAMILIES)}")
    return FAMILIES[name]


def family_by_traits(
    beats_per_hour: float | None,
    balance_mm: float | None,
    movement_mm: float | None,
    barrel_mm: float | None = None,
) -> tuple[Family, str]:
    """The family that beat and size point to, and why in words."""
    for value, small, large, what in (
        (balance_mm, _SMALL_BALANCE, _LARGE_BALANCE, "a balance"),
        (movement_mm, _SMALL_MOVEMENT, _LARGE_MOVEMENT, "a movement"),
        (barrel_mm, _SMALL_BARREL, _LARGE_BARREL, "a barrel"),
    ):
        if value is not None and value < small:
            return FAMILIES["small"], f"{what} of {value:g} mm, under {small:g}"
        if value is not None and value > large:
            return FAMILIES["pocket"], f"{what} of {value:g} mm, over {large:g}"
    if beats_per_hour is not None and beats_per_hour >= _FAST:
        return FAMILIES["fast"], f"{beats_per_hour:g} beats an hour"
    return FAMILIES["plain"], "neither small nor large nor fast"
