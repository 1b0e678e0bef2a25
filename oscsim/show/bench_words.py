"""Words and plain tables that the bench's answers share: positions, values, chances, cautions."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from oscsim.show.tables import signed
from oscsim.text.sheet import Table, Words
from oscsim.units import POSITIONS

READ_WORDS = {"amplitude_deg": "amplitude", "rate_s_per_day": "rate", "beat_error_ms": "beat error"}
READ_TITLES = {
    "amplitude_deg": "Amplitude shown, deg",
    "rate_s_per_day": "Rate, s/day",
    "beat_error_ms": "Beat error, ms",
}
_DECIMALS = {"amplitude_deg": 0, "rate_s_per_day": 0, "beat_error_ms": 1}
UNITS = {"amplitude_deg": "deg", "rate_s_per_day": "s/day", "beat_error_ms": "ms"}
#: Printed under every answer that sends someone to open a watch.
CAUTIONS = (
    "Let the mainspring down under control before you take off bridge, barrel cover or lever, and wear eye protection: "
    "a wound strip that escapes can cut.",
    "Solvents and cleaning fluids need ventilation; many burn: keep them from flames, sparks and hot elements.",
    "Luminous dials and hands of older watches may hold radium: do not scrape, brush or blow on them, and leave them "
    "to someone licensed.",
    "Local rules and licensed practice come first. A computed cause is a place to look, not a finding.",
)


def aligned(
    heads: Sequence[str], rows: Sequence[Sequence[Words]], left: Sequence[int] = (0,), title: str = ""
) -> Table:
    """Columns each as wide as it must be; those numbered in ``left`` are set to the left, the others to the right."""
    return Table(title, tuple(heads), tuple(tuple(row) for row in rows), tuple(left))


def place(symbol: str, hours: float) -> str:
    """Position by symbol and words, and the hour."""
    return f"{symbol:<3} {POSITIONS[symbol].words:<9} {hours:.4g} h"


def spoken_place(symbol: str, hours: float) -> str:
    """The same inside a sentence."""
    when = "fully wound" if hours == 0.0 else f"{hours:.4g} h after full wind"
    return f"{symbol} ({POSITIONS[symbol].words}), {when}"


def amount(kind: str, value: float) -> str:
    """A value read, in the decimals that such a reading has."""
    if kind == "rate_s_per_day":
        return signed(value, _DECIMALS[kind])
    return f"{value:.{_DECIMALS[kind]}f}"


def change(kind: str, value: float) -> str:
    """A change of such a value, with its sign."""
    return signed(value, _DECIMALS[kind])


def size(unit: str, value: float) -> str:
    """A size in the decimals that readings allow."""
    if unit == "1/rad²":
        return f"{1e6 * value:+.0f}e-6"
    if unit in ("deg", "ms"):
        return f"{value:.1f}"
    if abs(value) >= 1000.0:
        value = float(f"{value:.2g}")
    return f"{round(value)}"


def as_sure(value: float, half_width: float) -> str:
    """A value in no more digits than it is sure to: two of its half-width."""
    if not math.isfinite(half_width) or half_width <= 0.0:
        return f"{value:.4g}"
    places = 1 - math.floor(math.log10(half_width))
    return f"{round(value, places):.{max(places, 0)}f}"


def between(low: float, high: float, written: Callable[[float], str]) -> str:
    """An interval in words."""
    return f"{written(low)} to {written(high)}"
