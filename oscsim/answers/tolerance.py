"""How far apart are sound examples of this design? Monte Carlo over its tolerances, and which of them matters most."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from numbers import Integral
from typing import Any

import numpy as np

from oscsim.answers.joint import joint
from oscsim.answers.points import SettledPoints, first_of, points_from, settled_points
from oscsim.answers.result import InSetting
from oscsim.arrays import Array
from oscsim.errors import InputError, shown
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.motion.states import STATES, State
from oscsim.motion.sweep import sweep
from oscsim.movement import Movement
from oscsim.operating import operating_points
from oscsim.parts.hairspring_table import in_numbers
from oscsim.setting import Setting
from oscsim.slips.readings import Readings
from oscsim.slips.slip import slip_of
from oscsim.stack import put_unchecked, varied
from oscsim.tables import quantity_of, value_at
from oscsim.tolerances import NORMAL_95, Spread
from oscsim.typical.numbers import DEFAULT_SPREADS

EXAMPLES = Quantity("", "", "examples to be drawn", 10, 1_000_000, whole=True)
#: Per cent of examples below the ends and the middle of the band.
PERCENTS = (5.0, 50.0, 95.0)
_TRIES = 1000
#: Examples for each column of the Sobol design; a power of two.
_SOBOL = 256
_INDICES = ("first_order", "total", "rate_first_order", "rate_total")


@dataclass(frozen=True)
class Band95:
    """Values below which 5, 50 and 95 % of the examples lie, each (positions, hours); NaN where too few have one."""

    low: Array
    middle: Array
    high: Array


@dataclass(frozen=True, repr=False, kw_only=True)
class Tolerance(InSetting):
    """What sound examples of a design show, of those that knock the swing at the horn and the rate with the rebounds:
    bands of amplitude and rate by position and hour, the share of examples in
    each state (positions, hours), and Sobol indices by number (numbers,) of the amplitude and of the rate at the first
    position and hour; seed: of the draws, None where a generator was given; readings: what was read of one such
    movement, to be held against the bands."""

    spreads: tuple[Spread, ...]
    assumed: bool
    examples: int
    hours: Array
    amplitude_deg: Band95
    apparent_amplitude_deg: Band95
    rate_s_per_day: Band95
    states: dict[str, Array]
    worst_residual_rad: float
    first_order: Array | None
    total: Array | None
    rate_first_order: Array | None
    rate_total: Array | None
    seed: int | None = None
    readings: Readings | None = None

    def rows(self) -> list[dict[str, Any]]:
        bands = ("amplitude_deg", "apparent_amplitude_deg", "rate_s_per_day")
        rows = []
        for i, symbol in enumerate(self.setting.positions):
            for j, hour in enumerate(self.hours):
                row: dict[str, Any] = {"position": symbol, "hours": hour}
                for band in bands:
                    for percent, part in zip(PERCENTS, ("low", "middle", "high"), strict=True):
                        row[f"{band}_{percent:g}_percent"] = getattr(getattr(self, band), part)[i, j]
                row |= {f"{state}_percent": 100.0 * share[i, j] for state, share in self.states.items()}
                rows.append(row)
        return rows

    def settings(self) -> dict[str, Any]:
        told = {} if self.readings is None else self.readings.settings()
        return super().settings() | {"examples": self.examples, "seed": self.seed} | told

    def body(self) -> dict[str, Any]:
        matters = []
        for n, spread in enumerate(self.spreads):
            entry: dict[str, Any] = {"name": spread.name, **spread.to_table()}
            for key in _INDICES:
                if (shares := getattr(self, key)) is not None:
                    entry[key] = shares[n]
            matters.append(entry)
        return {
            "spreads_assumed": self.assumed,
            "worst_residual_rad": self.worst_residual_rad,
            "bands": self.rows(),
            "spreads": matters,
        }


def spreads_of(movement: Movement) -> tuple[Spread, ...]:
    """The design's own spreads, or the default ones for the numbers it gives.

    Raises InputError for an own spread of a number that the design does not give, of a whole number, or in percent
    of zero.
    """

    def width(spread: Spread) -> float | None:
        value = value_at(movement, spread.name)
        return spread.half_width(value) if isinstance(value, int | float) else None

    if not movement.tolerance:
        return tuple(spread for spread in DEFAULT_SPREADS if width(spread))
    for spread in movement.tolerance:
        info = quantity_of(Movement, spread.name)
        if width(spread) is None:
            raise InputError(f"tolerance.{spread.name}: {shown(movement.name)} does not give this number")
        if info is not None and info.whole:
            raise InputError(f"tolerance.{spread.name}: a whole number has no spread")
        if not width(spread):
            raise InputError(f"tolerance.{spread.name}.percent: its value is 0, give plus_minus instead")
    return movement.tolerance


def draw(
    movement: Movement, spreads: Sequence[Spread], examples: int, rng: np.random.Generator
) -> dict[str, Array]:
    """Random values for each spread, (examples,), by dotted name; draws out of a number's range are drawn again."""
    found = {}
    for spread in spreads:
        info = quantity_of(Movement, spread.name)
        value = float(value_at(movement, spread.name))
        half = spread.half_width(value)
        assert info is not None
        values = np.full(examples, np.nan)
        for _ in range(_TRIES):
            missing = np.flatnonzero(~((values >= info.low) & (values <= info.high)))
            if not len(missing):
                break
            shape = rng.uniform(-1.0, 1.0, len(missing)) if spread.shape == "uniform" else None
            offset = rng.standard_normal(len(missing)) / NORMAL_95 if shape is None else shape
            values[missing] = value + half * offset
        else:
            raise InputError(f"tolerance.{spread.name}: almost no draw lies in the range {info.allowed}")
        found[spread.name] = values
    return found


