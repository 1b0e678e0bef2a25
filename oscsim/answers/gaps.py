"""All that is wrong with the tables of a design file, where loading it stops at the first: complaints and gaps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from oscsim.errors import InputError, nearest, shown
from oscsim.fields import Quantity, quantities, required
from oscsim.movement import KINDS, PARTS, SLIP, Movement, names_for, parameter_names
from oscsim.parts.teeth import meshes_from
from oscsim.parts.train import Arbor, Arbors, JewelledHoles
from oscsim.tolerances import NOTES

_TOP = tuple(f.name for f in fields(Movement))
_NEEDED = tuple(name for name in PARTS if name not in ("index_pins", "hairspring", "winding"))
#: Of each of these exactly one is needed; where none is given, the last is called missing.
EITHER = (
    ("escapement.fork_ratio", "escapement.lift_angle_deg"),
    ("train.wheel_teeth", "train.pinion_leaves", "train.ratio"),
    ("train.wheel_teeth", "train.pinion_leaves", "train.meshes"),
    ("train.mesh_friction", "train.mesh_efficiency"),
)


@dataclass
class Gaps:
    """What a design file gives (dotted name to value, as far as it is sound), complaints in order, and the dotted names
    that are missing."""

    given: dict[str, Any]
    problems: list[str]
    missing: list[str]


def gaps_of(tables: Mapping[str, Any]) -> Gaps:
    """Everything that is wrong with each number alone; what must go together is left to ``movement_from``."""
    found = Gaps({}, [], [])
    for key in tables:
        if key in SLIP and tables.get("filled"):
            continue  # a sketch's file keeps the slip that made it
        if key in SLIP:
            found.problems.append(
                f"{key}: belongs into a bench slip, not a design; oscsim sketch makes a design of it"
            )
        elif key not in _TOP:
            kind = "table" if isinstance(tables[key], Mapping) else "key"
            found.problems.append(f"{shown_key(key)}: unknown {kind}; {nearest(key, _TOP)}")
    _texts(tables, found)
    for table, part in PARTS.items():
        if table in tables and not isinstance(tables[table], Mapping):
            found.problems.append(f"{table} = {shown(tables[table])}: not a table, must be a table [{table}]")
        elif table in tables or table in _NEEDED:
            content = tables.get(table, {})
            _part(table, _kind(content, found) if table == "escapement" else part, content, found)
    known = [f.name for f in fields(_kind(tables.get("escapement"), None))]
    for names in EITHER:
        if names[0].startswith("escapement.") and names[0].partition(".")[2] not in known:
            continue
        if all(name not in found.given for name in names) and not _mentions(found, names):
            found.missing.append(names[-1])
    found.missing.sort(key=parameter_names().index)
    for key, read in NOTES.items():
        try:
            if key in tables:
                read(tables[key], names_for(key))
        except InputError as error:
            found.problems.append(str(error))
    return found


def _kind(table: Any, found: Gaps | None) -> type[Any]:
    """The part of the kind that the table of an escapement names; a complaint where there is none of that name."""
    kind = table.get("kind", "lever") if isinstance(table, Mapping) else "lever"
    if isinstance(kind, str) and kind in KINDS:
        return KINDS[kind]
    if found is not None:
        near = f"; {nearest(kind, KINDS)}" if isinstance(kind, str) else ""
        found.problems.append(f"escapement.kind = {shown(kind)}: must be one of {', '.join(KINDS)}{near}")
    return KINDS["lever"]


def shown_key(key: str) -> str:
    """A key as it stands in a message."""
    return key if key.isidentifier() else shown(key)


def _mentions(found: Gaps, names: tuple[str, ...]) -> bool:
    return any(problem.startswith(name) for problem in found.problems for name in names)


def _texts(tables: Mapping[str, Any], found: Gaps) -> None:
    for key in ("name", "story"):
        if key in tables and not isinstance(tables[key], str):
            found.problems.append(f"{key} = {shown(tables[key])}: must be text in quotes")
    if "name" not in tables:
        found.missing.append("name")
    elif isinstance(tables["name"], str) and not tables["name"].strip():
        found.problems.append(f"name = {shown(tables['name'])}: the movement needs a name")


def _part(table: str, part: type[Any], content: Mapping[str, Any], found: Gaps) -> None:
    infos = {f.name: (f, info) for f, info in quantities(part)}
    known = [f.name for f in fields(part)]
    for key, value in content.items():
        name = f"{table}.{key}"
        if key not in known:
            kind = "table" if isinstance(value, Mapping) else "key"
            found.problems.append(f"{table}.{shown_key(key)}: unknown {kind}; {nearest(key, known)}")
        elif name == "train.arbors":
            _arbors(value, found)
        elif name == "train.jewels" and isinstance(value, Mapping):
            _part(name, JewelledHoles, value, found)
        elif key in infos:
            _number(name, value, infos[key][1], found)
        else:
            found.given[name] = value
    if table == "train":
        _teeth(content, found)
    if table == "train.jewels":
        return
    for f in fields(part):
        if f.metadata and required(f) and f.name not in content:
            found.missing.append(f"{table}.{f.name}")


def _teeth(content: Mapping[str, Any], found: Gaps) -> None:
    """The complaint about teeth and leaves, if there is one: they are of use together alone."""
    teeth, leaves = content.get("wheel_teeth"), content.get("pinion_leaves")
    if teeth is None and leaves is None and "layout" not in content:
        return
    try:
        meshes_from(teeth, leaves, content.get("layout"))
    except InputError as error:
        found.problems.append(str(error))


def _arbors(content: Any, found: Gaps) -> None:
    if not isinstance(content, Mapping):
        found.problems.append(f"train.arbors = {shown(content)}: not a table, must be a table [train.arbors]")
        return
    known = [f.name for f in fields(Arbors)]
    infos = {f.name: info for f, info in quantities(Arbor)}
    for arbor, radii in content.items():
        path = f"train.arbors.{shown_key(arbor)}"
        if arbor not in known:
            found.problems.append(f"{path}: unknown table; {nearest(arbor, known)}")
        elif not isinstance(radii, Mapping):
            found.problems.append(f"{path} = {shown(radii)}: not a table, must be a table [{path}]")
        else:
            for key, value in radii.items():
                if key not in infos:
                    found.problems.append(f"{path}.{shown_key(key)}: unknown key; {nearest(key, infos)}")
                else:
                    _number(f"{path}.{key}", value, infos[key], found)


def _number(name: str, value: Any, info: Quantity, found: Gaps) -> None:
    try:
        replace(info, optional=False).check(name, value)
        found.given[name] = value
    except InputError as error:
        found.problems.append(str(error))


def numbers_of(movement: Movement) -> Iterator[tuple[str, Any, Quantity]]:
    """Every number that a design holds: dotted name, value, unit and bounds, in the file's order."""
    for table in PARTS:
        content = getattr(movement, table)
        if content is None:
            continue
        for f, info in quantities(type(content)):
            value = getattr(content, f.name)
            if isinstance(value, JewelledHoles):
                for hole, inner in quantities(JewelledHoles):
                    yield f"{table}.{f.name}.{hole.name}", getattr(value, hole.name), inner
            elif value is not None:
                yield f"{table}.{f.name}", value, info
