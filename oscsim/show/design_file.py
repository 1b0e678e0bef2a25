"""The manual page of the design file, docs/design-file.md: ``python -m oscsim.show.design_file`` prints it.

The tables are made from the fields' own data, so key, unit, meaning and range stand in one place only.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import Field, fields
from typing import Any

from oscsim.designs import DEFAULT_DESIGN
from oscsim.fields import Quantity, required
from oscsim.movement import PARTS, Movement
from oscsim.parts.detent import DetentEscapement
from oscsim.parts.train import Arbor, Arbors, JewelledHoles
from oscsim.tables import unit_of
from oscsim.tolerances import SHAPES
from oscsim.typical.numbers import DEFAULT_SPREADS
from oscsim.whole import LARGEST

_NO = "–"
#: Keys of which exactly one is given: neither is required, neither may simply be left out.
#: Numbers that follow where the teeth are counted.
_BY_TEETH = ("ratio", "meshes")
_EITHER = ("fork_ratio", "lift_angle_deg", "mesh_efficiency", "mesh_friction")
#: Tables that a movement can do without.
_OPTIONAL = [f.name for f in fields(Movement) if f.name in PARTS and not required(f)]
#: The keys before the first table.
_TOP = (
    ("`name`", _NO, _NO, "what the movement is called", "text", "required"),
    ("`story`", _NO, _NO, "what it is and what to expect of it", "text", "empty"),
    ("`filled`", _NO, _NO, "numbers that a sketch filled and nobody measured", "a list of names", "empty"),
)

#: The keys of an entry in ``[tolerance]``.
_TOLERANCE = (
    ("`plus_minus`", "±", "the number's", "spread to either side", "above 0 to 1e+06", "one of the two"),
    ("`percent`", "±", "%", "spread to either side, of the value", "above 0 to 90", "one of the two"),
    (
        "`shape`",
        _NO,
        _NO,
        "normal: the ± holds 95 % of examples; uniform: it holds all",
        ", ".join(SHAPES),
        SHAPES[0],
    ),
)
_TOLERANCE_LEAD = "One entry for each number that varies. This table may be left out."

INTRO = f"""\
# The design file

A movement is described in one TOML file: a name, a story if you like, and one table for each part. This page lists
every key. It is printed by `python -m oscsim.show.design_file` from the same data that checks your file.

The quickest start is a copy of a bundled design:

```sh
oscsim designs {DEFAULT_DESIGN} > mine.toml
oscsim settle mine.toml
```

## Rules

- The unit is part of the key. A key without a unit is a pure number.
- A key marked *required* must be given. Any other has the default shown. No value is guessed.
- An unknown key, a missing one, a value out of range or of the wrong kind is refused, in one line that names it.
  Nothing is clipped and nothing is ignored.
- The ranges only keep out slips of the pen. A value inside its range can still be a poor one.
- The file is UTF-8 text of at most {LARGEST / 1e6:g} MB. Comments start with `#`. The order of tables does not matter.
- Symbols are those of [physics.md](physics.md). A dash means that there is none.

## Fork ratio or lift angle

A drawing states either the fork ratio or the lift angle. Give exactly one of `fork_ratio` and `lift_angle_deg`; the
other follows from lock, run, lift and shake: Λ = (ℓ + ϱ + L − σ)/g.

```toml
[escapement]
lift_angle_deg = 52.0
```

## Jewels

`jewels` is a count, or a table that names the jewelled holes of each arbor. Holes that are not named run in brass.

```toml
[train]
jewels = 21
```

```toml
[train.jewels]
third = 2
fourth = 2
escape = 2
pallet = 2
```

A count is spent in a fixed order: seven for balance, roller and stones, then two each for the escape, pallet,
fourth, third and centre arbors and the barrel. Jewels beyond those do not touch the going train. An odd count leaves
one hole of a pair in brass.

## Arbors of your own

The radii of pivots, pinions and wheels have standard values, given below. A table `[train.arbors.NAME]` changes
those that it names and keeps the rest.

