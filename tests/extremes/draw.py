"""Designs drawn over the whole range that a design file allows.

Every field is drawn between the bounds that its metadata gives: evenly, or evenly in the logarithm where the range
spans decades, and often at an end of it. Where values must fit together (docs/design-file.md), the range of the later
one is cut to what fits. Nearly all watches drawn like that stop, so there are three kinds, in turn:

    any       every field over its whole range
    driven    the same, with the mainspring's height and the train's ratio changed, as far as their own ranges allow,
              until the first-order amplitude is one between 40 and 500 deg
    odd       a bundled design with one to six of its fields drawn over their whole range, every other one driven too
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

import oscsim
from oscsim.arrays import Array, Indices
from oscsim.errors import InputError
from oscsim.fields import Quantity, quantities
from oscsim.motion.coefficients import Oscillators, joined
from oscsim.motion.start import first_drive
from oscsim.operating import operating_points
from oscsim.parts.balance import Balance, IndexPins
from oscsim.parts.escapement import Escapement, geometry
from oscsim.parts.mainspring import Barrel, Mainspring, full_turns
from oscsim.parts.train import Arbor, Arbors, JewelledHoles, Train
from oscsim.tables import quantity_of, to_table
from tests.levers import LEVERS

SEED = 20260301
POSITIONS = ("CH", "FH", "12H", "3H", "6H", "9H")
#: Each watch is asked in so many of the positions, at so many turns.
PLACES, WINDS = 2, 2
POINTS = PLACES * WINDS
#: How often a value is put at an end of its range.
_AT_AN_END = 0.06
_DECADES = 30.0
#: Where a range begins at zero the logarithm is drawn over so many decades.
_FROM_ZERO = 1e-4


@dataclass(frozen=True)
class Extreme:
    """One watch and where it stands."""

    kind: str
    movement: oscsim.Movement
    setting: oscsim.Setting


def between(rng: np.random.Generator, low: float, high: float) -> float:
    """A number from low to high: an end, even in the logarithm where that spans decades, or even."""
    chance = rng.random()
    if chance < _AT_AN_END:
        return low if chance < 0.5 * _AT_AN_END else high
    if low > 0.0 and high / low >= _DECADES:
        value = low * (high / low) ** rng.random()
    elif low == 0.0 and high > 0.0 and rng.random() < 0.5:
        value = high * _FROM_ZERO ** rng.random()
    else:
        value = low + (high - low) * rng.random()
    return float(min(max(value, low), high))


def drawn(rng: np.random.Generator, info: Quantity, most: float = math.inf, least: float = -math.inf) -> Any:
    """A value of one quantity, no more than ``most`` and no less than ``least``."""
    low, high = max(info.low, least), min(info.high, most)
    if info.whole:
        return int(rng.integers(int(low), int(high), endpoint=True))
    return between(rng, low, max(low, high))


def _part(rng: np.random.Generator, part: type[Any], **given: Any) -> Any:
    values = dict(given)
    for f, info in quantities(part):
        if f.name not in values:
            values[f.name] = None if info.optional and rng.random() < 0.5 else drawn(rng, info)
    return part(**values)


def _escapement(rng: np.random.Generator) -> Escapement:
    info = {f.name: quantity for f, quantity in quantities(Escapement)}
    teeth = drawn(rng, info["teeth"])
    half_pitch = 180.0 / teeth
    embraced = drawn(rng, info["teeth_embraced"], most=0.999 * 75.0 * teeth / 180.0)
    drop = drawn(rng, info["drop_deg"], most=0.99 * half_pitch)
    lock, run, lift = (drawn(rng, info[name]) for name in ("lock_deg", "run_deg", "pallet_lift_deg"))
    shake = drawn(rng, info["notch_shake_deg"], most=0.99 * lift)
    bank, own = lock + 2.0 * run + lift, lock + run + lift - shake
    least = 1.001 * bank / 180.0  # the pin within ±90 deg
    ratio, angle = drawn(rng, info["fork_ratio"], least=least), None
    if rng.random() < 0.3 and 10.0 <= own / ratio <= 120.0:
        ratio, angle = None, own / ratio
    slope = (half_pitch - drop) / lift / math.tan(math.pi * embraced / teeth)
    given = {
        "teeth": teeth,
        "teeth_embraced": embraced,
        "drop_deg": drop,
        "lock_deg": lock,
        "run_deg": run,
        "pallet_lift_deg": lift,
        "notch_shake_deg": shake,
        "fork_ratio": ratio,
        "lift_angle_deg": angle,
        "pallet_friction": drawn(rng, info["pallet_friction"], most=0.99 * slope),
    }
    return _part(rng, Escapement, **given)  # type: ignore[no-any-return]


def _spring(rng: np.random.Generator) -> tuple[Mainspring, Barrel]:
    strip = {f.name: quantity for f, quantity in quantities(Mainspring)}
    size = {f.name: quantity for f, quantity in quantities(Barrel)}
    inner = drawn(rng, size["inner_diameter_mm"])
    arbor = drawn(rng, size["arbor_diameter_mm"], most=0.98 * inner)
    free = math.pi / 4.0 * (inner**2 - arbor**2)
    thickness = drawn(rng, strip["thickness_mm"], most=0.9 * free / strip["length_mm"].low)
    length = drawn(rng, strip["length_mm"], most=0.98 * free / thickness)
    spring = _part(rng, Mainspring, thickness_mm=thickness, length_mm=length)
    return spring, Barrel(inner_diameter_mm=inner, arbor_diameter_mm=arbor)


def _train(rng: np.random.Generator) -> Train:
    changed = {}
    for f in fields(Arbors):
        if rng.random() < 0.3:
            # a file can change a radius that an arbor has, not take it away
            standard = to_table(getattr(Arbors(), f.name))
            changed[f.name] = Arbor(**(standard | to_table(_part(rng, Arbor))))
    # by its ratio: teeth that make a train are not drawn at random, and friction between them needs them
    given: dict[str, Any] = {"arbors": Arbors(**changed), "mesh_friction": None}
    info = {f.name: quantity for f, quantity in quantities(Train)}
    given |= {name: drawn(rng, info[name]) for name in ("ratio", "meshes", "mesh_efficiency")}
    if rng.random() < 0.3:
        given["jewels"] = _part(rng, JewelledHoles)
    return _part(rng, Train, **given)  # type: ignore[no-any-return]


def _movement(rng: np.random.Generator) -> oscsim.Movement:
    escapement = _escapement(rng)
    spring, barrel = _spring(rng)
    shape = geometry(escapement)
    within = math.degrees(float(shape.bank_to_bank / (2.0 * shape.fork_ratio)))
    within -= escapement.run_deg / float(shape.fork_ratio)
    angle = {f.name: quantity for f, quantity in quantities(Balance)}["out_of_beat_deg"]
    out = drawn(rng, angle, most=0.999 * within, least=-0.999 * within)
    if rng.random() < 0.5:
        out *= 0.1
    pins = None
    if rng.random() < 0.25:
        pins = _part(rng, IndexPins, low_contact_deg=-drawn(rng, Quantity("", "", "", 0.0, 360.0)),
                     high_contact_deg=drawn(rng, Quantity("", "", "", 0.001, 360.0)))  # fmt: skip
    return oscsim.Movement(
        name="extreme",
        balance=_part(rng, Balance, out_of_beat_deg=out),
        escapement=escapement,
        train=_train(rng),
        mainspring=spring,
        barrel=barrel,
        index_pins=pins,
    )


def _driven(rng: np.random.Generator, movement: oscsim.Movement) -> oscsim.Movement:
    """The movement with so much drive, as far as height and ratio can give it, that it may run."""
    points = operating_points(movement, oscsim.Setting())
    amplitude = math.radians(between(rng, 40.0, 500.0))
    with np.errstate(all="ignore"):
        factor = float(first_drive(points.oscillators, np.array([amplitude]))[0])
    if not 0.0 < factor < math.inf:
        return movement
    strip = {f.name: quantity for f, quantity in quantities(Mainspring)}["height_mm"]
    wheels = {f.name: quantity for f, quantity in quantities(Train)}["ratio"]
    height = min(max(movement.mainspring.height_mm * factor, strip.low), strip.high)
    factor /= height / movement.mainspring.height_mm
    ratio = min(max(movement.train.ratio / factor, wheels.low), wheels.high)
    return movement.with_({"mainspring.height_mm": height, "train.ratio": ratio})


def _odd(rng: np.random.Generator) -> oscsim.Movement:
    """A bundled design with some fields drawn over their whole range, each as far as it goes with the others."""
    movement = oscsim.load(str(rng.choice(LEVERS)))
    for name in rng.choice(_NAMES, size=int(rng.integers(1, 7)), replace=False):
        info = quantity_of(oscsim.Movement, name)
        assert info is not None
        try:
            movement = movement.with_({str(name): drawn(rng, info)})
        except InputError:
            continue  # it does not go with the rest of this watch
    return movement


#: Numbers of a design file but for the pins', which go together only in pairs.
_NAMES = [
    name
    for name in oscsim.parameter_names()
    if quantity_of(oscsim.Movement, name) is not None and not name.startswith(("index_pins.", "hairspring."))
]
KINDS = ("any", "driven", "odd")


def extreme(number: int, seed: int = SEED) -> Extreme:
    """Watch ``number`` of the series; always the same one, whatever else is drawn."""
    rng = np.random.default_rng([seed, number])
    kind = KINDS[number % len(KINDS)]
    while True:
        try:
            movement = _odd(rng) if kind == "odd" else _movement(rng)
            if kind == "driven" or (kind == "odd" and rng.random() < 0.5):
                movement = _driven(rng, movement)
            break
        except InputError:
            continue  # values that do not go together after all: drawn anew
    turns = float(full_turns(movement.mainspring, movement.barrel))
    tilt = between(rng, 0.0, 180.0) if rng.random() < 0.2 else None
    if (
        movement.hairspring is not None
    ):  # on a tilted dial its weight needs an hour that is up, and is refused without
        tilt = None
    setting = oscsim.Setting(
        positions=[str(place) for place in rng.choice(POSITIONS, size=PLACES, replace=False)],
        turns=[turns, turns * between(rng, 0.0, 1.0)],
        tilt_deg=tilt,
        temperature_c=between(rng, -20.0, 70.0),
    )
    return Extreme(kind, movement, setting)


@dataclass(frozen=True)
class Points:
    """Operating points of several watches as one batch; kind (points,) counts in ``KINDS``."""

    oscillators: Oscillators
    knock_angle: Array
    kind: Array

    def take(self, index: Indices) -> Points:
        return Points(self.oscillators.take(index), self.knock_angle[index], self.kind[index])

    @property
    def size(self) -> int:
        return self.oscillators.size


def points_of(numbers: Sequence[int], seed: int = SEED) -> Points:
    """The points of the watches with these numbers, ``POINTS`` each."""
    found = []
    for number in numbers:
        watch = extreme(number, seed)
        found.append((watch.kind, operating_points(watch.movement, watch.setting)))
    return Points(
        joined([points.oscillators for _, points in found]),
        np.concatenate([points.knock_angle for _, points in found]),
        np.repeat([KINDS.index(kind) for kind, _ in found], POINTS),
    )
