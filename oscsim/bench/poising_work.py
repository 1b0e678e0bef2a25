"""What to take away at the heavy point, or to add opposite: mass at a radius, and the hole that holds it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from oscsim.fields import Quantity

if TYPE_CHECKING:
    from oscsim.movement import Movement

RADIUS = Quantity("mm", "", "radius at which metal is taken away or added", 0.5, 60)
DRILL = Quantity("mm", "", "diameter of the drill", 0.05, 3)
DENSITY = Quantity("g/cm³", "", "density of the metal", 1, 25)
#: Densities of rim metals, g/cm³ (handbook values, from memory).
DENSITIES = {"beryllium bronze": 8.25, "brass": 8.5, "nickel silver": 8.7, "steel": 7.8, "gold alloy": 15.5}


@dataclass(frozen=True)
class Work:
    """Mass in µg to take away at the heavy point, or to add opposite to it, at ``radius_mm``, ± half its 90 %
    interval; depth in mm of a flat-bottomed hole that holds it."""

    mass_ug: float
    half_width_ug: float
    radius_mm: float
    drill_mm: float
    density_g_cm3: float
    depth_mm: float

    def to_dict(self) -> dict[str, Any]:
        """The numbers, for JSON."""
        return dict(vars(self))


def gyration_mm(movement: Movement) -> float:
    """The balance's radius of gyration, mm: where its mass would sit if it all sat at one radius."""
    return 10.0 * math.sqrt(movement.balance.inertia_mg_cm2 / movement.balance.mass_mg)


def work_of(
    movement: Movement,
    moment_ug_cm: float,
    half_width_ug_cm: float,
    radius_mm: float | None,
    drill_mm: float,
    density_g_cm3: float,
) -> Work:
    """The work that takes away ``moment_ug_cm``; raises InputError for a number out of range."""
    radius = gyration_mm(movement) if radius_mm is None else radius_mm
    RADIUS.check("radius_mm", radius)
    DRILL.check("drill_mm", drill_mm)
    DENSITY.check("density_g_cm3", density_g_cm3)
    mass = 10.0 * moment_ug_cm / radius
    # 1 g/cm³ is 1000 µg/mm³
    depth = mass / (1000.0 * density_g_cm3 * math.pi / 4.0 * drill_mm**2)
    return Work(mass, 10.0 * half_width_ug_cm / radius, radius, drill_mm, density_g_cm3, depth)