```toml
[train.arbors.fourth]
pivot_radius_mm = 0.12
```

## Teeth of the train

A train is described by its `ratio` and the number of its `meshes`, or better by its teeth: then both follow, and so do
the radii of the wheels, since a wheel is as much larger than the pinion it drives as it has more teeth. `wheel_teeth`
and `pinion_leaves` go from the barrel on: barrel–centre, centre–third, third–fourth, fourth–escape. A `ratio` given
beside them must agree with them to 0.5 %.

```toml
[train]
wheel_teeth = [78, 80, 75, 84]
pinion_leaves = [15, 10, 10, 7]
```

Another train names its arbors in order, in small letters, in `layout`: the meshes are those of each with the next.
Arbors beside the five below are taken to turn without friction of their own; those of the five that are not named do
not rub.

```toml
[train]
layout = ["barrel", "great", "centre", "third", "fourth", "escape"]
wheel_teeth = [60, 60, 80, 75, 84]
pinion_leaves = [30, 20, 10, 10, 7]
```

Give exactly one of `mesh_efficiency`, what each mesh passes on, and `mesh_friction`, the friction of tooth on leaf,
from which it follows tooth by tooth ([physics.md](physics.md) §3). The latter needs the teeth.

## Index pins with play

Without this table the hairspring is held as if pinned. With it, its last stretch works only while the coil leans on
a pin: beyond one of the two contact angles, measured at the balance. Leave one angle out where there is one pin.

```toml
[index_pins]
stiffness_share = 0.01
low_contact_deg = -20.0
high_contact_deg = 20.0
```

## The hairspring's shape

Without this table the hairspring is a torque, with `cubic_stiffness` for its departure from a line. With it, torque,
side thrust and weight follow from the coil as it is drawn; [hairspring.md](hairspring.md) says how.

```toml
[balance]
cubic_stiffness = 0.0

[hairspring]
collet_radius_mm = 0.6
outer_radius_mm = 2.6
turns = 12.5
winds = "anticlockwise"
pinning_deg = 90.0
strip_height_mm = 0.15
strip_thickness_mm = 0.033
```

## Tolerances

How far sound examples of the design may lie apart: a table `[tolerance]` with an entry for any number of the file,
under the same name. An entry is `plus_minus` in the number's unit or `percent` of its value, and if you like a
`shape`. What `oscsim tolerance` does with it is in [what-if.md](what-if.md). Without the table it assumes the spreads
listed at the end of this page.

```toml
[tolerance.balance]
inertia_mg_cm2 = {{ percent = 1.5 }}

[tolerance.escapement]
lock_deg = {{ plus_minus = 0.3, shape = "uniform" }}
```

## Fitted numbers

`oscsim fit` writes a table `[fitted]`: the standard deviation, in the number's unit, of every number that was fitted
to readings, under the same name. It is kept when the file is read and written. A number that is given anew in Python
loses its entry. No answer depends on it.

```toml
[fitted.balance]
viscous_q = 7.4
```

## Filled numbers

`oscsim sketch` writes a list `filled` at the top: the names of all numbers that came from the movement's family and
not from the bench. While it names any, every answer ends with a reminder that the design is a sketch and judges no
movement, and no amplitude is called healthy. When you have measured a number, change it and strike its name; a number
given anew in Python loses its name by itself.

```toml
filled = ["balance.inertia_mg_cm2", "escapement.lock_deg"]
```

## What must go together

Some values are sound alone and impossible together. These are refused too:

- a drop of half a tooth space or more; pallets that span more than 75° of the wheel to either side;
- a notch shake as large as the lift; a fork that would hold the pin for 90° of balance angle or more to either side;
- an impulse plane too steep for its friction, so that the tooth gives no impulse;
- a lift angle that means a fork ratio outside 0.05 to 1;
- a dead point outside the lift (`out_of_beat_deg` too large for the fork);
- index pins without a contact angle, or with the lower one not below the upper one;
- a hairspring whose outer radius is not above the collet's, whose coils touch before the knock, or whose outer curve
  leaves the room between collet and last coil or crosses itself; `cubic_stiffness` beside the table `[hairspring]`;
