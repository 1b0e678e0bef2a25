"""The designs that a bench slip leaves possible, drawn together: what was not measured by the laws of its family, each
about what was drawn before it, the family too where nobody told it.

Makers have habits, and these are most of what is known of a movement without a drawing: sound and fully wound it shows
about the usual amplitude of its family and does not knock, and it still runs well a day later. Where nobody measured
the strip, the maker chose it so: its height is what keeps up a drawn amplitude. Where somebody did, designs are drawn
again by how usual their amplitude is.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from oscsim.answers.points import settled_points
from oscsim.arrays import Array, Flags, Indices
from oscsim.condition import AsItIs
from oscsim.errors import InputError
from oscsim.motion.sustain import sustain
from oscsim.movement import Movement, movement_from
from oscsim.operating import Moments, OperatingPoints, operating_points, points_of, turns_left
from oscsim.parts.escapement import fork_ratio, geometry
from oscsim.parts.mainspring import turns_of_development
from oscsim.parts.train import JewelledHoles, jewelled_holes
from oscsim.setting import Setting
from oscsim.slips.readings import Reading, Readings
from oscsim.slips.slip import Slip
from oscsim.stack import put_unchecked, stack_of, unchecked
from oscsim.tables import put, quantity_of
from oscsim.tolerances import NORMAL_95
from oscsim.typical.families import FAMILIES, family_weights
from oscsim.typical.laws import draw, fill
from oscsim.units import POSITIONS

#: Where a design of a joint is known to run: the amplitudes that come with it.
PLACES = Setting(positions=("CH", "12H"), hours=(0.0, 24.0))
#: Strips of fewer turns make no mainspring.
_LEAST_TURNS = 1.5
#: Of a wheel's half tooth space, what the drop may take.
_MOST_DROP = 0.9
_STRIP = ("mainspring.height_mm", "mainspring.thickness_mm")
_SLIP, _CURVE, _JEWELS = "mainspring.slip_torque_n_mm", "mainspring.free_curvature_per_m", "train.jewels"
_LIFT = "escapement.lift_angle_deg"
#: What a family without the number has.
_ABSENT = {_SLIP: np.inf, _CURVE: 0.0}
#: How much oftener designs are drawn than kept, where the strip is solved for and where it was measured.
_OVER_SOLVED, _OVER_MEASURED = 2.0, 4.0
#: At least so many designs of a family that is possible at all.
_FEWEST = 60
#: With readings of a sound movement the amplitude is drawn over all that a watch shows, deg.
_WIDE = (130.0, 335.0)
#: What amplitudes of one movement share beside noise, deg: an offset, the position's own; a stop is read as 0 deg,
#: give or take so much.
_OFFSET, _BY_POSITION, _STOPPED = 3.0, 3.0, 60.0
#: A lift angle to reckon an instrument's error by where none was told, deg.
_USUAL_LIFT = 52.0
#: So many designs at least carry the weight: rather too wide a band than too narrow a one.
_EFFECTIVE = 25.0
#: Passes in which a strip's thickness is brought to what its amplitude needs, and the power of it that its torque
#: follows.
_PASSES, _POWER = 4, 3.5


@dataclass(frozen=True)
class Joint:
    """Designs drawn together. movement: a stack of them, every number (designs, 1, 1); values: the numbers of a design
    file that were given, drawn or solved, by dotted name, (designs,); family: their names; weight (designs,), adding
    up to
    1; amplitude_deg: dial up and 12 up, wound and a day later, (designs, 2, 2), NaN where one stops or knocks out of
    range; solved: the number of the strip that was solved for the usual amplitude, '' where all were measured."""

    base: Movement
    movement: Movement
    values: dict[str, Array]
    family: NDArray[np.str_]
    weight: Array
    amplitude_deg: Array
    solved: str

    def taken(self, index: Indices) -> Joint:
        """Some of the designs, with equal weight."""
        values = {name: values[index] for name, values in self.values.items()}
        return replace(
            self,
            movement=stacked(self.base, values),
            values=values,
            family=self.family[index],
            weight=np.full(len(index), 1.0 / len(index)),
            amplitude_deg=self.amplitude_deg[index],
        )

    def drawn(self, designs: int, rng: np.random.Generator) -> Joint:
        """So many designs, drawn by their weight (systematic resampling)."""
        return self.taken(_resampled(self.weight, designs, rng))

    @property
    def families(self) -> dict[str, float]:
        """How probable each family is, most probable first."""
        names = dict.fromkeys(self.family.tolist())
        found = {name: float(self.weight[self.family == name].sum()) for name in names}
        return dict(sorted(found.items(), key=lambda item: -item[1]))


def joint(
    slip: Slip,
    sound: Readings | None = None,
    *,
    designs: int = 600,
    rng: np.random.Generator | int = 0,
) -> Joint:
    """About ``designs`` designs that the slip leaves possible, as a sound movement of its kind would be made.

    ``sound``: readings of the movement itself while in good order, by which the designs are weighed; the slip's own
    readings are not used. Raises InputError when no design with these numbers runs as a sound movement does.
    """
    rng = np.random.default_rng(rng)
    solved = next((name for name in _STRIP if slip.given.get(name) is None), "")
    over = (_OVER_SOLVED if solved else _OVER_MEASURED) * (1.0 if sound is None else 2.0)
    base, values, family, logw = _pool(slip, int(over * designs), rng)
    fit = _possible(base, values)
    if not fit.any():
        raise InputError(_NONE)
    values, family, logw = {name: v[fit] for name, v in values.items()}, family[fit], logw[fit]
    usual, off, less, less_off = np.array([_habit(name) for name in family]).T
    sd, less_sd = off / NORMAL_95, less_off / NORMAL_95
    if solved:
        if sound is None:
            wanted = usual + sd * rng.standard_normal(len(usual))
        else:  # drawn wide, and weighed as the habit has it
            wanted = rng.uniform(*_WIDE, len(usual))
            logw = logw - 0.5 * ((wanted - usual) / sd) ** 2 - np.log(sd)
        values, can = strip_for(
            base, values, wanted, solved, keep_length=slip.given.get("mainspring.length_mm") is not None
        )
        logw = np.where(can & _possible(base, values), logw, -np.inf)
    stack = stacked(base, values)
    wound = settled_points(operating_points(stack, replace(PLACES, hours=(0.0,))), thorough=False)
    with np.errstate(invalid="ignore"):
        shown, upright = wound.amplitude_deg[..., 0].T
        if not solved:
            logw = logw - 0.5 * ((shown - usual) / sd) ** 2 - np.log(sd)
        logw = logw - 0.5 * ((shown - upright - less) / less_sd) ** 2 - np.log(less_sd)
        runs = np.isfinite(shown) & np.isfinite(upright) & ~wound.too_far[..., 0].any(axis=1)
        logw = np.where(runs, logw, -np.inf)
    if not np.isfinite(logw).any():
        raise InputError(_NONE)
    if sound is not None:
        logw = _weighed(logw, _likelihood(stack, sound))
    index = _resampled(_shares(logw), designs, rng)
    values = {name: v[index] for name, v in values.items()}
    stack = stacked(base, values)
    points = settled_points(operating_points(stack, PLACES), thorough=False)
    whole = Joint(
        base, stack, values, family[index], np.full(designs, 1.0 / designs), points.amplitude_deg, solved
    )
    with np.errstate(invalid="ignore"):
        runs = np.isfinite(points.amplitude_deg).all(axis=(1, 2)) & ~points.too_far[:, :, 0].any(axis=1)
        day = np.array([FAMILIES[name].after_a_day_deg for name in whole.family])
        well = runs & (points.amplitude_deg[:, :, 1] > day[:, None]).all(axis=1)
    if sound is not None or well.sum() < _EFFECTIVE:
        well = runs  # what was read goes before the habit, and of few designs none is choosy
    if not well.any():
        raise InputError(_NONE)
    return whole.taken(np.flatnonzero(well))


_NONE = (
    "no movement of this kind runs as a sound one does with these numbers: every one that was drawn stops, knocks or "
    "has no mainspring; is a number in another unit, or the family another?"
)


def _habit(family: str) -> tuple[float, float, float, float]:
    """What the maker's sound movements show dial up, and how much less upright, each with the range of 95 of 100."""
    f = FAMILIES[family]
    return f.usual_deg, f.usual_off_deg, f.upright_less_deg, f.upright_less_off_deg


