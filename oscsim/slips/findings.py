"""Findings beside the readings, from their tables and back: [looked], [[swing]], [[sister]]; contradictions refused."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from oscsim.errors import InputError, nearest, shown
from oscsim.fields import Quantity
from oscsim.slips.readings import LOOKED, WORN, Findings, Reading, RimWeights, Seen, Sister, Swing
from oscsim.units import position

_RIM = {
    "mass_mg": Quantity("mg", "", "mass of each of two weights on the rim", 0.01, 1000),
    "radius_mm": Quantity("mm", "", "their distance from the staff", 0.5, 60),
    "rate_change_s_per_day": Quantity(
        "s/day", "", "by which the rate changed, slower below 0", -50000, 50000
    ),
    "uncertainty_s_per_day": Quantity("s/day", "", "standard uncertainty of it", 1e-3, 5000),
}
_PERIODS = Quantity("", "", "periods counted from the first", 0, 10000)
_SWING_DEG = Quantity("deg", "", "swing of the balance alone", 3, 400)
_UNCERTAIN = Quantity("", "", "standard uncertainty", 1e-6, 1e4)
_SWING_KEYS = ("position", "periods", "amplitude_deg", "amplitude_deg_uncertainty")
#: A sister that shows less than this flat, fully wound, is not in order, deg (common practice without source).
LEAST_SOUND = 150.0
#: Radius of gyration over outer radius of what can be a balance: a full disc has 0.71, a bare rim nearly 1.
_GYRATION = (0.5, 1.0)


def findings_from(tables: Mapping[str, Any], source: str, sisters: tuple[Sister, ...] = ()) -> Findings:
    """The findings in a file's tables, with sisters read elsewhere. Raises InputError."""
    looked, worn, rim = _looked(tables.get("looked", {}), source)
    swings = tuple(_swing(entry, where) for entry, where in tables_in(tables, "swing", source))
    return Findings(looked=looked, worn=worn, rim_weights=rim, swings=swings, sisters=sisters)


def findings_tables(found: Findings) -> dict[str, Any]:
    """Tables from which ``findings_from`` makes equal findings; sisters apart."""
    looked: dict[str, Any] = {}
    for name, seen in found.looked.items():
        looked |= {name: seen.value, f"{name}_uncertainty": seen.uncertainty}
    looked |= dict(found.worn)
    if found.rim_weights:
        looked["rim_weights"] = [asdict(one) for one in found.rim_weights]
    swings = [
        {key: list(value) if isinstance(value, tuple) else value for key, value in asdict(one).items()}
        for one in found.swings
    ]
    tables = {"looked": looked, "swing": swings}
    return {key: value for key, value in tables.items() if value}


def merged(one: Findings, other: Findings) -> Findings:
    """Both findings as one; raises InputError where they contradict each other."""
    for name in one.looked.keys() & other.looked.keys():
        if one.looked[name] != other.looked[name]:
            a, b = one.looked[name].value, other.looked[name].value
            raise InputError(f"looked.{name}: {a:g} in the slip and {b:g} with the readings; keep one")
    for name in one.worn.keys() & other.worn.keys():
        if one.worn[name] != other.worn[name]:
            raise InputError(f"looked.{name}: seen worn and seen good; keep one")
    return Findings(
        looked={**one.looked, **other.looked},
        worn={**one.worn, **other.worn},
        rim_weights=tuple(dict.fromkeys((*one.rim_weights, *other.rim_weights))),
        swings=tuple(dict.fromkeys((*one.swings, *other.swings))),
        sisters=(*one.sisters, *(s for s in other.sisters if s not in one.sisters)),
    )


def check_sisters(found: Findings, rows: Sequence[Reading] = (), beats_per_hour: float | None = None) -> None:
    """Raise InputError for a sister of another beat, one that is not in order, and for one's own readings as a
    sister's."""
    own = {(row.position, row.hours): row for row in rows}
    for number, one in enumerate(found.sisters, start=1):
        who = f"sister {shown(one.name) if one.name else number}"
        if beats_per_hour and one.beats_per_hour and abs(one.beats_per_hour / beats_per_hour - 1.0) > 0.01:
            raise InputError(
                f"{who}: beats_per_hour = {one.beats_per_hour:g}, this movement has {beats_per_hour:g}; "
                "a sister is of the same kind"
            )
        amplitudes = [row for row in one.readings.rows if math.isfinite(row.amplitude_deg)]
        if not amplitudes:
            raise InputError(f"{who}: no amplitude was read of it")
        for row in one.readings.rows:
            if row.stops:
                raise InputError(
                    f"{who}: it stops at {row.position}, {row.hours:g} h; a sister must be in order"
                )
            flat = row.position in ("CH", "FH") and row.hours == 0.0 and row.turns_let_down == 0.0
            if flat and row.amplitude_deg < LEAST_SOUND:
                raise InputError(
                    f"{who}: {row.amplitude_deg:g} deg at {row.position} fully wound: one in order shows at least "
                    f"{LEAST_SOUND:g} deg"
                )
        same = [own.get((row.position, row.hours)) for row in amplitudes]
        if len(amplitudes) > 1 and all(
            mine is not None and mine.amplitude_deg == row.amplitude_deg
            for mine, row in zip(same, amplitudes, strict=True)
        ):
            raise InputError(f"{who}: its amplitudes are this movement's own; a sister is another movement")


