"""Batches: records whose fields are arrays with one value a point in their last axis."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields
from typing import Any, Self, TypeVar

import numpy as np

from oscsim.arrays import Array, Flags, Indices


@dataclass(frozen=True, kw_only=True)
class Batch:
    """Arrays of shape (…, points) by name, and other batches of as many points; anything else belongs to all points."""

    def each(self, change: Callable[[Any], Any]) -> Self:
        """The same batch with ``change`` applied to every array; it must act on the last axis."""
        return type(self)(**{name: _changed(getattr(self, name), change) for name in names_of(type(self))})

    def take(self, index: Indices | Flags | slice) -> Self:
        """The chosen points."""
        return self.each(lambda values: values[..., index])

    def repeated(self, times: int) -> Self:
        """Every point ``times`` times in a row: shape (points × times,)."""
        return self.each(lambda values: np.repeat(values, times, axis=-1))

    def tiled(self, times: int) -> Self:
        """The whole batch ``times`` times: shape (times × points,)."""
        return self.each(lambda values: np.tile(values, times))

    def put(self, index: Indices | Flags, other: Self) -> None:
        """Overwrite the points ``index`` with those of ``other``: the fields stay, what is in them is written to."""
        for mine, new in zip(self.arrays(), other.arrays(), strict=True):
            mine[..., index] = new

    def with_points(self, index: Indices | Flags, other: Self) -> Self:
        """The same batch with the points ``index`` replaced by those of ``other``."""
        copy = self.each(np.copy)
        copy.put(index, other)
        return copy

    def arrays(self) -> Iterator[Any]:
        """Every array, in the order of the fields."""
        for name in names_of(type(self)):
            value = getattr(self, name)
            if isinstance(value, Batch):
                yield from value.arrays()
            elif isinstance(value, np.ndarray):
                yield value


_NAMES: dict[type, tuple[str, ...]] = {}


def names_of(kind: type[Batch]) -> tuple[str, ...]:
    """Names of the fields of a kind of batch, looked up once."""
    if kind not in _NAMES:
        _NAMES[kind] = tuple(f.name for f in fields(kind))
    return _NAMES[kind]


def _changed(value: Any, change: Callable[[Any], Any]) -> Any:
    if isinstance(value, np.ndarray):
        return change(value)
    return value.each(change) if isinstance(value, Batch) else value


SomeBatch = TypeVar("SomeBatch", bound=Batch)


def joined(batches: Sequence[SomeBatch]) -> SomeBatch:
    """Batches of one kind one after another as one batch; where one has fewer rows, zeros are put below."""

    def along(values: list[Any]) -> Any:
        if isinstance(values[0], Batch):
            return joined(values)
        if not isinstance(values[0], np.ndarray):
            return values[0]
        return np.concatenate(level(values) if values[0].ndim > 1 else values, axis=-1)

    kind = type(batches[0])
    return kind(**{name: along([getattr(b, name) for b in batches]) for name in names_of(kind)})


def level(several: Sequence[Array]) -> list[Array]:
    """The same arrays with as many rows as the longest of them has, zeros below."""
    most = max(len(one) for one in several)
    return [one if len(one) == most else np.pad(one, ((0, most - len(one)), (0, 0))) for one in several]
