"""Movements of this world: five kinds, other than the tool's families, with proportions and spreads of their own.

A maker chooses the strip so that his movement shows the amplitude he wants. All figures are invented for these tests.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from oscsim.answers.points import settled_points
from oscsim.condition import AsItIs
from oscsim.movement import movement_from
from oscsim.operating import Moments, points_of, turns_left
from oscsim.parts.mainspring import barrel_torque, turns_of_development
from oscsim.stack import put_unchecked, varied
from oscsim.tables import put, value_at

QUARTER = math.pi / 2


@dataclass(frozen=True, kw_only=True)
class Kind:
    """beats; balance diameter mm, mass mg; Q; lock, run, drop, draw, lift deg; teeth, embraced, jewels; barrel over
    balance; elastic limit MPa; ratio; self-winding; wanted amplitude ± one standard deviation; the tool's nearest
    family, which its user would name."""

    beats: int
    diameter: float
    mass: float
    q: float
    lock: float
    run: float
    drop: float
    draw: float
    lift: float
    teeth: int
    embraced: float
    jewels: int
    barrel: float
    limit: float
    ratio: float
    winds_itself: bool
    wanted: float
    apart: float
    family: str


KINDS = {
    "skiff": Kind(
        beats=19800,
        diameter=7.6,
        mass=27,
        q=235,
        lock=2.1,
        run=0.35,
        drop=2.0,
        draw=12.5,
        lift=49,
        teeth=15,
        embraced=2.5,
        jewels=17,
        barrel=0.86,
        limit=2700,
        ratio=3560,
        winds_itself=False,
        wanted=272,
        apart=12,
        family="small",
    ),
    "smack": Kind(
        beats=18000,
        diameter=9.6,
        mass=62,
        q=255,
        lock=1.8,
        run=0.3,
        drop=1.8,
        draw=12,
        lift=51,
        teeth=15,
        embraced=2.5,
        jewels=15,
        barrel=1.0,
        limit=2600,
        ratio=3500,
        winds_itself=False,
        wanted=276,
        apart=14,
        family="plain",
    ),
    "ketch": Kind(
        beats=28800,
        diameter=9.4,
        mass=42,
        q=340,
        lock=1.6,
        run=0.3,
        drop=1.3,
        draw=12.5,
        lift=50,
        teeth=20,
        embraced=3.5,
        jewels=25,
        barrel=1.12,
        limit=3000,
        ratio=4150,
        winds_itself=True,
        wanted=292,
        apart=10,
        family="fast",
    ),
    "barge": Kind(
        beats=18000,
        diameter=17.2,
        mass=430,
        q=330,
        lock=1.5,
        run=0.25,
        drop=1.6,
        draw=11.5,
        lift=50,
        teeth=15,
        embraced=2.5,
        jewels=15,
        barrel=1.02,
        limit=2050,
        ratio=3300,
        winds_itself=False,
        wanted=278,
        apart=15,
        family="pocket",
    ),
    "tender": Kind(
        beats=21600,
        diameter=10.8,
        mass=84,
        q=260,
        lock=2.5,
        run=0.4,
        drop=1.9,
        draw=13,
        lift=52,
        teeth=15,
        embraced=2.5,
        jewels=17,
        barrel=0.94,
        limit=2850,
        ratio=3960,
        winds_itself=True,
        wanted=254,
        apart=11,
        family="sturdy",
    ),
}

#: Designs of a kind: relative standard deviation of a number, or absolute where marked (log-normal, or uniform of the
#: same width for angles).
DESIGN = {
    "balance.viscous_q": 0.16, "balance.pivot_friction": 0.13, "balance.end_friction_radius_um": 0.3,
    "balance.pivot_radius_mm": 0.06, "balance.mass_mg": 0.12, "balance.quadratic_drag": 0.2,
    "escapement.pallet_friction": 0.1, "escapement.fork_efficiency": 0.015, "escapement.lever_inertia_mg_cm2": 0.25,
    "escapement.wheel_inertia_mg_cm2": 0.25, "train.jewel_friction": 0.12, "train.brass_friction": 0.1,
    "train.mesh_efficiency": 0.006, "mainspring.coil_efficiency": 0.025, "mainspring.elastic_limit_mpa": 0.06,
    "mainspring.tail_turns": 0.25, "train.ratio": 0.05,
}  # fmt: skip
ANGLES = {
    "escapement.lock_deg": 0.3, "escapement.run_deg": 0.06, "escapement.pallet_lift_deg": 0.25,
    "escapement.drop_deg": 0.12, "escapement.draw_deg": 0.7, "escapement.notch_shake_deg": 0.06,
}  # fmt: skip
#: Sound examples of one design, the same way; times the width of the world.
EXAMPLE = {
    "balance.inertia_mg_cm2": 0.008, "balance.viscous_q": 0.055, "balance.pivot_friction": 0.09,
    "balance.end_friction_radius_um": 0.13, "balance.pivot_radius_mm": 0.01, "escapement.pallet_friction": 0.07,
    "train.mesh_efficiency": 0.0035, "train.jewel_friction": 0.08, "train.brass_friction": 0.07,
    "mainspring.thickness_mm": 0.004, "mainspring.height_mm": 0.004, "mainspring.coil_efficiency": 0.011,
    "mainspring.elastic_limit_mpa": 0.014,
}  # fmt: skip
EXAMPLE_ANGLES = {
    "escapement.lock_deg": 0.14, "escapement.run_deg": 0.05, "escapement.drop_deg": 0.09, "escapement.draw_deg": 0.45,
    "escapement.notch_shake_deg": 0.045,
}  # fmt: skip


def middling(kind, rng):
    """Numbers of one design of a kind, by dotted name, with the strip's height still to be chosen."""
    d = kind.diameter * math.exp(0.06 * rng.standard_normal())
    arm = rng.uniform(0.80, 0.88) * d / 20.0
    mass = kind.mass * (d / kind.diameter) ** 2.6
    barrel = kind.barrel * d * math.exp(0.04 * rng.standard_normal())
    arbor = barrel * rng.uniform(0.28, 0.34)
    thick = arbor / 2.0 / rng.uniform(11.5, 14.0)
    length = rng.uniform(0.50, 0.56) * math.pi / 4.0 * (barrel**2 - arbor**2) / thick
    found = {
        "balance.beats_per_hour": kind.beats,
        "balance.mass_mg": mass,
        "balance.pivot_radius_mm": 0.042 * (mass / 50) ** 0.22,
        "balance.pivot_friction": 0.095,
        "balance.end_friction_radius_um": 9.0 * (mass / 50) ** 0.2,
        "balance.viscous_q": kind.q,
        "balance.quadratic_drag": 0.0003,
        "escapement.teeth": kind.teeth,
        "escapement.teeth_embraced": kind.embraced,
        "escapement.lift_angle_deg": kind.lift + rng.normal(0.0, 0.8),
        "escapement.lock_deg": kind.lock,
        "escapement.run_deg": kind.run,
        "escapement.pallet_lift_deg": 8.4,
        "escapement.drop_deg": kind.drop,
        "escapement.draw_deg": kind.draw,
        "escapement.pallet_friction": 0.145,
        "escapement.fork_efficiency": 0.935,
        "escapement.notch_shake_deg": 0.32,
        "train.ratio": kind.ratio,
        "train.jewels": kind.jewels,
        "train.meshes": 4,
        "train.mesh_efficiency": 0.969,
        "train.jewel_friction": 0.125,
        "train.brass_friction": 0.175,
        "mainspring.height_mm": 0.13 * barrel,
        "mainspring.thickness_mm": thick,
        "mainspring.length_mm": length,
        "mainspring.modulus_gpa": 202.0,
        "mainspring.elastic_limit_mpa": kind.limit,
        "mainspring.free_curvature_per_m": -30.0 if kind.limit > 2500 else 0.0,
        "mainspring.coil_efficiency": 0.87,
        "mainspring.tail_turns": 0.6,
        "barrel.inner_diameter_mm": barrel,
        "barrel.arbor_diameter_mm": arbor,
    }
    found |= {k: found[k] * math.exp(sd * rng.standard_normal()) for k, sd in DESIGN.items() if k in found}
    found |= {k: found[k] + sd * 1.7 * rng.uniform(-1.0, 1.0) for k, sd in ANGLES.items()}
    inertia = found["balance.mass_mg"] * arm**2
    found["balance.inertia_mg_cm2"] = inertia
    found["escapement.lever_inertia_mg_cm2"] = 0.0055 * inertia * math.exp(0.25 * rng.standard_normal())
    found["escapement.wheel_inertia_mg_cm2"] = 0.005 * inertia * math.exp(0.25 * rng.standard_normal())
    found["balance_diameter_mm"] = d
    return found


