"""What happens when I move this? One look at a design with some of its numbers moved, quick enough to follow a hand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from oscsim.answers.budget import GROUPS, drive_of
from oscsim.answers.points import SettledPoints, points_from
from oscsim.arrays import Array, Flags
from oscsim.condition import LEAST_LOCK, AsItIs, Condition
from oscsim.errors import InputError, nearest, shown
from oscsim.escapements.kinds import needs_lever
from oscsim.fields import Quantity
from oscsim.motion.energy import account
from oscsim.motion.settle import SettledBatch, settle
from oscsim.motion.states import CODE, State, steady
from oscsim.motion.sustain import sustain
from oscsim.movement import Movement
from oscsim.operating import OperatingPoints, points_in, reserve
from oscsim.parts.train import JewelledHoles, jewelled_holes
from oscsim.setting import Setting
from oscsim.tables import quantity_of
from oscsim.units import POSITIONS

HOURS = (0.0, 24.0)
#: Positions of the run-down, and the one of the rate map.
FALLING, UPRIGHT = ("CH", "12H"), "12H"
_FALL = 24
#: Amplitudes and directions from straight below at which the heavy point's effect is computed, deg; the picture has
#: ``_ROUND`` directions, by Fourier's sum through the computed ones.
AMPLITUDES = np.linspace(140.0, 310.0, 12)
DIRECTIONS = np.arange(0.0, 360.0, 45.0)
_ROUND = 73
_CEILING, _DEGREE = 4.0, 7
_FRICTIONS = ("train.jewel_friction", "train.brass_friction")
#: Jewels counted beside those of the train: four at the balance, one at the roller, two stones.
_BALANCE_JEWELS = 7


@dataclass(frozen=True)
class Handle:
    """One number to be moved: its words and unit, range, the value that the design has, and the step (0: none)."""

    name: str
    words: str
    unit: str
    low: float
    high: float
    value: float
    step: float = 0.0


def handles(movement: Movement) -> tuple[Handle, ...]:
    """What can be moved: mainspring torque, inertia, lock, jewels, friction, unbalance and heavy point."""
    needs_lever(movement.escapement, "the explorer")
    inertia, lock = movement.balance.inertia_mg_cm2, movement.escapement.lock_deg
    unbalance = movement.balance.unbalance_ug_cm

    def within(name: str, wanted: float) -> float:
        """No slider goes farther than a design may."""
        bounds = quantity_of(Movement, name)
        assert bounds is not None
        return min(max(wanted, bounds.low), bounds.high)

    jewels = float(_jewels(movement))
    # a hole may be rough already
    rough = max(getattr(movement.train, name.removeprefix("train.")) for name in _FRICTIONS)
    return (
        Handle("torque", "mainspring torque", "%", 40.0, 140.0, 100.0),
        Handle(
            "inertia",
            "balance inertia",
            "mg·cm²",
            within("balance.inertia_mg_cm2", 0.6 * inertia),
            within("balance.inertia_mg_cm2", 1.6 * inertia),
            inertia,
        ),
        Handle(
            "lock",
            "lock",
            "deg",
            max(LEAST_LOCK, lock - 1.5),
            within("escapement.lock_deg", lock + 2.0),
            lock,
        ),
        Handle("jewels", "jewels", "", min(7.0, jewels), max(25.0, jewels), jewels, 1.0),
        Handle(
            "friction",
            "friction",
            "%",
            50.0,
            100.0 * within(_FRICTIONS[0], 2.0 * rough) / rough if rough else 200.0,
            100.0,
        ),
        Handle(
            "unbalance",
            "want of poise",
            "µg·cm",
            0.0,
            within("balance.unbalance_ug_cm", max(20.0, 4.0 * unbalance)),
            unbalance,
        ),
        Handle(
            "heavy_point", "heavy point", "deg from 12", 0.0, 360.0, movement.balance.heavy_point_deg % 360.0
        ),
    )


def _jewels(movement: Movement) -> int:
    """The count, or what holes given one by one come to."""
    jewels = movement.train.jewels
    if not isinstance(jewels, JewelledHoles):
        return int(jewels)
    holes = sum(int(jewelled_holes(movement.train, name)) for name in JewelledHoles.__dataclass_fields__)
    return _BALANCE_JEWELS + holes


def moved(movement: Movement, values: Mapping[str, float]) -> tuple[Movement, Condition]:
    """The design and condition with handles at ``values``; handles not named stay with the design.

    The fork stays as it is when the lock moves. Raises InputError for an unknown handle or a value out of its range.
    """
    known = {handle.name: handle for handle in handles(movement)}
    for name, value in values.items():
        if name not in known:
            raise InputError(f"{shown(name)}: nothing to be moved; {nearest(name, known)}")
        handle = known[name]
        kind = Quantity(handle.unit, "", handle.words, handle.low, handle.high, whole=bool(handle.step))
        # sliders give whole numbers as floats
        kind.check(
            name, int(value) if kind.whole and isinstance(value, float) and value.is_integer() else value
        )
    away = {name: float(value) for name, value in values.items() if value != known[name].value}
    changes: dict[str, float] = {}
    worn: dict[str, float] = {}
    if "torque" in away:
        worn["mainspring"] = away["torque"] / 100.0
    if "inertia" in away:
        changes["balance.inertia_mg_cm2"] = away["inertia"]
    if "lock" in away:
        worn["lock_deg"] = away["lock"] - known["lock"].value
    if "jewels" in away:
        changes["train.jewels"] = round(away["jewels"])
    if "friction" in away:
        factor = away["friction"] / 100.0
        worn |= {"pivot_vertical": factor, "pivot_flat": factor, "pallet_friction": factor}
        changes |= {
            name: factor * getattr(movement.train, name.removeprefix("train.")) for name in _FRICTIONS
        }
    if "unbalance" in away:
        changes["balance.unbalance_ug_cm"] = away["unbalance"]
    if "heavy_point" in away:
        changes["balance.heavy_point_deg"] = away["heavy_point"]
    return (movement.with_(changes) if changes else movement), Condition(**worn)


@dataclass(frozen=True)
class View:
    """One look. ``points``: the six positions (6, 2), fully wound and 24 h later; ``run``: FALLING over ``hours``,
    (2, n), with ``known`` False where the state was left open; ``effect_s_per_day`` (amplitudes, directions from
    below): what the heavy point adds to the rate upright, NaN where no torque keeps the amplitude up; node_deg: where
    it turns over, NaN without one; given_j and taken_j: energy of a beat dial up, fully wound, and where it goes."""

    movement: Movement
    condition: Condition
    points: SettledPoints
    hours: Array
    run: SettledPoints
    known: Flags
    effect_s_per_day: Array
    node_deg: float
    given_j: float
    taken_j: dict[str, float]


def view(movement: Movement, values: Mapping[str, float] | None = None, *, thorough: bool = True) -> View:
    """A look at the design with handles at ``values`` (see ``handles``).

    ``thorough`` False leaves open, in the run-down, the few points that take as long as all others together. Raises
    InputError as ``moved`` does.
    """
    movement, condition = moved(movement, values or {})
    as_is = condition.applied_to(movement)
    six = points_in(as_is, Setting(positions=tuple(POSITIONS), hours=HOURS))
    batch = settle(six.oscillators, six.knock_angle)
    given, taken = _energy(as_is, six, batch)
    hours, run, known = _fall(as_is, thorough)
    effect = _effect(as_is)
    return View(
        movement, condition, points_from(six, batch), hours, run, known, effect, _node(effect), given, taken
    )


def _fall(as_is: AsItIs, thorough: bool) -> tuple[Array, SettledPoints, Flags]:
    hours = np.linspace(0.0, float(reserve(as_is)), _FALL)
    points = points_in(as_is, Setting(positions=FALLING), hours)
    batch = settle(points.oscillators, points.knock_angle, thorough=thorough)
    run = points_from(points, batch)
    # without a torque it stops for certain
    open_points = (batch.state == CODE[State.STOPS]) & (points.escape_torque > 0.0) & (not thorough)
    return hours, run, ~open_points.reshape(points.shape)


def _effect(as_is: AsItIs) -> Array:
    """Rate with the heavy point at each direction less that of a poised balance, at each amplitude."""
    points = points_in(as_is, Setting(positions=UPRIGHT))
    count = len(DIRECTIONS)
    swing = np.repeat(np.radians(AMPLITUDES), count + 1)
    osc = points.oscillators.repeated(len(swing))
    gravity, heavy = osc.gravity.reshape(-1, count + 1), np.zeros((len(AMPLITUDES), count + 1))
    gravity[:, count], heavy[:, :count] = 0.0, np.radians(DIRECTIONS)
    found = sustain(replace(osc, gravity=gravity.ravel(), heavy=heavy.ravel()), swing)
    rate = np.where(found.reached(_CEILING), points.rate(found.cycle.period), math.nan)
    rate = rate.reshape(-1, count + 1)
    return np.asarray(rate[:, :count] - rate[:, count:])


def _node(effect: Array) -> float:
    """The amplitude at which the part that goes with the heavy point below or above vanishes, deg; from the map that is
    drawn anyway, since ``heavy_point.Turned.node`` would settle anew at every move of a handle."""
    below = effect @ np.cos(np.radians(DIRECTIONS))
    known = np.isfinite(below)
    if known.sum() <= _DEGREE or not np.abs(below[known]).max() > 0.0:
        return math.nan
    fit = np.polynomial.Chebyshev.fit(AMPLITUDES[known], below[known], _DEGREE)
    roots = fit.roots()
    real = np.real(roots[np.abs(np.imag(roots)) < 1e-9])
    inside = real[(real > AMPLITUDES[known][0]) & (real < AMPLITUDES[known][-1])]
    return float(inside[0]) if len(inside) == 1 else math.nan


def all_round(effect: Array) -> tuple[Array, Array]:
    """Directions in small steps, deg from straight below, and the effect there, by Fourier's sum through the given."""
    count = len(DIRECTIONS)
    angles = np.linspace(-180.0, 180.0, _ROUND)
    order = np.fft.fftfreq(count, 1.0 / count)
    kernel = np.exp(1j * np.outer(order, np.radians(angles)))
    return angles, np.real(np.fft.fft(effect, axis=1) @ kernel) / count


def _energy(as_is: AsItIs, points: OperatingPoints, batch: SettledBatch) -> tuple[float, dict[str, float]]:
    """Energy at the first point: given to the escape wheel, and taken by each group; NaN where it does not settle."""
    if not steady(batch.state)[0]:
        return math.nan, dict.fromkeys(GROUPS, math.nan)
    one = slice(0, 1)
    drive = drive_of(as_is, points).take(one)
    given, taken = account(points.oscillators.take(one), batch.cycle.take(one), drive)
    stiffness = float(points.stiffness[0])
    found = {
        group: stiffness * sum(float(taken[place][0]) for place in places) for group, places in GROUPS.items()
    }
    return stiffness * float(given[0]), found
