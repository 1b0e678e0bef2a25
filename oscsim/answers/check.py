"""Is this a design file, what does it say, is it plausible, and what would be plausible where it says nothing?"""

from __future__ import annotations

import math
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from oscsim.answers.follows import Follows, follows, follows_unsettled
from oscsim.answers.gaps import Gaps, gaps_of, numbers_of
from oscsim.answers.result import Result
from oscsim.designs import bundled, bundled_text
from oscsim.errors import InputError
from oscsim.files import read_design
from oscsim.movement import Movement, movement_from
from oscsim.slips.in_words import numbers_from_words
from oscsim.tables import put, quantity_of
from oscsim.toml import tables_of
from oscsim.typical.bands import FOLLOWS, Usual
from oscsim.typical.families import FACTS, FAMILIES, WINDINGS, Family, family_weights
from oscsim.typical.laws import GYRATION, Filled, fill
from oscsim.typical.numbers import usual_of


@dataclass(frozen=True, kw_only=True)
class Value:
    """One number of the design: origin 'file', 'filled' (in the file, by a sketch), 'teeth' (what the file's teeth
    make) or 'default', and its usual band where it has one."""

    name: str
    value: float
    unit: str
    meaning: str
    origin: str
    usual: Usual | None

    @property
    def plausible(self) -> bool:
        return self.usual is None or self.usual.holds(self.value)


@dataclass(frozen=True, kw_only=True)
class Missing:
    """A number that the file must give and does not, and what would be plausible: a range of 95 of 100 such movements
    (NaN for counts and for text)."""

    name: str
    unit: str
    meaning: str
    suggested: float
    low: float
    high: float
    reason: str


@dataclass(frozen=True, repr=False, kw_only=True)
class Check(Result):
    """What a design file is: problems (complaints, each one line), missing numbers with suggestions, values, and what
    follows from them; valid when there are neither problems nor gaps.

    ``movement`` and ``follows`` are of the design with the suggestions in its gaps where it has some; None and empty
    where that makes no movement.
    """

    source: str
    name: str
    family: Family
    problems: tuple[str, ...]
    missing: tuple[Missing, ...]
    values: tuple[Value, ...]
    follows: tuple[Follows, ...]
    movement: Movement | None

    @property
    def designs(self) -> tuple[Movement, ...]:
        """The movement where the file is valid, else none."""
        return (self.movement,) if self.movement is not None and self.valid else ()

    @property
    def design(self) -> str:
        """What the file calls its movement, or the file's own name."""
        return self.name

    def settings(self) -> dict[str, Any]:
        """Nothing but the file decides the answer."""
        return {"file": self.source}

    @property
    def valid(self) -> bool:
        """Whether the file can be used as it stands."""
        return not self.problems and not self.missing

    @property
    def unusual(self) -> tuple[Value, ...]:
        """Numbers outside their usual band."""
        return tuple(value for value in self.values if not value.plausible)

    @property
    def odd(self) -> tuple[Follows, ...]:
        """What follows and is not as usual: outside its band, or an amplitude of a watch that does not run."""
        return tuple(one for one in self.follows if not FOLLOWS[one.name].holds(one.value)
                     or one.state not in ("", "running"))  # fmt: skip

    def rows(self) -> list[dict[str, Any]]:
        blank: dict[str, Any] = dict.fromkeys(
            ("file", "kind", "name", "value", "unit", "usual_low", "usual_high", "usual_source", "remark")
        )
        rows = []
        for value in self.values:
            rows.append({"kind": value.origin, "name": value.name, "value": value.value, "unit": value.unit,
                         **_band(value.usual), "remark": "" if value.plausible else "unusual"})  # fmt: skip
        for one in self.follows:
            odd = one.state if one.state not in ("", "running") else "unusual"
            rows.append({"kind": "follows", "name": one.name, "value": one.value, "unit": one.unit,
                         **_band(FOLLOWS[one.name]), "remark": odd if one in self.odd else ""})  # fmt: skip
        for gap in self.missing:
            rows.append({"kind": "missing", "name": gap.name, "value": gap.suggested, "unit": gap.unit,
                         "usual_low": gap.low, "usual_high": gap.high, "usual_source": gap.reason,
                         "remark": "suggested"})  # fmt: skip
        rows += [{"kind": "problem", "remark": problem} for problem in self.problems]
        return [blank | {"file": self.source} | row for row in rows]

    def body(self) -> dict[str, Any]:
        return {
            "valid": self.valid,
            "problems": list(self.problems),
            "missing": [dict(vars(gap)) for gap in self.missing],
            "values": [{"name": v.name, "value": v.value, "unit": v.unit, "meaning": v.meaning, "origin": v.origin,
                        **_band(v.usual), "plausible": v.plausible} for v in self.values],
            "follows": [{**vars(one), **_band(FOLLOWS[one.name]), "plausible": one not in self.odd}
                        for one in self.follows],
        }  # fmt: skip


