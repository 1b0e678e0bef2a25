"""A usual flat hairspring, where nobody has looked at it: of the size that belongs to its balance, pinned anywhere.

Sizes are common practice without source. What nobody knows of it, whole or half turns and the direction of its inner
end, moves the rates alone, so that it gives a spread in rate and none in amplitude.
"""

from __future__ import annotations

import math
from typing import Any

from oscsim.parts.hairspring_table import Hairspring
from oscsim.tolerances import Spread
from oscsim.units import MG_CM2, MM

#: Outer radius over the balance's radius of gyration, and the collet's over the outer one.
_OUTER, _COLLET = 0.6, 0.23
#: Between a whole and a half turn, where the rate hardly goes with the swing.
_TURNS = 12.25
#: Young's modulus of the strip, Pa, its height over its thickness, and its density, kg/m³.
_MODULUS, _HIGH, _DENSITY = 2.0e11, 4.5, 8.0e3

#: A flat spring as many are; its size is that of a man's wrist watch.
USUAL = Hairspring(collet_radius_mm=0.6, outer_radius_mm=2.6, turns=_TURNS, winds="clockwise")


def usual_spring(
    inertia_mg_cm2: float, mass_mg: float, beats_per_hour: float
) -> tuple[tuple[str, Any, Spread | None, str], ...]:
    """Numbers and words of the table [hairspring] that such a balance usually has: dotted name, value, spread of 95 of
    100 such movements (None: not a number) and why. The strip's mass is that which has the stiffness at this length:
    EI = k L."""
    outer = float(f"{_OUTER * 10.0 * math.sqrt(inertia_mg_cm2 / mass_mg):.3g}")
    collet = float(f"{_COLLET * outer:.3g}")
    stiffness = inertia_mg_cm2 * MG_CM2 * (2.0 * math.pi * beats_per_hour / 7200.0) ** 2
    length = math.pi * _TURNS * (collet + outer) * MM
    thickness = (12.0 * stiffness * length / (_MODULUS * _HIGH)) ** 0.25
    mass = float(f"{_DENSITY * _HIGH * thickness**2 * length * 1e6:.3g}")

    def named(key: str, value: Any, reason: str, spread: Spread | None = None) -> Any:
        return f"hairspring.{key}", value, spread, reason

    turns, mg, pinned = (f"hairspring.{key}" for key in ("turns", "strip_mass_mg", "pinning_deg"))
    return (
        named("collet_radius_mm", collet, "a collet of about a quarter of the coil"),
        named("outer_radius_mm", outer, "a coil about half as wide as the balance"),
        named("turns", _TURNS, "whole or half turns are not known: a spread in rate, none in amplitude",
              Spread(turns, plus_minus=0.5, shape="uniform")),
        named("winds", "clockwise", "either way as seen from the dial; look"),
        named("pinning_deg", 0.0, "it may be pinned anywhere: a spread in rate, none in amplitude",
              Spread(pinned, plus_minus=180.0, shape="uniform")),
        named("strip_mass_mg", mass, "a strip four and a half times as high as thick, of the stiffness its beat needs",
              Spread(mg, percent=40.0)),
    )  # fmt: skip
