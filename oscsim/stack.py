"""Many movements as one: a Movement whose numbers are arrays, so that a batch settles all of them at once.

The parts' equations are written for arrays as well as numbers. A stack carries its movements along the first
axis, with two trailing axes of length 1 for positions and hours.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np

from oscsim.arrays import Array
from oscsim.errors import InputError, nearest, shown
from oscsim.movement import TWINS, Movement, parameter_names
from oscsim.parts.balance import IndexPins
from oscsim.parts.escapement import Escapement, fork_ratio
from oscsim.parts.hairspring_table import NESTED, check_coils, in_numbers
from oscsim.parts.train import Arbors, JewelledHoles, Train, jewelled_holes, radii, through_meshes
from oscsim.tables import quantity_of

#: Of many hairsprings, so many with the least room between their coils are looked at.
_TIGHTEST = 24


def unchecked(part: Any, changes: Mapping[str, Any]) -> Any:
    """A copy of a frozen part that may hold arrays: the checks on numbers do not run."""
    copy = object.__new__(type(part))
    for f in fields(part):
        object.__setattr__(copy, f.name, changes.get(f.name, getattr(part, f.name)))
    return copy


def _column(values: Any) -> Array:
    return np.asarray(values, float).reshape(-1, 1, 1)


def stack_of(movements: Sequence[Movement]) -> Movement:
    """The movements as one stack, (movements, 1, 1) in every number; shape (movements, positions, hours) results."""
    kinds = {type(movement.escapement) for movement in movements}
    if len(kinds) > 1:
        raise InputError("escapement.kind: movements with escapements of different kinds make no stack")
    shaped = any(movement.hairspring is not None for movement in movements)
    trains: dict[int, Train] = {}  # many of the movements may have one train
    for train in (movement.train for movement in movements):
        if id(train) not in trains:
            trains[id(train)] = _plain_train(train)
    return _stacked(  # type: ignore[no-any-return]
        [_plain(movement, trains[id(movement.train)], shaped) for movement in movements]
    )


def by_kind(movements: Sequence[Movement]) -> list[list[int]]:
    """Which of the movements have escapements of the same kind, so that they make one stack."""
    kinds: dict[type, list[int]] = {}
    for i, movement in enumerate(movements):
        kinds.setdefault(type(movement.escapement), []).append(i)
    return list(kinds.values())


def _plain_train(train: Train) -> Train:
    """The same train without alternatives: jewels by hole, meshes by their efficiency, no arbor absent."""
    jewels = JewelledHoles(**{f.name: int(jewelled_holes(train, f.name)) for f in fields(JewelledHoles)})
    arbors = {}
    turning = radii(train)
    for f in fields(Arbors):
        # an arbor that the train does not have rubs nowhere
        arbor = turning.get(f.name) or unchecked(getattr(train.arbors, f.name), {"pivot_radius_mm": 0.0})
        # a radius that is absent takes no part in the friction: infinitely long leverage
        absent = {
            key: np.inf for key in ("pinion_radius_mm", "wheel_radius_mm") if getattr(arbor, key) is None
        }
        arbors[f.name] = unchecked(arbor, absent)
    return unchecked(  # type: ignore[no-any-return]
        train,
        {
            "jewels": jewels,
            "arbors": unchecked(train.arbors, arbors),
            "mesh_efficiency": through_meshes(train) ** (1.0 / np.asarray(train.meshes)),
            **dict.fromkeys(("mesh_friction", "wheel_teeth", "pinion_leaves", "layout")),
        },
    )


def _plain(movement: Movement, train: Train, shaped: bool) -> Movement:
    """The same movement without alternatives, its ``train`` such: fork ratio, nothing absent; ``shaped``: with the
    shape of a hairspring, if only of one that does nothing."""
    spring, pins = movement.mainspring, movement.index_pins
    limit = {"slip_torque_n_mm": np.inf} if spring.slip_torque_n_mm is None else {}
    contacts = {"low_contact_deg": -np.inf, "high_contact_deg": np.inf}
    pins = pins or unchecked(IndexPins(stiffness_share=0.0, high_contact_deg=0.0), contacts)
    absent = {key: value for key, value in contacts.items() if getattr(pins, key) is None}
    return unchecked(  # type: ignore[no-any-return]
        movement,
        {
            "escapement": unchecked(movement.escapement, _plain_escapement(movement.escapement)),
            "train": train,
            "mainspring": unchecked(spring, limit),
            "index_pins": unchecked(pins, absent),
            "winding": None,  # moves no settled point
            "hairspring": in_numbers(movement.hairspring) if shaped else None,
        },
    )


def _plain_escapement(escapement: Any) -> dict[str, Any]:
    """What takes the place of an escapement's alternatives."""
    if not isinstance(escapement, Escapement):
        return {}
    return {"fork_ratio": fork_ratio(escapement), "lift_angle_deg": None}


