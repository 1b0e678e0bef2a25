"""How sure a reading is: the instrument's own noise, the breathing of the train, and how often the place was read."""

from __future__ import annotations

import math
from dataclasses import replace

from oscsim.answers.breathing import follows_drive, reading_uncertainty_deg
from oscsim.errors import InputError
from oscsim.movement import Movement
from oscsim.slips.readings import UNCERTAINTY, Reading, Readings

#: Seconds over which an amplitude is commonly read, and what one reading is unsure by besides the train's breathing,
#: deg: with the 2 to 3 deg of a usual train it comes to the 5 deg of common practice (without source).
READ_FOR_S, BESIDE_RIPPLE_DEG = 30.0, 4.5


def ripple_deg(movement: Movement, seconds: float = READ_FOR_S) -> float | None:
    """What the usual ripple of a movement's train gives a reading of so many seconds, one standard deviation, deg; None
    where its teeth are not counted or nothing breathes evenly."""
    try:
        return reading_uncertainty_deg(follows_drive(movement), movement, seconds)
    except InputError:
        return None


def as_sure(readings: Readings, breathes: float | None) -> Readings:
    """The readings with the standard uncertainty of each row's values as they stand there: where nobody told one, the
    amplitude's holds what the train ``breathes`` (``ripple_deg``); a place read several times is that much surer."""
    usual = UNCERTAINTY["amplitude_deg"]
    own = usual if breathes is None else math.hypot(BESIDE_RIPPLE_DEG, breathes)

    def sure(row: Reading) -> Reading:
        once, share = row.amplitude_deg_uncertainty, 1.0 / math.sqrt(row.times)
        return replace(
            row,
            amplitude_deg_uncertainty=share * (own if once == usual else once),
            rate_s_per_day_uncertainty=share * row.rate_s_per_day_uncertainty,
            beat_error_ms_uncertainty=share * row.beat_error_ms_uncertainty,
            times=1,
        )

    return replace(readings, rows=tuple(map(sure, readings.rows)))
