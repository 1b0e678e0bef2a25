"""The next most telling reading: the one that would narrow the causes of a low amplitude most."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from oscsim.arrays import Array
from oscsim.bench.fitting import Fit
from oscsim.bench.model import (
    ADJUSTMENTS,
    CAUSES,
    PARAMETERS,
    Places,
    parameters_of,
    places_of,
    predictions,
    prior_sd,
)
from oscsim.bench.posterior import neighbours, slopes
from oscsim.errors import InputError
from oscsim.movement import Movement
from oscsim.slips.readings import READ, UNCERTAINTY, Reading, Readings
from oscsim.units import POSITIONS

_KINDS = tuple(READ)
_FAULTS = [i for name in CAUSES if name not in ADJUSTMENTS for i in parameters_of(name)]
#: Causes that it narrows by less than this share are not named.
_NARROWED = 0.03
_NAMED = 2


@dataclass(frozen=True)
class Next:
    """Where to read what; ``again`` when it was read before. gain_nats: the drop in the entropy of the faults' joint
    distribution; narrows: the causes whose intervals shrink most; slope (parameters,) of that reading."""

    position: str
    hours: float
    read: str
    again: bool
    gain_nats: float
    narrows: tuple[str, ...]
    slope: Array

    def to_dict(self) -> dict[str, Any]:
        """For JSON, with the reason in words."""
        return {
            "position": self.position,
            "hours": self.hours,
            "read": self.read,
            "again": self.again,
            "gain_nats": self.gain_nats,
            "narrows": self.narrows,
            "why": self.why,
        }

    @property
    def why(self) -> str:
        """The reason in words, for the causes' names in ``narrows``."""
        tells = f"it would tell most about what these readings leave open ({self.gain_nats:.2f} nats)"
        return f"every place is read; of all repeats {tells}" if self.again else tells


def next_reading(movement: Movement, readings: Readings, whole: Fit) -> Next:
    """The reading not yet taken, at the hours read or 0 and 24, that tells most; when all are taken, the best repeat.

    Raises InputError when the movement as fitted runs nowhere.
    """
    taken = {(row.position, row.hours): row for row in readings.rows}
    hours = sorted({0.0, 24.0, *(row.hours for row in readings.rows)})
    rows, kinds = [], []
    for symbol, hour in product(POSITIONS, hours):
        row = taken.get((symbol, hour))
        open_kinds = [row is None or not math.isfinite(getattr(row, kind)) for kind in READ]
        if any(open_kinds):
            rows.append(Reading(symbol, hour))
            kinds.append(open_kinds)
    best = _most_telling(movement, places_of(rows, readings.lift_angle_deg, kinds), whole) if rows else None
    if best is None:
        kinds = [[math.isfinite(getattr(row, kind)) for kind in READ] for row in readings.rows]
        places = places_of(readings.rows, readings.lift_angle_deg, kinds)
        best = _most_telling(movement, places, whole, again=True)
    if best is None:
        raise InputError(f"{readings.source}: as fitted the movement runs at none of these places")
    return best


def _most_telling(movement: Movement, places: Places, whole: Fit, *, again: bool = False) -> Next | None:
    """The place with the largest gain, None where the movement stops at all of them."""
    columns, sd = list(whole.columns), prior_sd(movement)[list(whole.columns)]
    rows = np.tile(whole.z, (1 + len(columns), 1))
    rows[:, columns] = neighbours(whole.z[columns], sd)
    slope = slopes(predictions(movement, rows, places), sd)
    at = [whole.columns.index(i) for i in _FAULTS]
    before = np.linalg.slogdet(whole.covariance[np.ix_(at, at)])[1]
    best, gain, kept = None, -math.inf, whole.covariance
    for n, kind in enumerate(places.kind):
        row = slope[n]
        if not np.isfinite(row).all():
            continue
        carried = whole.covariance @ row
        noise = UNCERTAINTY[_KINDS[kind]] ** 2
        after = whole.covariance - np.outer(carried, carried) / (noise + row @ carried)
        gained = 0.5 * (before - np.linalg.slogdet(after[np.ix_(at, at)])[1])
        if gained > gain:
            best, gain, kept = n, gained, after
    if best is None:
        return None
    row, kind = places.rows[places.row[best]], places.kind[best]
    shrunk = 1.0 - np.sqrt(np.diag(kept)[at] / np.diag(whole.covariance)[at])
    order = [n for n in np.argsort(-shrunk)[:_NAMED] if shrunk[n] > _NARROWED]
    full = np.zeros(len(PARAMETERS))
    full[list(whole.columns)] = slope[best]
    return Next(
        row.position,
        row.hours,
        _KINDS[kind],
        again,
        float(gain),
        tuple(PARAMETERS[_FAULTS[n]] for n in order),
        full,
    )