- a barrel arbor as large as the barrel; a strip that does not fit the barrel or leaves no turns.
"""


def page() -> str:
    """The whole page as markdown."""
    sections = [INTRO, _section("Top of the file", "Before the first table.", _TOP)]
    for table, part in PARTS.items():
        sections.append(_of_part(table, part))
        if table == "escapement":
            sections.append(_of_part('escapement] kind = "detent"', DetentEscapement))
        if table == "train":
            sections.append(_of_part("train.jewels", JewelledHoles))
            sections.append(_of_part("train.arbors.NAME", Arbor, default=lambda _: "see below"))
            sections.append(_standard_radii())
    sections.append(_section("`[tolerance]`", _TOLERANCE_LEAD, _TOLERANCE))
    sections.append(_default_spreads())
    return "\n".join(sections)


def _of_part(table: str, part: type[Any], default: Callable[[Field[Any]], str] | None = None) -> str:
    """The section of one table: the part's own first line, then a row for each of its numbers."""
    rows = [[*_key(f), (default or _default)(f)] for f in fields(part) if f.metadata]
    lead = (part.__doc__ or "").split("\n")[0] + (
        " This table may be left out." if table in _OPTIONAL else ""
    )
    title = f"`[{table}]`" if "]" not in table else f"`[{table}`"
    return _section(title, lead, rows)


def _key(f: Field[Any]) -> list[str]:
    """Key, symbol, unit, meaning and range of a number, a text or a list."""
    if "quantity" in f.metadata:
        return _described(f.name, f.metadata["quantity"])
    told = f.metadata["words"]
    return [f"`{f.name}`", _NO, _NO, told.meaning, told.allowed]


def _described(name: str, info: Quantity) -> list[str]:
    span = f"{info.low:g} to {info.high:g}" + (", whole" if info.whole else "")
    return [f"`{name}`", info.symbol, info.unit or _NO, info.meaning, span]


def _default(f: Field[Any]) -> str:
    if f.name in _EITHER:
        return "one of the two"
    if f.name in _BY_TEETH:
        return "required without teeth"
    if required(f):
        return "required"
    if isinstance(f.default, str | tuple):
        return f"`{json.dumps(f.default)}`"
    return "absent" if f.default is None else f"{f.default:g}"


def _section(title: str, lead: str, rows: Iterable[Sequence[str]]) -> str:
    heads = ("key", "symbol", "unit", "meaning", "range", "default")
    return f"## {title}\n\n{lead}\n\n{_table(heads, rows)}"


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [heads, ["---"] * len(heads), *rows]
    return "".join(f"| {' | '.join(cells)} |\n" for cells in lines)


def _standard_radii() -> str:
    heads = ["NAME", *(f"`{f.name}`" for f in fields(Arbor))]
    rows = []
    for f in fields(Arbors):
        radii = [getattr(f.default, inner.name) for inner in fields(Arbor)]
        rows.append([f"`{f.name}`", *(_NO if radius is None else f"{radius:g}" for radius in radii)])
    lead = "Standard radii, mm. Where there is no pinion or wheel, that term of (4) is zero."
    return f"{lead}\n\n{_table(heads, rows)}"


def _default_spreads() -> str:
    """The spreads assumed for a design that gives none."""
    heads = ("number", "±")
    rows = []
    for spread in DEFAULT_SPREADS:
        unit = unit_of(Movement, spread.name)
        width = f"{spread.percent:g} %" if spread.plus_minus is None else f"{spread.plus_minus:g} {unit}"
        rows.append((f"`{spread.name}`", width))
    lead = "Assumed for a design without this table, all normal (common practice without source):"
    return f"{lead}\n\n{_table(heads, rows)}"


if __name__ == "__main__":
    sys.stdout.write(page())
