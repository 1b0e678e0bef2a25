"""Balance, hairspring and balance pivots: equation (1) of docs/physics.md."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array, Number
from oscsim.fields import check_quantities, quantity
from oscsim.units import G0, MG, MG_CM2, MM, UG_CM, UM


@dataclass(frozen=True, kw_only=True)
class Balance:
    """Balance, hairspring and balance pivots (docs/physics.md §1)."""

    beats_per_hour: float = quantity("beats/h", "7200 f", "beats of the free balance per hour", 3600, 72000)
    inertia_mg_cm2: float = quantity("mg·cm²", "I", "moment of inertia of the balance", 0.01, 5000)
    mass_mg: float = quantity("mg", "W/g₀", "mass of balance, staff, roller and collet", 0.1, 10000)
    pivot_radius_mm: float = quantity("mm", "r_pivot", "radius of the balance pivots", 0.005, 0.5)
    pivot_friction: float = quantity("", "μ", "friction coefficient at the balance pivots", 0, 1)
    end_friction_radius_um: float = quantity(
        "µm", "r_end", "effective friction radius of the pivot's end, dial up or down", 0, 500
    )
    viscous_q: float = quantity("", "Q", "quality factor of all that is proportional to speed", 5, 10000)
    quadratic_drag: float = quantity("1/rad", "c/I", "air drag proportional to speed squared", 0, 0.05)
    unbalance_ug_cm: float = quantity(
        "µg·cm", "G", "want of poise: mass times distance", 0, 5000, default=0.0
    )
    heavy_point_deg: float = quantity(
        "deg", "φ", "where the heavy point rests, clockwise from 12 o'clock", -360, 360, default=0.0
    )
    out_of_beat_deg: float = quantity(
        "deg", "ε", "lever's line of centres from the dead point", -20, 20, default=0.0
    )
    cubic_stiffness: float = quantity(
        "1/rad²", "κ₃", "hairspring's departure from a linear torque", -0.005, 0.005, default=0.0
    )

    def __post_init__(self) -> None:
        check_quantities(self, "balance")


def angular_frequency(balance: Balance) -> Number:
    """ω = 2πf of the free balance, rad/s; two beats make one period."""
    return 2.0 * math.pi * balance.beats_per_hour / 7200.0


def inertia(balance: Balance) -> Number:
    """I, kg·m²."""
    return balance.inertia_mg_cm2 * MG_CM2


def stiffness(balance: Balance) -> Number:
    """k = I ω², N·m/rad."""
    return inertia(balance) * angular_frequency(balance) ** 2


def pivot_torque(balance: Balance, tilt: Array) -> Array:
    """Dry friction M_c at the balance pivots, N·m; ``tilt`` of the dial from horizontal, rad, any shape."""
    end = balance.end_friction_radius_um * UM * np.abs(np.cos(tilt))
    side = balance.pivot_radius_mm * MM * np.sin(tilt)
    return np.asarray(balance.pivot_friction * balance.mass_mg * MG * G0 * (end + side))


def poise_torque(balance: Balance, tilt: Array) -> Array:
    """Greatest torque G of the heavy point, N·m; ``tilt`` as in ``pivot_torque``."""
    return np.asarray(balance.unbalance_ug_cm * UG_CM * G0 * np.sin(tilt))


def heavy_point_from_below(balance: Balance, hour_up: Array) -> Array:
    """φ, rad: the heavy point at rest, clockwise from straight down; ``hour_up`` η in rad.

    Where no hour is up (NaN: dial up or down, then tilted) the tilt is the one that leaves the heavy point
    lowest, φ = 0.
    """
    below = np.radians(balance.heavy_point_deg) - hour_up - math.pi
    return np.asarray(np.where(np.isnan(hour_up), 0.0, below))
