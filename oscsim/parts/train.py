"""The going train and its jewels: equation (4) of docs/physics.md."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace

import numpy as np

from oscsim.arrays import Number
from oscsim.errors import InputError, shown
from oscsim.fields import check_quantities, quantities, quantity, words
from oscsim.parts.teeth import Mesh, mean_efficiency, meshes_from, product


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


#: How far ``ratio`` may be from what the teeth give, and a wheel's radius from what follows from them.
_AGREE = 0.005


@dataclass(frozen=True, kw_only=True)
class Train:
    """Going train from barrel to escape wheel (docs/physics.md §3).

    By its teeth, or by its ratio alone. wheel_teeth and pinion_leaves go from the barrel on; ``layout`` names the
    arbors of a train that is not barrel, centre, third, fourth, escape. With teeth, ``ratio`` and ``meshes`` follow
    from them, whatever was given within what may differ, and so do the wheels' radii.
    """

    ratio: float = quantity(
        "", "ratio", "turns of the escape wheel per turn of the barrel", 100, 50000, default=None
    )
    wheel_teeth: tuple[int, ...] | None = words(
        "z₁, teeth of each wheel from the barrel on", "a list of whole numbers from 20 to 400", None
    )
    pinion_leaves: tuple[int, ...] | None = words(
        "z₂, leaves of each pinion from the centre on", "a list of whole numbers from 5 to 60", None
    )
    layout: tuple[str, ...] | None = words(
        "the arbors in order, where they are not the usual ones", "a list of names, small letters", None
    )
    jewels: int | JewelledHoles = quantity(
        "", "jewels", "jewel count, or a table of jewelled holes", 0, 40, whole=True
    )
    meshes: int = quantity("", "meshes", "pairs of wheel and pinion", 1, 8, whole=True, default=None)
    mesh_efficiency: float | None = quantity("", "η_mesh", "what each mesh passes on", 0.5, 1, default=None)
    mesh_friction: float | None = quantity(
        "", "μ", "friction coefficient of tooth on leaf", 0, 0.4, default=None
    )
    jewel_friction: float = quantity("", "μ", "friction coefficient in a jewelled hole", 0, 0.6)
    brass_friction: float = quantity("", "μ", "friction coefficient in a brass hole", 0, 0.6)
    arbors: Arbors = field(default_factory=Arbors)

    def __post_init__(self) -> None:
        if isinstance(self.jewels, JewelledHoles):
            check_quantities(self.jewels, "train.jewels")
        elif isinstance(self.jewels, dict):
            raise InputError(f"train.jewels = {shown(self.jewels)}: must be a count or JewelledHoles(...)")
        for f, info in quantities(self):
            if f.name != "jewels" or not isinstance(self.jewels, JewelledHoles):
                info.check(f"train.{f.name}", getattr(self, f.name))
        for f in fields(Arbors):
            check_quantities(getattr(self.arbors, f.name), f"train.arbors.{f.name}")
        self._take_teeth()
        if (self.mesh_efficiency is None) == (self.mesh_friction is None):
            raise InputError("train.mesh_efficiency, train.mesh_friction: exactly one is needed")
        if self.mesh_friction is not None and not self.wheel_teeth:
            raise InputError(
                f"train.mesh_friction = {shown(self.mesh_friction)}: needs wheel_teeth and pinion_leaves"
            )

    def _take_teeth(self) -> None:
        """Let ratio and number of meshes follow from the teeth, or see that they are given."""
        if self.wheel_teeth is None and self.pinion_leaves is None and self.layout is None:
            for name in ("ratio", "meshes"):
                if getattr(self, name) is None:
                    info = type(self).__dataclass_fields__[name].metadata["quantity"]
                    raise InputError(
                        f"train.{name}: missing; {info.meaning}, {info.allowed}, or give wheel_teeth and pinion_leaves"
                    )
            return
        for name in ("wheel_teeth", "pinion_leaves"):
            if getattr(self, name) is None:
                raise InputError(f"train.{name}: missing; wheel_teeth and pinion_leaves go together")
        meshes = meshes_from(self.wheel_teeth, self.pinion_leaves, self.layout)
        ratio = product(meshes)
        counts = " · ".join(f"{mesh.teeth}/{mesh.leaves}" for mesh in meshes)
        type(self).__dataclass_fields__["ratio"].metadata["quantity"].check(f"{counts}: train.ratio", ratio)
        if self.ratio is not None and abs(self.ratio / ratio - 1.0) > _AGREE:
            raise InputError(
                f"train.ratio = {shown(self.ratio)}: the teeth give {counts} = {ratio:.6g}, must agree to 0.5 %, or be "
                "left out"
            )
        if self.meshes is not None and self.meshes != len(meshes):
            raise InputError(
                f"train.meshes = {shown(self.meshes)}: wheel_teeth has {len(meshes)}, must be that or be left out"
            )
        own = {"wheel_teeth": tuple(mesh.teeth for mesh in meshes), "ratio": ratio, "meshes": len(meshes),
               "pinion_leaves": tuple(mesh.leaves for mesh in meshes)}  # fmt: skip
        if self.layout is not None:
            own["layout"] = tuple(self.layout)
        for name, value in own.items():
            object.__setattr__(self, name, value)
        self._check_wheels(meshes)

    def _check_wheels(self, meshes: tuple[Mesh, ...]) -> None:
        """Refuse a radius of a wheel that is neither the standard one nor what follows from its teeth."""
        follows, standard, kept = radii(self), Arbors(), dict[str, Arbor]()
        for mesh in meshes:
            if mesh.wheel not in follows or mesh.pinion not in follows:
                continue
            arbor: Arbor = getattr(self.arbors, mesh.wheel)
            usual: float | None = getattr(standard, mesh.wheel).wheel_radius_mm
            given, own = arbor.wheel_radius_mm, follows[mesh.wheel].wheel_radius_mm
            if given is None or own is None or given == usual:
                continue
            kept[mesh.wheel] = replace(arbor, wheel_radius_mm=usual)
            if abs(given / own - 1.0) > _AGREE:
                raise InputError(
                    f"train.arbors.{mesh.wheel}.wheel_radius_mm = {given:g} mm: with {mesh.teeth} teeth and the pinion "
                    f"of {mesh.leaves} it drives it is {own:.4g} mm; leave it out, or change the pinion's"
                )
        if kept:  # what follows need not be kept
            object.__setattr__(self, "arbors", replace(self.arbors, **kept))


#: In which order a jewel count reaches the holes, after the seven of balance, roller and stones.
_ORDER = ("escape", "pallet", "fourth", "third", "centre", "barrel")
_BALANCE_JEWELS = 7


def jewelled_holes(train: Train, arbor: str) -> Number:
    """How many of an arbor's two holes are jewelled, by name or by count."""
    if isinstance(train.jewels, JewelledHoles):
        return np.asarray(getattr(train.jewels, arbor), float)
    further = np.asarray(train.jewels, float) - _BALANCE_JEWELS - 2 * _ORDER.index(arbor)
    return np.asarray(np.clip(further, 0.0, 2.0))