@takes_design
def tolerance(
    movement: Movement,
    setting: Setting | None = None,
    *,
    examples: int = 2000,
    rng: np.random.Generator | int | None = 0,
    sobol: bool = True,
    readings: Readings | None = None,
    executor: Executor | None = None,
    store: str | os.PathLike[str] | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Tolerance:
    """Draw examples from the design's ``[tolerance]`` (default spreads without one) and settle them all.

    Of a sketch with its slip: designs that slip and readings leave possible, drawn together, and no Sobol indices,
    since their numbers hang together. ``setting`` default: where ``readings`` were taken, which the
    picture then shows on the bands; without readings CH and 12H, wound and 24 h later. ``rng``: a numpy Generator
    or a seed; the draws do not depend on executor, store or progress (see ``oscsim.motion.sweep``). Raises InputError
    for values out of range.
    """
    EXAMPLES.check("examples", examples)
    if setting is None and readings is not None:
        setting = read_in(readings)
    setting = setting or Setting(positions=("CH", "12H"), hours=(0.0, 24.0))
    generator = rng if isinstance(rng, np.random.Generator) else np.random.default_rng(rng)
    spreads = spreads_of(movement)
    slip = slip_of(movement)
    if slip is None:
        stack = varied(movement, draw(movement, spreads, examples, generator))
    else:  # of a sketch the numbers are drawn together, as they were for its own bands
        designs = joint(slip, slip.readings, designs=examples, rng=generator)
        examples = len(designs.weight)
        stack = _with_spring(designs.movement, movement, spreads, examples, generator)
    batch = operating_points(stack, setting)
    settled = sweep(batch.oscillators, batch.knock_angle, executor=executor, store=store, progress=progress)
    points = points_from(batch, settled, setting.lift_angle_deg)
    residual = points.residual_rad[points.has(State.RUNNING)]
    indices = None
    if sobol and slip is None and np.isfinite(points.amplitude_deg[:, 0, 0]).all():
        indices = _sobol(movement, spreads, setting, generator)
    return Tolerance(
        movement=movement,
        setting=setting,
        spreads=spreads,
        assumed=not movement.tolerance,
        examples=examples,
        hours=points.hours[0, 0] if setting.turns is None else np.ravel(points.hours[0, 0]),
        amplitude_deg=_band(points, points.shown_amplitude_deg),
        apparent_amplitude_deg=_band(points, points.apparent_amplitude_deg),
        rate_s_per_day=_band(points, points.shown_rate_s_per_day),
        states={state.label: points.has(state).mean(axis=0) for state in STATES if points.has(state).any()},
        worst_residual_rad=float(residual.max()) if residual.size else math.nan,
        **dict(zip(_INDICES, (None,) * len(_INDICES) if indices is None else indices, strict=True)),
        seed=int(rng) if isinstance(rng, Integral) else None,
        readings=readings,
    )


def _with_spring(
    stack: Movement, movement: Movement, spreads: Sequence[Spread], examples: int, rng: np.random.Generator
) -> Movement:
    """The stack with the sketch's hairspring, drawn by itself: how it is pinned moves the rates and no amplitude, so
    the designs are drawn without it."""
    if movement.hairspring is None:
        return stack
    own = [spread for spread in spreads if spread.name.startswith("hairspring.")]
    stack = put_unchecked(stack, "hairspring", in_numbers(movement.hairspring))
    for name, values in draw(movement, own, examples, rng).items():
        stack = put_unchecked(stack, name, values.reshape(-1, 1, 1))
    return stack


def read_in(readings: Readings, **about: Any) -> Setting:
    """All positions and hours at which something was read, with the lift angle told; ``about``: what else a setting
    has."""
    positions = tuple(dict.fromkeys(row.position for row in readings.rows))
    hours = tuple(sorted({row.hours for row in readings.rows}))
    return Setting(positions=positions, hours=hours, lift_angle_deg=readings.lift_angle_deg, **about)


def _band(points: SettledPoints, values: Array) -> Band95:
    """Percentiles over the examples that have a value; examples that stop count as below all others."""
    ranked = np.where(points.has(State.STOPS), -np.inf, np.where(np.isfinite(values), values, np.inf))
    low, middle, high = np.percentile(ranked, PERCENTS, axis=0, method="closest_observation")
    return Band95(*(np.where(np.isfinite(end), end, math.nan) for end in (low, middle, high)))


def _sobol(
    movement: Movement, spreads: Sequence[Spread], setting: Setting, rng: np.random.Generator
) -> Array | None:
    """``_INDICES`` at the first position and hour, (4, spreads); None where some example has no amplitude."""
    from scipy import stats  # slow to load, and needed here alone

    one = first_of(setting)
    missing = False
    limits = []
    distributions = []
    for spread in spreads:
        value = float(value_at(movement, spread.name))
        half = spread.half_width(value)
        info = quantity_of(Movement, spread.name)
        assert info is not None
        limits.append((info.low, info.high))
        if spread.shape == "uniform":
            distributions.append(stats.uniform(value - half, 2.0 * half))
        else:
            distributions.append(stats.norm(value, half / NORMAL_95))

    def shown(x: Array) -> Array:
        columns = np.clip(
            x, *np.array(limits).T[:, :, None]
        )  # the tails beyond a number's range are vanishing
        nonlocal missing
        changes = {spread.name: column for spread, column in zip(spreads, columns, strict=True)}
        found = settled_points(operating_points(varied(movement, changes), one))
        missing |= not np.isfinite(found.amplitude_deg).all()
        return np.stack([found.amplitude_deg.ravel(), found.rate_s_per_day.ravel()])

    if len(spreads) == 1:  # all of the variance is its own; scipy wants two
        shown(np.array([[distributions[0].ppf(0.01), distributions[0].ppf(0.99)]]))
        return None if missing else np.ones((len(_INDICES), 1))
    indices = stats.sobol_indices(func=shown, n=_SOBOL, dists=distributions, rng=rng)
    if missing:  # scipy gives zeros then
        return None
    return np.stack([indices.first_order, indices.total_order], axis=1).reshape(len(_INDICES), -1)
