"""A movement: the parts of a design together, checked and frozen, in the bench units of its file."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from functools import cache
from typing import Any

from oscsim.errors import InputError, nearest, shown
from oscsim.fields import alternatives
from oscsim.parts.balance import Balance, IndexPins
from oscsim.parts.detent import DetentEscapement
from oscsim.parts.escapement import Escapement
from oscsim.parts.hairspring_table import Hairspring, check_coils
from oscsim.parts.mainspring import Barrel, Mainspring, check_fit
from oscsim.parts.train import Arbor, Arbors, JewelledHoles, Train, jewelled_holes, radii
from oscsim.parts.winding import Winding
from oscsim.tables import from_table, put, quantity_of, to_table, value_at
from oscsim.tolerances import NOTES, Spread, filled_from, fitted_from

#: The tables of a design file and the parts they describe.
PARTS: dict[str, type[Any]] = {
    "balance": Balance,
    "escapement": Escapement,
    "train": Train,
    "mainspring": Mainspring,
    "barrel": Barrel,
    "index_pins": IndexPins,
    "hairspring": Hairspring,
    "winding": Winding,
}

#: The parts that the table ``[escapement]`` may describe, by its ``kind``.
KINDS: dict[str, type[Any]] = {"lever": Escapement, "pin-pallet": Escapement, "detent": DetentEscapement}

#: What a sketch's file keeps of its slip: what the bench knew and read; ``oscsim.slips`` reads it.
SLIP = (
    "bench",
    "about",
    "lift_angle_deg",
    "lift_angle_uncertainty_deg",
    "reading",
    "looked",
    "swing",
    "sister",
)
_JEWELS = "train.jewels"
_HOLE = f"{_JEWELS}."
#: Pairs of which exactly one is given: naming one takes the other's place.
_PAIRS = (
    ("escapement.fork_ratio", "escapement.lift_angle_deg"),
    ("train.mesh_efficiency", "train.mesh_friction"),
)
TWINS = dict(_PAIRS) | {second: first for first, second in _PAIRS}
#: What the teeth of a train decide, and what counts them.
_FROM_TEETH, _TEETH = ("ratio", "meshes"), ("wheel_teeth", "pinion_leaves", "layout")
_TRAIN_RATIO, _TRAIN_TEETH = ([f"train.{key}" for key in keys] for keys in (_FROM_TEETH, _TEETH))


@dataclass(frozen=True, kw_only=True)
class Movement:
    """A movement as designed. Raises InputError when a value or a combination of values cannot be.

    tolerance: spreads among sound examples; fitted: dotted names of numbers that were fitted to readings, each with its
    standard deviation in the number's unit; filled: dotted names of numbers that a sketch took from a family and nobody
    measured; slip: the tables of the bench slip that a sketch was made from (``SLIP``), plain, beside the design's own.
    """

    name: str
    story: str = ""
    balance: Balance
    escapement: Any = alternatives("lever", KINDS)
    train: Train
    mainspring: Mainspring
    barrel: Barrel
    index_pins: IndexPins | None = None
    hairspring: Hairspring | None = None
    winding: Winding | None = None
    tolerance: tuple[Spread, ...] = ()
    fitted: tuple[tuple[str, float], ...] = ()
    filled: tuple[str, ...] = ()
    slip: Mapping[str, Any] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        for key in ("name", "story"):
            if not isinstance(getattr(self, key), str):
                raise InputError(f"{key} = {shown(getattr(self, key))}: must be text in quotes")
        if not self.name.strip():
            raise InputError(f"name = {shown(self.name)}: the movement needs a name")
        self._check_notes()
        check_fit(self.mainspring, self.barrel)
        self.escapement.check_beat(self.balance.out_of_beat_deg)
        if self.hairspring is not None:
            self._check_hairspring(self.hairspring)

    def _check_hairspring(self, spring: Hairspring) -> None:
        """Raise InputError where the spring's departure is said twice, or its coils would touch."""
        if self.balance.cubic_stiffness != 0.0:
            raise InputError(
                f"balance.cubic_stiffness = {self.balance.cubic_stiffness:g} 1/rad²: must be 0 or absent beside the "
                "table [hairspring], whose shape says the same"
            )
        check_coils(spring, float(self.escapement.knock_angle()))

    def _check_notes(self) -> None:
        """Raise InputError where ``fitted`` or ``filled`` names what is no number of this design."""
        if not self.fitted and not self.filled:
            return
        fitted_from(dict(self.fitted), number_names())
        for name in (*(name for name, _ in self.fitted), *filled_from(self.filled, fillable_names())):
            if value_at(self, name) is None:
                raise InputError(
                    f"{name}: named among the fitted or filled numbers, but the design does not have it"
                )

    def with_(self, changes: Mapping[str, Any] | None = None, **more: Any) -> Movement:
        """A copy with changes by dotted name: ``with_({"balance.inertia_mg_cm2": 14.0})``.

        None takes an optional value out. Giving one of ``fork_ratio`` and ``lift_angle_deg``, or of
        ``mesh_efficiency`` and ``mesh_friction``, takes the other's place; so do teeth and ratio, and where a ratio
        takes the place of the teeth, the wheels keep their radii. Raises InputError for an unknown name or a value
        that cannot be.
        """
        tables = self.tables()
        wanted = {**(changes or {}), **more}
        for pair in _PAIRS:
            if all(wanted.get(name) is not None for name in pair):
                raise InputError(f"{', '.join(pair)}: exactly one is needed, both are given")
        _part_from_teeth(self.train, tables["train"], wanted)
        for name, value in wanted.items():
            if name not in _parameter_names():
                raise InputError(f"{shown(name)}: no such parameter; {nearest(str(name), parameter_names())}")
            if name.startswith("train.jewels.") and not isinstance(tables["train"]["jewels"], dict):
                # a count becomes the table it stands for, so that one hole can be changed alone
                holes = {f.name: int(jewelled_holes(self.train, f.name)) for f in fields(JewelledHoles)}
                tables["train"]["jewels"] = holes
            put(tables, name, value)
            if value is not None and name in TWINS:
                put(tables, TWINS[name], None)
            # a number given anew is no longer the fitted or the filled one
            for gone in (name, TWINS.get(name)):
                if any(fitted == gone for fitted, _ in self.fitted):
                    put(tables, f"fitted.{gone}", None)
            if "filled" in tables:
                tables["filled"] = _unfilled(tables["filled"], name)
        return movement_from(tables)

    @property
    def design_hash(self) -> str:
        """Sixteen hexadecimal digits that stand for the design's numbers: the same for the same numbers, whatever
        name, story, comments, order or default values its file has.

        The first half of SHA-256 over the canonical tables: keys sorted, every number a float, as compact JSON.
        """
        tables = {
            key: value
            for key, value in self.tables().items()
            if key not in ("name", "story", "filled", *SLIP)
        }
        text = json.dumps(_as_floats(tables), sort_keys=True, separators=(",", ":"), allow_nan=False)
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    def tables(self) -> dict[str, Any]:
        """The nested tables of a design file that ``movement_from`` turns into an equal movement."""
        tables = to_table(self)
        if tables["escapement"]["kind"] == "lever":  # what is not said is a lever
            del tables["escapement"]["kind"]
        del tables["tolerance"]
        del tables["fitted"]
        del tables["filled"]
        del tables["slip"]
        for spread in self.tolerance:
            put(tables, f"tolerance.{spread.name}", spread.to_table())
        for name, sd in self.fitted:
            put(tables, f"fitted.{name}", sd)
        if self.filled:
            tables["filled"] = list(self.filled)
        return tables | dict(self.slip)


