"""What readings a movement in a given condition would show, and how that changes with each cause: batches of both.

A cause is a departure from the design; z = 0 is the movement as designed. Factors are taken by their logarithm, so
that halves and doubles weigh the same.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from oscsim.answers.points import settled_points
from oscsim.answers.tolerance import spreads_of
from oscsim.arrays import Array, Indices
from oscsim.condition import AsItIs, Condition
from oscsim.movement import TWINS, Movement
from oscsim.operating import Moments, points_of, turns_left
from oscsim.parts.balance import stiffness
from oscsim.slips.readings import READ, Reading, Readings
from oscsim.stack import put_unchecked, stack_of, unchecked
from oscsim.tables import value_at
from oscsim.tolerances import NORMAL_95
from oscsim.units import G0, POSITIONS, UG_CM

#: Causes in the order of the parameters; unbalance has two, the heavy point towards 12 and towards 3.
CAUSES = (
    "drive",
    "mainspring",
    "pivot_vertical",
    "pivot_flat",
    "drag",
    "lock",
    "unbalance",
    "out_of_beat",
    "regulation",
    "isochronism",
)
#: Causes that are settings rather than faults of drive or friction: always allowed for.
ADJUSTMENTS = ("unbalance", "out_of_beat", "regulation")
PARAMETERS = (
    "drive",
    "mainspring",
    "pivot_vertical",
    "pivot_flat",
    "drag",
    "lock",
    "unbalance_12",
    "unbalance_3",
    "out_of_beat",
    "regulation",
    "isochronism",
)
_LOGARITHMIC = ("drive", "mainspring", "pivot_vertical", "pivot_flat", "drag")
#: Bounds of the logarithms, inside the condition's own ranges.
_FARTHEST = 2.5
#: Farthest out of beat that is tried, deg.
_MOST_OUT = 12.0
_LARGEST = {"drive": 0.6, "mainspring": 0.6, "pivot_vertical": 2.5, "pivot_flat": 2.5, "drag": 2.5}
#: Standard deviations of the priors (common practice without source): faults as they come to the bench. Factors by
#: their logarithm; lock in deg of lever, out of beat in deg, regulation in s/day, isochronism in 1/rad².
PRIOR = {
    "drive": 0.25,
    "mainspring": 0.25,
    "pivot_vertical": 0.6,
    "pivot_flat": 0.8,
    "drag": 0.35,
    "lock": 0.9,
    "out_of_beat": 1.5,
    "regulation": 60.0,
    "isochronism": 1.5e-5,
}
#: The prior unbalance as a torque over the hairspring's stiffness, each way: some 15 s/day at 180°.
_UNBALANCE = 0.002
#: Kind of value that is a beat error.
_BEAT = tuple(READ).index("beat_error_ms")


def parameters_of(cause: str) -> list[int]:
    """Indices of a cause's parameters."""
    return [i for i, name in enumerate(PARAMETERS) if name == cause or name.startswith(f"{cause}_")]


def prior_sd(movement: Movement) -> Array:
    """Prior standard deviation of every parameter, (parameters,)."""
    unbalance = _UNBALANCE * float(stiffness(movement.balance)) / G0 / UG_CM
    return np.array([PRIOR.get(name, unbalance) for name in PARAMETERS])


def search_box(movement: Movement) -> tuple[Array, Array]:
    """Least and greatest parameters that are tried, each (parameters,): where a condition still makes a watch."""
    own = movement.balance.out_of_beat_deg
    most = {
        **{name: _LARGEST[name] for name in _LOGARITHMIC},
        "lock": 4.0,
        "unbalance_12": 2000.0,
        "unbalance_3": 2000.0,
        "out_of_beat": _MOST_OUT - own,
        "regulation": 1900.0,
        "isochronism": 4e-4,
    }
    least = dict.fromkeys(_LOGARITHMIC, -_FARTHEST)
    least |= {"lock": 0.15 - movement.escapement.lock_deg, "out_of_beat": -_MOST_OUT - own}
    high = np.array([most[name] for name in PARAMETERS])
    return np.array([least.get(name, -most[name]) for name in PARAMETERS]), high


def own_unbalance(movement: Movement) -> tuple[float, float]:
    """The design's unbalance as a vector towards 12 and towards 3, µg·cm."""
    angle = math.radians(movement.balance.heavy_point_deg)
    return (
        movement.balance.unbalance_ug_cm * math.cos(angle),
        movement.balance.unbalance_ug_cm * math.sin(angle),
    )


def condition_of(movement: Movement, z: Array) -> Condition:
    """The condition that the departures z from the design describe; of rows of departures, last axis the parameters,
    one whose numbers are arrays (see ``stack_of_conditions``)."""
    values = dict(zip(PARAMETERS, np.moveaxis(np.asarray(z, float), -1, 0), strict=True))
    own_12, own_3 = own_unbalance(movement)
    towards_12, towards_3 = own_12 + values["unbalance_12"], own_3 + values["unbalance_3"]
    found: dict[str, Any] = {name: np.exp(values[name]) for name in _LOGARITHMIC} | {
        "lock_deg": values["lock"],
        "unbalance_ug_cm": np.hypot(towards_12, towards_3),
        "heavy_point_deg": np.degrees(np.arctan2(towards_3, towards_12)),
        "out_of_beat_deg": movement.balance.out_of_beat_deg + values["out_of_beat"],
        "regulation_s_per_day": values["regulation"],
        "cubic_stiffness": values["isochronism"],
    }
    if np.ndim(z) > 1:
        return unchecked(Condition(), found)  # type: ignore[no-any-return]
    return Condition(**{name: float(value) for name, value in found.items()})


