"""What does a design get for what it gives up? Measures side by side, and the front of designs around one."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

import numpy as np

from oscsim.answers.band import band
from oscsim.answers.front import front, knee, scaled
from oscsim.answers.measures import MEASURES, Measure, Stack, measured, narrowed
from oscsim.answers.result import Result
from oscsim.answers.tolerance import draw, spreads_of
from oscsim.arrays import Array, Flags
from oscsim.errors import InputError, nearest, shown
from oscsim.escapements.kinds import needs_lever
from oscsim.fields import Quantity
from oscsim.files import Design, movement_of, movements_of
from oscsim.movement import Movement, number_names
from oscsim.parts.escapement import Escapement
from oscsim.parts.mainspring import turns_of_development
from oscsim.setting import Setting
from oscsim.stack import put_unchecked, stack_of, varied
from oscsim.tables import quantity_of, value_at
from oscsim.tolerances import NORMAL_95

EXAMPLES = Quantity("", "", "sound examples drawn for the bands", 0, 5000, whole=True)
COUNT = Quantity("", "", "designs drawn in the ranges", 8, 200_000, whole=True)
_LEAST_LOCK_DEG = 1.0
#: A share so small says nothing: no spread is known that far out.
_FEW = 1e-3
_PERCENTS = (5.0, 95.0)
#: What decides whether a strip goes into its barrel.
_FIT = (
    "mainspring.thickness_mm",
    "mainspring.length_mm",
    "barrel.inner_diameter_mm",
    "barrel.arbor_diameter_mm",
)
#: Designs measured together.
_BLOCK = 1000


@dataclass(frozen=True)
class Front:
    """The front: numbers by name and measures by name, (n,); knee: its row nearest to the best in all aims; here: the
    given design's measures; on: whether it lies on the front itself; nearest: the row least far from it; refused: what
    each limit alone refuses, a share; all_measures: the aims of every design that keeps the limits."""

    numbers: dict[str, Array]
    measures: dict[str, Array]
    knee: int
    here: dict[str, float]
    on: bool
    nearest: int
    computed: int
    kept: int
    refused: dict[str, float]
    all_measures: dict[str, Array]


@dataclass(frozen=True, repr=False, kw_only=True)
class Tradeoff(Result):
    """Measures of designs side by side, values, low and high (designs,), the last two 5 and 95 % of sound examples, NaN
    where they were not asked for; ``front``: of one design with some numbers moved."""

    movements: tuple[Movement, ...]
    setting: Setting
    names: tuple[str, ...]
    values: dict[str, Array]
    low: dict[str, Array]
    high: dict[str, Array]
    examples: int
    aims: tuple[str, ...] = ()
    keep: Mapping[str, float]
    ranges: Mapping[str, tuple[float, float]]
    front: Front | None = None
    bundled: dict[str, dict[str, float]]

    @property
    def designs(self) -> tuple[Movement, ...]:
        return self.movements

    def settings(self) -> dict[str, Any]:
        asked = {"examples": self.examples, "aims": list(self.aims), "keep": dict(self.keep)}
        return self.setting.to_dict() | asked | {"vary": {k: list(v) for k, v in self.ranges.items()}}

    def rows(self) -> list[dict[str, Any]]:
        if self.front is not None:
            f = self.front
            return [
                {name: column[n] for name, column in (f.numbers | f.measures).items()}
                for n in range(len(next(iter(f.numbers.values()))))
            ]
        return [
            {"measure": name, "unit": MEASURES[name].unit, "better": MEASURES[name].better, "design": m.name,
             "value": self.values[name][n], "low": self.low[name][n], "high": self.high[name][n]}
            for name in self.names
            for n, m in enumerate(self.movements)
        ]  # fmt: skip

    def body(self) -> dict[str, Any]:
        found: dict[str, Any] = {
            "designs": [movement.name for movement in self.movements],
            "measures": [
                {"name": name, "unit": MEASURES[name].unit, "better": MEASURES[name].better,
                 "values": self.values[name], "low": self.low[name], "high": self.high[name]}
                for name in self.names
            ],
        }  # fmt: skip
        if self.front is not None:
            f = self.front
            rows = range(len(next(iter(f.numbers.values()))))
            found |= {
                "front": [
                    {"numbers": {k: v[n] for k, v in f.numbers.items()},
                     "measures": {k: v[n] for k, v in f.measures.items()}}
                    for n in rows
                ],
                "knee": f.knee, "here": f.here, "on_front": f.on, "nearest": f.nearest,
                "computed": f.computed, "kept": f.kept, "refused": f.refused,
            }  # fmt: skip
        return found


def tradeoff(
    designs: Design | Sequence[Design], setting: Setting | None = None, *,
    measures: Sequence[str] | None = None,
    examples: int = 0,
    rng: np.random.Generator | int | None = 0,
) -> Tradeoff:  # fmt: skip
    """The measures (default: all) of each design, with the band of ``examples`` sound examples (0: none).

    ``setting`` gives temperature and condition. Raises InputError for an unknown measure or no design.
    """
    movements = movements_of(designs)
    if not movements:
        raise InputError("designs: none given, give at least one")
    for movement in movements:
        needs_lever(movement.escapement, "tradeoff")
    EXAMPLES.check("examples", examples)
    setting = narrowed(setting)
    names = tuple(MEASURES) if measures is None else tuple(_measure(name).name for name in measures)
    plain = measured(Stack(stack_of(movements), setting.temperature_c, setting.condition), list(names))
    generator = np.random.default_rng(rng)
    low, high = ({name: np.full(len(movements), math.nan) for name in names} for _ in range(2))
    for n, movement in enumerate(movements):
        own = _of_examples(movement, setting, names, max(examples, 0), generator, low, high, n)
        for name, value in own.items():
            plain.setdefault(name, np.full(len(movements), math.nan))[n] = value
    values = {name: plain.get(name, np.full(len(movements), math.nan)) for name in names}
    return Tradeoff(movements=movements, setting=setting, names=names, values=values, low=low, high=high,
                    examples=examples, keep={}, ranges={}, bundled={})  # fmt: skip


def _of_examples(
    movement: Movement, setting: Setting, names: Sequence[str], examples: int, rng: np.random.Generator,
    low: dict[str, Array], high: dict[str, Array], n: int,
) -> dict[str, float]:  # fmt: skip
    """What a band or sound examples say of one design; puts the bands of all measures into ``low`` and ``high``."""
    found: dict[str, float] = {}
    around = Setting(temperature_c=setting.temperature_c, condition=setting.condition)
    if "above_floor" in names:
        own = band(movement, 10.0, around)
        found["above_floor"] = own.full_wind_deg - own.floor_deg
    if "lock_short" in names:
        found["lock_short"] = _lock_short(movement, setting)
    if "worn_hours" in names and movement.winding is not None and movement.winding.hours_per_hour_worn:
        found["worn_hours"] = 24.0 / movement.winding.hours_per_hour_worn
    if not examples:
        return found
    drawn = draw(movement, spreads_of(movement), examples, rng)
    stack = Stack(varied(movement, drawn), setting.temperature_c, setting.condition)
    for name, values in measured(stack, [name for name in names if not MEASURES[name].slow]).items():
        if np.isfinite(values).any():
            low[name][n], high[name][n] = np.nanpercentile(values, _PERCENTS)
    if "knock_chance" in names:
        found["knock_chance"] = float(np.mean(stack.settled("CH", 0.0).too_far))
    return found


def _lock_short(movement: Movement, setting: Setting) -> float:
    """The share of sound examples whose lock is below the least, from its spread alone."""
    lock = float(np.asarray(setting.condition.applied_to(movement).movement.escapement.lock_deg))
    spread = next((s for s in spreads_of(movement) if s.name == "escapement.lock_deg"), None)
    over = lock - _LEAST_LOCK_DEG
    half = 0.0 if spread is None else spread.half_width(movement.escapement.lock_deg)
    if not half:
        return float(over < 0.0)
    if spread is not None and spread.shape == "uniform":
        return float(np.clip(0.5 - 0.5 * over / half, 0.0, 1.0))
    share = 0.5 * math.erfc(over / (half / NORMAL_95) / math.sqrt(2.0))
    return share if share > _FEW else 0.0


def _measure(name: str) -> Measure:
    if name not in MEASURES:
        raise InputError(f"measure {shown(name)}: unknown; {nearest(str(name), list(MEASURES))}")
    return MEASURES[name]


def tradeoff_front(
    design: Design, ranges: Mapping[str, tuple[float, float]], aims: Sequence[str], setting: Setting | None = None, *,
    keep: Mapping[str, float] | None = None,
    count: int = 4096,
    rng: np.random.Generator | int | None = 0,
    bundled: Sequence[Design] = (),
    executor: Executor | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Tradeoff:  # fmt: skip
    """The front of ``count`` designs whose numbers lie in ``ranges`` (dotted name to from, to), drawn as Sobol points.

    ``keep``: limits on measures, on their better side. With the inertia goes the mass, at the same radius of gyration,
    and the hairspring, so that the beat is kept; a strip that does not fit is left out, and what knocks dial up, fully
    wound; what wanders or all but stops counts as stopping. ``bundled``: designs measured beside. Raises InputError for
    a name, range, aim or limit that cannot be, and where nothing keeps the limits.
    """
    movement, setting, keep = movement_of(design), narrowed(setting), dict(keep or {})
    needs_lever(movement.escapement, "tradeoff")
    COUNT.check("count", count)
    wanted = [_aim(name) for name in aims]
    if len(set(aims)) < 2:
        raise InputError(
            f"aims = {' '.join(aims) or 'none'}: at least two different ones are needed for a front"
        )
    limits = {name: _aim(name).worth(limit) for name, limit in keep.items()}
    numbers = _drawn(movement, ranges, count, np.random.default_rng(rng))
    names = list(dict.fromkeys([*aims, *keep]))
    blocks = [slice(start, min(start + _BLOCK, count)) for start in range(0, count, _BLOCK)]
    asked = [(movement, {k: v[block] for k, v in numbers.items()}, setting, names) for block in blocks]
    results = executor.map(_measured_block, asked) if executor is not None else map(_measured_block, asked)
    parts, done = [], 0
    for block, part in zip(blocks, results, strict=True):
        parts.append(part)
        done += block.stop - block.start
        if progress is not None:
            progress(done, count)
    found = {name: np.concatenate([part[name] for part in parts]) for name in names}
    there = np.concatenate([part["fits"] for part in parts]) > 0.0
    met: dict[str, Flags] = {
        name: MEASURES[name].gain(found[name]) >= worth for name, worth in limits.items()
    }
    inside = there & np.logical_and.reduce([*met.values(), there])
    if not inside.any():
        raise InputError(_nothing_kept(met, keep, there))
    gains = np.stack([measure.gain(found[measure.name]) for measure in wanted], axis=1)
    kept = np.flatnonzero(inside)
    on = kept[front(gains[kept])]
    if not len(on):
        raise InputError(
            f"aims = {' '.join(aims)}: no design in the ranges has all of them; narrow the ranges"
        )
    here = {k: float(v[0]) for k, v in _own(movement, setting, names).items()}
    own = np.array([measure.gain(np.array([here[measure.name]]))[0] for measure in wanted])
    ahead = ((gains[on] >= own).all(axis=1) & (gains[on] > own).any(axis=1)).any()
    scales = scaled(np.concatenate([gains[on], own[None]]))
    columns = {name: column[on] for name, column in numbers.items()}
    result = Front(
        numbers=columns,
        measures={name: found[name][on] for name in names},
        knee=knee(gains[on]),
        here=here,
        on=not ahead,
        nearest=int(np.argmin(((scales[:-1] - scales[-1]) ** 2).sum(axis=1))),
        computed=count,
        kept=int(inside.sum()),
        refused={name: float(np.mean(~flags[there])) for name, flags in met.items()},
        all_measures={name: found[name][kept] for name in aims},
    )
    others = [m for m in map(movement_of, bundled) if isinstance(m.escapement, Escapement)]
    beside = {
        m.name: {k: float(v[0]) for k, v in _own(m, setting, list(aims)).items()}
        for m in others
        if m.design_hash != movement.design_hash
    }
    values = {name: np.array([here[name]]) for name in names}
    nothing = {name: np.array([math.nan]) for name in names}
    return Tradeoff(
        movements=(movement,),
        setting=setting,
        names=tuple(names),
        values=values,
        low=nothing,
        high=nothing,
        examples=0,
        aims=tuple(aims),
        keep=keep,
        ranges={name: (float(low), float(high)) for name, (low, high) in ranges.items()},
        front=result,
        bundled=beside,
    )


def _own(movement: Movement, setting: Setting, names: list[str]) -> dict[str, Array]:
    return measured(Stack(stack_of([movement]), setting.temperature_c, setting.condition), names)


def _aim(name: str) -> Measure:
    measure = _measure(name)
    if measure.of is None:
        known = [one.name for one in MEASURES.values() if one.of is not None]
        raise InputError(f"measure {name}: cannot be traded on a front, it takes more than settling; one of "
                         f"{', '.join(known)}")  # fmt: skip
    return measure


def _drawn(
    movement: Movement, ranges: Mapping[str, tuple[float, float]], count: int, rng: np.random.Generator
) -> dict[str, Array]:
    """The numbers of every design, (count,) by dotted name."""
    from scipy.stats import qmc  # slow to load

    if not ranges:
        raise InputError("vary: give at least one number with its range")
    for name, (low, high) in ranges.items():
        info, value = quantity_of(Movement, name), None
        if name in number_names():
            value = value_at(movement, name)
        if info is None or info.whole or not isinstance(value, int | float):
            numbers = [
                known for known in number_names() if not getattr(quantity_of(Movement, known), "whole", True)
            ]
            raise InputError(
                f"vary {shown(name)}: no such number of {shown(movement.name)}; {nearest(name, numbers)}"
            )
        for end in (low, high):
            info.check(f"vary {name}", end)
        if not low < high:
            raise InputError(
                f"vary {name} = {low:g} {high:g} {info.unit}: the second must be above the first"
            )
    points = qmc.Sobol(len(ranges), rng=rng).random_base2(math.ceil(math.log2(count)))[:count]
    found = {name: low + (high - low) * points[:, n] for n, (name, (low, high)) in enumerate(ranges.items())}
    inertia, mass = "balance.inertia_mg_cm2", "balance.mass_mg"
    if inertia in found and mass not in found:
        found[mass] = movement.balance.mass_mg * found[inertia] / movement.balance.inertia_mg_cm2
    return found


def _measured_block(asked: tuple[Movement, dict[str, Array], Setting, list[str]]) -> dict[str, Array]:
    """Measures of some designs, (designs,) by name, and ``fits``: 1 where the strip goes into its barrel and
    nothing knocks dial up, fully wound."""
    movement, numbers, setting, names = asked
    stack = varied(movement, numbers)
    turns = np.ravel(np.asarray(turns_of_development(stack.mainspring, stack.barrel), float))
    fits = np.broadcast_to(turns > 0.0, (len(next(iter(numbers.values()))),))
    if not fits.all():  # the present strip in its place, so that all can be computed together
        for name in (
            "mainspring.thickness_mm",
            "mainspring.length_mm",
            "barrel.inner_diameter_mm",
            "barrel.arbor_diameter_mm",
        ):
            value = np.broadcast_to(np.ravel(value_at(stack, name)), fits.shape)
            stack = put_unchecked(stack, name, np.where(fits, value, value_at(movement, name))[:, None, None])
    whole = Stack(stack, setting.temperature_c, setting.condition, thorough=False)
    sound = fits & ~whole.settled("CH", 0.0).too_far
    return measured(whole, names) | {"fits": sound.astype(float)}


def _nothing_kept(met: Mapping[str, Flags], keep: Mapping[str, float], there: Flags) -> str:
    """Which limit fails first."""
    if not there.any():
        return "vary: in these ranges no strip fits its barrel without a knock dial up, fully wound"
    first = min(met, key=lambda name: int((met[name] & there).sum()))
    share = 100.0 * float(np.mean(met[first][there]))
    unit = MEASURES[first].unit
    why = "alone" if share == 0.0 else "with the others"
    return (
        f"keep {first} = {keep[first]:g} {unit}: no design in these ranges keeps it ({why}; {share:.1f} % do); wider "
        "ranges or a softer limit"
    )
