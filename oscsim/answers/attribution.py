"""What makes one design settle higher than another: the difference shared out among groups, in two levels."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from oscsim.answers.points import first_of
from oscsim.answers.shapley import Who, owen
from oscsim.arrays import Array
from oscsim.errors import InputError, nearest, shown
from oscsim.files import Design, movement_of
from oscsim.motion.settle import settle
from oscsim.motion.states import CODE, STATES, State
from oscsim.movement import KINDS, PARTS, Movement
from oscsim.operating import operating_points
from oscsim.parts.train import through_meshes
from oscsim.setting import Setting
from oscsim.stack import by_kind, stack_of
from oscsim.tables import part_of
from oscsim.typical.numbers import NUMBERS, OTHER, facts_of

_MOST_GROUPS = 12
#: Why a mixture has no amplitude, in words; a hairspring's shape is known to 400 deg.
_WHY = {State.STOPS: "stops", State.UNSETTLED: "wanders"}
_TOO_FAR = "swings too far beyond 400 deg to be told"
#: A mixture that wanders for so many periods is left out: only its state is asked.
_FOLLOWED = (60, 2)
#: Ready groups, each with its inner ones, in the order of the numbers' table.
READY: dict[str, tuple[str, ...]] = {
    outer: tuple(dict.fromkeys(facts.inner for facts in NUMBERS.values() if facts.outer == outer))
    for outer in dict.fromkeys(facts.outer for facts in NUMBERS.values())
}


@dataclass(frozen=True, kw_only=True)
class Share:
    """What a group of numbers adds from the first design to the second, deg; ``differing``: the dotted names in it that
    are not the same in both; ``inner``: the same of the groups within it, adding up to ``degrees``, or empty."""

    group: str
    degrees: float
    differing: tuple[str, ...]
    inner: tuple[Share, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Plain, with ``inner`` at the outer level only."""
        found = {"group": self.group, "degrees": self.degrees, "differing": list(self.differing)}
        return found | {"inner": [one.to_dict() for one in self.inner]}


@dataclass(frozen=True, kw_only=True)
class Attribution:
    """Shares of the groups, which sum to the difference; amplitude of the first and the second design, deg; the largest
    residual of all mixtures; ``remarks``: mixtures of whole groups that could not be counted with, in words;
    ``within``: the same of mixtures with a part of a group, by group."""

    shares: tuple[Share, ...]
    first_deg: float
    second_deg: float
    residual_rad: float
    remarks: tuple[str, ...]
    within: tuple[str, ...] = ()

    @property
    def difference_deg(self) -> float:
        """Amplitude of the second design less that of the first."""
        return self.second_deg - self.first_deg

    @property
    def groups(self) -> tuple[str, ...]:
        """Names of the groups."""
        return tuple(share.group for share in self.shares)

    @property
    def degrees(self) -> Array:
        """Degrees that each group adds (groups,)."""
        return np.array([share.degrees for share in self.shares])


def attribution(
    first: Design,
    second: Design,
    setting: Setting | None = None,
    groups: Mapping[str, Sequence[str]] | None = None,
) -> Attribution:
    """Share the difference in settled amplitude out among groups of numbers, exactly (docs/what-if.md).

    Without ``groups`` among those that a watchmaker would name, *drive for its balance* and the like, and within each
    among its parts (G. Owen's values); with ``groups`` (dotted names, or a table's name for all of it) among these
    (L. S. Shapley's). Mixtures of both designs are settled in one batch, at the first position and hour of ``setting``
    (default: dial up, fully wound); a mixture that does not settle is left out with all orders that pass it, and told.
    Raises InputError for groups that overlap or name nothing, for differences no group holds, and where one of the two
    does not settle or nothing is left to share out by.
    """
    first, second = _alike(movement_of(first), movement_of(second))
    members = checked(first, second, groups)
    players = {
        group: tuple(inner for inner, names in parts.items() if names) for group, parts in members.items()
    }
    at_work = {group: inner for group, inner in players.items() if inner}
    names = {inner: names for parts in members.values() for inner, names in parts.items()}
    mixtures = _Mixtures(first, second, names, first_of(setting or Setting()))
    mixtures.settle(_needed(at_work))
    ends = [mixtures.amplitude(frozenset(who)) for who in ((), [p for i in at_work.values() for p in i])]
    for movement, end in zip((first, second), ends, strict=True):
        if not math.isfinite(end):
            raise InputError(
                f"{shown(movement.name)} has no settled amplitude there to share out: choose another position or hour"
            )
    outer, inner = owen(mixtures.amplitude, at_work)
    if not np.isfinite(outer).all():
        raise InputError(
            f"a mixture has no settled amplitude to share out ({mixtures.remarks(at_work.values())[0]}): choose "
            "another position or hour, or larger groups"
        )
    degrees = dict(zip(at_work, outer.tolist(), strict=True))
    return Attribution(
        shares=tuple(
            Share(
                group=group,
                degrees=degrees.get(group, 0.0),
                differing=tuple(name for its in parts.values() for name in its),
                inner=_inner(group, parts, inner.get(group), divided=groups is None),
            )
            for group, parts in members.items()
        ),
        first_deg=ends[0],
        second_deg=ends[1],
        residual_rad=mixtures.residual,
        remarks=mixtures.remarks(at_work.values()),
        within=tuple(
            f"{group}: {why}"
            for group, its in at_work.items()
            if groups is None and (why := mixtures.parting(its))
        ),
    )


