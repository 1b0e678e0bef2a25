"""Why does this design settle lower than that one? Movements side by side, and the difference shared out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oscsim.answers.band import Band, band
from oscsim.answers.budget import Budget, budget
from oscsim.answers.points import SettledPoints, first_of, settled_points
from oscsim.answers.result import Result
from oscsim.arrays import Array
from oscsim.errors import InputError, nearest, shown
from oscsim.files import Design, movement_of
from oscsim.motion.settle import settle
from oscsim.motion.states import CODE, State
from oscsim.movement import PARTS, Movement, movement_from
from oscsim.operating import operating_points, points_in, reserve
from oscsim.parts.escapement import Escapement
from oscsim.parts.train import through_meshes
from oscsim.setting import Setting
from oscsim.stack import stack_of

#: Groups of parameters that a difference is shared out among: dotted names, or a table for all of it.
GROUPS: dict[str, tuple[str, ...]] = {
    # how it is wound moves no settled point; it stands here so that every number has its place
    "mainspring and barrel": ("mainspring", "barrel", "winding"),
    "gearing and beat": (
        "train.ratio",
        "train.wheel_teeth",
        "train.pinion_leaves",
        "train.layout",
        "train.meshes",
        "escapement.teeth",
        "escapement.teeth_embraced",
        "balance.beats_per_hour",
    ),
    "train friction and jewels": (
        "train.jewels",
        "train.mesh_efficiency",
        "train.mesh_friction",
        "train.jewel_friction",
        "train.brass_friction",
        "train.arbors",
    ),
    "lever escapement and lock": tuple(
        f"escapement.{f.name}" for f in fields(Escapement) if not f.name.startswith("teeth")
    ),
    "balance and hairspring": (
        "balance.inertia_mg_cm2",
        "balance.mass_mg",
        "balance.cubic_stiffness",
        "balance.regulation_s_per_day",
        "index_pins",
        "hairspring",
    ),
    "pivots and damping": (
        "balance.pivot_radius_mm",
        "balance.pivot_friction",
        "balance.end_friction_radius_um",
        "balance.viscous_q",
        "balance.quadratic_drag",
        "balance.temperature_s_per_day_c",
        "balance.oil_share",
    ),
    "poise and beat setting": (
        "balance.unbalance_ug_cm",
        "balance.heavy_point_deg",
        "balance.out_of_beat_deg",
    ),
}
_MOST_GROUPS = 12


@dataclass(frozen=True, kw_only=True)
class Attribution:
    """Shapley values of the groups: degrees each adds from the first design to the second; they sum to the
    difference. ``amplitude_deg``: of all 2^k mixtures, (2,) * k, index 1 where the group is the second design's;
    ``differing``: the dotted names of each group that are not the same in both designs."""

    groups: tuple[str, ...]
    differing: tuple[tuple[str, ...], ...]
    degrees: Array
    amplitude_deg: Array
    residual_rad: float

    @property
    def difference_deg(self) -> float:
        """Amplitude of the second design less that of the first."""
        k = len(self.groups)
        return float(self.amplitude_deg[(1,) * k] - self.amplitude_deg[(0,) * k])


def attribution(
    first: Design,
    second: Design,
    setting: Setting | None = None,
    groups: Mapping[str, Sequence[str]] | None = None,
) -> Attribution:
    """Share the difference in settled amplitude out among groups of numbers (default: GROUPS), exactly (L. S. Shapley,
    1953).

    Every combination of the groups is a mixture of both designs; all are settled in one batch, at the first position
    and hour of ``setting`` (default: dial up, fully wound). Raises InputError for groups that overlap or name
    nothing, for differences no group holds, and where a mixture is no movement or does not settle.
    """
    first, second = movement_of(first), movement_of(second)
    members = _members(GROUPS if groups is None else groups)
    first, second = _alike(first, second)
    _check_complete(first, second, members)
    source = second.tables()
    mixtures = []
    for choice in product((0, 1), repeat=len(members)):
        mixed = first.tables()
        for take, names in zip(choice, members.values(), strict=True):
            for name in names if take else ():
                _copy(source, mixed, name)
        mixed["name"] = "mixture"
        mixed.pop("tolerance", None)
        try:
            mixtures.append(movement_from(mixed))
        except InputError as error:
            taken = [group for take, group in zip(choice, members, strict=True) if take]
            raise InputError(
                f"no movement has {', '.join(taken)} of {shown(second.name)} and the rest of {shown(first.name)}: "
                f"{error}; put what belongs together into one group"
            ) from None
    points = operating_points(stack_of(mixtures), first_of(setting or Setting()))
    # a mixture may swing too far for any watch: its amplitude is then that without a horn, as for knocks
    batch = settle(points.oscillators, points.knock_angle, ceiling=math.inf)
    amplitude = np.degrees(batch.cycle.amplitude).reshape((2,) * len(members))
    if not np.isfinite(amplitude).all() or (batch.state == CODE[State.UNSETTLED]).any():
        bad = np.argwhere(~np.isfinite(amplitude))
        where = [group for take, group in zip(bad[0], members, strict=True) if take] if len(bad) else []
        raise InputError(
            f"a mixture has no settled amplitude to share out (with {', '.join(where) or 'some groups'} of "
            f"{shown(second.name)}): choose another position or hour, or larger groups"
        )
    residual = float(np.max(batch.cycle.residual))
    differing = tuple(_differing(first, second, names) for names in members.values())
    return Attribution(
        groups=tuple(members),
        differing=differing,
        degrees=shapley(amplitude),
        amplitude_deg=amplitude,
        residual_rad=residual,
    )


def _alike(first: Movement, second: Movement) -> tuple[Movement, Movement]:
    """Both with teeth, or both by their ratio; both by the friction of their meshes, or by their efficiency: halves of
    two descriptions are no movement."""
    both = [first, second]
    if (first.train.mesh_friction is None) != (second.train.mesh_friction is None):
        for i, m in enumerate(both):
            each = float(through_meshes(m.train)) ** (1.0 / m.train.meshes)
            both[i] = m.with_({"train.mesh_efficiency": each})
    if (first.train.wheel_teeth is None) != (second.train.wheel_teeth is None):
        both = [m.with_({"train.ratio": m.train.ratio, "train.meshes": m.train.meshes}) for m in both]
    return both[0], both[1]


def shapley(value: Array) -> Array:
    """Exact Shapley values of a game: ``value`` of shape (2,) * k by who takes part; returns (k,)."""
    k = value.ndim
    size = np.indices(value.shape).sum(axis=0)
    shares = np.empty(k)
    for player in range(k):
        without, with_ = (np.take(value, side, axis=player) for side in (0, 1))
        others = np.take(size, 0, axis=player)
        weight = np.array(
            [math.factorial(s) * math.factorial(k - s - 1) / math.factorial(k) for s in range(k)]
        )
        shares[player] = float((weight[others] * (with_ - without)).sum())
    return shares


def _members(groups: Mapping[str, Sequence[str]]) -> dict[str, tuple[str, ...]]:
    """The groups, checked: known names, none in two groups, none inside another's table."""
    if not 1 <= len(groups) <= _MOST_GROUPS:
        raise InputError(f"groups: {len(groups)} given, must be from 1 to {_MOST_GROUPS}")
    known = [
        *PARTS,
        *(f"{table}.{name}" for table, part in PARTS.items() for name in part.__dataclass_fields__),
    ]
    owner: dict[str, str] = {}
    for group, names in groups.items():
        for name in names:
            if name not in known:
                raise InputError(
                    f"group {shown(group)}: {shown(name)} is no parameter; {nearest(name, known)}"
                )
            for other, its in owner.items():
                if name == other or name.startswith(f"{other}.") or other.startswith(f"{name}."):
                    raise InputError(
                        f"groups {shown(its)} and {shown(group)} overlap: both hold {shown(name)}"
                    )
            owner[name] = group
    return {group: tuple(names) for group, names in groups.items()}


