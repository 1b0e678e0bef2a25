"""Bench units and SI, and the six positions of ISO 3158."""

from __future__ import annotations

import math
from dataclasses import dataclass

from oscsim.errors import InputError, hint, shown

#: Standard acceleration of free fall, m/s² (3rd CGPM, 1901).
G0 = 9.80665
MM, UM = 1e-3, 1e-6
MG = 1e-6
MG_CM2 = 1e-10
UG_CM = 1e-11
GPA, MPA = 1e9, 1e6
N_MM = 1e-3
HOUR, DAY = 3600.0, 86400.0


@dataclass(frozen=True)
class Position:
    """A position of the watch: ISO 3158 symbol, plain words, tilt of the dial and hour that is up (rad).

    Dial up and down no hour is up (NaN).
    """

    symbol: str
    words: str
    tilt: float
    hour_up: float


POSITIONS: dict[str, Position] = {
    p.symbol: p
    for p in (
        Position("CH", "dial up", 0.0, math.nan),
        Position("FH", "dial down", math.pi, math.nan),
        Position("12H", "12 up", math.pi / 2, 0.0),
        Position("3H", "3 up", math.pi / 2, math.pi / 2),
        Position("6H", "6 up", math.pi / 2, math.pi),
        Position("9H", "9 up", math.pi / 2, 3 * math.pi / 2),
    )
}

_WORDS = {p.words: p.symbol for p in POSITIONS.values()} | {
    "face up": "CH",
    "face down": "FH",
    "12 o'clock up": "12H",
    "3 o'clock up": "3H",
    "6 o'clock up": "6H",
    "9 o'clock up": "9H",
}


def position(name: object) -> Position:
    """The position by its ISO 3158 symbol or plain words, in any case; raises InputError."""
    if isinstance(name, str):
        folded = " ".join(name.replace("-", " ").replace("_", " ").split()).lower()
        symbol = _WORDS.get(folded, folded.upper())
        if symbol in POSITIONS:
            return POSITIONS[symbol]
    known = f"must be one of {', '.join(POSITIONS)} or words such as 'dial up'"
    raise InputError(f"position {shown(name)}: {known}{hint(str(name), [*POSITIONS, *_WORDS])}")
