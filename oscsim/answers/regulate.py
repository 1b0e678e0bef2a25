"""Regulation: set the hairspring so that the mean of chosen positions and hours has a chosen rate."""

from __future__ import annotations

import numpy as np

from oscsim.answers.points import settled_points
from oscsim.errors import InputError
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.movement import Movement
from oscsim.operating import operating_points
from oscsim.setting import Setting
from oscsim.units import POSITIONS

TARGET = Quantity("s/day", "", "mean rate to be regulated to", -1000, 1000)
#: The mean rate hits its target to this, s/day.
_PRECISION = 1e-8
_STEPS = 12
_KEY = "balance.regulation_s_per_day"


@takes_design
def regulate(movement: Movement, target_s_per_day: float = 0.0, at: Setting | None = None) -> Movement:
    """A copy whose hairspring is set so that the mean rate over ``at`` (default: all six positions, fully wound)
    is the target.

    Raises InputError for a target out of range, where the movement stops or wanders at one of the chosen
    points, and where the hairspring would have to be set beyond its range.
    """
    TARGET.check("target_s_per_day", target_s_per_day)
    at = at or Setting(positions=tuple(POSITIONS))
    setting = movement.balance.regulation_s_per_day
    for _ in range(_STEPS):
        error = _mean_rate(movement, at) - target_s_per_day
        if abs(error) <= _PRECISION:
            return movement
        # the mean follows the hairspring almost one to one
        setting -= error
        movement = movement.with_({_KEY: setting})
    raise InputError(f"target_s_per_day = {target_s_per_day:g} s/day: the mean rate does not settle there")


def _mean_rate(movement: Movement, at: Setting) -> float:
    points = settled_points(operating_points(movement, at))
    rated = points.steady
    if not (rated & np.isfinite(points.rate_s_per_day)).all():
        where = np.argwhere(~rated | ~np.isfinite(points.rate_s_per_day))[0]
        symbol, hours = at.positions[where[0]], points.hours[tuple(where)]
        raise InputError(
            f"regulation at {symbol}, {hours:g} h: the state there is {points.state[tuple(where)]}, so it has no rate "
            "to regulate; choose other positions or hours"
        )
    return float(points.rate_s_per_day.mean())


def regulated_word(movement: Movement) -> str:
    """How rates are given: 'as built' or 'regulated'."""
    return "regulated" if movement.balance.regulation_s_per_day else "as built"