def _check_complete(first: Movement, second: Movement, members: Mapping[str, Sequence[str]]) -> None:
    """Every difference must belong to a group, or the shares could not add up."""
    held = [name for names in members.values() for name in names]
    a, b = first.tables(), second.tables()
    for table in PARTS:
        if table in held:
            continue
        mine, yours = a.get(table, {}), b.get(table, {})
        for key in {**mine, **yours}:
            if mine.get(key) != yours.get(key) and f"{table}.{key}" not in held:
                raise InputError(f"groups: {table}.{key} differs between the designs but is in no group")


def _differing(first: Movement, second: Movement, names: Sequence[str]) -> tuple[str, ...]:
    """The keys under these names, a whole table's all, that are not the same in both."""
    a, b = first.tables(), second.tables()
    found = []
    for name in names:
        table, _, one = name.partition(".")
        mine, yours = a.get(table, {}), b.get(table, {})
        keys = (one,) if one else tuple({**mine, **yours})
        found += [f"{table}.{key}" for key in keys if mine.get(key) != yours.get(key)]
    return tuple(found)


def _copy(source: dict[str, Any], target: dict[str, Any], name: str) -> None:
    """Copy what stands at a dotted name, or its absence."""
    table, _, key = name.partition(".")
    if not key:
        if table in source:
            target[table] = source[table]
        else:
            target.pop(table, None)
    elif key in source.get(table, {}):
        target.setdefault(table, {})[key] = source[table][key]
    else:
        target.get(table, {}).pop(key, None)


