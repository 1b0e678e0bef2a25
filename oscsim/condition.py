"""The condition a movement is in, beside its design: worn, dry, dirty, badly poised, or as it should be.

A condition changes what the parts' equations are given and nothing else; the design stays as drawn.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from oscsim.arrays import Array
from oscsim.errors import InputError
from oscsim.fields import check_quantities, quantity
from oscsim.movement import Movement
from oscsim.oil import oil_factors, on_stones
from oscsim.parts.escapement import Escapement, fork_ratio
from oscsim.parts.mainspring import full_turns
from oscsim.parts.train import through_meshes
from oscsim.stack import put_unchecked
from oscsim.tables import value_at

#: A lock must remain, deg; the least that a design file may give.
LEAST_LOCK = 0.1


@dataclass(frozen=True)
class AsItIs:
    """A movement, or a stack of movements, whose numbers are those it has in its condition.

    Operating points are made of this alone, so that a condition is neither forgotten nor applied twice.
    """

    movement: Movement

    @cached_property
    def full_wind(self) -> Array:
        """Turns at full wind."""
        return full_turns(self.movement.mainspring, self.movement.barrel)


@dataclass(frozen=True, kw_only=True)
class Condition:
    """Departures from the design; the defaults are a movement in the design's own condition, freshly oiled.

    Factors multiply what the design has; oil_age_years raises every friction towards
    dry metal on stone or brass, and the drag with it (oil.py).
    """

    drive: float = quantity("", "–", "share of the torque that still passes the train", 0.05, 2, default=1.0)
    mainspring: float = quantity(
        "", "–", "share of its torque the mainspring still has", 0.05, 2, default=1.0
    )
    pivot_vertical: float = quantity(
        "", "–", "factor on the balance pivots' friction, vertical positions", 0, 20, default=1.0
    )
    pivot_flat: float = quantity(
        "", "–", "factor on the balance pivots' friction, dial up and down", 0, 20, default=1.0
    )
    drag: float = quantity(
        "", "–", "factor on the balance's drag by speed: oil and air", 0.05, 20, default=1.0
    )
    pallet_friction: float = quantity("", "–", "factor on the friction of tooth on stone", 0, 5, default=1.0)
    worn_brass: float = quantity("", "–", "factor on the friction in brass holes", 0, 5, default=1.0)
    lock_deg: float = quantity("deg", "–", "lock deeper than drawn, as a lever angle", -3, 5, default=0.0)
    unbalance_ug_cm: float | None = quantity(
        "µg·cm", "–", "want of poise in place of the design's", 0, 5000, default=None
    )
    heavy_point_deg: float | None = quantity(
        "deg", "–", "where the heavy point rests, clockwise from 12 o'clock", -360, 360, default=None
    )
    out_of_beat_deg: float | None = quantity(
        "deg", "–", "out of beat in place of the design's", -20, 20, default=None
    )
    regulation_s_per_day: float = quantity(
        "s/day", "–", "hairspring set faster than the design's", -2000, 2000, default=0.0
    )
    cubic_stiffness: float = quantity(
        "1/rad²", "–", "added to the hairspring's departure from linear", -0.005, 0.005, default=0.0
    )
    oil_age_years: float = quantity("years", "–", "time since the movement was oiled", 0, 100, default=0.0)

    def __post_init__(self) -> None:
        check_quantities(self, "condition")

    def applied_to(self, movement: Movement) -> AsItIs:
        """The movement (or stack of movements) as it is in this condition."""
        oil = oil_factors(movement, self.oil_age_years)
        meshes = np.asarray(movement.train.meshes, float)
        if movement.train.mesh_friction is not None and np.any(self.drive != 1.0):
            # what still passes is a share of what the meshes together let through
            each = through_meshes(movement.train) ** (1.0 / meshes)
            movement = put_unchecked(movement, "train.mesh_efficiency", each)
            movement = put_unchecked(movement, "train.mesh_friction", None)
        part = movement.escapement
        if not isinstance(part, Escapement) and np.any(self.lock_deg):
            raise InputError(
                f"condition.lock_deg = {np.min(self.lock_deg):g} deg: a {part.kind} has no lock of this kind, must be 0"
            )
        factors: dict[str, Any] = {
            "train.mesh_efficiency": self.drive ** (1.0 / meshes),
            "mainspring.coil_efficiency": self.mainspring,
            "balance.pivot_radius_mm": self.pivot_vertical,
            "balance.end_friction_radius_um": self.pivot_flat,
            "balance.viscous_q": 1.0 / self.drag,
            **dict.fromkeys(on_stones(part), self.pallet_friction),
            "train.brass_friction": self.worn_brass,
        }
        factors |= {name: factors.get(name, 1.0) * factor for name, factor in oil.items()}
        added = {
            "escapement.lock_deg": self.lock_deg,
            "balance.regulation_s_per_day": self.regulation_s_per_day,
            "balance.cubic_stiffness": self.cubic_stiffness,
        }
        instead = {
            "balance.unbalance_ug_cm": self.unbalance_ug_cm,
            "balance.heavy_point_deg": self.heavy_point_deg,
            "balance.out_of_beat_deg": self.out_of_beat_deg,
        }
        if np.any(self.lock_deg):
            lock = value_at(movement, "escapement.lock_deg") + self.lock_deg
            if np.any(lock < LEAST_LOCK):
                raise InputError(
                    f"condition.lock_deg = {np.min(self.lock_deg):g} deg: leaves a lock of {np.min(lock):.3g} deg, "
                    f"must leave at least {LEAST_LOCK:g} deg"
                )
            # the fork is what it is: a lift angle in the design must not follow the lock
            movement = put_unchecked(movement, "escapement.fork_ratio", fork_ratio(movement.escapement))
            movement = put_unchecked(movement, "escapement.lift_angle_deg", None)
        changes = {
            name: value_at(movement, name) * factor
            for name, factor in factors.items()
            if np.any(factor != 1.0)
        }
        changes |= {name: value_at(movement, name) + more for name, more in added.items() if np.any(more)}
        changes |= {name: value for name, value in instead.items() if value is not None}
        for name, value in changes.items():
            movement = put_unchecked(movement, name, value)
        return AsItIs(movement)


#: The design's own condition, freshly oiled.
AS_DESIGNED = Condition()
