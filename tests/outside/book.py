"""The book of the outside checks: every comparison is asserted and entered in one call.

A test takes the fixture ``ledger`` and calls ``value``, ``band``, ``says``, ``worst``, ``apart`` or ``not_reached``.
What is entered becomes a row of docs/outside-checks.md (page.py).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from .sources import Source


@dataclass(frozen=True)
class Row:
    """One comparison; of several cases the one that agrees least, ``cases`` their number.

    kind: value, band, says, worst, apart or not reached. allowed: the tolerance, absolute and in ``unit``; relative:
    the same as it was asked for, if it was asked for as a share. strain: how much of the tolerance is used, 1 at most.
    """

    check: int
    kind: str
    what: str
    source: Source
    unit: str
    why: str
    outside: float | str | tuple[float, float] = ""
    ours: float | str | tuple[float, float] = ""
    allowed: float = math.nan
    relative: float | None = None
    strain: float = 0.0
    cases: int = 1


class Book:
    """The rows of one run, and which fault was caught by which checks."""

    def __init__(self) -> None:
        self.rows: dict[tuple[int, str, str], Row] = {}
        self.faults: dict[str, tuple[str, tuple[int, ...]]] = {}

    def enter(self, row: Row) -> None:
        """Add a row; a comparison entered before, for another case, keeps the case that agrees least."""
        key = (row.check, row.what, str(row.source))
        before = self.rows.get(key)
        if before is not None:
            if (before.kind, before.unit) != (row.kind, row.unit):
                raise ValueError(f"check {row.check}: two rows called {row.what!r}")
            worse = row if row.strain > before.strain else before
            if row.kind in ("band", "apart"):
                low, high = (pick(before.ours[i], row.ours[i]) for i, pick in ((0, min), (1, max)))
                worse = replace(worse, ours=(low, high))
            row = replace(worse, cases=before.cases + row.cases)
        self.rows[key] = row


class Ledger:
    """What a test writes through: it knows the number of its check."""

    def __init__(self, book: Book, check: int) -> None:
        self.book, self.check = book, check

    def value(
        self,
        what: str,
        ours: ArrayLike,
        outside: ArrayLike,
        unit: str = "",
        *,
        source: Source,
        why: str,
        within: float | None = None,
        relative: float | None = None,
    ) -> None:
        """Hold ``ours`` to ``outside``: ``within`` of it (in ``unit``) or within a ``relative`` share of it.

        Arrays are compared element by element, the worst stands in the book. Raises AssertionError.
        """
        if (within is None) == (relative is None):
            raise TypeError("give one of within and relative")
        got, want = (np.asarray(a, float).reshape(-1) for a in np.broadcast_arrays(ours, outside))
        allowed = np.full(want.shape, within) if relative is None else relative * np.abs(want)
        strain = np.abs(got - want) / allowed
        worst = int(np.argmax(np.where(np.isfinite(strain), strain, np.inf)))
        self._enter(
            Row(
                self.check,
                "value",
                what,
                source,
                unit,
                why,
                float(want[worst]),
                float(got[worst]),
                float(allowed[worst]),
                relative,
                float(strain[worst]),
                want.size,
            )
        )
        if not np.all(strain <= 1.0):
            raise AssertionError(
                f"check {self.check}, {what}: {got[worst]:.10g} {unit} against {want[worst]:.10g} ({source}), "
                f"allowed {allowed[worst]:.2g}"
            )

    def band(
        self,
        what: str,
        ours: ArrayLike,
        low: float,
        high: float,
        unit: str = "",
        *,
        source: Source,
        why: str = "",
    ) -> None:
        """Hold every one of ``ours`` to a band, ends included. Raises AssertionError."""
        got = np.asarray(ours, float).reshape(-1)
        span = (float(got.min()), float(got.max()))
        inside = low <= span[0] <= span[1] <= high
        self._enter(Row(self.check, "band", what, source, unit, why, (low, high), span, cases=got.size))
        if not inside:
            raise AssertionError(
                f"check {self.check}, {what}: {span[0]:.6g} to {span[1]:.6g} {unit}, outside {low:g} to {high:g} "
                f"({source})"
            )

    def says(
        self, what: str, holds: object, outside: str, ours: str = "the same", *, source: Source, why: str = ""
    ) -> None:
        """Hold a statement without a value, such as a sign or an order. Raises AssertionError."""
        true = bool(np.all(holds))
        self._enter(Row(self.check, "says", what, source, "", why, outside, ours, cases=np.size(holds)))
        if not true:
            raise AssertionError(f"check {self.check}, {what}: does not hold: {outside} ({source})")

    def worst(
        self, what: str, apart: float, limit: float, unit: str = "", *, source: Source, why: str
    ) -> None:
        """Hold a departure from many outside values to ``limit``; the largest stands in the book."""
        apart = abs(float(apart))
        strain = apart / limit
        self._enter(Row(self.check, "worst", what, source, unit, why, "", apart, limit, strain=strain))
        if not strain <= 1.0:
            raise AssertionError(
                f"check {self.check}, {what}: {apart:.2e} {unit} apart ({source}), allowed {limit:.2g}"
            )

    def apart(
        self, what: str, ours: ArrayLike, low: float, high: float, unit: str = "", *, source: Source, why: str
    ) -> None:
        """Enter that ours lies outside the source's band, and why it is left so. Raises AssertionError once it no
        longer does, so that the remark does not outlive its reason."""
        got = np.asarray(ours, float).reshape(-1)
        span = (float(got.min()), float(got.max()))
        self._enter(Row(self.check, "apart", what, source, unit, why, (low, high), span, cases=got.size))
        if low <= span[0] <= span[1] <= high:
            raise AssertionError(f"check {self.check}, {what}: is within the band now, enter it as a band")

    def not_reached(self, what: str, outside: str, *, source: Source, why: str) -> None:
        """Enter an outside value that nothing in the library can be held against, and why."""
        self._enter(Row(self.check, "not reached", what, source, "", why, outside))

    def _enter(self, row: Row) -> None:
        self.book.enter(row)


def caught(book: Book, fault: str, what: str, checks: tuple[int, ...]) -> None:
    """Enter which checks failed under a deliberate fault."""
    book.faults[fault] = (what, checks)


def reached(book: Book) -> Mapping[int, bool]:
    """Which checks are entered, and whether anything of the library was held against them."""
    found: dict[int, bool] = {}
    for row in book.rows.values():
        found[row.check] = found.get(row.check, False) or row.kind != "not reached"
    return found