def _inner(
    group: str, parts: Mapping[str, tuple[str, ...]], degrees: Array | None, *, divided: bool
) -> tuple[Share, ...]:
    """The shares within a group, of the parts in which something differs; none where they cannot be told apart."""
    if degrees is None or not divided or not np.isfinite(degrees).all():
        return ()
    at_work = [(part, names) for part, names in parts.items() if names]
    return tuple(
        Share(group=part, degrees=float(share), differing=names)
        for (part, names), share in zip(at_work, degrees, strict=True)
    )


def _needed(groups: Mapping[str, tuple[str, ...]]) -> list[Who]:
    """Who must be known together: all mixtures of whole groups, and with each some of one more."""
    found: dict[Who, None] = {}
    for who in np.ndindex(*(2,) * len(groups)):
        whole = frozenset(p for take, its in zip(who, groups.values(), strict=True) if take for p in its)
        found[whole] = None
        for take, its in zip(who, groups.values(), strict=True):
            if not take:
                for some in np.ndindex(*(2,) * len(its)):
                    found[whole | {p for p, one in zip(its, some, strict=True) if one}] = None
    return list(found)


class _Mixtures:
    """Movements with some numbers of the first design and the others of the second, and what they show."""

    def __init__(
        self, first: Movement, second: Movement, names: Mapping[str, tuple[str, ...]], setting: Setting
    ) -> None:
        self.first, self.second, self.names, self.setting = first, second, names, setting
        self.tables = first.tables(), second.tables()
        self.parts: dict[tuple[str, frozenset[str]], Any] = {}
        self.found: dict[Who, float] = {}
        self.missing: dict[Who, str] = {}
        self.residual = 0.0

    def settle(self, wanted: Iterable[Who]) -> None:
        """Settle all of them, a batch for each kind of escapement."""
        movements: dict[Who, Movement] = {}
        for who in wanted:
            try:
                movements[who] = self._mixed(who)
            except InputError as error:
                self.found[who], self.missing[who] = math.nan, f"is no movement: {error}"
        players = list(movements)
        for index in by_kind(list(movements.values())):
            self._settle({players[i]: movements[players[i]] for i in index})

    def _mixed(self, who: Who) -> Movement:
        """The first design with what these players have of the second. Raises InputError where that cannot be."""
        taken: dict[str, list[str]] = {}
        for name in (name for player in who for name in self.names[player]):
            taken.setdefault(name.partition(".")[0], []).append(name)
        parts = {}
        for table in (table for table in PARTS if table in taken):
            parts[table] = self._part(table, frozenset(taken[table]))
        return replace(self.first, name="mixture", tolerance=(), fitted=(), filled=(), **parts)

    def _part(self, table: str, names: frozenset[str]) -> Any:
        """A part of the first design with these numbers of the second; the same one for all mixtures that have it."""
        if (table, names) not in self.parts:
            mixed = {table: dict(self.tables[0].get(table, {}))}
            for name in names:
                _copy(self.tables[1], mixed, name)
            try:
                self.parts[table, names] = part_of(Movement, table, mixed[table]) if table in mixed else None
            except InputError as error:
                self.parts[table, names] = error
        found = self.parts[table, names]
        if isinstance(found, InputError):
            raise found
        return found

    def _settle(self, movements: Mapping[Who, Movement]) -> None:
        """Settle those with one kind of escapement in one batch."""
        points = operating_points(stack_of(list(movements.values())), self.setting)
        # a mixture may swing too far for any watch: its amplitude is then that without a horn, as for knocks
        batch = settle(points.oscillators, points.knock_angle, ceiling=math.inf, followed=_FOLLOWED)
        amplitude = np.degrees(batch.cycle.amplitude)
        settled = np.isfinite(amplitude) & (batch.state != CODE[State.UNSETTLED])
        for who, value, sound, state in zip(movements, amplitude, settled, batch.state, strict=True):
            self.found[who] = float(value) if sound else math.nan
            if not sound:
                self.missing[who] = _WHY.get(STATES[state], _TOO_FAR)
        self.residual = max(self.residual, float(np.max(batch.cycle.residual[settled], initial=0.0)))

    def amplitude(self, who: Who) -> float:
        """Settled amplitude, deg; NaN where the mixture does not settle."""
        return self.found[who]

    def remarks(self, groups: Iterable[tuple[str, ...]]) -> tuple[str, ...]:
        """Which mixtures of whole groups did not settle, the smallest first."""
        whole = [who for who in self.missing if all(not who & set(its) or who >= set(its) for its in groups)]
        return tuple(self._told(who) for who in sorted(whole, key=_size))

    def parting(self, its: tuple[str, ...]) -> str:
        """The smallest mixture with a part of a group alone that did not settle, and how many more there are."""
        some = sorted((who for who in self.missing if 0 < len(who & set(its)) < len(its)), key=_size)
        more = f", and {len(some) - 1} more like it" if len(some) > 1 else ""
        return f"{self._told(some[0])}{more}" if some else ""

    def _told(self, who: Who) -> str:
        parts = " and ".join(part for part in self.names if part in who)
        return f"{parts} of {shown(self.second.name)} with the rest of {shown(self.first.name)} {self.missing[who]}"


