"""What every result can do: print itself, and give itself as a dictionary, CSV or JSON."""

from __future__ import annotations

import csv
import io
import json
import math
from abc import ABC, abstractmethod
from typing import Any

import numpy as np

from oscsim.version import __version__


def plain(value: Any) -> Any:
    """Numbers, lists and text only; what is not a number becomes None, never NaN."""
    if isinstance(value, dict):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, np.ndarray | list | tuple):
        return [plain(inner) for inner in value]
    if isinstance(value, np.bool_ | bool):
        return bool(value)
    if isinstance(value, np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    return value


class Result(ABC):
    """A result object: ``str()`` is a table for people, the rest is for programs."""

    @property
    @abstractmethod
    def design(self) -> str:
        """Name of the design answered for."""

    @abstractmethod
    def body(self) -> dict[str, Any]:
        """What ``to_dict`` adds to design and version."""

    @abstractmethod
    def rows(self) -> list[dict[str, Any]]:
        """The table of ``to_csv``: one dictionary a row, the unit in every key."""

    @abstractmethod
    def text(self) -> str:
        """The table a person reads, with the sentence that says what it means."""

    def __str__(self) -> str:
        return self.text()

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers, lists and text; None where there is no number."""
        inner: dict[str, Any] = plain({"design": self.design, "version": __version__, **self.body()})
        return inner

    def to_json(self) -> str:
        """``to_dict`` as JSON text."""
        return json.dumps(self.to_dict(), indent=1, ensure_ascii=False, allow_nan=False) + "\n"

    def to_csv(self) -> str:
        """``rows`` as CSV text (RFC 4180 quoting), empty where there is no number."""
        rows = plain(self.rows())
        out = io.StringIO()
        writer = csv.DictWriter(out, fieldnames=list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
        return out.getvalue()