def meshes(train: Train) -> tuple[Mesh, ...]:
    """The meshes from the barrel on; none where a design does not count its teeth."""
    if train.wheel_teeth is None:
        return ()
    return meshes_from(train.wheel_teeth, train.pinion_leaves, train.layout)


def radii(train: Train) -> dict[str, Arbor]:
    """The arbors that rub in the train, by name, as they are: with teeth counted, a wheel is as much larger than the
    pinion it drives as it has more teeth. Arbors of an unusual layout that have no radii are taken to run freely."""
    found: dict[str, Arbor] = {f.name: getattr(train.arbors, f.name) for f in fields(Arbors)}
    counted = meshes(train)
    for mesh in counted:
        wheel, pinion = found.get(mesh.wheel), found.get(mesh.pinion)
        if wheel is not None and pinion is not None and pinion.pinion_radius_mm is not None:
            found[mesh.wheel] = replace(wheel, wheel_radius_mm=pinion.pinion_radius_mm * mesh.ratio)
    there = {name for mesh in counted for name in (mesh.wheel, mesh.pinion)}
    return {name: arbor for name, arbor in found.items() if not there or name in there}


def through_meshes(train: Train) -> Number:
    """What all meshes together pass on: (R2) tooth by tooth on the mean, or each as the design has it."""
    if train.mesh_friction is not None:
        left: Number = 1.0
        for mesh in meshes(train):
            left = left * mean_efficiency(mesh, np.asarray(train.mesh_friction, float))
        return np.asarray(left)
    return np.asarray(np.asarray(train.mesh_efficiency, float) ** train.meshes)


def efficiency(train: Train) -> Number:
    """η: what meshes and pivots leave of the barrel's torque, apart from the ratio; between 0 and 1.

    A hole whose friction would take more than there is passes on nothing.
    """
    left = through_meshes(train)
    for name, arbor in radii(train).items():
        leverage: Number = 0.0
        for radius in (arbor.pinion_radius_mm, arbor.wheel_radius_mm):
            if radius is not None:
                leverage = leverage + arbor.pivot_radius_mm / radius
        jewelled = jewelled_holes(train, name)
        left = left * np.maximum(1.0 - 0.5 * train.jewel_friction * leverage, 0.0) ** jewelled
        left = left * np.maximum(1.0 - 0.5 * train.brass_friction * leverage, 0.0) ** (2.0 - jewelled)
    return left


def escape_torque(train: Train, barrel_torque: Number) -> Number:
    """M_e, N·m, from the barrel's torque in N·m."""
    return barrel_torque * efficiency(train) / train.ratio