def _part_from_teeth(train: Train, table: dict[str, Any], wanted: Mapping[str, Any]) -> None:
    """Take out of the train's ``table`` what the ``wanted`` changes leave no room for: the teeth where a ratio comes,
    what followed from the teeth where other teeth come."""
    named = {name.removeprefix("train.") for name in wanted if isinstance(name, str)}
    if named & set(_TEETH):
        for key in {*_FROM_TEETH} - named:
            if any(wanted.get(f"train.{tooth}") is not None for tooth in _TEETH):
                table.pop(key, None)
    elif train.wheel_teeth is not None and any(wanted.get(f"train.{key}") is not None for key in _FROM_TEETH):
        for key in _TEETH:
            table.pop(key, None)
        for name, arbor in radii(train).items():
            if arbor.wheel_radius_mm is not None:
                table["arbors"][name]["wheel_radius_mm"] = float(arbor.wheel_radius_mm)


def _unfilled(filled: list[str], name: str) -> list[str]:
    """The list without what giving ``name`` anew settles: itself, its twin, the count of jewels or its holes."""
    if name.startswith(_HOLE) and _JEWELS in filled:
        filled = [*filled, *(f"{_HOLE}{f.name}" for f in fields(JewelledHoles))]
    gone = {name, TWINS.get(name)} | ({_JEWELS} if name.startswith(_HOLE) else set())
    if name in _TRAIN_TEETH:  # ratio and meshes follow from teeth
        gone |= {*_TRAIN_TEETH, *_TRAIN_RATIO}
    if name in _TRAIN_RATIO:  # and take their place
        gone |= {*_TRAIN_TEETH}
    return [one for one in filled if one not in gone and not (name == _JEWELS and one.startswith(_HOLE))]


