"""What a design file says of its numbers beside their values: ``[tolerance]``, the spreads from one sound example to
another, ``[fitted]``, the standard deviations of numbers that were fitted to readings, and ``filled``, the names of
numbers that nobody measured."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from oscsim.errors import InputError, nearest, shown

SHAPES = ("normal", "uniform")
#: Half width of a 90 % interval, in standard deviations of the normal distribution.
NORMAL_90 = 1.6448536269514722
#: A normal spread's ± holds 95 % of sound examples.
NORMAL_95 = 1.959963984540054


@dataclass(frozen=True)
class Spread:
    """Spread of the number at a dotted name: ± in its unit, or percent of its value.

    shape: 'normal' (the ± holds 95 % of examples) or 'uniform' (the ± holds all). Raises InputError.
    """

    name: str
    plus_minus: float | None = None
    percent: float | None = None
    shape: str = "normal"

    def __post_init__(self) -> None:
        key = f"tolerance.{self.name}"
        if (self.plus_minus is None) == (self.percent is None):
            raise InputError(f"{key}: exactly one of plus_minus and percent is needed")
        for kind in ("plus_minus", "percent"):
            value = getattr(self, kind)
            if value is None:
                continue
            if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
                raise InputError(f"{key}.{kind} = {shown(value)}: must be a finite number above 0")
            if not 0.0 < value <= (1e6 if kind == "plus_minus" else 90.0):
                most = "1e6" if kind == "plus_minus" else "90 %"
                raise InputError(
                    f"{key}.{kind} = {shown(value)}: out of range, must be above 0, at most {most}"
                )
        if self.shape not in SHAPES:
            raise InputError(f"{key}.shape = {shown(self.shape)}: must be one of {', '.join(SHAPES)}")

    def half_width(self, value: float) -> float:
        """± in the number's unit around ``value``."""
        if self.plus_minus is not None:
            return self.plus_minus
        assert self.percent is not None
        return abs(value) * self.percent / 100.0

    def to_table(self) -> dict[str, Any]:
        """The entry in a design file."""
        kind = {"percent": self.percent} if self.plus_minus is None else {"plus_minus": self.plus_minus}
        return {**kind, "shape": self.shape}


_KEYS = ("plus_minus", "percent", "shape")


def spreads_from(table: object, names: list[str]) -> tuple[Spread, ...]:
    """The spreads in a ``[tolerance]`` table; ``names`` are those that may have one. Raises InputError."""
    if not isinstance(table, Mapping):
        raise InputError(f"tolerance = {shown(table)}: not a table, must be a table [tolerance]")
    found = []
    for name, entry in _entries(table, ""):
        if name not in names:
            raise InputError(f"tolerance.{name}: no number of a design file; {nearest(name, names)}")
        for key in entry:
            if key not in _KEYS:
                raise InputError(f"tolerance.{name}.{key}: unknown key; {nearest(str(key), _KEYS)}")
        found.append(Spread(name, **entry))
    return tuple(found)


def _entries(table: Mapping[str, Any], path: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
    for key, inner in table.items():
        name = f"{path}.{key}" if path else str(key)
        if not isinstance(inner, Mapping):
            raise InputError(
                f"tolerance.{name} = {shown(inner)}: must be like {{ percent = 2.0 }} or {{ plus_minus = 0.1 }}"
            )
        if not inner or any(known in inner for known in _KEYS):
            yield name, inner
        else:
            yield from _entries(inner, name)


def fitted_from(table: object, names: list[str], path: str = "fitted") -> tuple[tuple[str, float], ...]:
    """Name and standard deviation of every number in a ``[fitted]`` table; ``names`` are those that may be there.

    Raises InputError.
    """
    if not isinstance(table, Mapping):
        raise InputError(f"{path} = {shown(table)}: not a table, must be a table [{path}]")
    found: list[tuple[str, float]] = []
    for key, value in table.items():
        name = f"{path}.{key}"
        if isinstance(value, Mapping):
            found += fitted_from(value, names, name)
            continue
        number = name.removeprefix("fitted.")
        if number not in names:
            raise InputError(f"{name}: no number of a design file; {nearest(number, names)}")
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0.0 < value < math.inf:
            raise InputError(
                f"{name} = {shown(value)}: must be a standard deviation, a finite number above 0"
            )
        found.append((number, float(value)))
    return tuple(sorted(found))


def filled_from(entry: object, names: list[str]) -> tuple[str, ...]:
    """The names in a ``filled`` list, in its order; ``names`` are those that may be there. Raises InputError."""
    if not isinstance(entry, list | tuple):
        raise InputError(f'filled = {shown(entry)}: must be a list of names such as ["balance.mass_mg"]')
    for name in entry:
        if not isinstance(name, str) or name not in names:
            raise InputError(
                f"filled: {shown(name)}: no number of a design file; {nearest(str(name), names)}"
            )
    return tuple(dict.fromkeys(entry))


#: What a design file may say beside values: by key, how it is read, given the names of all numbers.
NOTES: dict[str, Callable[[Any, list[str]], tuple[Any, ...]]] = {
    "tolerance": spreads_from,
    "fitted": fitted_from,
    "filled": filled_from,
}
