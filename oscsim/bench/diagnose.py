"""Is it healthy for what it is? If not, what is it, how sure are we, and what should be read next?"""

from __future__ import annotations

import math

import numpy as np

from oscsim.answers.band import band
from oscsim.answers.points import settled_points
from oscsim.answers.rundown import hours_to_amplitude
from oscsim.arrays import Array
from oscsim.bench.causes import UNITS, each_alone, judged_cause
from oscsim.bench.findings import FOUND, Cause, Diagnose, Judged
from oscsim.bench.model import (
    CAUSES,
    PARAMETERS,
    condition_of,
    example_covariance,
    predictions,
    read_values,
)
from oscsim.bench.next_reading import next_reading
from oscsim.bench.posterior import NINETY
from oscsim.bench.together import Together, together
from oscsim.bench.verdict import HIGH, verdict
from oscsim.errors import InputError
from oscsim.escapements.kinds import needs_lever
from oscsim.files import takes_design
from oscsim.movement import Movement
from oscsim.operating import operating_points
from oscsim.setting import Setting
from oscsim.slips.readings import Readings

#: Amplitudes without which nothing is said, and where they tell most.
_FEWEST_AMPLITUDES, _BEST = 2, ("CH", "12H")
#: A reading of less weight is left out of the verdict.
_DOUBTED = 0.5


@takes_design
def diagnose(
    movement: Movement,
    readings: Readings,
    *,
    robust: bool = False,
    tolerance_s_per_day: float = 10.0,
) -> Diagnose:
    """Judge readings against the design, estimate every cause, and rank them by evidence.

    ``robust`` lets single bad readings weigh less; the floor is that of ``band`` for ``tolerance_s_per_day``.
    Raises InputError when there are too few readings, saying which are missing.
    """
    needs_lever(movement.escapement, "a diagnosis")
    values, sigma, what, places = read_values(readings)
    amplitudes = np.array([kind == "amplitude_deg" for _, kind in what])
    if amplitudes.sum() < _FEWEST_AMPLITUDES:
        read = [readings.rows[row].position for row, kind in what if kind == "amplitude_deg"]
        missing = " and ".join(symbol for symbol in _BEST if symbol not in read)
        raise InputError(
            f"{readings.source}: {len(read) or 'no'} amplitude read, a diagnosis needs at least {_FEWEST_AMPLITUDES}; "
            f"missing is the amplitude in {missing}, best fully wound"
        )
    working = band(movement, tolerance_s_per_day)
    floor = working.floor_deg
    covariance = example_covariance(movement, places) + np.diag(sigma**2)
    sound = predictions(movement, np.zeros((1, len(PARAMETERS))), places, thorough=True)[0]
    if not np.isfinite(sound).all():
        raise InputError(
            f"{readings.source}: this design does not run wherever it was read; check hours and file"
        )
    joint = together(movement, values, sigma, places, robust=robust)
    whole = joint.best
    alone = each_alone(movement, values, places, joint)
    judged = _judged(readings, values, what, sound, covariance, joint)
    deficit, deficit_sd = _deficit(
        (values - sound)[amplitudes], covariance[np.ix_(amplitudes, amplitudes)], joint.weight[amplitudes]
    )
    following = next_reading(movement, readings, whole)
    causes = tuple(
        sorted(
            (judged_cause(movement, name, joint, alone, following) for name in CAUSES),
            key=lambda cause: -cause.evidence,
        )
    )
    # how far the lowest reading lies below its band, in standard deviations
    lowest = max(
        (
            (j.low - j.value) / (j.high - j.low) * 2.0 * NINETY
            for j in judged
            if j.kind == "amplitude_deg" and j.weight > _DOUBTED
        ),
        default=-math.inf,
    )
    inside = bool(-NINETY < deficit / deficit_sd < HIGH and lowest < NINETY)
    as_is = Setting(condition=condition_of(movement, whole.z))
    flat = float(settled_points(operating_points(movement, as_is)).at("CH").amplitude_deg)
    return Diagnose(
        movement,
        readings,
        None if movement.filled else inside,
        verdict(movement, inside, deficit, deficit_sd, causes),
        judged,
        causes,
        following,
        deficit,
        deficit_sd,
        floor,
        working.floor_is_least,
        flat - floor,
        _hours_left(movement, as_is, floor),
        whole,
        robust,
        tolerance_s_per_day,
    )


def _judged(
    readings: Readings,
    values: Array,
    what: list[tuple[int, str]],
    sound: Array,
    covariance: Array,
    joint: Together,
) -> tuple[Judged, ...]:
    """Every value against the band of sound examples."""
    half = NINETY * np.sqrt(np.diag(covariance))
    # a watch is regulated at the bench, so rates are judged about their own mean
    rates = np.array([kind == "rate_s_per_day" for _, kind in what])
    middle = sound.copy()
    if rates.any():
        middle[rates] += (values - sound)[rates].mean()
    low, high = middle - half, middle + half
    beat = np.array([kind == "beat_error_ms" for _, kind in what])
    low = np.where(beat, 0.0, low)  # no beat error is too small
    return tuple(
        Judged(
            readings.rows[row].position,
            readings.rows[row].hours,
            kind,
            float(values[n]),
            float(low[n]),
            float(high[n]),
            float(middle[n]),
            float(joint.best.predicted[n]),
            float(joint.best.residual[n]),
            float(joint.weight[n]),
        )
        for n, (row, kind) in enumerate(what)
    )


def _hours_left(movement: Movement, as_is: Setting, floor: float) -> float:
    """Hours from full wind until the flat amplitude of the movement as fitted reaches the floor."""
    hours = hours_to_amplitude(movement, floor, as_is)
    return 0.0 if hours <= 0.01 else hours


def _deficit(residual: Array, covariance: Array, weight: Array) -> tuple[float, float]:
    """Mean departure of the amplitudes from the design's, by weight, and its standard deviation."""
    share = weight / weight.sum()
    return float(share @ residual), float(math.sqrt(share @ covariance @ share))


__all__ = ["CAUSES", "FOUND", "UNITS", "Cause", "Diagnose", "Judged", "diagnose"]
