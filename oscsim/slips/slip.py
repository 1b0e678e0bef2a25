"""The bench slip, what a bench knows: a design file with gaps, facts that no design file holds, readings."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, dataclass, field, fields, replace
from pathlib import Path
from typing import Any

from oscsim.errors import InputError, hint, nearest, shown
from oscsim.files import toml_text
from oscsim.movement import PARTS, Movement, fillable_names, number_names
from oscsim.slips.findings import check_balance, check_sisters, findings_from, findings_tables
from oscsim.slips.in_words import numbers_from_words
from oscsim.slips.reading_files import FOUND, readings_from, readings_tables, sisters_from, sisters_tables
from oscsim.slips.readings import Findings, Readings
from oscsim.tables import put, quantity_of
from oscsim.tolerances import Spread, filled_from, spreads_from
from oscsim.toml import read_tables
from oscsim.typical.families import FACTS, WINDINGS, family_named
from oscsim.typical.numbers import DEFAULT_SPREADS

_HERE = Path()
_BENCH = ("family", "winding", *FACTS)
_READINGS = ("lift_angle_deg", "lift_angle_uncertainty_deg", "reading", "about")


@dataclass(frozen=True, kw_only=True)
class Slip:
    """given: dotted name of a design's number to its value; facts: names of ``FACTS``; family and winding, None where
    they are to be found from the traits; own: spreads that the slip states; readings, None without any; findings.

    Raises InputError for an unknown name or a value out of range.
    """

    name: str = ""
    story: str = ""
    given: Mapping[str, Any] = field(default_factory=dict)
    facts: Mapping[str, float] = field(default_factory=dict)
    family: str | None = None
    winding: str | None = None
    own: tuple[Spread, ...] = ()
    readings: Readings | None = None
    findings: Findings = Findings()

    def __post_init__(self) -> None:
        for key in ("name", "story"):
            if not isinstance(getattr(self, key), str):
                raise InputError(f"{key} = {shown(getattr(self, key))}: must be text in quotes")
        numbers = number_names()
        for name, value in self.given.items():
            info = quantity_of(Movement, name) if name in numbers else None
            if name in ("train.wheel_teeth", "train.pinion_leaves", "train.layout"):
                raise InputError(
                    f"{name} = {shown(value)}: a slip takes train.ratio, the product of teeth over leaves; the teeth "
                    "go into the design that comes of it"
                )
            if info is None:
                raise InputError(f"{name}: unknown key; {nearest(name, numbers)}")
            replace(info, optional=False).check(name, value)
        for name, value in self.facts.items():
            if name not in FACTS:
                raise InputError(f"bench.{name}: unknown key; {nearest(name, _BENCH)}")
            FACTS[name].check(f"bench.{name}", value)
        if self.family is not None:
            family_named(self.family)
        if self.winding is not None and self.winding not in WINDINGS:
            raise InputError(
                f"winding {shown(self.winding)}: must be one of {', '.join(WINDINGS)}"
                f"{hint(str(self.winding), WINDINGS)}"
            )

        across, whole = (self.facts.get(f"{what}_diameter_mm") for what in ("balance", "movement"))
        if across is not None and whole is not None and across >= whole:
            raise InputError(
                f"bench.balance_diameter_mm = {across:g} mm: wider than its movement, bench.movement_diameter_mm = "
                f"{whole:g} mm; is one of them in another unit?"
            )
        seen = self.findings.looked.get("balance_mass_mg")
        mass = self.given.get("balance.mass_mg") or (seen.value if seen is not None else None)
        check_balance(self.given.get("balance.inertia_mg_cm2"), mass, self.facts.get("balance_diameter_mm"))
        rows = self.readings.rows if self.readings is not None else ()
        check_sisters(self.findings, rows, self.given.get("balance.beats_per_hour"))

    def with_(self, **changes: Any) -> Slip:
        """A copy with more of the bench's knowledge; mappings are added to, other fields replaced."""
        for key in ("given", "facts"):
            if key in changes:
                changes[key] = {**getattr(self, key), **changes[key]}
        return replace(self, **changes)


def load_slip(path: str | os.PathLike[str]) -> Slip:
    """The slip in a TOML file: keys as in a design file, a table [bench], readings as in a readings file. A number may
    be text with a unit, such as "3 Hz" or "11.5 lignes". Those that its list ``filled`` names are not taken as given.

    Raises InputError in one line for anything that cannot be used.
    """
    place = Path(path)
    tables = read_tables(place, "a bench slip")
    try:
        return _slip(numbers_from_words(tables), str(place), place.parent)
    except InputError as error:
        said = str(error)
        raise InputError(said if said.startswith(f"{place}") else f"{place}: {said}") from None