@dataclass(frozen=True)
class Places:
    """Where and what is read: the rows, and each value's row and kind, (values,) each.

    lift_angle_deg: what the instrument was told, None the design's own; folded: of each value, the standard uncertainty
    of a beat error, 0 for the others.
    """

    rows: tuple[Reading, ...]
    row: Indices
    kind: Indices
    lift_angle_deg: float | None
    folded: Array

    def moments(self, as_is: AsItIs) -> Moments:
        """Where the movement (or each of a stack) lay and how far it was wound, row by row."""
        lay = [POSITIONS[row.position] for row in self.rows]
        tilt, up, hours, warmth = np.array([(p.tilt, p.hour_up, row.hours, row.temperature_c)
                                            for p, row in zip(lay, self.rows, strict=True)]).T  # fmt: skip
        return Moments(tilt, up, turns_left(as_is, hours), warmth)


def places_of(
    rows: Sequence[Reading], lift_angle_deg: float | None, kinds: Sequence[Sequence[bool]]
) -> Places:
    """The places of rows; ``kinds`` says per row which of amplitude, rate and beat error count."""
    row, kind = np.nonzero(np.asarray(kinds))
    noise = np.array([one.beat_error_ms_uncertainty for one in rows])
    return Places(tuple(rows), row, kind, lift_angle_deg, np.where(kind == _BEAT, noise[row], 0.0))


def read_values(readings: Readings) -> tuple[Array, Array, list[tuple[int, str]], Places]:
    """All values read (values,), their standard uncertainties, (row, kind) of each, and their places."""
    values, sigma, what, kinds = [], [], [], []
    for number, row in enumerate(readings.rows):
        wanted = [math.isfinite(getattr(row, kind)) for kind in READ]
        kinds.append(wanted)
        for kind, there in zip(READ, wanted, strict=True):
            if there:
                values.append(getattr(row, kind))
                sigma.append(getattr(row, f"{kind}_uncertainty"))
                what.append((number, kind))
    places = places_of(readings.rows, readings.lift_angle_deg, kinds)
    return np.array(values), np.array(sigma), what, places


def predict(
    movements: AsItIs, places: Places, design: Movement | None = None, *, thorough: bool = True
) -> Array:
    """What each movement of a stack would show at the places: (movements, values); NaN where it stops.

    An instrument that was told nothing else was told the lift angle of ``design``, and knows nothing of a lock deeper
    than drawn; without a design, each movement's own. ``thorough``: as in ``motion.settle.settle``.
    """
    told = places.lift_angle_deg
    if told is None and design is not None:
        told = math.degrees(float(design.escapement.lift_angle()))
    points = settled_points(points_of(movements, places.moments(movements)), told, thorough=thorough)
    shown = (points.apparent_amplitude_deg, points.rate_s_per_day, points.signed_beat_error_ms)
    found = np.stack(shown)[places.kind, :, 0, places.row].T
    beats = places.kind == _BEAT
    found[:, beats] = _folded(found[:, beats], places.folded[beats])
    return found


def _folded(signed: Array, noise: Array) -> Array:
    """What is shown on average when the sign is lost: the mean of a folded normal distribution, in any unit.

    (F. C. Leone, L. S. Nelson and R. B. Nottingham, Technometrics 3, 1961, 543.) A beat error of nothing is read as
    something.
    """
    off = np.abs(signed) / np.maximum(noise, 1e-12)
    near = math.sqrt(2.0 / math.pi) * np.exp(-0.5 * off**2) - off * np.vectorize(math.erfc, otypes=[float])(
        off / math.sqrt(2.0)
    )
    return np.asarray(np.abs(signed) + noise * near)


def stack_of_conditions(movement: Movement, z: Array) -> AsItIs:
    """The movement in the condition of each row of ``z`` (samples, parameters), as one stack."""
    # made plain: the fork is what it is, a lift angle in the design does not follow the lock
    return condition_of(movement, np.asarray(z, float)[:, None, None]).applied_to(stack_of([movement]))


def predictions(movement: Movement, z: Array, places: Places, *, thorough: bool = False) -> Array:
    """Readings for each row of parameters ``z`` (samples, parameters): (samples, values); NaN where it stops, or
    hardly runs unless ``thorough``."""
    return predict(stack_of_conditions(movement, z), places, movement, thorough=thorough)


def example_covariance(movement: Movement, places: Places, z: Array | None = None) -> Array:
    """Covariance of the readings among sound examples of the design, (values, values), from its tolerances.

    First order, about the design or about its departures ``z`` (parameters,). What a cause of its own describes (out
    of beat) is left out. NaN where some example stops.
    """
    spreads = [s for s in spreads_of(movement) if s.name != "balance.out_of_beat_deg"]
    if not spreads:
        return np.zeros((len(places.row),) * 2)
    about = movement if z is None else condition_of(movement, z).applied_to(movement).movement
    columns = []
    for spread in spreads:
        value = value_at(about, spread.name)
        if value is None:  # a condition that changes the lock keeps the fork and drops the lift angle
            value = math.degrees(float(about.escapement.lift_angle()))
        value = float(value)
        half = spread.half_width(value)
        columns.append(
            (spread.name, value, half / (NORMAL_95 if spread.shape == "normal" else math.sqrt(3.0)))
        )
    for n, (name, value, sigma) in enumerate(columns):
        changed = np.full((2 * len(columns), 1, 1), value)
        changed[2 * n : 2 * n + 2, 0, 0] += 0.2 * sigma * np.array([1.0, -1.0])
        about = put_unchecked(about, name, changed)
        if name in TWINS:
            about = put_unchecked(about, TWINS[name], None)
    found = predict(AsItIs(about), places, movement, thorough=z is None)
    # the spreads' own standard deviations cancel against the steps
    scaled = (found[::2] - found[1::2]).T / 0.4
    return np.asarray(scaled @ scaled.T)
