"""The going train and its jewels: equation (4) of docs/physics.md."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace

import numpy as np

from oscsim.arrays import Number
from oscsim.errors import InputError, shown
from oscsim.fields import check_quantities, quantity


@dataclass(frozen=True, kw_only=True)
class Arbor:
    """Radii at one arbor of the train; without a pinion or wheel that term of (4) is zero."""

    pivot_radius_mm: float = quantity("mm", "r_pivot", "pivot radius", 0.005, 5)
    pinion_radius_mm: float | None = quantity("mm", "r_pinion", "pinion radius", 0.05, 50, default=None)
    wheel_radius_mm: float | None = quantity("mm", "r_wheel", "wheel radius", 0.05, 50, default=None)


@dataclass(frozen=True, kw_only=True)
class Arbors:
    """The five arbors of the going train, from barrel to escape wheel."""

    barrel: Arbor = Arbor(pivot_radius_mm=0.60, wheel_radius_mm=5.3)
    centre: Arbor = Arbor(pivot_radius_mm=0.35, pinion_radius_mm=1.0, wheel_radius_mm=3.9)
    third: Arbor = Arbor(pivot_radius_mm=0.14, pinion_radius_mm=0.50, wheel_radius_mm=2.9)
    fourth: Arbor = Arbor(pivot_radius_mm=0.11, pinion_radius_mm=0.45, wheel_radius_mm=2.6)
    escape: Arbor = Arbor(pivot_radius_mm=0.09, pinion_radius_mm=0.40)


@dataclass(frozen=True, kw_only=True)
class JewelledHoles:
    """Jewelled holes of each arbor, named instead of counted; the others run in brass."""

    barrel: int = quantity("", "jewels", "jewelled holes of the barrel arbor", 0, 2, default=0, whole=True)
    centre: int = quantity("", "jewels", "jewelled holes of the centre arbor", 0, 2, default=0, whole=True)
    third: int = quantity("", "jewels", "jewelled holes of the third arbor", 0, 2, default=0, whole=True)
    fourth: int = quantity("", "jewels", "jewelled holes of the fourth arbor", 0, 2, default=0, whole=True)
    escape: int = quantity("", "jewels", "jewelled holes of the escape arbor", 0, 2, default=0, whole=True)
    pallet: int = quantity(
        "", "jewels", "jewelled holes of the pallet arbor (no train loss)", 0, 2, default=0, whole=True
    )


@dataclass(frozen=True, kw_only=True)
class Train:
    """Going train from barrel to escape wheel (docs/physics.md §3)."""

    ratio: float = quantity("", "ratio", "turns of the escape wheel per turn of the barrel", 100, 50000)
    jewels: int | JewelledHoles = quantity(
        "", "jewels", "jewel count, or a table of jewelled holes", 0, 40, whole=True
    )
    meshes: int = quantity("", "meshes", "pairs of wheel and pinion", 1, 8, whole=True)
    mesh_efficiency: float = quantity("", "η_mesh", "what each mesh passes on", 0.5, 1)
    jewel_friction: float = quantity("", "μ", "friction coefficient in a jewelled hole", 0, 0.6)
    brass_friction: float = quantity("", "μ", "friction coefficient in a brass hole", 0, 0.6)
    arbors: Arbors = field(default_factory=Arbors)

    def __post_init__(self) -> None:
        counted = self
        if isinstance(self.jewels, JewelledHoles):
            check_quantities(self.jewels, "train.jewels")
            counted = replace(self, jewels=0)
        elif isinstance(self.jewels, dict):
            raise InputError(f"train.jewels = {shown(self.jewels)}: must be a count or JewelledHoles(...)")
        if counted is self:
            check_quantities(self, "train")
        for f in fields(Arbors):
            check_quantities(getattr(self.arbors, f.name), f"train.arbors.{f.name}")


#: In which order a jewel count reaches the holes, after the seven of balance, roller and stones.
_ORDER = ("escape", "pallet", "fourth", "third", "centre", "barrel")
_BALANCE_JEWELS = 7


def jewelled_holes(train: Train, arbor: str) -> Number:
    """How many of an arbor's two holes are jewelled, by name or by count."""
    if isinstance(train.jewels, JewelledHoles):
        return np.asarray(getattr(train.jewels, arbor), float)
    further = np.asarray(train.jewels, float) - _BALANCE_JEWELS - 2 * _ORDER.index(arbor)
    return np.asarray(np.clip(further, 0.0, 2.0))


def efficiency(train: Train) -> Number:
    """η: what meshes and pivots leave of the barrel's torque, apart from the ratio; between 0 and 1.

    A hole whose friction would take more than there is passes on nothing.
    """
    left: Number = np.asarray(train.mesh_efficiency, float) ** train.meshes
    for f in fields(Arbors):
        arbor: Arbor = getattr(train.arbors, f.name)
        leverage: Number = 0.0
        for radius in (arbor.pinion_radius_mm, arbor.wheel_radius_mm):
            if radius is not None:
                leverage = leverage + arbor.pivot_radius_mm / radius
        jewelled = jewelled_holes(train, f.name)
        left = left * np.maximum(1.0 - 0.5 * train.jewel_friction * leverage, 0.0) ** jewelled
        left = left * np.maximum(1.0 - 0.5 * train.brass_friction * leverage, 0.0) ** (2.0 - jewelled)
    return left


def escape_torque(train: Train, barrel_torque: Number) -> Number:
    """M_e, N·m, from the barrel's torque in N·m."""
    return barrel_torque * efficiency(train) / train.ratio
