"""Bench units and SI, and the six positions of ISO 3158."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
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

#: Words by which the trade calls positions, in English, French and German. The crown is at 3; of a watch whose crown is
#: at 12 it is called the pendant. With 3 up the crown points up; with 12 up it points right, and a pendant up.
_CALLED = {
    "CH": ("face up", "du", "zo", "zifferblatt oben", "cadran haut", "cadran en haut"),
    "FH": (
        "face down",
        "dd",
        "zu",
        "zifferblatt unten",
        "cadran bas",
        "cadran en bas",
        "fond haut",
        "fond en haut",
    ),
    "12H": (
        *("12", "12 o'clock up", "crown right", "cr", "pendant up", "pu"),
        *("krone rechts", "kr", "12 oben", "couronne droite", "couronne à droite", "12 en haut"),
    ),
    "3H": (
        *("3", "3 o'clock up", "crown up", "cu", "pendant left", "pl"),
        *("krone oben", "ko", "3 oben", "couronne haut", "couronne en haut", "3 en haut"),
    ),
    "6H": (
        *("6", "6 o'clock up", "crown left", "cl", "pendant down"),
        *("krone links", "kl", "6 oben", "couronne gauche", "couronne à gauche", "6 en haut"),
    ),
    "9H": (
        *("9", "9 o'clock up", "crown down", "pendant right", "pr"),
        *("krone unten", "ku", "9 oben", "couronne bas", "couronne en bas", "9 en haut"),
    ),
}
_WORDS = {p.words: p.symbol for p in POSITIONS.values()} | {
    word: symbol for symbol, words in _CALLED.items() for word in words
}
#: Abbreviations that mean one thing in one language and another in the next, and what to write in their place.
_UNCLEAR = {
    "cd": "9H (crown down) or 12H (couronne à droite)",
    "cb": "FH (cadran bas) or 9H (couronne en bas)",
    "pd": "6H (pendant down) or 9H (pendant à droite)",
}
#: Words for several positions.
GROUPS = {
    "all": tuple(POSITIONS),
    "flat": ("CH", "FH"),
    "vertical": ("12H", "3H", "6H", "9H"),
}


def position(name: object) -> Position:
    """The position by its ISO 3158 symbol, plain words or a usual abbreviation, in any case; raises InputError."""
    if isinstance(name, str):
        folded = _folded(name)
        symbol = _WORDS.get(folded, folded.upper())
        if symbol in POSITIONS:
            return POSITIONS[symbol]
        if folded in _UNCLEAR:
            raise InputError(f"position {shown(name)}: may be read in two ways, write {_UNCLEAR[folded]}")
    known = f"must be one of {', '.join(POSITIONS)}, words such as 'dial up' or 'crown down', or DU, DD, CU, CL, CR"
    raise InputError(f"position {shown(name)}: {known}{hint(str(name), [*POSITIONS, *_WORDS])}")


def positions_of(names: Iterable[object]) -> tuple[Position, ...]:
    """The positions of names, of which some may stand for several: all, flat, vertical; raises InputError."""
    found: list[Position] = []
    for name in names:
        several = GROUPS.get(_folded(name)) if isinstance(name, str) else None
        found += [POSITIONS[symbol] for symbol in several] if several else [position(name)]
    return tuple(found)


def _folded(name: str) -> str:
    return " ".join(name.replace("-", " ").replace("_", " ").split()).lower()


#: A ligne, mm: 443.296 of them make a metre (French law of 19 Frimaire VIII, 1799).
LIGNE_MM = 1000.0 / 443.296
#: What the trade writes behind a number, by the unit it is wanted in: the word and how many of that unit it is.
_TRADE = {
    "mm": {
        "mm": 1.0,
        "cm": 10.0,
        "lignes": LIGNE_MM,
        "ligne": LIGNE_MM,
        "linien": LIGNE_MM,
        "'''": LIGNE_MM,
        "\u2034": LIGNE_MM,
    },
    "beats/h": {
        "hz": 7200.0,
        "beats/h": 1.0,
        "beats an hour": 1.0,
        "bph": 1.0,
        "vph": 1.0,
        "a/h": 1.0,
        "beats": 1.0,
    },
    "deg": {"deg": 1.0, "degrees": 1.0, "\u00b0": 1.0},
    "h": {"h": 1.0, "hours": 1.0, "hour": 1.0, "days": 24.0, "day": 24.0},
    "mg": {"mg": 1.0, "g": 1000.0},
    "s/day": {"s/day": 1.0, "s/d": 1.0},
    "ms": {"ms": 1.0},
    "s": {"s": 1.0, "min": 60.0},
    "\u00b0C": {"\u00b0c": 1.0, "c": 1.0},
    "\u00b5g\u00b7cm": {"\u00b5g\u00b7cm": 1.0, "ug\u00b7cm": 1.0, "\u00b5g cm": 1.0, "ug cm": 1.0},
    "years": {"years": 1.0, "year": 1.0},
    "": {"jewels": 1.0, "teeth": 1.0},
}
#: A whole number and a fraction: 11 1/2.
_BROKEN = re.compile(r"(?:(\d+)\s+)?(\d{1,2})/([1-9]\d?)")
_FRACTIONS = {"\u00bd": 0.5, "\u00bc": 0.25, "\u00be": 0.75}


#: A number and what stands behind it.
_WITH_UNIT = re.compile(r"(.*[\d\u00bc-\u00be])\s*(\D+\d?\D*)")


#: Signs that no keyboard has, and what is typed for them.
_TYPED = {"\u00b7": "", "\u00b2": "2", "\u00b5": "u", "\u03bc": "u", "\u00b0": "", "^": "", " ": ""}


def _plain(unit: str) -> str:
    """A unit as a keyboard has it: mg cm2 for mg\u00b7cm\u00b2, um for \u00b5m."""
    for special, typed in _TYPED.items():
        unit = unit.replace(special, typed)
    return unit.lower()


def trade_number(name: str, text: str, unit: str) -> float:
    """The number in words of the trade, in ``unit``: 3 Hz as beats/h, 11\u00bd or 11 1/2 lignes as mm.

    Raises InputError.
    """
    rest = text.strip().replace("\N{MINUS SIGN}", "-")
    known = _TRADE.get(unit, {})
    factor = 1.0
    told = _WITH_UNIT.fullmatch(rest)
    if told and unit and _plain(told[2]) == _plain(unit):
        rest = told[1]
    for word in sorted(known, key=len, reverse=True):
        if rest.lower().endswith(word):
            rest, factor = rest[: -len(word)].strip(), known[word]
            break
    whole = rest.replace(",", ".")
    more = 0.0
    if broken := _BROKEN.fullmatch(whole):
        whole, more = broken[1] or "0", int(broken[2]) / int(broken[3])
    if whole and whole[-1] in _FRACTIONS:
        whole, more = whole[:-1].strip() or "0", _FRACTIONS[whole[-1]]
    try:
        value = (float(whole.replace("_", "?")) + more) * factor
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        said = f", in {unit}" if unit else ""
        units = f"; understood behind it: {', '.join(known)}" if len(known) > 1 else ""
        raise InputError(f"{name} = {shown(text)}: not a number{said}{units}")
    return value if factor == 1.0 and not more else round(value, 6)
