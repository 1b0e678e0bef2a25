"""How closely a bench measures a number or a fact; how it is learnt at all stands in numbers.py."""

from __future__ import annotations

#: Relative standard deviation of what a bench measures, by the end of its name (common practice without source); what
#: has none is counted or looked up.
_ERRORS = {
    "balance_diameter_mm": 0.03,
    "movement_diameter_mm": 0.02,
    "mass_mg": 0.02,
    "inertia_mg_cm2": 0.05,
    "height_mm": 0.01,
    "thickness_mm": 0.015,
    "length_mm": 0.02,
    "inner_diameter_mm": 0.01,
    "arbor_diameter_mm": 0.015,
    "reserve_hours": 0.03,
}


def measuring_error(name: str) -> float:
    """Relative standard deviation with which a bench measures the number or fact of that name; 0 for a count."""
    return _ERRORS.get(name.rsplit(".", 1)[-1], 0.0)
