"""Nested tables to parts and back: no part is named here, the dataclasses say it all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from functools import cache
from types import UnionType
from typing import Any, TypeVar, cast, get_args, get_type_hints

from oscsim.errors import InputError, clipped, nearest, shown
from oscsim.fields import Quantity, required

T = TypeVar("T")


@cache
def _hints(part: Any) -> dict[str, Any]:
    return get_type_hints(part)


@cache
def _known(part: Any) -> dict[str, Field[Any]]:
    return {f.name: f for f in fields(part)}


@cache
def _part_type(hint: Any) -> type[Any] | None:
    """The dataclass in a field's type, if there is one."""
    options = get_args(hint) if isinstance(hint, UnionType) else (hint,)
    return next((option for option in options if is_dataclass(option) and isinstance(option, type)), None)


def to_table(part: Any) -> dict[str, Any]:
    """The part as nested tables; what is absent is left out."""
    table: dict[str, Any] = {}
    for name in _known(cast(Any, type(part))):
        value = getattr(part, name)
        if is_dataclass(value):
            table[name] = to_table(value)
        elif value is not None:
            table[name] = value
    return table


def from_table(part: type[T], table: object, path: str, default: Any = None) -> T:
    """The part that ``table`` describes; ``path`` is its dotted name, ``default`` supplies missing keys.

    Raises InputError naming the key: unknown, missing, or a value where a table belongs.
    """
    if not isinstance(table, Mapping):
        raise InputError(f"{path} = {shown(table)}: not a table, must be a table [{path}]")
    known = _known(cast(Any, part))
    prefix = f"{path}." if path else ""
    for key in table:
        if key not in known:
            kind = "table" if isinstance(table[key], Mapping) else "key"
            raise InputError(f"{prefix}{clipped(str(key))}: unknown {kind}; {nearest(str(key), known)}")
    values: dict[str, Any] = {}
    hints: dict[str, Any] = _hints(cast(Any, part))
    for name, f in known.items():
        if name in table:
            values[name] = _value_of(f, hints[name], table[name], prefix + name, default)
        elif default is not None:
            values[name] = getattr(default, name)
        elif required(f):
            raise InputError(_missing(f, prefix + name))
    return part(**values)


def part_of(owner: type[Any], name: str, table: object) -> Any:
    """What the field ``name`` of ``owner`` is when its table is this one; raises InputError as ``from_table`` does."""
    return _value_of(_known(cast(Any, owner))[name], _hints(cast(Any, owner))[name], table, name, None)


def _value_of(f: Any, hint: Any, value: Any, path: str, default: Any) -> Any:
    """A field's value, or the part that its table describes."""
    inner = _kind_of(f, value, path) if "kinds" in f.metadata else _part_type(hint)
    if inner is not None and (isinstance(value, Mapping) or "quantity" not in f.metadata):
        return from_table(inner, value, path, _default_of(f, default))
    return value


def _kind_of(f: Any, table: object, path: str) -> type[Any]:
    """The part of the kind that a table names. Raises InputError for a kind that there is not."""
    kinds: dict[str, type[Any]] = f.metadata["kinds"]
    if not isinstance(table, Mapping):
        return kinds[f.metadata["kind"]]
    kind = table.get("kind", f.metadata["kind"])
    if not isinstance(kind, str) or kind not in kinds:
        words = " or ".join(f'"{one}"' for one in kinds)
        near = f"; {nearest(kind, kinds)}" if isinstance(kind, str) else ""
        raise InputError(f"{path}.kind = {shown(kind)}: must be {words}{near}")
    return kinds[kind]


def _default_of(f: Any, default: Any) -> Any:
    """What stands in for missing keys of an inner table: the arbors' radii, not the parts themselves."""
    if default is not None:
        return getattr(default, f.name)
    if is_dataclass(f.default):
        return f.default
    if f.default_factory is not MISSING:
        return f.default_factory()
    return None


def _missing(f: Any, name: str) -> str:
    info = f.metadata.get("quantity") or f.metadata.get("words")
    if info is None:
        return f"{name}: missing {'table' if name != 'name' else 'text'}"
    return f"{name}: missing; {info.meaning}, {info.allowed}"


def put(tables: dict[str, Any], name: str, value: Any) -> None:
    """Set the value at a dotted name, or take it out when None; tables on the way are made where needed."""
    *path, key = name.split(".")
    for step in path:
        inner = tables.get(step)
        if value is None and not isinstance(inner, dict):
            return
        tables[step] = dict(inner) if isinstance(inner, dict) else {}
        tables = tables[step]
    if value is None:
        tables.pop(key, None)
    else:
        tables[key] = value


def quantity_of(part: Any, name: str) -> Quantity | None:
    """The unit and bounds of the number at a dotted name of a part, None where there is no such number."""
    key, _, rest = name.partition(".")
    for f in fields(part):
        if f.name != key:
            continue
        if "kinds" in f.metadata and rest:
            kinds = dict.fromkeys(f.metadata["kinds"].values())
            return next((found for one in kinds if (found := quantity_of(one, rest))), None)
        inner = _part_type(_hints(part)[key])
        if rest:
            return quantity_of(inner, rest) if inner else None
        return f.metadata.get("quantity")
    return None


def unit_of(part: Any, name: str) -> str:
    """The unit of the number at a dotted name of a part; empty where it has none, or is no number."""
    info = quantity_of(part, name)
    return info.unit if info is not None else ""


def value_at(part: Any, name: str) -> Any:
    """What a part holds at a dotted name, None where it is absent."""
    for step in name.split("."):
        part = getattr(part, step, None)
    return part