def _size(who: Who) -> tuple[int, list[str]]:
    return len(who), sorted(who)


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


def _differing(first: Movement, second: Movement) -> list[str]:
    """Dotted names of what is not the same in both, in the order of the design file."""
    a, b = first.tables(), second.tables()
    return [
        f"{table}.{key}"
        for table in PARTS
        for key in {**a.get(table, {}), **b.get(table, {})}
        if a.get(table, {}).get(key) != b.get(table, {}).get(key)
    ]


def checked(
    first: Movement, second: Movement, groups: Mapping[str, Sequence[str]] | None
) -> dict[str, dict[str, tuple[str, ...]]]:
    """By outer group and inner one, the names of what differs; raises InputError for groups that cannot be."""
    return _grouped(first, second) if groups is None else _own(first, second, groups)


def _grouped(first: Movement, second: Movement) -> dict[str, dict[str, tuple[str, ...]]]:
    """Ready groups, their parts, and in each what differs; what the table of numbers does not know has its own."""
    found: dict[str, dict[str, list[str]]] = {
        outer: {inner: [] for inner in parts} for outer, parts in READY.items()
    }
    kinds = type(first.escapement) is not type(second.escapement)
    for name in _differing(first, second):
        # halves of two kinds are no escapement: all of it is exchanged together
        facts = facts_of("escapement.kind" if kinds and name.startswith("escapement.") else name)
        if facts.outer == OTHER:
            found.setdefault(OTHER, {OTHER: []})
        found[facts.outer][facts.inner].append(name)
    return {outer: {inner: tuple(names) for inner, names in parts.items()} for outer, parts in found.items()}


def _own(
    first: Movement, second: Movement, groups: Mapping[str, Sequence[str]]
) -> dict[str, dict[str, tuple[str, ...]]]:
    """Groups as they are asked for, each one part: known names, none in two groups, none inside another's table, and
    every difference in one of them, or the shares could not add up."""
    if not 1 <= len(groups) <= _MOST_GROUPS:
        raise InputError(f"groups: {len(groups)} given, must be from 1 to {_MOST_GROUPS}")
    known = [*PARTS, *(f"{t}.{name}" for t, part in PARTS.items() for name in part.__dataclass_fields__)]
    known += [f"escapement.{name}" for part in KINDS.values() for name in part.__dataclass_fields__]
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
    found: dict[str, list[str]] = {group: [] for group in groups}
    for name in _differing(first, second):
        holds = owner.get(name, owner.get(name.partition(".")[0]))
        if holds is None:
            raise InputError(f"groups: {name} differs between the designs but is in no group")
        found[holds].append(name)
    return {group: {group: tuple(names)} for group, names in found.items()}


def _copy(source: dict[str, Any], target: dict[str, Any], name: str) -> None:
    """Copy what stands at a dotted name, or its absence; a table left empty goes."""
    table, _, key = name.partition(".")
    if key in source.get(table, {}):
        target.setdefault(table, {})[key] = source[table][key]
        return
    target.get(table, {}).pop(key, None)
    if table in target and not target[table]:
        del target[table]
