"""Numbers of a slip in words of the trade, such as "3 Hz" or "11.5 lignes", made numbers in the units of their keys."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from oscsim.movement import Movement
from oscsim.tables import unit_of
from oscsim.units import trade_number

_NUMBER = re.compile(r"\s*[-+−]?\s*[\d½¼¾.]")
#: The unit that a key of a bench's own table ends in, longest first.
_ENDINGS = {
    "n_mm": "N·mm",
    "un_m": "µN·m",
    "s_per_day": "s/day",
    "beats_per_hour": "beats/h",
    "hours": "h",
    "_deg": "deg",
    "_mm": "mm",
    "_mg": "mg",
    "_ms": "ms",
    "_c": "°C",
}


def numbers_from_words(tables: Mapping[str, Any]) -> dict[str, Any]:
    """The tables with every text that begins as a number does, at a key that has a unit, made that number.

    Raises InputError for one with another unit behind it.
    """
    return {key: _told(value, key) for key, value in tables.items()}


def _told(value: Any, name: str) -> Any:
    if isinstance(value, Mapping):
        return {key: _told(inner, f"{name}.{key}") for key, inner in value.items()}
    if isinstance(value, list):
        return [_told(inner, name) for inner in value]
    # words such as "stops" or "unknown" are for whoever reads the key
    if not isinstance(value, str) or not _NUMBER.match(value):
        return value
    unit = _unit(name)
    return trade_number(name, value, unit) if unit else value


def _unit(name: str) -> str:
    key = name.removesuffix("_uncertainty")
    return unit_of(Movement, name) or next((unit for end, unit in _ENDINGS.items() if key.endswith(end)), "")
