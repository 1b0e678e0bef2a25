"""What if one cause were not there? The movement with chosen causes of its rate taken out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from oscsim.errors import InputError, hint, shown

if TYPE_CHECKING:
    from oscsim.files import Design
    from oscsim.movement import Movement

#: Causes that can be taken out of a running movement, and the values that take them out.
WITHOUT: Mapping[str, Mapping[str, float | None]] = {
    "regulation": {"balance.regulation_s_per_day": 0.0},
    "temperature": {"balance.temperature_s_per_day_c": 0.0, "balance.oil_share": 0.0},
    "hairspring": {"balance.cubic_stiffness": 0.0},
    "hairspring_shape": {},
    "hairspring_weight": {"hairspring.strip_mass_mg": None, "hairspring.strip_height_mm": None},
    "index_pins": {},
    "poise": {"balance.unbalance_ug_cm": 0.0},
    "pivots": {"balance.pivot_friction": 0.0},
    "out_of_beat": {"balance.out_of_beat_deg": 0.0},
}


def without(movement: Design, causes: Sequence[str]) -> Movement:
    """A copy with these causes (names of WITHOUT) taken out; its amplitudes may then differ too.

    Raises InputError for an unknown cause, and for one that no running movement can lack.
    """
    # loaded here: the command line lists WITHOUT, and needs no engine for that
    from oscsim.answers.shares import CAUSES
    from oscsim.files import movement_of

    for cause in causes:
        if cause in WITHOUT:
            continue
        known = ", ".join(WITHOUT)
        if cause in CAUSES:
            raise InputError(
                f"cause {shown(cause)}: {CAUSES[cause]}, which no running watch is without; its share can be shown; "
                f"can be taken out: {known}"
            )
        raise InputError(f"cause {shown(cause)}: must be one of {known}{hint(str(cause), WITHOUT)}")
    movement = movement_of(movement)
    if "index_pins" in causes:
        movement = replace(movement, index_pins=None)
    if "hairspring_shape" in causes:  # a torque again: with the shape go its weight and its side thrust
        kept = tuple(name for name in movement.filled if not name.startswith("hairspring."))
        movement = replace(movement, hairspring=None, filled=kept)
    return movement.with_({name: value for cause in causes for name, value in WITHOUT[cause].items()})