def amplitudes(stack, places=((0.0, 0.0),), hours=(0.0,), warmth=23.0, lift=None):
    """Settled points of a stack at places (tilt, hour up) and hours: (movements, places, hours)."""
    as_is = stack if isinstance(stack, AsItIs) else AsItIs(stack)
    tilt, up = np.array(places).T[:, :, None]
    at = Moments(tilt, up, turns_left(as_is, np.array(hours)), warmth)
    return settled_points(points_of(as_is, at), lift, thorough=False)


def design(kind, rng, name="design"):
    """One design of a kind as a movement, its balance's diameter, and the amplitude the maker wanted; None where no
    strip gives it."""
    numbers = middling(kind, rng)
    d = numbers.pop("balance_diameter_mm")
    tables = {"name": name}
    for key, value in numbers.items():
        put(tables, key, value)
    movement = movement_from(tables)
    wanted = kind.wanted + kind.apart * rng.standard_normal()
    low, high = math.log(0.2), math.log(4.0)
    slack = rng.uniform(0.3, 0.9)

    def with_height(factor):
        stack = varied(movement, {"mainspring.height_mm": numbers["mainspring.height_mm"] * factor})
        if not kind.winds_itself:
            return stack
        turns = turns_of_development(stack.mainspring, stack.barrel) - slack
        return put_unchecked(
            stack, "mainspring.slip_torque_n_mm", barrel_torque(stack.mainspring, stack.barrel, turns) * 1e3
        )

    for _ in range(4):
        steps = np.linspace(low, high, 12)
        shown = np.nan_to_num(amplitudes(with_height(np.exp(steps))).amplitude_deg[:, 0, 0])
        shown = np.maximum.accumulate(np.where(shown > 0, shown, np.where(np.arange(12) > 6, 400.0, 0.0)))
        if not shown[0] < wanted < shown[-1]:
            return None
        n = int(np.searchsorted(shown, wanted))
        low, high = steps[n - 1], steps[n]
    factor = math.exp(0.5 * (low + high))
    chosen = with_height(np.array([factor]))
    changes = {"mainspring.height_mm": float(np.ravel(chosen.mainspring.height_mm)[0])}
    if kind.winds_itself:
        changes["mainspring.slip_torque_n_mm"] = float(np.ravel(chosen.mainspring.slip_torque_n_mm)[0])
    movement = movement.with_(changes)
    sound = amplitudes(varied(movement, {}), ((0.0, 0.0), (QUARTER, 0.0)), (0.0, 24.0)).amplitude_deg[0]
    ok = np.isfinite(sound).all() and sound[1, 1] > 150.0 and sound[0, 0] < 315.0
    return (movement, d, wanted) if ok else None


def examples(movement, count, rng, width=1.0):
    """Sound examples of a design as a stack."""
    changes = {}
    for name, sd in EXAMPLE.items():
        changes[name] = value_at(movement, name) * np.exp(width * sd * rng.standard_normal(count))
    for name, sd in EXAMPLE_ANGLES.items():
        changes[name] = value_at(movement, name) + 1.7 * width * sd * rng.uniform(-1.0, 1.0, count)
    changes["train.mesh_efficiency"] = np.minimum(changes["train.mesh_efficiency"], 0.995)
    changes["escapement.run_deg"] = np.maximum(changes["escapement.run_deg"], 0.05)
    stack = varied(movement, changes)
    return put_unchecked(stack, "balance.cubic_stiffness", 6e-6 * rng.standard_normal((count, 1, 1)))
