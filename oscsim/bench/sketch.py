"""A plausible complete design from what a bench knows: laws fill the gaps, amplitudes read narrow what they filled."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from oscsim.answers.points import SettledPoints, settled_points
from oscsim.answers.whatif import sensitivities
from oscsim.arrays import Array
from oscsim.bench.model import Places, places_of, predict
from oscsim.bench.poise_effect import lift_told
from oscsim.bench.posterior import Model, Prior, maximise
from oscsim.bench.sketched import Expected, Held, Number, Sketch, unusual
from oscsim.condition import AsItIs
from oscsim.errors import InputError
from oscsim.motion.states import State
from oscsim.movement import Movement, movement_from
from oscsim.operating import operating_points
from oscsim.parts.mainspring import turns_of_development
from oscsim.setting import Setting
from oscsim.slips.readings import Reading, Readings
from oscsim.slips.slip import Slip
from oscsim.stack import varied
from oscsim.tables import put, quantity_of, value_at
from oscsim.tolerances import NORMAL_95, Spread
from oscsim.typical.families import Family, family_by_traits, family_named
from oscsim.typical.laws import Filled, fill, spreads

#: Where a sketch says what to expect.
SETTING = Setting(positions=("CH", "12H"), hours=(0.0, 24.0))
_SIZES = (
    "balance_diameter_mm", "movement_diameter_mm", "balance.inertia_mg_cm2", "balance.mass_mg",
    "barrel.inner_diameter_mm", "mainspring.height_mm",
)  # fmt: skip
_BEATS = "balance.beats_per_hour"
#: The strip's numbers on which its torque depends most; the first that was not measured is the one that gives way.
_STRIP = ("mainspring.height_mm", "mainspring.thickness_mm")
_CHOSEN = "chosen so that the wound amplitude is the usual one of its family"
_DRAWS, _SEED = 1000, 0
#: How near to its usual amplitude a family's strip is brought before the search, deg; by which step, how often.
_NEAR, _STEP, _TRIES = 25.0, 0.07, 40
#: Numbers that take most of the swing, by the sign in which they do, and how far the search's begin may lie from the
#: laws' own, in standard deviations.
_LOSSES = {"balance.viscous_q": -1.0, "balance.inertia_mg_cm2": 1.0, "escapement.pallet_friction": 1.0,
           "mainspring.elastic_limit_mpa": -1.0, "mainspring.coil_efficiency": -1.0}  # fmt: skip
_AWAY = (0.5, 1.0, 1.5, 2.0, 2.5)
#: A number moved by less than this share of its range has stayed.
_STAYED = 0.05
_INSIDE = 1e-6
#: Turns below which a strip hardly makes a mainspring; draws that come to fewer are left out.
_LEAST_TURNS = 1.0
#: Digits of what readings moved; widths have two.
_DIGITS = 4


@dataclass(frozen=True)
class _Stage:
    """A sketch under way: its design, fills, the numbers that have a spread, and a root of their covariance."""

    movement: Movement
    filled: tuple[Filled, ...]
    names: tuple[str, ...]
    root: Array


def sketch(slip: Slip) -> Sketch:
    """The design that the slip and its family's laws make, and what it should show.

    Where the strip was not measured, the family's usual amplitude counts as a reading with its own wide uncertainty:
    the maker chose the strip to give it. Amplitudes read move the filled numbers to the most probable ones (maximum a
    posteriori, priors from the laws' ranges); bands come from draws of all numbers together. Raises InputError when
    the slip has neither beat nor size, when its numbers make no movement, and for readings without an amplitude.
    """
    try:
        return _sketch(slip)
    except InputError as error:
        if odd := unusual(slip):
            raise InputError(f"{error}; unusual among what was given: {'; '.join(odd)}") from None
        raise


def _sketch(slip: Slip) -> Sketch:
    if slip.given.get(_BEATS) is None:
        raise InputError(
            f"{_BEATS}: missing (option --beats); a sketch begins from the beat, count it or look it up"
        )
    if not any(slip.given.get(name) is not None or slip.facts.get(name) is not None for name in _SIZES):
        others = ", ".join(_SIZES[2:])
        raise InputError("size: missing; a sketch needs --balance-diameter or --movement-diameter (in a slip "
                         f"[bench] balance_diameter_mm, movement_diameter_mm) or one of {others}")  # fmt: skip
    family, why = _family(slip)
    name = slip.name.strip()
    if not name.endswith("(sketch)") and not name.startswith("Sketch ("):
        name = f"{name} (sketch)" if name else f"Sketch ({family.name})"
    slip = slip.with_(name=name)
    readings = _amplitudes(slip.readings) if slip.readings is not None else None
    stage = _first(slip, fill(slip.given, family, slip.facts, slip.winding))
    lift = lift_told(stage.movement, readings) if readings else None
    usual: tuple[Reading, ...] = ()
    before = stage
    if not _strip_measured(slip):
        stage = _near(slip, stage, family)
        usual = (
            Reading("CH", 0.0, family.usual_deg, amplitude_deg_uncertainty=family.usual_off_deg / NORMAL_95),
        )
        before = _moved_to(slip, stage, usual, None)
    if readings is None:
        return _result(slip, family, why, before, before, ())
    after = _moved_to(slip, stage, (*readings.rows, *usual), lift)
    return _result(slip, family, why, before, after, _held(readings, lift, before, after))


def _strip_measured(slip: Slip) -> bool:
    return all(slip.given.get(name) is not None for name in _STRIP)


def _first(slip: Slip, filled: tuple[Filled, ...]) -> _Stage:
    movement = _movement(slip, filled)
    sd = [_sd(movement, spread) for spread in movement.tolerance]
    return _Stage(movement, filled, tuple(spread.name for spread in movement.tolerance), np.diag(sd))


def _near(slip: Slip, stage: _Stage, family: Family) -> _Stage:
    """The stage with a filled strip so high (or thick) that the watch runs near its family's usual amplitude."""
    name = next(name for name in _STRIP if slip.given.get(name) is None)
    for _ in range(_TRIES):
        points = settled_points(operating_points(stage.movement, Setting()))
        amplitude = float(points.at("CH").amplitude_deg)
        if points.has(State.STOPS).any():
            amplitude = 0.0
        elif not math.isfinite(amplitude):
            amplitude = math.inf
        if abs(amplitude - family.usual_deg) < _NEAR:
            break
        factor = 1.0 + _STEP * (1.0 if amplitude < family.usual_deg else -1.0)
        value = next(one.value for one in stage.filled if one.name == name) * factor
        filled = fill(slip.given, family, slip.facts, slip.winding, {name: (value, _CHOSEN)})
        stage = _first(slip, filled)
    return stage


def _family(slip: Slip) -> tuple[Family, str]:
    if slip.family is not None:
        return family_named(slip.family), "as told"
    return family_by_traits(
        slip.given.get(_BEATS),
        slip.facts.get("balance_diameter_mm"),
        slip.facts.get("movement_diameter_mm"),
        slip.given.get("barrel.inner_diameter_mm"),
    )


def _movement(slip: Slip, filled: Sequence[Filled]) -> Movement:
    """The complete design; spreads the slip states go before those of the laws."""
    tables: dict[str, Any] = {"name": slip.name, "story": slip.story, "filled": [one.name for one in filled]}
    for name, value in (*slip.given.items(), *((one.name, one.value) for one in filled)):
        put(tables, name, value)
    for spread in (*spreads(slip.given, tuple(filled)), *slip.own):
        put(tables, f"tolerance.{spread.name}", spread.to_table())
    return movement_from(tables)


def _amplitudes(readings: Readings) -> Readings:
    """The readings' amplitudes alone; raises InputError when there are none."""
    rows = tuple(
        replace(row, rate_s_per_day=math.nan, beat_error_ms=math.nan)
        for row in readings.rows
        if math.isfinite(row.amplitude_deg)
    )
    if not rows:
        raise InputError(f"{readings.source}: no amplitude was read, and a sketch uses nothing else")
    return replace(readings, rows=rows)


def _sd(movement: Movement, spread: Spread) -> float:
    half = spread.half_width(float(value_at(movement, spread.name)))
    return half / NORMAL_95 if spread.shape == "normal" else half / math.sqrt(3.0)


def _moved_to(slip: Slip, stage: _Stage, rows: Sequence[Reading], lift_angle_deg: float | None) -> _Stage:
    """The stage with its numbers moved to what was read."""
    movement, names = stage.movement, stage.names
    places = _places(rows, lift_told(movement, Readings(tuple(rows[:1]), lift_angle_deg)))
    start = np.array([float(value_at(movement, name)) for name in names])
    low, high = _bounds(names)
    margin = _INSIDE * (high - low)
    plain = replace(movement, tolerance=())

    def model(z: Array) -> Array:
        columns = np.clip(z, low, high).T
        return predict(AsItIs(varied(plain, dict(zip(names, columns, strict=True)))), places)

    begin = _begin(model, start, names, np.diag(stage.root))
    values = np.array([row.amplitude_deg for row in rows])
    sigma = np.array([row.amplitude_deg_uncertainty for row in rows])
    prior = Prior(start, np.diag(stage.root), low + margin, high - margin)
    found = maximise(model, values, np.diag(sigma**2), prior, begin)
    told = dict(zip(names, found.z, strict=True))
    half = dict(zip(names, np.sqrt(np.diag(found.covariance)) * NORMAL_95, strict=True))
    filled = tuple(
        _moved(one, float(told[one.name]), float(half[one.name])) if one.name in told else one
        for one in stage.filled
    )
    root = np.asarray(np.linalg.cholesky(found.covariance), np.float64)
    return _Stage(_movement(slip, filled), filled, names, root)


def _begin(model: Model, middle: Array, names: Sequence[str], sd: Array) -> Array:
    """Where the search begins: the laws' own numbers, or the nearest with more or less loss that can be read.

    Raises InputError when there are none.
    """
    away = np.array([_LOSSES.get(name, 0.0) for name in names]) * sd
    rows = middle + np.outer([0.0, *(sign * step for step in _AWAY for sign in (1.0, -1.0))], away)
    fit = np.isfinite(model(rows)).all(axis=1)
    if not fit.any():
        raise InputError("readings: the sketch of this family stops, or knocks beyond all reading, where they were "
                         "taken; give more of what is known, or another family")  # fmt: skip
    return np.asarray(rows[int(np.argmax(fit))])


def _places(rows: Sequence[Reading], lift_angle_deg: float) -> Places:
    return places_of(rows, lift_angle_deg, [(True, False, False)] * len(rows))


def _moved(one: Filled, value: float, half: float) -> Filled:
    """A filled number as the readings have it."""
    assert one.spread is not None
    moved = abs(value - one.value) > _STAYED * one.spread.half_width(one.value)
    return replace(
        one,
        value=_rounded(value, _DIGITS),
        spread=Spread(one.name, plus_minus=_rounded(half, 2)),
        before=one.value if moved else None,
    )


def _rounded(value: float, digits: int) -> float:
    return float(f"{value:.{digits}g}")


def _bounds(names: Sequence[str]) -> tuple[Array, Array]:
    infos = [quantity_of(Movement, name) for name in names]
    low, high = np.array([(info.low, info.high) for info in infos if info is not None]).T
    return low, high


def _sample(stage: _Stage) -> Movement:
    """A stack of examples, drawn about the design with the stage's covariance.

    What is out of range or makes no mainspring is left out.
    """
    movement, names = stage.movement, stage.names
    rng = np.random.default_rng(_SEED)
    middle = np.array([float(value_at(movement, name)) for name in names])
    low, high = _bounds(names)
    rows = middle + rng.standard_normal((_DRAWS, len(names))) @ stage.root.T
    rows = rows[((rows >= low) & (rows <= high)).all(axis=1)]
    plain = replace(movement, tolerance=())
    stack = varied(plain, dict(zip(names, rows.T, strict=True)))
    with np.errstate(invalid="ignore"):
        turns = np.ravel(
            np.broadcast_to(turns_of_development(stack.mainspring, stack.barrel), (len(rows), 1, 1))
        )
    return varied(plain, dict(zip(names, rows[turns > _LEAST_TURNS].T, strict=True)))


def _held(
    readings: Readings, lift_angle_deg: float | None, before: _Stage, after: _Stage
) -> tuple[Held, ...]:
    """Each reading, what the family alone gave (90 % of such movements, as read), and what the sketch gives."""
    told = lift_told(before.movement, readings)
    sample = _sample(before)
    noise = np.random.default_rng(_SEED + 1)
    found = []
    for row in readings.rows:
        setting = Setting(positions=row.position, hours=row.hours, temperature_c=row.temperature_c)
        points = settled_points(operating_points(sample, setting), told)
        shown = points.apparent_amplitude_deg
        low, high = _percentiles(
            points, shown + row.amplitude_deg_uncertainty * noise.standard_normal(shown.shape)
        )
        own = settled_points(operating_points(after.movement, setting), told).apparent_amplitude_deg
        found.append(
            Held(
                row.position,
                row.hours,
                row.amplitude_deg,
                float(low.item()),
                float(high.item()),
                float(own.item()),
            )
        )
    return tuple(found)


def _percentiles(points: SettledPoints, values: Array) -> tuple[Array, Array]:
    """Ends of the band of 90 % over the first axis; what stops counts as -inf, what else has no number as inf."""
    ranked = np.where(points.has(State.STOPS), -np.inf, np.where(np.isfinite(values), values, np.inf))
    low, high = np.percentile(ranked, (5.0, 95.0), axis=0, method="closest_observation")
    return np.asarray(low), np.asarray(high)


def _result(
    slip: Slip, family: Family, why: str, before: _Stage, after: _Stage, held: Sequence[Held]
) -> Sketch:
    movement = after.movement
    drawn = [settled_points(operating_points(_sample(before), SETTING))]
    drawn.append(
        settled_points(operating_points(_sample(after), SETTING)) if after is not before else drawn[0]
    )
    ends = [_percentiles(points, points.amplitude_deg) for points in drawn]
    point = settled_points(operating_points(movement, SETTING))
    state = point.state
    expected = tuple(
        Expected(
            symbol,
            float(SETTING.hours[j]),
            str(state[i, j]),
            float(point.amplitude_deg[i, j]),
            float(ends[1][0][i, j]),
            float(ends[1][1][i, j]),
            float(ends[0][0][i, j]),
            float(ends[0][1][i, j]),
            float(point.residual_rad[i, j]),
        )
        for i, symbol in enumerate(SETTING.symbols)
        for j in range(len(SETTING.hours))
    )
    runs = float(np.mean(~drawn[1].has(State.STOPS)[:, 0, 0]))
    numbers = _numbers(slip, movement, after.filled)
    usual = None if _strip_measured(slip) else family.usual_deg
    return Sketch(movement, slip, family, why, numbers, usual, expected, tuple(held), runs)


def _numbers(slip: Slip, movement: Movement, filled: Sequence[Filled]) -> tuple[Number, ...]:
    """Every number given or filled, with what its range moves, most first among the filled."""
    wide = {
        spread.name: spread.half_width(float(value_at(movement, spread.name)))
        for spread in movement.tolerance
    }
    flat: dict[str, float] = {}
    side: dict[str, float] = {}
    slopes = sensitivities(movement, list(wide), replace(SETTING, hours=(0.0,)))
    for n, name in enumerate(slopes.names):
        flat[name], side[name] = (
            abs(float(slopes.amplitude_deg_per_unit[n, i, 0])) * wide[name] for i in (0, 1)
        )

    def number(name: str, value: float, source: str, reason: str, before: float | None = None) -> Number:
        info = quantity_of(Movement, name)
        half = wide.get(name, math.nan)
        return Number(
            name=name,
            unit=info.unit if info is not None else "",
            value=value,
            source=source,
            low=_rounded(value - half, _DIGITS),
            high=_rounded(value + half, _DIGITS),
            before=before,
            moves_flat_deg=flat.get(name, math.nan),
            moves_vertical_deg=side.get(name, math.nan),
            reason=reason,
        )

    given = [number(name, value, "given", "") for name, value in slip.given.items()]
    made = [number(one.name, one.value, "filled", one.reason, one.before) for one in filled]
    made.sort(key=lambda n: -n.moves_flat_deg if math.isfinite(n.moves_flat_deg) else 0.0)
    return (*given, *made)