def _band(usual: Usual | None) -> dict[str, Any]:
    if usual is None:
        return {"usual_low": None, "usual_high": None, "usual_source": None}
    return {"usual_low": usual.low, "usual_high": usual.high, "usual_source": usual.source}


def check(design: str | os.PathLike[str]) -> Check:
    """Check a design file, given by path or by the name of a bundled design.

    A file that cannot be read or is no TOML comes back with that as its problem.
    """
    source = str(design)
    try:
        text = bundled_text(source) if source in bundled() and not os.path.exists(source) else None
        if text is None:
            text = read_design(Path(design))
        tables = tables_of(text)
        if "bench" in tables:  # a slip's numbers may have units
            tables = numbers_from_words(tables)
    except InputError as error:
        said = str(error).removeprefix(f"{source}: ")
        return Check(
            source=source,
            name=source,
            family=FAMILIES[next(iter(FAMILIES))],
            problems=(said,),
            missing=(),
            values=(),
            follows=(),
            movement=None,
        )
    return _checked(tables, source)


def _checked(tables: Mapping[str, Any], source: str) -> Check:
    found = gaps_of(tables)
    family, facts, winding = _family(found.given, tables.get("bench"))
    suggestions = (
        {one.name: one for one in fill(found.given, family, facts, winding)} if found.missing else {}
    )
    movement, problems = None, list(found.problems)
    if not problems:
        try:
            movement = movement_from(_completed(tables, found, suggestions))
        except InputError as error:
            said = str(error)
            problems.append(f"with the suggested values: {said}" if found.missing else said)
    name = tables.get("name")
    return Check(
        source=source,
        name=name if isinstance(name, str) and name.strip() else source,
        family=family,
        problems=tuple(problems),
        missing=tuple(_missing(gap, suggestions) for gap in found.missing),
        values=tuple(_values(found, movement)),
        follows=()
        if movement is None
        else follows_unsettled(movement)
        if found.missing
        else follows(movement),
        movement=movement,
    )


def _family(given: Mapping[str, Any], bench: Any) -> tuple[Family, dict[str, float], str | None]:
    """The family that beat and balance point to, or what a slip says in ``bench``, so that a suggestion is of the kind
    that a sketch of it is; the balance's diameter from inertia and mass where both are given."""
    inertia, mass = given.get("balance.inertia_mg_cm2"), given.get("balance.mass_mg")
    told = bench if isinstance(bench, Mapping) else {}
    facts = {name: float(told[name]) for name, info in FACTS.items() if info.holds(told.get(name))}
    if inertia and mass:
        facts.setdefault("balance_diameter_mm", 20.0 * math.sqrt(inertia / mass) / GYRATION)
    winding = told.get("winding") if told.get("winding") in WINDINGS else None
    named = told.get("family")
    if not (isinstance(named, str) and named in FAMILIES):
        named = next(iter(family_weights(given, facts, winding)))
    return FAMILIES[named], facts, winding


def _completed(tables: Mapping[str, Any], found: Gaps, suggestions: Mapping[str, Filled]) -> dict[str, Any]:
    """The file's tables with what is missing put in as suggested."""
    whole: dict[str, Any] = dict(tables)
    whole.setdefault("name", "without a name")
    for name in found.missing:
        if name in suggestions:
            put(whole, name, suggestions[name].value)
    return whole


def _missing(name: str, suggestions: Mapping[str, Filled]) -> Missing:
    info = quantity_of(Movement, name)
    one = suggestions.get(name)
    unit, meaning = "", "what the movement is called, text in quotes"
    if info is not None:
        unit, meaning = info.unit, info.meaning
    low, high = (one.ends or (math.nan, math.nan)) if one is not None else (math.nan, math.nan)
    value = math.nan if one is None else float(one.value)
    return Missing(
        name=name,
        unit=unit,
        meaning=meaning,
        suggested=value,
        low=low,
        high=high,
        reason="" if one is None else one.reason,
    )


def _values(found: Gaps, movement: Movement | None) -> list[Value]:
    """The numbers that the file gives and, where it makes a movement, those that stand for what it leaves out."""
    if movement is None:
        triples = [(name, value, quantity_of(Movement, name)) for name, value in found.given.items()]
    else:
        triples = [triple for triple in numbers_of(movement) if triple[0] not in found.missing]
    filled = movement.filled if movement is not None else ()

    def origin(name: str) -> str:
        if name in filled:
            return "filled"
        if name in found.given:
            return "file"
        counted = movement is not None and bool(movement.train.wheel_teeth)
        return "teeth" if counted and name in ("train.ratio", "train.meshes") else "default"

    return [
        Value(
            name=name,
            value=float(value),
            unit=info.unit,
            meaning=info.meaning,
            origin=origin(name),
            usual=usual_of(name),
        )
        for name, value, info in triples
        if info is not None
    ]