def _stacked(parts: Sequence[Any]) -> Any:
    first = parts[0]
    changes: dict[str, Any] = {}
    for f in fields(first):
        values = [getattr(part, f.name) for part in parts]
        if is_dataclass(values[0]):
            changes[f.name] = _stacked(values)
        elif f.name in NESTED or (
            isinstance(values[0], tuple) and values[0] and isinstance(values[0][0], float)
        ):
            changes[f.name] = _nested(values)
        elif isinstance(values[0], int | float | np.number | np.ndarray):
            changes[f.name] = _column(values)
    return unchecked(first, changes)


def _nested(values: Sequence[Any]) -> Any:
    """Lists of numbers, or of such lists, as one list of columns."""
    if isinstance(values[0], tuple):
        return tuple(_nested(inner) for inner in zip(*values, strict=True))
    return _column(values)


def varied(movement: Movement, changes: Mapping[str, Array]) -> Movement:
    """A stack of one movement with some numbers replaced by arrays (movements,), by dotted name.

    Raises InputError for a name that is not a number of a design file or a value out of its range.
    """
    stack: Any = movement
    count = max((np.size(values) for values in changes.values()), default=1)
    # one number that always acts carries the stack's length, whatever else is varied
    stack = put_unchecked(stack, "balance.beats_per_hour", _column([movement.balance.beats_per_hour] * count))
    for name, values in changes.items():
        info = quantity_of(type(movement), name)
        if info is None:
            raise InputError(f"{shown(name)}: no number of a design file; {nearest(name, parameter_names())}")
        if name.endswith(".wheel_radius_mm") and movement.train.wheel_teeth is not None:
            raise InputError(f"{name}: follows from wheel_teeth, pinion_leaves and the pinion's radius")
        values = np.asarray(values, float)
        for value in (values.min(), values.max()):
            replace(info, whole=False).check(name, float(value))
        stack = _put(stack, name.split("."), _column(values))
        if name in TWINS:
            stack = _put(stack, TWINS[name].split("."), None)
    _check_springs(movement, changes)
    return stack  # type: ignore[no-any-return]


def _check_springs(movement: Movement, changes: Mapping[str, Array]) -> None:
    """Raise InputError where one of the changed hairsprings cannot be, or its coils would touch: of many, those
    with the least room between their coils are looked at."""
    own = {
        name.partition(".")[2]: np.ravel(v) for name, v in changes.items() if name.startswith("hairspring.")
    }
    spring = movement.hairspring
    if spring is None or own.keys() <= {"pinning_deg", "strip_mass_mg"}:
        return
    told = {"strip_thickness_mm": spring.strip_thickness_mm or 0.0} | own
    inner, outer, turns, thick = (
        np.asarray(told.get(key, getattr(spring, key, 0.0)), float)
        for key in ("collet_radius_mm", "outer_radius_mm", "turns", "strip_thickness_mm")
    )
    room = np.broadcast_to((outer - inner) / turns - thick, max(np.shape(v) for v in own.values()))
    knock = float(np.min(movement.escapement.knock_angle()))
    for i in np.argsort(room, kind="stable")[:_TIGHTEST]:
        changed: Any = {key: float(values[i if len(values) > 1 else 0]) for key, values in own.items()}
        try:
            check_coils(replace(spring, **changed), knock)
        except InputError as error:
            asked = ", ".join(f"hairspring.{key} = {value:.4g}" for key, value in changed.items())
            raise InputError(f"{asked}: {error}") from None


def put_unchecked(movement: Movement, name: str, value: Any) -> Movement:
    """A copy, stack or not, with ``value`` at a dotted name; for values that were checked elsewhere."""
    return _put(movement, name.split("."), value)  # type: ignore[no-any-return]


def _put(part: Any, path: list[str], value: Any) -> Any:
    if len(path) == 1:
        return unchecked(part, {path[0]: value})
    return unchecked(part, {path[0]: _put(getattr(part, path[0]), path[1:], value)})
