"""What was read of one sound example, as a fit takes it: values, the instrument's covariance, examples apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from oscsim.answers.joint import points_read, stacked
from oscsim.answers.points import settled_points
from oscsim.answers.tolerance import spreads_of
from oscsim.arrays import Array, Indices
from oscsim.condition import AsItIs
from oscsim.errors import InputError
from oscsim.movement import Movement
from oscsim.slips.readings import READ, UNCERTAINTY, Reading, Readings
from oscsim.stack import stack_of
from oscsim.tables import value_at
from oscsim.tolerances import NORMAL_95

#: Rates of one example share an unknown regulation, s/day, unless it is fitted.
_REGULATION = 1e3
#: What amplitudes share beside noise, deg: an offset, and an effect of the position; of rates the position's, s/day.
_OFFSET, _BY_POSITION, _RATE_BY_POSITION = 3.0, 4.0, 3.0
#: Numbers that rates and beat errors count for only where they are fitted.
BEAT, SET = "balance.out_of_beat_deg", "balance.regulation_s_per_day"
#: Step of the difference quotients, in standard deviations.
_QUOTIENT = 0.2


@dataclass(frozen=True)
class ExampleValues:
    """Values read of one example: rows, each value's row and kind (0 amplitude, 1 rate, 2 beat error), what was read,
    the instrument's covariance and the lift angle told."""

    rows: tuple[Reading, ...]
    row: Indices
    kind: Indices
    read: Array
    sigma: Array
    noise: Array
    told: float
    source: str


def values_of(readings: Readings, movement: Movement, names: Sequence[str]) -> ExampleValues:
    """What counts of the readings: beat errors only where the beat is fitted. Raises InputError where nothing does."""
    rows = tuple(row for row in readings.rows if not row.stops)
    if len(rows) < len(readings.rows):
        raise InputError(f"{readings.source}: it stops in a position; fit only movements in good order")
    kinds = [kind for kind in READ if kind != "beat_error_ms" or BEAT in names]
    read = np.array([[getattr(row, kind) for kind in kinds] for row in rows])
    row, kind = np.nonzero(np.isfinite(read))
    if not len(row):
        raise InputError(f"{readings.source}: neither amplitudes nor rates to fit to")
    times = np.sqrt([row.times for row in rows])
    sigma = (
        np.array([[getattr(row, f"{kind}_uncertainty") for kind in kinds] for row in rows]) / times[:, None]
    )
    # the instrument knows the design as it was, not what the search makes of it
    told = readings.lift_angle_deg or math.degrees(float(movement.escapement.lift_angle()))
    values = read[row, kind]
    amplitude, rate = (kind == 0).astype(float), (kind == 1).astype(float)
    place = np.array([rows[n].position for n in row])
    same = (place[:, None] == place).astype(float)
    scaled = amplitude * values * readings.lift_angle_uncertainty_deg / told
    noise = np.diag(sigma[row, kind] ** 2) + np.outer(scaled, scaled)
    noise += np.outer(amplitude, amplitude) * (_OFFSET**2 + _BY_POSITION**2 * same)
    regulated = _REGULATION**2 if SET not in names else 0.0
    noise += np.outer(rate, rate) * (regulated + _RATE_BY_POSITION**2 * same)
    return ExampleValues(rows, row, kind, values, sigma[row, kind], noise, told, readings.source)


def shown_by(stack: Movement, one: ExampleValues) -> Array:
    """What each movement of a stack would show where the values were read, (movements, values); NaN where it stops."""
    points = settled_points(points_read(AsItIs(stack), one.rows), one.told)
    # the sign of a beat error is lost, and one of nothing is read as something
    beat = np.hypot(points.signed_beat_error_ms, math.sqrt(2.0 / math.pi) * UNCERTAINTY["beat_error_ms"])
    shown = np.stack([points.apparent_amplitude_deg, points.rate_s_per_day, beat])
    return np.asarray(shown[one.kind, :, 0, one.row].T)


def apart_by(movement: Movement, one: ExampleValues, own: Sequence[str]) -> Array:
    """Covariance of the values among sound examples, from the spreads of all numbers but ``own``; first order."""
    plain = stack_of([movement])
    spreads = [s for s in spreads_of(movement) if s.name not in (*own, BEAT)]
    if not spreads:
        return np.zeros((len(one.read),) * 2)
    values, sds = [], []
    for spread in spreads:
        value = float(value_at(movement, spread.name))
        half = spread.half_width(value)
        values.append(value)
        sds.append(half / (NORMAL_95 if spread.shape == "normal" else math.sqrt(3.0)))
    columns = {}
    for n, (spread, value, sd) in enumerate(zip(spreads, values, sds, strict=True)):
        column = np.full(2 * len(spreads), value)
        column[2 * n : 2 * n + 2] += _QUOTIENT * sd * np.array([1.0, -1.0])
        columns[spread.name] = column
    stack = stacked(
        plain,
        columns | {"balance.beats_per_hour": np.full(2 * len(spreads), movement.balance.beats_per_hour)},
    )
    shown = shown_by(stack, one)
    slopes = (shown[::2] - shown[1::2]).T / (2.0 * _QUOTIENT)
    slopes = np.where(np.isfinite(slopes), slopes, 0.0)
    return np.asarray(slopes @ slopes.T)
