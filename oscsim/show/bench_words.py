"""Words and plain tables that the bench's answers share: causes, positions, intervals, cautions."""

from __future__ import annotations

import math
from collections.abc import Sequence

from oscsim.show.tables import signed
from oscsim.text.sheet import Table, Words
from oscsim.units import POSITIONS

#: Causes in few words, for tables.
SHORT = {
    "drive": "drive through the train",
    "mainspring": "the mainspring",
    "pivot_vertical": "friction at the pivots' sides",
    "pivot_flat": "friction at the pivots' ends",
    "drag": "drag of oil and air",
    "lock": "depth of lock",
    "unbalance": "want of poise",
    "out_of_beat": "out of beat",
    "regulation": "regulation",
    "isochronism": "the hairspring's isochronism",
}
READ_WORDS = {"amplitude_deg": "amplitude", "rate_s_per_day": "rate", "beat_error_ms": "beat error"}
READ_TITLES = {
    "amplitude_deg": "Amplitude shown, deg",
    "rate_s_per_day": "Rate, s/day",
    "beat_error_ms": "Beat error, ms",
}
_DECIMALS = {"amplitude_deg": 0, "rate_s_per_day": 1, "beat_error_ms": 2}
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
        return signed(value)
    return f"{value:.{_DECIMALS[kind]}f}"


def change(kind: str, value: float) -> str:
    """A change of such a value, with its sign."""
    return signed(value, _DECIMALS[kind])


def estimate(name: str, unit: str, value: float) -> str:
    """An estimate as a person says it: per cent for what drives, times for friction, else with its unit."""
    if name in ("drive", "mainspring"):
        return f"{100.0 * value:.0f} %"
    if not unit:
        return f"{value:.2g} times" if value < 10.0 else f"{value:.0f} times"
    if name == "isochronism":
        return f"{1e6 * value:+.0f}e-6 {unit}"
    if name == "unbalance":
        return f"{value:.1f} {unit}"
    return f"{signed(value, 1 if name == 'regulation' else 2)} {unit}"


def interval(name: str, unit: str, low: float, high: float) -> str:
    """A 90 % interval in the same words, the unit once."""
    ends = [estimate(name, unit, end) for end in (low, high)]
    tail = ends[1].partition(" ")[2]
    return f"{ends[0].partition(' ')[0]} to {ends[1].partition(' ')[0]} {tail}"


def odds(nats: float) -> str:
    """Log evidence as odds: '13 to 1' for it, '1 to 3' against."""
    if nats > math.log(9999.5):
        return "over 10000 to 1"
    times = math.exp(abs(nats))
    shown = f"{times:.0f}" if times >= 9.5 else f"{times:.1f}".removesuffix(".0")
    if shown == "1":
        return "even"
    return f"{shown} to 1" if nats > 0.0 else f"1 to {shown}"


def listed(words: Sequence[str], joint: str = "and") -> str:
    """Words in a row: a, b and c."""
    return f" {joint} ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)