def _as_floats(table: Any) -> Any:
    """Nested tables with every number a float, so that 12 and 12.0 are one number."""
    if isinstance(table, Mapping):
        return {key: _as_floats(value) for key, value in table.items()}
    if isinstance(table, list | tuple):
        return [_as_floats(value) for value in table]
    return table if isinstance(table, str) else float(table) + 0.0  # no zero with a minus sign


def movement_from(tables: Mapping[str, Any]) -> Movement:
    """The movement that nested tables describe; raises InputError naming the key that is wrong."""
    if "slip" in tables:
        raise InputError(f"slip: unknown key; known: {', '.join(('name', 'story', *PARTS, *NOTES, *SLIP))}")
    if slip := {key: tables[key] for key in SLIP if key in tables}:
        tables = {key: value for key, value in tables.items() if key not in slip} | {"slip": slip}
    if notes := [key for key in NOTES if key in tables]:
        tables = {**tables, **{key: NOTES[key](tables[key], names_for(key)) for key in notes}}
    return from_table(Movement, tables, "")


def parameter_names() -> list[str]:
    """Every dotted name that ``Movement.with_`` understands."""
    return list(_parameter_names())


@cache
def _parameter_names() -> tuple[str, ...]:
    names = ["name", "story"]
    names += [
        f"{table}.{f.name}" for table, part in PARTS.items() for f in fields(part) if f.name != "arbors"
    ]
    others = [f"escapement.{f.name}" for part in KINDS.values() for f in fields(part)]
    names += [name for name in dict.fromkeys(others) if name not in names]
    names += [f"train.jewels.{f.name}" for f in fields(JewelledHoles)]
    names += [f"train.arbors.{a.name}.{f.name}" for a in fields(Arbors) for f in fields(Arbor)]
    return tuple(names)


def number_names() -> list[str]:
    """Those of ``parameter_names`` that name a number of a design file."""
    return list(_number_names())


@cache
def _number_names() -> tuple[str, ...]:
    return tuple(name for name in _parameter_names() if quantity_of(Movement, name) is not None)


def names_for(note: str) -> list[str]:
    """The names that a note of a design file (``tolerances.NOTES``) may hold."""
    return fillable_names() if note == "filled" else number_names()


def fillable_names() -> list[str]:
    """Those of ``parameter_names`` that a sketch may fill: numbers, counts of teeth and words."""
    return [name for name in parameter_names() if "." in name]
