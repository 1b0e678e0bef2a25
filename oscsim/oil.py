"""What years without service do: one model of oil that goes, by kind of bearing, with the range of its sources.

Every friction rises evenly from that of fresh oil to that of clean, dry surfaces in ``OIL_LIFE_YEARS`` and then stays;
dirt and thickened oil raise the drag in step. How long oil lasts, and the drag, are common practice without source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from oscsim.arrays import Number
from oscsim.movement import Movement
from oscsim.parts.detent import DetentEscapement
from oscsim.stack import put_unchecked
from oscsim.tables import value_at

#: Years after which oil is taken to be gone (common practice without source).
OIL_LIFE_YEARS = 10.0


@dataclass(frozen=True)
class Dry:
    """Dry over oiled: friction of steel on stone, of steel on brass, and the drag by speed."""

    stone: float
    brass: float
    drag: float


#: Least: sapphire on steel 0.15, clean or oiled (CRC Handbook of Chemistry and Physics, static friction), and brass
#: 0.195/0.146 (F. Jenkin and J. A. Ewing, Phil. Trans. 167, 1877, 502, steel pivots).
LEAST = Dry(stone=1.0, brass=0.195 / 0.146, drag=1.0)
#: Most: agate for every stone, 0.200/0.107 (Jenkin and Ewing), brass 0.35 dry over 0.11 oiled (handbooks).
MOST = Dry(stone=0.200 / 0.107, brass=0.35 / 0.11, drag=1.3)
#: What is computed with: the geometric mean for stone, handbooks' 0.35 over 0.15 for brass, a tenth more drag.
MIDDLE = Dry(stone=(LEAST.stone * MOST.stone) ** 0.5, brass=0.35 / 0.15, drag=1.1)


def on_stones(part: Any) -> tuple[str, ...]:
    """Names of the friction of tooth on stone; a detent's is that of its locking stone and its impulse pallet."""
    if isinstance(part, DetentEscapement):
        return ("escapement.detent_friction", "escapement.impulse_friction")
    return ("escapement.pallet_friction",)


def oil_factors(movement: Movement, years: Number, dry: Dry = MIDDLE) -> dict[str, Number]:
    """What ``years`` since oiling multiply in a movement, by dotted name; arrays as ``years``."""
    gone = np.minimum(np.asarray(years, float) / OIL_LIFE_YEARS, 1.0)
    stone, brass, drag = (1.0 + gone * (end - 1.0) for end in (dry.stone, dry.brass, dry.drag))
    # a detent's impulse pallet has no oil to lose
    oiled = ("balance.pivot_friction", on_stones(movement.escapement)[0], "train.jewel_friction")
    return {**dict.fromkeys(oiled, stone), "train.brass_friction": brass, "balance.viscous_q": 1.0 / drag}


def aged(movement: Movement, years: Number, dry: Dry = MIDDLE) -> Movement:
    """The movement, or stack of movements, after ``years`` (an array that broadcasts against the stack's)."""
    changed: Any = movement
    for name, factor in oil_factors(movement, years, dry).items():
        changed = put_unchecked(changed, name, np.asarray(value_at(changed, name), float) * factor)
    return changed  # type: ignore[no-any-return]