def check_balance(inertia_mg_cm2: float | None, mass_mg: float | None, diameter_mm: float | None) -> None:
    """Raise InputError where inertia, mass and diameter make no balance."""
    if not (inertia_mg_cm2 and mass_mg and diameter_mm):
        return
    gyration = 20.0 * math.sqrt(inertia_mg_cm2 / mass_mg) / diameter_mm
    low, high = _GYRATION
    if not low < gyration < high:
        raise InputError(
            f"balance: {inertia_mg_cm2:g} mg·cm², {mass_mg:g} mg and {diameter_mm:g} mm across make no balance: its "
            f"mass would act at {gyration:.2g} of the radius, must be {low:g} to {high:g}; is one in another unit?"
        )


def _looked(table: object, source: str) -> tuple[dict[str, Seen], dict[str, bool], tuple[RimWeights, ...]]:
    if not isinstance(table, Mapping):
        raise InputError(f"{source}: looked = {shown(table)}: not a table, must be a table [looked]")
    looked: dict[str, Seen] = {}
    worn: dict[str, bool] = {}
    rim: tuple[RimWeights, ...] = ()
    known = (*LOOKED, *(f"{name}_uncertainty" for name in LOOKED), *WORN, "rim_weights")
    for key, value in table.items():
        where = f"{source}: looked.{key}"
        if key not in known:
            raise InputError(f"{where}: unknown key; {nearest(key, known)}")
        if key in LOOKED:
            LOOKED[key].info.check(where, value)
            uncertain = table.get(f"{key}_uncertainty", LOOKED[key].uncertainty_of(value))
            _UNCERTAIN.check(f"{where}_uncertainty", uncertain)
            looked[key] = Seen(float(value), float(uncertain))
        elif key in WORN:
            if not isinstance(value, bool):
                raise InputError(f"{where} = {shown(value)}: must be true (worn) or false (good)")
            worn[key] = value
        elif key == "rim_weights":
            rim = tuple(_rim(entry, where) for entry in _list(value, where))
        elif key.removesuffix("_uncertainty") not in table:
            raise InputError(f"{where}: {key.removesuffix('_uncertainty')} itself is missing")
    return looked, worn, rim


def _rim(entry: Mapping[str, Any], where: str) -> RimWeights:
    check_keys(entry, where, tuple(_RIM))
    for name, info in _RIM.items():
        if name in entry:
            info.check(f"{where}.{name}", entry[name])
        elif name != "uncertainty_s_per_day":
            raise InputError(f"{where}.{name}: missing; {info.meaning}, {info.allowed}")
    return RimWeights(**{name: float(value) for name, value in entry.items()})


def _swing(entry: Mapping[str, Any], where: str) -> Swing:
    check_keys(entry, where, _SWING_KEYS)
    try:
        symbol = position(entry.get("position", "CH")).symbol
    except InputError as error:
        raise InputError(f"{where}: {error}") from None
    lists = {}
    for name, info in (("periods", _PERIODS), ("amplitude_deg", _SWING_DEG)):
        values = entry.get(name)
        if not isinstance(values, list) or len(values) < 2:
            raise InputError(f"{where}: {name} = {shown(values)}: must be a list of at least two numbers")
        for value in values:
            info.check(f"{where}: {name}", value)
        lists[name] = tuple(float(value) for value in values)
    if len(lists["periods"]) != len(lists["amplitude_deg"]):
        raise InputError(f"{where}: periods and amplitude_deg must have the same number of values")
    for name, sign in (("periods", 1.0), ("amplitude_deg", -1.0)):
        steps = [sign * (b - a) for a, b in zip(lists[name], lists[name][1:], strict=False)]
        if min(steps) <= 0.0:
            raise InputError(f"{where}: {name} must {'grow' if sign > 0 else 'fall'} from one to the next")
    uncertain = entry.get("amplitude_deg_uncertainty", 5.0)
    _UNCERTAIN.check(f"{where}: amplitude_deg_uncertainty", uncertain)
    return Swing(symbol, lists["periods"], lists["amplitude_deg"], float(uncertain))


def tables_in(tables: Mapping[str, Any], key: str, source: str) -> list[tuple[Mapping[str, Any], str]]:
    """Each of the tables [[key]] and where it stands; raises InputError."""
    entries = _list(tables.get(key, []), f"{source}: {key}")
    return [(entry, f"{source}, {key} {number}") for number, entry in enumerate(entries, start=1)]


def _list(value: Any, where: str) -> list[Mapping[str, Any]]:
    if not isinstance(value, list) or not all(isinstance(entry, Mapping) for entry in value):
        raise InputError(f"{where} = {shown(value)}: must be a list of tables")
    return value


def check_keys(entry: Mapping[str, Any], where: str, known: Sequence[str]) -> None:
    """Raise InputError for a key that is not known."""
    for key in entry:
        if key not in known:
            raise InputError(f"{where}: unknown key {shown(key)}; {nearest(key, known)}")
