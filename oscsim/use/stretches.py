"""The day of a wearer: stretches of hours, each with its mix of positions, its warmth, and worn or not."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from oscsim.errors import InputError, hint, nearest, shown
from oscsim.fields import Quantity
from oscsim.setting import TEMPERATURE
from oscsim.toml import read_tables
from oscsim.units import POSITIONS, position

HOURS = Quantity("h", "", "hours of a stretch of the day", 0, 24)
SHARE = Quantity("", "", "share of a position", 0, 100)
NOISE = Quantity("s/day", "σ", "standard deviation of a day's rate from one day to the next", 0, 30)
#: Shares while worn on the left wrist, per cent (common practice without source).
LIVES: dict[str, dict[str, float]] = {
    "desk": {"CH": 45.0, "6H": 25.0, "9H": 20.0, "12H": 10.0},
    "usual": {"CH": 30.0, "9H": 30.0, "6H": 20.0, "12H": 15.0, "3H": 5.0},
    "active": {"9H": 45.0, "CH": 20.0, "6H": 20.0, "12H": 10.0, "3H": 5.0},
}
#: Hours of running that an hour on the wrist winds, by life: the middle of what printed wearing times come to.
WOUND: dict[str, float] = {"desk": 1.75, "usual": 3.5, "active": 6.5}
#: The other wrist turns the watch the other way.
_OTHER_WRIST = {"3H": "9H", "9H": "3H"}
#: In a waistcoat's pocket, pendant at 12: it hangs, and at times lies on a table (common practice without source).
POCKET: dict[str, float] = {"12H": 90.0, "CH": 10.0}
#: °C on the wrist and beside the bed, at a room of 20 to 21 (single measurements, published); in a pocket midway
#: (without source).
ON_WRIST, LAID_DOWN, IN_POCKET = 30.5, 20.5, 25.5
#: Where it is worn.
WORN = ("left", "right", "pocket")


@dataclass(frozen=True)
class Stretch:
    """Some hours of the day: mix of positions (symbol, share; the shares add up to 1), °C, and whether it is worn."""

    hours: float
    mix: tuple[tuple[str, float], ...]
    temperature_c: float
    worn: bool

    @property
    def words(self) -> str:
        """How it lies, for tables."""
        return " ".join(
            f"{symbol} {100 * share:.0f}%" if share < 1.0 else symbol for symbol, share in self.mix
        )


def mix_of(shares: Mapping[str, Any], name: str) -> tuple[tuple[str, float], ...]:
    """Shares of positions, which add up to 1 or 100; raises InputError."""
    found: dict[str, float] = {}
    for word, share in shares.items():
        SHARE.check(f"{name}.{word}", share)
        symbol = position(word).symbol
        found[symbol] = found.get(symbol, 0.0) + float(share)
    total = math.fsum(found.values())
    whole = next((one for one in (1.0, 100.0) if abs(total - one) <= 1e-3 * one), None)
    if whole is None:
        raise InputError(f"{name}: the shares add up to {total:g}, must be 100 (per cent) or 1")
    return tuple((symbol, share / total) for symbol, share in found.items() if share > 0.0)


def usual_day(
    hours_worn: float,
    *,
    life: str = "usual",
    wrist: str = "left",
    night: str = "CH",
) -> tuple[Stretch, ...]:
    """A day that begins when the watch is put on: worn on the ``wrist`` left or right or in the pocket, then laid down
    in the position ``night``. In a pocket the life makes no difference. Raises InputError."""
    HOURS.check("hours_worn", hours_worn)
    if life not in LIVES:
        raise InputError(f"life = {shown(life)}: must be one of {', '.join(LIVES)}{hint(str(life), LIVES)}")
    if wrist not in WORN:
        raise InputError(f"wrist = {shown(wrist)}: must be left, right or pocket{hint(str(wrist), WORN)}")
    if wrist == "pocket":
        shares, warmth = POCKET, IN_POCKET
    else:
        shares, warmth = LIVES[life], ON_WRIST
    if wrist == "right":
        shares = {_OTHER_WRIST.get(symbol, symbol): share for symbol, share in shares.items()}
    worn = Stretch(float(hours_worn), mix_of(shares, "life"), warmth, True)
    laid = Stretch(24.0 - float(hours_worn), ((position(night).symbol, 1.0),), LAID_DOWN, False)
    return tuple(stretch for stretch in (worn, laid) if stretch.hours > 0.0)


def at_night(day: Sequence[Stretch], symbol: str) -> tuple[Stretch, ...]:
    """The same day with every stretch in which it is not worn spent in this position."""
    return tuple(
        one if one.worn else Stretch(one.hours, ((symbol, 1.0),), one.temperature_c, False) for one in day
    )


_KEYS = ("hours", "positions", "temperature_c", "worn")


def load_day(path: str | Path) -> tuple[Stretch, ...]:
    """A day from a TOML file of ``[[stretch]]`` tables: hours, positions (one word, or a table of shares), worn
    (default true), temperature_c (default 30.5 worn, 20.5 laid down). The hours must add up to 24.
    Raises InputError."""
    try:
        return day_of(read_tables(Path(path), "a day file"))
    except InputError as error:
        said = str(error)
        raise InputError(said if said.startswith(str(path)) else f"{path}: {said}") from None


def day_of(tables: Mapping[str, Any]) -> tuple[Stretch, ...]:
    """A day from the tables of a day file; raises InputError."""
    for key in tables:
        if key != "stretch":
            raise InputError(f"{key}: unknown; {nearest(str(key), ('stretch',))}")
    listed = tables.get("stretch")
    if not isinstance(listed, list) or not listed or not all(isinstance(one, Mapping) for one in listed):
        raise InputError("stretch: a day needs at least one [[stretch]] with hours and positions")
    day = []
    for number, table in enumerate(listed, 1):
        name = f"stretch {number}"
        for key in table:
            if key not in _KEYS:
                raise InputError(f"{name}.{key}: unknown; {nearest(str(key), _KEYS)}")
        if "hours" not in table or "positions" not in table:
            raise InputError(f"{name}: hours and positions are needed")
        worn = table.get("worn", True)
        if not isinstance(worn, bool):
            raise InputError(f"{name}.worn = {shown(worn)}: must be true or false")
        HOURS.check(f"{name}.hours", table["hours"])
        warmth = table.get("temperature_c", ON_WRIST if worn else LAID_DOWN)
        TEMPERATURE.check(f"{name}.temperature_c", warmth)
        lies = table["positions"]
        shares = lies if isinstance(lies, Mapping) else {lies: 1.0}
        if not all(isinstance(word, str) for word in shares):
            raise InputError(
                f"{name}.positions = {shown(lies)}: must be one of {', '.join(POSITIONS)} or their shares"
            )
        day.append(Stretch(float(table["hours"]), mix_of(shares, f"{name}.positions"), float(warmth), worn))
    total = math.fsum(one.hours for one in day)
    if abs(total - 24.0) > 1e-6:
        more = "more" if total > 24.0 else "less"
        raise InputError(f"stretch: the hours add up to {total:g} h, {more} than a day, must be 24 h")
    return tuple(one for one in day if one.hours > 0.0)
