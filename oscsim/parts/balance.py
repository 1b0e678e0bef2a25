"""Balance, hairspring and balance pivots: equation (1) of docs/physics.md."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array, Number
from oscsim.errors import InputError
from oscsim.fields import check_quantities, quantity
from oscsim.units import DAY, G0, MG, MG_CM2, MM, UG_CM, UM

#: Temperature at which a design's numbers hold, °C (ISO 3159 takes its rates at 8, 23 and 38 °C).
REFERENCE_C = 23.0
#: The oil's part in the drag at speed when a design does not say (common practice without source).
OIL_SHARE = 0.15
_VISCOSITY_C = 38.5 / math.log(3.8)


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
        "deg", "–", "where the heavy point rests, clockwise from 12 o'clock", -360, 360, default=0.0
    )
    out_of_beat_deg: float = quantity(
        "deg", "ε", "escapement's line of centres from the dead point", -20, 20, default=0.0
    )
    cubic_stiffness: float = quantity(
        "1/rad²", "κ₃", "hairspring's departure from a linear torque", -0.005, 0.005, default=0.0
    )

    regulation_s_per_day: float = quantity(
        "s/day", "–", "by how much the hairspring alone is set fast of the beat", -2000, 2000, default=0.0
    )
    temperature_s_per_day_c: float = quantity(
        "s/day/°C", "–", "rate gained per °C above 23 °C by balance and hairspring", -30, 30, default=0.0
    )
    oil_share: float = quantity(
        "",
        "–",
        "share of the drag proportional to speed that is the oil's, at 23 °C",
        0,
        1,
        default=OIL_SHARE,
    )

    def __post_init__(self) -> None:
        check_quantities(self, "balance")


@dataclass(frozen=True, kw_only=True)
class IndexPins:
    """Index pins with play: the hairspring's last stretch works only while the coil leans on a pin.

    Contact angles are balance angles at which the coil meets a pin; without one there is no pin on that side.
    """

    stiffness_share: float = quantity("", "Δk/k", "stiffness lost while the coil is free of the pins", 0, 0.2)
    low_contact_deg: float | None = quantity(
        "deg", "θ_p - θ_g", "balance angle below which the coil leans on a pin", -360, 360, default=None
    )
    high_contact_deg: float | None = quantity(
        "deg", "θ_p + θ_g", "balance angle above which the coil leans on a pin", -360, 360, default=None
    )

    def __post_init__(self) -> None:
        check_quantities(self, "index_pins")
        if self.low_contact_deg is None and self.high_contact_deg is None:
            raise InputError(
                "index_pins.low_contact_deg, index_pins.high_contact_deg: at least one is needed"
            )
        if not self.low < self.high:
            raise InputError(
                f"index_pins.low_contact_deg = {self.low_contact_deg} deg: must be less than "
                f"index_pins.high_contact_deg = {self.high_contact_deg} deg"
            )

    @property
    def low(self) -> Number:
        """Lower contact angle, rad; minus infinity without a pin."""
        return -math.inf if self.low_contact_deg is None else np.radians(self.low_contact_deg)

    @property
    def high(self) -> Number:
        """Upper contact angle, rad; infinity without a pin."""
        return math.inf if self.high_contact_deg is None else np.radians(self.high_contact_deg)


def nominal_frequency(balance: Balance) -> Number:
    """2πf of the beat, rad/s; two beats make one period."""
    return 2.0 * math.pi * balance.beats_per_hour / 7200.0


def angular_frequency(balance: Balance, temperature_c: Number = REFERENCE_C) -> Number:
    """ω of balance and hairspring alone, rad/s: the beat's, as regulated and at this temperature."""
    warmer = balance.temperature_s_per_day_c * (temperature_c - REFERENCE_C)
    return nominal_frequency(balance) * (1.0 + (balance.regulation_s_per_day + warmer) / DAY)


def viscous_loss(balance: Balance, temperature_c: Number = REFERENCE_C) -> Number:
    """1/Q at this temperature: the oil's share follows its viscosity.

    The viscosity falls by a factor e per ``_VISCOSITY_C``: flow times of watch oils between 4.5 and 43 °C fall by 3.2
    to 4.6 (W. T. Lewis, Friction, Lubrication and the Lubricants in Horology, 1896, Table XI); 3.8 is taken.
    """
    thinner = np.exp(-(temperature_c - REFERENCE_C) / _VISCOSITY_C)
    return (1.0 + balance.oil_share * (thinner - 1.0)) / balance.viscous_q


def inertia(balance: Balance) -> Number:
    """I, kg·m²."""
    return balance.inertia_mg_cm2 * MG_CM2


def stiffness(balance: Balance, temperature_c: Number = REFERENCE_C) -> Number:
    """k = I ω², N·m/rad."""
    return inertia(balance) * angular_frequency(balance, temperature_c) ** 2


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