def _pool(
    slip: Slip, designs: int, rng: np.random.Generator
) -> tuple[Movement, dict[str, Array], NDArray[np.str_], Array]:
    """Designs of all families that are possible: a design to put them on, their numbers, families and log weights."""
    told = slip.family
    weights = {told: 1.0} if told is not None else family_weights(slip.given, slip.facts, slip.winding)
    # the hairspring moves the rates, not the amplitudes
    given = {name: value for name, value in slip.given.items() if not name.startswith("hairspring.")}
    parts, names, logw = [], [], []
    for name, weight in weights.items():
        count = max(_FEWEST, round(designs * weight))
        parts.append(draw(given, FAMILIES[name], slip.facts, slip.winding, count, rng, slip.own))
        names.append(np.full(count, name))
        logw.append(np.full(count, math.log(weight / count)))
    keys = dict.fromkeys(key for part in parts for key in part)
    values = {
        key: np.concatenate(
            [
                part.get(key, np.full(len(there), _ABSENT.get(key, np.nan)))
                for part, there in zip(parts, names, strict=True)
            ]
        )
        for key in keys
    }
    return _base(slip, next(iter(weights))), values, np.concatenate(names), np.concatenate(logw)


def _base(slip: Slip, family: str) -> Movement:
    """A design of the family to put drawn numbers on; every number that matters is drawn."""
    kin = FAMILIES[family]
    tables: dict[str, object] = {"name": slip.name.strip() or f"Sketch ({family})"}
    for one in fill({}, kin, {"balance_diameter_mm": kin.balance_diameter_mm}, slip.winding):
        put(tables, one.name, one.value)
    return stack_of([movement_from(tables)])


