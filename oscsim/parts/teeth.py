"""Wheels and pinions by their teeth: what turns how often, and what a mesh passes on tooth by tooth.

(R2) of docs/physics.md §3: a cycloidal wheel drives a pinion of radial leaves. Past the line of centres the leaf slides
out under friction; before it the wheel pushes it in, which costs more.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from oscsim.arrays import Number
from oscsim.errors import InputError, shown
from oscsim.fields import Quantity

#: The arbors of a usual going train of four meshes, in order.
USUAL_LAYOUT = ("barrel", "centre", "third", "fourth", "escape")
WHEEL_TEETH = Quantity("", "z₁", "teeth of a wheel", 20, 400, whole=True)
PINION_LEAVES = Quantity("", "z₂", "leaves of a pinion", 5, 60, whole=True)
MOST_MESHES = 8
#: A pinion of so many leaves takes a leaf on the line of centres; one of fewer, so far before it, rad of the pinion
#: (common practice without source; drawings of low-numbered pinions show 10 to 20 deg).
_ENOUGH_LEAVES, _BEFORE = 10, math.radians(15.0)
_LONGEST_NAME = 20


class Mesh(NamedTuple):
    """A wheel on one arbor that drives a pinion on the next."""

    wheel: str
    pinion: str
    teeth: int
    leaves: int

    @property
    def name(self) -> str:
        """Both arbors, the driving one first: 'third-fourth'."""
        return f"{self.wheel}-{self.pinion}"

    @property
    def ratio(self) -> float:
        """Turns of the pinion per turn of the wheel."""
        return self.teeth / self.leaves


def meshes_from(wheel_teeth: Any, pinion_leaves: Any, layout: Any) -> tuple[Mesh, ...]:
    """The meshes of a train, checked; ``layout``: the arbors in order, None the usual ones. Raises InputError."""
    teeth = _counts("train.wheel_teeth", wheel_teeth, WHEEL_TEETH)
    leaves = _counts("train.pinion_leaves", pinion_leaves, PINION_LEAVES)
    if len(teeth) != len(leaves):
        raise InputError(
            f"train.pinion_leaves = {shown(list(leaves))}: {len(leaves)} pinions for {len(teeth)} wheels of "
            "train.wheel_teeth, must be as many"
        )
    arbors = USUAL_LAYOUT if layout is None else _arbors(layout)
    if len(arbors) != len(teeth) + 1:
        given = "the usual train" if layout is None else "train.layout"
        raise InputError(
            f"train.wheel_teeth = {shown(list(teeth))}: {len(teeth)} wheels, but {given} has {len(arbors) - 1} "
            '(of another train name the arbors in order: layout = ["barrel", "centre", …, "escape"])'
        )
    return tuple(Mesh(*mesh) for mesh in zip(arbors, arbors[1:], teeth, leaves, strict=False))


def _counts(name: str, given: Any, info: Quantity) -> tuple[int, ...]:
    if not isinstance(given, list | tuple) or not 1 <= len(given) <= MOST_MESHES:
        raise InputError(
            f"{name} = {shown(given)}: must be a list of 1 to {MOST_MESHES} whole numbers from {info.low:g} to "
            f"{info.high:g}, from the barrel on"
        )
    for number, count in enumerate(given, start=1):
        info.check(f"{name}[{number}]", count)
    return tuple(int(count) for count in given)


def _arbors(layout: Any) -> tuple[str, ...]:
    if not isinstance(layout, list | tuple) or not all(isinstance(name, str) for name in layout):
        raise InputError(f"train.layout = {shown(layout)}: must be a list of names of arbors in quotes")
    for name in layout:
        if not (name.isalpha() and name.islower() and len(name) <= _LONGEST_NAME):
            raise InputError(
                f"train.layout: {shown(name)}: the name of an arbor is one word of at most {_LONGEST_NAME} "
                "small letters"
            )
    ends = [*layout[:1], *layout[-1:]]
    if ends != ["barrel", "escape"] or len(set(layout)) < len(layout):
        raise InputError(
            f"train.layout = {shown(list(layout))}: must begin with 'barrel', end with 'escape' and name no arbor twice"
        )
    return tuple(layout)


def product(meshes: tuple[Mesh, ...]) -> float:
    """Turns of the last pinion per turn of the first wheel."""
    return math.prod(mesh.teeth for mesh in meshes) / math.prod(mesh.leaves for mesh in meshes)


def begins(mesh: Mesh) -> float:
    """The pinion's angle from the line of centres, rad, where a leaf is taken: nought, or less before the line."""
    return 0.0 if mesh.leaves >= _ENOUGH_LEAVES else -_BEFORE


def passes(mesh: Mesh, friction: Number, angle: Number) -> Number:
    """η of (R2) at the pinion's ``angle`` from the line of centres, rad, less than 0 before it."""
    angle = np.asarray(angle, float)
    after = 1.0 / (1.0 + friction * (1.0 + 1.0 / mesh.ratio) * np.tan(np.maximum(angle, 0.0)))
    return after - friction * (1.0 + mesh.ratio) * np.tan(np.maximum(-angle, 0.0) / mesh.ratio)


def mean_efficiency(mesh: Mesh, friction: Number) -> Number:
    """Mean of (R2) over one leaf, in closed form; ``friction`` a number or an array."""
    first = -begins(mesh)
    last = 2.0 * math.pi / mesh.leaves - first
    a = friction * (1.0 + 1.0 / mesh.ratio)
    after = (last + a * np.log(math.cos(last) + a * math.sin(last))) / (1.0 + a * a)
    # the mean of tan(β/q) from 0 to β₁ is -(q/β₁) ln cos(β₁/q)
    slide = friction * (1.0 + mesh.ratio)
    before = first + slide * mesh.ratio * math.log(math.cos(first / mesh.ratio))
    return np.asarray((after + before) * mesh.leaves / (2.0 * math.pi))


def peak_to_peak(mesh: Mesh, friction: float) -> float:
    """Greatest less least of (R2) over one leaf, as a share of its mean."""
    ends = np.array([begins(mesh), begins(mesh) + 2.0 * math.pi / mesh.leaves])
    return float((1.0 - np.min(passes(mesh, friction, ends))) / mean_efficiency(mesh, friction))


def tooth_ripple(mesh: Mesh, friction: float, turned: Number) -> Number:
    """What a mesh passes on over its mean, after ``turned`` leaves of its pinion, any number."""
    angle = begins(mesh) + 2.0 * math.pi / mesh.leaves * np.mod(turned, 1.0)
    return np.asarray(passes(mesh, friction, angle) / mean_efficiency(mesh, friction))


def fundamental(mesh: Mesh, friction: float) -> float:
    """Half of peak to peak of the ripple's first harmonic, as a share of the mean."""
    count = 256
    waves = np.fft.rfft(tooth_ripple(mesh, friction, (np.arange(count) + 0.5) / count))
    return float(2.0 * abs(waves[1]) / count)


def friction_of(mesh: Mesh, efficiency: float) -> float:
    """The friction at which the mean of (R2) is ``efficiency``: the mean falls as friction grows."""
    low, high = 0.0, 1.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if mean_efficiency(mesh, middle) > efficiency else (low, middle)
    return 0.5 * (low + high)
