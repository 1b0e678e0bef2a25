"""Answers for programs, written in one way everywhere: plain values, JSON and CSV."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Mapping, Sequence
from typing import Any


def plain(value: Any) -> Any:
    """Numbers, lists and text only; what is not a number becomes None, never NaN."""
    if isinstance(value, dict):
        return {str(key): plain(inner) for key, inner in value.items()}
    if hasattr(value, "tolist"):  # an array or a number of NumPy's, which need not be loaded
        value = value.tolist()
    if isinstance(value, list | tuple):
        return [plain(inner) for inner in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def json_text(value: Any) -> str:
    """The value as JSON text, null where there is no number."""
    return json.dumps(plain(value), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def csv_text(rows: Sequence[Mapping[str, Any]]) -> str:
    """The rows as CSV text (RFC 4180 quoting), the headings of all rows together, empty where there is no number."""
    headings = dict.fromkeys(key for row in rows for key in row)
    out = io.StringIO()
    writer = csv.DictWriter(out, fieldnames=list(headings), lineterminator="\n")
    writer.writeheader()
    writer.writerows(plain(list(map(dict, rows))))
    return out.getvalue()
