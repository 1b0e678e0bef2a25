"""The hairspring for a moving drawing: its points at some angles of the balance, between which a page can go."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from oscsim.arrays import Array
from oscsim.movement import Movement
from oscsim.parts.hairspring_table import Hairspring, coil_on_dial, coils_of, opened
from oscsim.teaching.page_tables import nodes
from oscsim.teaching.words import Words
from oscsim.typical import hairsprings

#: The usual flat spring with whole turns, for a design that does not give its own.
USUAL = replace(hairsprings.USUAL, turns=12.0)
#: Angles of the balance, and how far they go, rad; points a turn.
_ANGLES, _REACH, _A_TURN = 7, math.radians(400.0), 20


@dataclass(frozen=True, kw_only=True)
class DrawnCoil:
    """A coil about the staff, seen from the dial, x to 3 and y to 12 o'clock, mm: (points, angles), at Chebyshev's
    angles over ``span_deg``. Each point is turned back by its share of the balance's turn: all of it at the collet,
    none at the stud."""

    x: Array
    y: Array
    span_deg: tuple[float, float]
    inner_mm: float
    radius_mm: float


def coil_words(spring: Hairspring, angle_deg: float, say: Words) -> str:
    """What the balance at this angle does to the spring: the name of its drawing."""
    if not angle_deg:
        return say("coil_rest")
    words = "coil_unwound" if opened(spring, angle_deg) else "coil_wound"
    return say(words, angle=f"{angle_deg:+.0f}°".replace("-", "−"))


def drawn_coil(movement: Movement) -> DrawnCoil:
    """The movement's hairspring, or a usual flat one where the design says nothing of its shape."""
    spring = movement.hairspring or USUAL
    angles = nodes(_ANGLES, -_REACH, _REACH)
    place = coil_on_dial(spring, angles, _A_TURN)  # 12 o'clock along, 3 o'clock across, clockwise
    kept = 1.0 - np.linspace(0.0, 1.0, len(place))[:, None]
    still = place * np.exp(-1j * angles * kept)
    return DrawnCoil(
        x=still.imag,
        y=still.real,
        span_deg=(-math.degrees(_REACH), math.degrees(_REACH)),
        inner_mm=float(coils_of(spring).inner[0]),
        radius_mm=float(coils_of(spring).outer[0]),
    )