def stacked(base: Movement, values: Mapping[str, Array]) -> Movement:
    """The designs as one stack; ``base``: a stack of one."""
    columns = {name: np.asarray(value, float).reshape(-1, 1, 1) for name, value in values.items()}
    stack = base
    count = columns.pop(_JEWELS, None)
    if count is not None:
        counted = unchecked(base.train, {"jewels": count})
        holes = {f.name: jewelled_holes(counted, f.name) for f in fields(JewelledHoles)}
        stack = put_unchecked(stack, _JEWELS, unchecked(JewelledHoles(), holes))
    elif any(name.startswith(f"{_JEWELS}.") for name in columns):
        stack = put_unchecked(stack, _JEWELS, JewelledHoles())
    lift = columns.pop(_LIFT, None)
    for name, column in columns.items():
        stack = put_unchecked(stack, name, column)
    if lift is not None:
        stack = put_unchecked(stack, _LIFT, lift)
        stack = put_unchecked(stack, "escapement.fork_ratio", None)
        stack = put_unchecked(stack, "escapement.fork_ratio", fork_ratio(stack.escapement))
        stack = put_unchecked(stack, _LIFT, None)
    return stack


def _possible(base: Movement, values: Mapping[str, Array]) -> Flags:
    """Which designs are within all ranges and have lever, fork and mainspring that can be, (designs,)."""
    fit = np.ones(len(next(iter(values.values()))), bool)
    with np.errstate(all="ignore"):
        for name, value in values.items():
            info = quantity_of(Movement, name)
            if info is not None:
                fit &= ((value >= info.low) & (value <= info.high)) | ~np.isfinite(value) & (name in _ABSENT)
        stack = stacked(base, values)
        e, g = stack.escapement, geometry(stack.escapement)
        within = np.degrees(g.bank_to_bank / (2.0 * g.fork_ratio)) - e.run_deg / g.fork_ratio
        conditions = (
            turns_of_development(stack.mainspring, stack.barrel) > _LEAST_TURNS,
            stack.barrel.arbor_diameter_mm < stack.barrel.inner_diameter_mm,
            e.drop_deg < _MOST_DROP * 180.0 / e.teeth,
            (np.asarray(g.fork_ratio) > 0.05) & (np.asarray(g.fork_ratio) < 1.0),
            np.degrees(g.bank_to_bank / g.fork_ratio) < 180.0,
            np.asarray(g.impulse) > 0.0,
            np.abs(stack.balance.out_of_beat_deg) < within,
        )
        for condition in conditions:
            fit &= np.broadcast_to(condition, (len(fit), 1, 1)).ravel()
    return fit