def slip_of(movement: Movement) -> Slip | None:
    """The slip that a sketch was made from, with what was given anew since; None for a design that is no sketch."""
    if not movement.slip:
        return None
    tables = movement.tables()
    usual = {s.name: s.to_table() for s in DEFAULT_SPREADS}
    stated = [s for s in movement.tolerance if s.to_table() != usual.get(s.name)]
    tables.pop("tolerance", None)
    for spread in stated:
        put(tables, f"tolerance.{spread.name}", spread.to_table())
    for name, value in [pair for table in PARTS for pair in _numbers(tables.get(table, {}), table)]:
        # a design's words and what it has by default are no knowledge of the bench
        info = quantity_of(Movement, name)
        if info is None or value == _default(name) or name.startswith("train.arbors."):
            put(tables, name, None)
    return _slip(tables, movement.name)


def _default(name: str) -> Any:
    """What the number of that name is where a design file does not say."""
    table, _, key = name.partition(".")
    return next((f.default for f in fields(PARTS[table]) if f.name == key), MISSING)


def slip_tables(slip: Slip) -> dict[str, Any]:
    """The tables beside a design's own in which a slip is kept: ``[bench]`` and what was read and found."""
    bench: dict[str, Any] = dict(slip.facts)
    for key in ("family", "winding"):
        if getattr(slip, key) is not None:
            bench[key] = getattr(slip, key)
    read = readings_tables(slip.readings) if slip.readings is not None else {}
    sisters = sisters_tables(slip.findings.sisters)
    return {"bench": bench} | read | findings_tables(slip.findings) | ({"sister": sisters} if sisters else {})


def slip_text(slip: Slip) -> str:
    """The text of a slip's TOML file, from which ``load_slip`` makes an equal slip."""
    tables: dict[str, Any] = {key: getattr(slip, key) for key in ("name", "story") if getattr(slip, key)}
    beside = slip_tables(slip)
    tables |= {key: value for key, value in beside.items() if not isinstance(value, dict)}
    for name, value in slip.given.items():
        put(tables, name, value)
    tables |= {key: value for key, value in beside.items() if isinstance(value, dict) and value}
    for spread in slip.own:
        put(tables, f"tolerance.{spread.name}", spread.to_table())
    return toml_text(tables)


def _slip(tables: dict[str, Any], source: str, folder: Path = _HERE) -> Slip:
    known = ("name", "story", "bench", "tolerance", "fitted", "filled", *_READINGS, *FOUND, *PARTS)
    for key in tables:
        if key not in known:
            raise InputError(f"{key}: unknown {'table' if isinstance(tables[key], Mapping) else 'key'}; "
                             f"{nearest(key, (*known, *number_names()))}")  # fmt: skip
    bench = tables.get("bench", {})
    if not isinstance(bench, Mapping):
        raise InputError(f"bench = {shown(bench)}: not a table, must be a table [bench]")
    for key in bench:
        if key not in _BENCH:
            # a number of the design in the wrong table is the commonest slip of the pen here
            raise InputError(f"bench.{key}: unknown key; {nearest(key, (*_BENCH, *number_names()))}")
    given: dict[str, Any] = {}
    for table in PARTS:
        if table in tables:
            if not isinstance(tables[table], Mapping):
                raise InputError(f"{table} = {shown(tables[table])}: not a table, must be a table [{table}]")
            given |= dict(_numbers(tables[table], table))
    # what an earlier sketch filled is filled anew
    filled = filled_from(tables.get("filled", []), fillable_names())
    given = {name: value for name, value in given.items() if name not in filled}
    own = spreads_from(tables.get("tolerance", {}), number_names())
    readings = None
    if "reading" in tables:
        readings = readings_from({key: tables[key] for key in _READINGS if key in tables}, source, folder)
    elif "lift_angle_deg" in tables:
        raise InputError("lift_angle_deg: there are no tables [[reading]] that it belongs to; for readings in a file "
                         "of their own give --lift-angle, the movement's own is escapement.lift_angle_deg")  # fmt: skip
    return Slip(
        name=tables.get("name", ""),
        story=tables.get("story", ""),
        given=given,
        facts={key: bench[key] for key in FACTS if key in bench},
        family=bench.get("family"),
        winding=bench.get("winding"),
        own=tuple(spread for spread in own if spread.name not in filled),
        readings=readings,
        findings=findings_from(tables, source, sisters_from(tables, source, folder)),
    )


def _numbers(table: Mapping[str, Any], path: str) -> Iterator[tuple[str, Any]]:
    """Dotted names and values of a table and its inner tables."""
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _numbers(value, f"{path}.{key}")
        else:
            yield f"{path}.{key}", value
