"""What the hairspring's weight does to the vertical rates: (H7) of docs/hairspring.md, beside want of poise.

Both part opposite positions, but each goes its own way with the swing: want of poise as J₁(A)/A, silent near 220°, the
spring's weight as Γ(A), silent near 170° and greatest near 240°. Where a design gives its spring, the weight is taken
as drawn, give or take; elsewhere, and in a sketch, a usual flat spring stands in, of which no side is known.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from oscsim.answers.hairspring import pinned_further
from oscsim.arrays import Array
from oscsim.errors import InputError
from oscsim.movement import Movement
from oscsim.parts import hairspring as hair
from oscsim.parts.balance import stiffness
from oscsim.parts.hairspring_table import Hairspring, strip_mass
from oscsim.typical.hairsprings import USUAL
from oscsim.units import DAY, G0, MM, POSITIONS

#: What its weight does in a position at 225°, one standard deviation of either direction, s/day: 12 to 15 s/day from
#: one position to the opposite one were found natural (W. J. Kleinlein, Rules and Practice for Adjusting Watches,
#: 1920, §32-34), and many watches show less.
_NATURAL, _THERE = 4.0, math.radians(225.0)
#: How far the weight's effect of a spring that is drawn may lie from what is drawn, as a share of it: pinning and place
#: (common practice without source).
_AS_DRAWN = 0.4


#: A spring of which nobody knows whether it has whole or half turns is as uncertain as these together, each a quarter:
#: what its weight does goes as 1, cos β and sin β of its whole winding β.
_ANY_TURNS = tuple(replace(USUAL, turns=math.floor(USUAL.turns) + part) for part in (0.0, 0.25, 0.5, 0.75))


class SpringEffect(NamedTuple):
    """``columns`` (readings, unknowns): rate in s/day per s/day at 225°, of each spring two unknowns, the weight's
    effect along what is drawn and a quarter turn on; what is ``expected`` of these (unknowns,), give or take ``spread``
    (unknowns,), one standard deviation."""

    columns: Array
    expected: Array
    spread: Array


def spring_effect(movement: Movement, positions: Sequence[str], amplitude_deg: Array) -> SpringEffect:
    """The weight's part of the rate in ``positions``, nothing where flat, at true amplitudes (readings,): two unknowns,
    of the spring that is drawn or of a usual one."""
    spring = movement.hairspring or USUAL
    columns, largest, length = _columns(spring, positions, amplitude_deg)
    mass = float(np.ravel(strip_mass(spring, length))[0])
    if not is_drawn(movement) or not mass:
        return SpringEffect(columns / largest, np.zeros(2), np.full(2, _NATURAL))
    drawn = DAY * mass * G0 / float(np.ravel(stiffness(movement.balance))[0]) * MM * largest
    return SpringEffect(columns / largest, np.array([drawn, 0.0]), np.full(2, _AS_DRAWN * drawn))


def any_spring_effect(movement: Movement, positions: Sequence[str], amplitude_deg: Array) -> SpringEffect:
    """The same, but where the spring is not told, of whole, half and quarter turns alike: two unknowns of each."""
    if is_drawn(movement):
        return spring_effect(movement, positions, amplitude_deg)
    each = [_columns(spring, positions, amplitude_deg) for spring in _ANY_TURNS]
    largest = math.sqrt(sum(size**2 for _, size, _ in each) / len(each))
    columns = np.hstack([columns for columns, _, _ in each]) / largest
    unknowns = columns.shape[1]
    return SpringEffect(columns, np.zeros(unknowns), np.full(unknowns, _NATURAL / math.sqrt(len(each))))


def half_a_coil_further(
    movement: Movement, positions: Sequence[str], amplitude_deg: Array, found: Array
) -> Array | None:
    """What the weight does pinned half a coil further at the collet, s/day (readings,), ``found`` being what was found
    of it (unknowns,): what is off from the drawing in size and direction stays so. Where the spring is not drawn the
    opposite of now; None where too few turns would be left."""
    if not is_drawn(movement):
        return -any_spring_effect(movement, positions, amplitude_deg).columns @ found
    spring = movement.hairspring
    assert spring is not None
    try:
        further = pinned_further(spring, 0.5)
    except InputError:
        return None
    columns, _, after = _columns(further, positions, amplitude_deg)
    _, largest, before = _columns(spring, positions, amplitude_deg)
    mass = (float(np.ravel(strip_mass(*one))[0]) for one in ((further, after), (spring, before)))
    then, now = mass
    return np.asarray(columns @ found / largest * (then / now if now else 1.0))


def is_drawn(movement: Movement) -> bool:
    """Whether the design tells its spring, and how it is pinned."""
    return movement.hairspring is not None and "hairspring.pinning_deg" not in movement.filled


def _columns(
    spring: Hairspring, positions: Sequence[str], amplitude_deg: Array
) -> tuple[Array, float, Array]:
    """Γ in ``positions`` along what is drawn and a quarter turn on, mm (readings, 2), |Γ| at 225°, the strip's
    length."""
    found = hair.response(spring)
    largest = float(np.abs(hair.weight_lever(found.centroid, np.array([_THERE])))[0, 0])
    lever = hair.weight_lever(found.centroid, np.radians(amplitude_deg))[:, 0]
    hour_up = np.array([POSITIONS[symbol].hour_up for symbol in positions])
    down = np.where(np.isnan(hour_up), 0.0, np.exp(1j * (np.nan_to_num(hour_up) + math.pi)))
    turned = lever * np.conj(down)
    return np.column_stack([turned.real, -turned.imag]), largest, found.length[0]
