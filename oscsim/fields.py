"""Fields that carry their unit, symbol, meaning and bounds as data.

The checks on input, the error messages and the documentation's table are all made from these.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import MISSING, Field, dataclass, field, fields
from functools import cache
from numbers import Real
from typing import Any

from oscsim.errors import InputError, shown


@dataclass(frozen=True)
class Quantity:
    """What a number in a design file means: bench unit, symbol in docs/physics.md, bounds."""

    unit: str
    symbol: str
    meaning: str
    low: float
    high: float
    whole: bool = False
    optional: bool = False

    @property
    def allowed(self) -> str:
        """The range as the reader sees it."""
        kind = "a whole number " if self.whole else ""
        unit = f" {self.unit}" if self.unit else ""
        return f"{kind}from {self.low:g} to {self.high:g}{unit}"

    def check(self, name: str, value: object) -> None:
        """Raise InputError unless ``value`` is a number of this kind; ``name`` is the dotted key."""
        if (
            type(value) is float
            and not self.whole
            and self.low <= value <= self.high
            and math.isfinite(value)
        ):
            return
        if value is None and self.optional:
            return
        if isinstance(value, Real) and hasattr(
            value, "item"
        ):  # a number of NumPy's, which need not be loaded
            value = value.item()
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InputError(f"{name} = {shown(value)}: not a number, must be {self.allowed}")
        unit = f" {self.unit}" if self.unit else ""
        if isinstance(value, float) and not math.isfinite(value):
            raise InputError(f"{name} = {shown(value)}{unit}: not a finite number, must be {self.allowed}")
        if self.whole and not isinstance(value, int):
            raise InputError(f"{name} = {shown(value)}{unit}: not a whole number, must be {self.allowed}")
        if not self.low <= value <= self.high:
            raise InputError(f"{name} = {shown(value)}{unit}: out of range, must be {self.allowed}")

    def holds(self, value: object) -> bool:
        """Whether ``value`` is a number of this kind."""
        try:
            self.check("", value)
        except InputError:
            return False
        return value is not None


def quantity(
    unit: str,
    symbol: str,
    meaning: str,
    low: float,
    high: float,
    *,
    default: float | None = math.nan,
    whole: bool = False,
) -> Any:
    """A dataclass field for one number; without ``default`` it must be given, with None it may be absent."""
    optional = default is None
    info = Quantity(unit, symbol, meaning, low, high, whole, optional)
    metadata = {"quantity": info}
    if default is not None and math.isnan(default):
        return field(metadata=metadata)
    return field(default=default, metadata=metadata)


@dataclass(frozen=True)
class Words:
    """What a text or a list in a design file means, and what it may be; the part checks it itself."""

    meaning: str
    allowed: str


def words(meaning: str, allowed: str, default: Any = MISSING) -> Any:
    """A dataclass field for a text or a list; without ``default`` it must be given."""
    metadata = {"words": Words(meaning, allowed)}
    if default is MISSING:
        return field(metadata=metadata)
    return field(default=default, metadata=metadata)


def alternatives(default: str, kinds: dict[str, Any]) -> Any:
    """A dataclass field for a part of one of several kinds: the part by the word under ``kind`` in its table."""
    return field(metadata={"kinds": kinds, "kind": default})


def quantities(part: Any) -> Iterator[tuple[Field[Any], Quantity]]:
    """The numeric fields of a part (class or instance), in order."""
    return iter(_quantities(part if isinstance(part, type) else type(part)))


@cache
def _quantities(part: type[Any]) -> tuple[tuple[Field[Any], Quantity], ...]:
    return tuple((f, f.metadata["quantity"]) for f in fields(part) if "quantity" in f.metadata)


def required(f: Field[Any]) -> bool:
    """Whether a design file must give this field."""
    return f.default is MISSING and f.default_factory is MISSING


def check_quantities(part: Any, table: str) -> None:
    """Check every number of a part; ``table`` is the part's name in the file. Raises InputError."""
    for f, info in quantities(part):
        info.check(f"{table}.{f.name}", getattr(part, f.name))
