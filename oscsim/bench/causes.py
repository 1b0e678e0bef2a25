"""The one table of causes: what may take amplitude, how large it may be, how it is said, what it does to the movement.

A fault has a size of 0 and more: the logarithm of a factor, degrees of lock, or a share of the way to dry oil. How to
add one is told in DEVELOPERS.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from oscsim.arrays import Array
from oscsim.condition import Condition
from oscsim.oil import OIL_LIFE_YEARS
from oscsim.stack import unchecked

#: Places that differ: dial up, dial down, vertical. Want of poise moves rates, not amplitudes, so one of the vertical
#: positions stands for all.
PLACES = ("CH", "FH", "12H")


def _lost(size: float) -> float:
    return -100.0 * math.expm1(-size)


def _added(size: float) -> float:
    return 100.0 * math.expm1(size)


@dataclass(frozen=True, kw_only=True)
class Fault:
    """What takes amplitude. short: in tables; said: in the verdict; do: what to do; often: how often it is met beside
    the others; width: the size that is met most (Rayleigh's distribution: very small ones are no fault but the spread
    of sound examples), NaN where sizes from 0 to 1 are all as likely; both common practice without source; shown: a
    size in ``unit``; effect: sizes, arrays too, to fields of ``Condition``."""

    name: str
    short: str
    said: str
    do: str
    often: float
    width: float
    unit: str
    shown: Callable[[float], float]
    effect: Callable[[Any], Mapping[str, Any]]


#: How much wider sizes are drawn than they are met, so that large faults have rows enough.
_WIDER = 1.25


FAULTS = tuple(
    Fault(name=name, short=short, said=said, do=do, often=often, width=width, unit=unit, shown=shown, effect=effect)
    for name, short, said, do, often, width, unit, shown, effect in (
        ("drive", "drive through the train", "drive lost between barrel and escape wheel",
         "clean and oil the train, look at its pivots and depths", 1.0, 0.28, "% lost", _lost,
         lambda s: {"drive": np.exp(-s)}),
        ("mainspring", "the mainspring", "a tired or wrong mainspring",
         "measure the strip, compare it with the right one and renew it", 1.0, 0.3, "% lost", _lost,
         lambda s: {"mainspring": np.exp(-s)}),
        ("pivot_vertical", "friction at the pivots' sides", "friction at the sides of the balance pivots",
         "look at the sides of the balance pivots and at their holes, clean and oil them", 3.0, 0.5, "% added", _added,
         lambda s: {"pivot_vertical": np.exp(s)}),
        ("pivot_flat_upper", "friction at the upper pivot's end",
         "friction at the end of the upper balance pivot (cock side)",
         "look at the end of the upper balance pivot and at its cap jewel", 2.0, 1.1, "% added", _added,
         lambda s: {"pivot_flat": np.exp(s)}),
        ("pivot_flat_lower", "friction at the lower pivot's end",
         "friction at the end of the lower balance pivot (dial side)",
         "look at the end of the lower balance pivot and at its cap jewel", 2.0, 1.1, "% added", _added,
         lambda s: {"pivot_flat": np.exp(s)}),
        ("drag", "drag of oil and air", "too much drag on the balance (oil, dirt, something touching)",
         "clean the balance, look for whatever touches it or the hairspring", 1.0, 0.4, "% added", _added,
         lambda s: {"drag": np.exp(s)}),
        ("lock", "depth of lock", "a lock deeper than drawn",
         "measure the locks; clean and oil and read again before a pallet stone is moved", 1.0, 1.35, "deg", float,
         lambda s: {"lock_deg": s}),
        ("oil", "old oil", "old oil throughout", "clean and oil the whole movement", 1.0, math.nan, "% dry",
         lambda s: 100.0 * s, lambda s: {"oil_age_years": OIL_LIFE_YEARS * s}),
    )
)  # fmt: skip
NAMES = tuple(fault.name for fault in FAULTS)
UPPER, LOWER = (NAMES.index(f"pivot_flat_{end}") for end in ("upper", "lower"))


def drawn_sizes(count: int, rng: np.random.Generator) -> tuple[Array, Array]:
    """Sizes (count, faults), each fault by itself, and the logarithm of how likely they are against how they are
    drawn."""
    share = (np.argsort(rng.random((len(FAULTS), count)), axis=1).T + 0.5) / count
    width = np.array([fault.width for fault in FAULTS])
    size = np.sqrt(-2.0 * np.log1p(-share))  # Rayleigh's distribution, in widths as drawn
    logs = 2.0 * math.log(_WIDER) + 0.5 * (1.0 - _WIDER**2) * size**2
    even = np.isnan(width)
    return np.where(even, share, _WIDER * width * size), np.where(even, 0.0, logs)


def condition_of(sizes: Array) -> Condition:
    """The condition with faults of ``sizes`` (..., movements, faults), for a stack; both ends of the staff rub alike in
    it."""
    found: dict[str, Any] = {}
    for j, fault in enumerate(FAULTS):
        for key, value in fault.effect(sizes[..., j, None, None]).items():
            found[key] = found[key] * value if key in found else value
    return unchecked(Condition(), found)  # type: ignore[no-any-return]