def strip_for(
    base: Movement, values: dict[str, Array], wanted_deg: Array, name: str, *, keep_length: bool
) -> tuple[dict[str, Array], Flags]:
    """The designs with a strip whose height (or thickness, as ``name`` says) keeps up the wanted amplitude dial up when
    fully wound, and which of them can have it, (designs,).

    The torque is as the height, so that height is found at once; thickness changes the turns too and takes a few
    passes.
    """
    power, passes = (1.0, 1) if name == _STRIP[0] else (_POWER, _PASSES)
    can = np.zeros(len(wanted_deg), bool)
    for _ in range(passes):
        points = operating_points(stacked(base, values), Setting())
        found = sustain(points.oscillators, np.radians(wanted_deg))
        can = found.sound & (np.radians(wanted_deg) < points.knock_angle) & np.isfinite(found.factor)
        factor = np.where(can, found.factor, 1.0)
        values = {**values, name: values[name] * factor ** (1.0 / power)}
        if _SLIP in values:
            values[_SLIP] = values[_SLIP] * factor
        if name != _STRIP[0] and not keep_length:  # the strip fills the barrel as before
            values["mainspring.length_mm"] = values["mainspring.length_mm"] * factor ** (-1.0 / power)
    return values, can


def points_read(as_is: AsItIs, rows: Sequence[Reading]) -> OperatingPoints:
    """Where the movement (or each of a stack) lay and how far it was wound, row by row: points (…, 1, rows)."""
    lay = [POSITIONS[row.position] for row in rows]
    tilt, up, hours, warmth, down = np.array(
        [
            (p.tilt, p.hour_up, row.hours, row.temperature_c, row.turns_let_down)
            for p, row in zip(lay, rows, strict=True)
        ]
    ).T
    return points_of(as_is, Moments(tilt, up, turns_left(as_is, hours) - down, warmth))


def _likelihood(stack: Movement, sound: Readings) -> Array:
    """Log likelihood of the amplitudes read of a sound movement, (designs,)."""
    rows = [row for row in sound.rows if row.stops or math.isfinite(row.amplitude_deg)]
    lay = [row.position for row in rows]
    points = settled_points(points_read(AsItIs(stack), rows), sound.lift_angle_deg, thorough=False)
    shown = np.nan_to_num(points.apparent_amplitude_deg[:, 0, :])
    read = np.array([0.0 if row.stops else row.amplitude_deg for row in rows])
    noise = np.array([_STOPPED if row.stops else row.amplitude_deg_uncertainty for row in rows])
    same = np.array([[a == b for b in lay] for a in lay], float)
    lift = sound.lift_angle_uncertainty_deg / (sound.lift_angle_deg or _USUAL_LIFT)
    cov = np.diag(noise**2) + _OFFSET**2 + _BY_POSITION**2 * same + lift**2 * np.outer(read, read)
    off = read - shown
    return np.asarray(-0.5 * np.einsum("ij,ij->i", off @ np.linalg.inv(cov), off))


def _weighed(logw: Array, like: Array) -> Array:
    """Log weights with a likelihood, flattened until enough designs carry the weight."""
    for power in 0.85 ** np.arange(25):
        found = logw + power * like
        if 1.0 / (_shares(found) ** 2).sum() >= _EFFECTIVE:
            break
    return np.asarray(found)


def _shares(logw: Array) -> Array:
    """Weights that add up to 1."""
    w = np.exp(logw - logw.max())
    return np.asarray(w / w.sum())


def _resampled(weight: Array, count: int, rng: np.random.Generator) -> Indices:
    """Systematic resampling: (count,) indices by weight."""
    at = (np.arange(count) + rng.random()) / count
    return np.searchsorted(np.cumsum(weight) / weight.sum(), at).clip(0, len(weight) - 1)