@dataclass(frozen=True, repr=False, kw_only=True)
class Compare(Result):
    """Movements side by side: ``points`` arrays (designs, positions, hours), ``reserve_hours`` (designs,), budget at
    the same points and working band for each design, and with two designs the attribution of the difference at the
    first position and hour, second less first; where it cannot be shared out ``attribution_remark`` says why."""

    movements: tuple[Movement, ...]
    setting: Setting
    points: SettledPoints
    reserve_hours: Array
    budgets: tuple[Budget, ...]
    bands: tuple[Band, ...]
    attribution: Attribution | None
    attribution_remark: str = ""

    @property
    def designs(self) -> tuple[Movement, ...]:
        return self.movements

    def settings(self) -> dict[str, Any]:
        return self.setting.to_dict() | {"tolerance_s_per_day": self.bands[0].tolerance_s_per_day}

    def rows(self) -> list[dict[str, Any]]:
        names = [movement.name for movement in self.movements]
        numbers = ("amplitude_deg", "rate_s_per_day", "residual_rad")
        return [row for _, row in self.points.rows(numbers, design=names, position=self.setting.symbols)]

    def body(self) -> dict[str, Any]:
        p = self.points

        def by_place(values: NDArray[Any]) -> dict[str, Any]:
            return {
                movement.name: dict(zip(self.setting.symbols, values[d], strict=True))
                for d, movement in enumerate(self.movements)
            }

        found: dict[str, Any] = {
            "designs": [movement.name for movement in self.movements],
            "design_hashes": [movement.design_hash for movement in self.movements],
            "hours": p.hours[0, 0],
            "amplitude_deg": by_place(p.amplitude_deg),
            "rate_s_per_day": by_place(p.rate_s_per_day),
            "state": by_place(p.state),
            "residual_rad": by_place(p.residual_rad),
            "reserve_hours": dict(zip([m.name for m in self.movements], self.reserve_hours, strict=True)),
            "working_band": {
                band.design: {
                    "tolerance_s_per_day": band.tolerance_s_per_day,
                    "floor_deg": band.floor_deg,
                    "ceiling_deg": band.ceiling_deg,
                    "floor_hours": band.floor_hours,
                }
                for band in self.bands
            },
            "budget": {budget.design: budget.body() for budget in self.budgets},
        }
        if self.attribution is not None:
            found["attribution"] = [
                {"group": group, "degrees": degrees, "differing": differing}
                for group, degrees, differing in zip(
                    self.attribution.groups, self.attribution.degrees, self.attribution.differing, strict=True
                )
            ]
            found["difference_deg"] = self.attribution.difference_deg
        elif self.attribution_remark:
            found |= {"attribution": None, "attribution_remark": self.attribution_remark}
        return found


def compare(
    designs: Sequence[Design],
    setting: Setting | None = None,
    groups: Mapping[str, Sequence[str]] | None = None,
    *,
    tolerance_s_per_day: float = 10.0,
) -> Compare:
    """Settled amplitudes and rates of two or more movements in ``setting`` (default: CH and 12H, wound and 24 h later),
    their reserves, budgets, and working bands for ``tolerance_s_per_day`` (see ``band``).

    With two movements their difference is shared out among ``groups`` as in ``attribution``; where a mixture has no
    amplitude the rest is answered and a remark says so. Raises InputError for fewer than two, for two of one name, and
    for groups that overlap, name nothing, or leave a difference out.
    """
    movements = [movement_of(design) for design in designs]
    names = [movement.name for movement in movements]
    if len(names) < 2:
        raise InputError(f"designs = {', '.join(names) or 'none'}: at least two are needed to compare")
    if len(set(names)) < len(names):
        raise InputError(f"designs = {', '.join(names)}: two have the same name, give one another")
    setting = setting or Setting(positions=("CH", "12H"), hours=(0.0, 24.0))
    stack = stack_of(movements)
    as_is = setting.condition.applied_to(stack)
    points = settled_points(points_in(as_is, setting), setting.lift_angle_deg)
    shared, remark = None, ""
    if len(movements) == 2:
        _check_complete(movements[0], movements[1], _members(GROUPS if groups is None else groups))
        try:
            shared = attribution(movements[0], movements[1], setting, groups)
        except InputError as error:
            remark = str(error)
    own = replace(setting, lift_angle_deg=None)  # a budget is of the balance's own amplitudes
    around = Setting(temperature_c=setting.temperature_c, condition=setting.condition)
    bands = tuple(band(movement, tolerance_s_per_day, around) for movement in movements)
    budgets = tuple(budget(movement, own) for movement in movements)
    return Compare(
        movements=tuple(movements),
        setting=setting,
        points=points,
        reserve_hours=np.ravel(reserve(as_is)),
        budgets=budgets,
        bands=bands,
        attribution=shared,
        attribution_remark=remark,
    )
