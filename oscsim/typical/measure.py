"""How a bench learns a number of a design; docs/bench.md says more."""

from __future__ import annotations

#: Dotted name to how it is learnt; numbers that no bench can measure are left out.
HOW = {
    "balance.beats_per_hour": "count the beats",
    "balance.inertia_mg_cm2": "two small weights on the rim",
    "balance.mass_mg": "weigh it",
    "balance.pivot_radius_mm": "micrometer",
    "balance.viscous_q": "let it swing out, lever removed",
    "balance.quadratic_drag": "let it swing out, from a large swing",
    "escapement.teeth": "count the teeth",
    "escapement.teeth_embraced": "count under the loupe",
    "escapement.lift_angle_deg": "look it up",
    "escapement.lock_deg": "loupe or drawing",
    "escapement.run_deg": "loupe or drawing",
    "escapement.pallet_lift_deg": "drawing",
    "escapement.drop_deg": "loupe or drawing",
    "escapement.draw_deg": "drawing",
    "escapement.notch_shake_deg": "loupe or drawing",
    "train.ratio": "count the teeth",
    "train.jewels": "count the jewels",
    "train.meshes": "count them",
    "mainspring.height_mm": "micrometer",
    "mainspring.thickness_mm": "micrometer, in several places",
    "mainspring.length_mm": "unrolled, or the list it was bought from",
    "mainspring.elastic_limit_mpa": "torque at the barrel, wound",
    "mainspring.coil_efficiency": "torque at the barrel, up and down",
    "mainspring.tail_turns": "torque at the barrel, nearly down",
    "mainspring.slip_torque_n_mm": "torque at which the bridle slips",
    "barrel.inner_diameter_mm": "caliper",
    "barrel.arbor_diameter_mm": "caliper",
}
NO_WAY = "not at a bench"


def how_to(name: str) -> str:
    """How the number at a dotted name is learnt."""
    return HOW.get(name, NO_WAY)


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
