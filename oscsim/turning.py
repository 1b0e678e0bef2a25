"""What turns in a movement, and how often: arbors, the teeth of each mesh, and the hands beside the train."""

from __future__ import annotations

from typing import NamedTuple

from oscsim.errors import InputError
from oscsim.movement import Movement
from oscsim.parts.teeth import Mesh, friction_of, fundamental
from oscsim.parts.train import meshes

#: Half of peak to peak of the torque, the most that is usual: of an arbor that is out of round (a turner does not see
#: less than 0.03 mm: M. Grossmann's prize essay, ch. VI), and of a mesh's teeth (common practice without source).
USUAL_ARBOR, USUAL_TEETH = 0.015, 0.06
#: Period of a hand, s: the second hand passes the minute hand once in 3600/59 s, the minute hand the hour hand once in
#: 12/11 h, and the calendar's finger comes round once a day.
HANDS = {"second hand": 3600.0 / 59.0, "hour hand": 43200.0 / 11.0, "calendar": 86400.0}


class Turning(NamedTuple):
    """One thing that repeats itself: kind is 'arbor', 'mesh' or 'hand', period in s, half of peak to peak of the torque
    up to which it is usual (0: never), and the mesh where it is one."""

    name: str
    kind: str
    period_s: float
    usual: float
    mesh: Mesh | None = None


def train_turnings(movement: Movement) -> tuple[Turning, ...]:
    """Arbors and meshes from the barrel on. Raises InputError for a design that does not count its teeth."""
    counted = meshes(movement.train)
    if not counted:
        raise InputError(
            "train.wheel_teeth, train.pinion_leaves: missing; which wheel turns how often follows from the teeth"
        )
    # the escape wheel goes on by one tooth in two beats
    turn = 2.0 * movement.escapement.teeth * 3600.0 / movement.balance.beats_per_hour
    found = [Turning("escape", "arbor", turn, USUAL_ARBOR)]
    for mesh in reversed(counted):
        turn *= mesh.ratio
        found.append(Turning(mesh.name, "mesh", turn / mesh.teeth, USUAL_TEETH, mesh))
        found.append(Turning(mesh.wheel, "arbor", turn, USUAL_ARBOR))
    return tuple(reversed(found))


def turnings(movement: Movement) -> tuple[Turning, ...]:
    """Arbors, meshes and hands. Raises InputError for a design that does not count its teeth."""
    hands = [Turning(name, "hand", period, 0.0) for name, period in HANDS.items()]
    return (*train_turnings(movement), *hands)


def mesh_friction(movement: Movement, mesh: Mesh) -> float:
    """The friction of tooth on leaf: the design's, or that which would leave the design's efficiency of each mesh."""
    train = movement.train
    if train.mesh_friction is not None:
        return float(train.mesh_friction)
    assert train.mesh_efficiency is not None
    return friction_of(mesh, float(train.mesh_efficiency))


def usual_tooth_ripple(movement: Movement, mesh: Mesh) -> float:
    """Half of peak to peak of the fundamental of what a sound mesh of the design passes on."""
    return fundamental(mesh, mesh_friction(movement, mesh))
