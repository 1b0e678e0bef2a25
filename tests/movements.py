"""Designs for tests: the text of a design file with changed keys, and movements drawn by hypothesis.

Written without the library's own writer, so that a round trip is compared with something else.
"""

import json
import math
import tomllib
from pathlib import Path

from hypothesis import strategies as st

from oscsim.errors import InputError
from oscsim.fields import quantities
from oscsim.movement import PARTS, Movement
from oscsim.parts.balance import Balance, IndexPins
from oscsim.parts.escapement import Escapement
from oscsim.parts.hairspring_table import Hairspring
from oscsim.parts.mainspring import Barrel, Mainspring
from oscsim.parts.train import Arbor, Arbors, JewelledHoles, Train

REFERENCE = Path(__file__).parent / "outside" / "reference"
HEAVY = (REFERENCE / "heavy.toml").read_text("utf-8")
INDEX_PINS = {
    "index_pins.stiffness_share": "0.01",
    "index_pins.low_contact_deg": "-20.0",
    "index_pins.high_contact_deg": "25.0",
}
HAIRSPRING = {
    "balance.cubic_stiffness": "0.0",
    "hairspring.collet_radius_mm": "0.6",
    "hairspring.outer_radius_mm": "2.6",
    "hairspring.turns": "12.0",
    "hairspring.winds": '"clockwise"',
    "hairspring.strip_thickness_mm": "0.02",
}
ARBORS = ("barrel", "centre", "third", "fourth", "escape")


def _flat(tables, prefix=""):
    for key, value in tables.items():
        if isinstance(value, dict):
            yield from _flat(value, f"{prefix}{key}.")
        else:
            yield f"{prefix}{key}", json.dumps(value)


FLAT = dict(_flat(tomllib.loads(HEAVY)))


def design_text(changes=None, *, without=()):
    """The reference design as TOML with dotted keys; ``changes`` gives values as TOML text.

    ``without`` drops keys, and whole tables where a name ends with a dot.
    """
    entries = FLAT | (changes or {})
    tables = tuple(name for name in without if name.endswith("."))
    kept = {key: value for key, value in entries.items() if key not in without and not key.startswith(tables)}
    return "".join(f"{key} = {value}\n" for key, value in kept.items())


def all_quantities():
    """Every number of a design file as (dotted key, its metadata)."""
    for table, part in PARTS.items():
        for f, info in quantities(part):
            yield f"{table}.{f.name}", info
    for f, info in quantities(JewelledHoles):
        yield f"train.jewels.{f.name}", info
    for arbor in ARBORS:
        for f, info in quantities(Arbor):
            yield f"train.arbors.{arbor}.{f.name}", info


def quantity_changes(key, toml_value):
    """Arguments of ``design_text`` that put a value at a quantity's key and nothing else in its way."""
    changes, without = {key: toml_value}, []
    if key.startswith("train.jewels."):
        without.append("train.jewels")
    if key == "escapement.lift_angle_deg":
        without.append("escapement.fork_ratio")
    if key == "train.mesh_friction":
        without.append("train.mesh_efficiency")
        without += ["train.ratio", "train.meshes"]
        changes |= {"train.wheel_teeth": "[78, 80, 75, 84]", "train.pinion_leaves": "[15, 10, 10, 7]"}
    if key.startswith("winding."):
        changes = {"winding.kind": '"self"'} | changes
    if key.startswith("index_pins."):
        changes = INDEX_PINS | changes
    if key.startswith("hairspring."):
        changes = HAIRSPRING | changes
    return changes, without


def attempt(call):
    """(result, "") or (None, the complaint)."""
    try:
        return call(), ""
    except InputError as error:
        return None, str(error)


def within(low, high):
    return st.floats(low, high, allow_nan=False)


def _numbers(part, **given):
    """Every quantity of a part over its whole range, but for those given."""
    drawn = {}
    for f, info in quantities(part):
        if f.name in given:
            continue
        values = st.integers(int(info.low), int(info.high)) if info.whole else within(info.low, info.high)
        drawn[f.name] = st.none() | values if info.optional else values
    return st.builds(part, **drawn, **given)


@st.composite
def escapements(draw):
    teeth = draw(st.integers(8, 60))
    embraced = draw(within(1.0, min(10.0, 0.99 * 75.0 * teeth / 180.0)))
    lock, run, lift, shake = (
        draw(within(*ends)) for ends in ((0.1, 4.0), (0.0, 1.0), (3.0, 12.0), (0.0, 1.0))
    )
    drop = draw(within(0.0, 0.8 * 180.0 / teeth))
    ratio = draw(within(0.15, 0.3))
    own = lock + run + lift - shake
    angle = draw(st.booleans()) and own / ratio >= 10.0
    slope = (180.0 / teeth - drop) / lift / math.tan(math.pi * embraced / teeth)
    return draw(
        _numbers(
            Escapement,
            teeth=st.just(teeth),
            teeth_embraced=st.just(embraced),
            fork_ratio=st.just(None if angle else ratio),
            lift_angle_deg=st.just(own / ratio if angle else None),
            lock_deg=st.just(lock),
            run_deg=st.just(run),
            pallet_lift_deg=st.just(lift),
            notch_shake_deg=st.just(shake),
            drop_deg=st.just(drop),
            pallet_friction=within(0.0, min(1.0, 0.95 * slope)),
        )
    )


@st.composite
def springs(draw):
    """Mainspring and barrel that fit: the strip fills a part of the free area."""
    inner = draw(within(2.0, 200.0))
    arbor = max(0.2, inner * draw(within(0.1, 0.5)))
    area = math.pi / 4.0 * (inner**2 - arbor**2) * draw(within(0.1, 0.9))
    thickness = draw(within(max(0.01, area / 19000.0), min(2.0, area / 11.0)))
    barrel = Barrel(inner_diameter_mm=inner, arbor_diameter_mm=arbor)
    given = {"thickness_mm": st.just(thickness), "length_mm": st.just(area / thickness)}
    return draw(_numbers(Mainspring, **given)), barrel


@st.composite
def arbors(draw):
    """Own radii for some arbors; a file can change a standard radius or add one, not take it away."""
    changed = {}
    for name in draw(st.sets(st.sampled_from(ARBORS))):
        standard = getattr(Arbors(), name)
        given = {
            f.name: within(info.low, info.high)
            | (st.none() if getattr(standard, f.name) is None else st.nothing())
            for f, info in quantities(Arbor)
        }
        changed[name] = draw(_numbers(Arbor, **given))
    return Arbors(**changed)


@st.composite
def hairsprings(draw):
    """Coils that stay clear of each other: even a knock moves no coil by more than a turn's distance."""
    inner = draw(within(0.1, 5.0))
    return draw(
        _numbers(
            Hairspring,
            collet_radius_mm=st.just(inner),
            outer_radius_mm=within(3.0 * inner, 4.0 * inner),
            turns=within(10.0, 14.0),
            winds=st.sampled_from(["clockwise", "anticlockwise"]),
            outer_curve=st.sampled_from(["none", "phillips"]),
            strip_height_mm=st.none(),
            strip_thickness_mm=st.none(),
            stud_offset_um=st.tuples(within(-1.0, 1.0), within(-1.0, 1.0)),
            stud_turn_deg=within(-1.0, 1.0),
        )
    )


@st.composite
def trains(draw, jewels):
    """By ratio, or by teeth; the wheels' radii then follow, so that none of one's own is given."""
    if draw(st.booleans()):
        given = {"ratio": within(100.0, 50000.0), "meshes": st.integers(1, 8), "mesh_friction": st.none()}
        return draw(
            _numbers(Train, jewels=jewels, arbors=arbors(), **given, mesh_efficiency=within(0.5, 1.0))
        )
    count = draw(st.integers(4, 6))
    most = {4: 100, 5: 85, 6: 60}[count]  # so that the ratio stays within its range
    teeth = draw(st.lists(st.integers(most // 2, most), min_size=count, max_size=count))
    leaves = draw(st.lists(st.integers(10, 12), min_size=count, max_size=count))
    inner = ("second", "great")[: count - 4]
    efficiency = draw(st.none() | within(0.5, 1.0))
    friction = within(0.0, 0.4) if efficiency is None else st.none()
    given = {"ratio": st.none(), "meshes": st.none() | st.just(count), "mesh_friction": friction}
    given |= {"wheel_teeth": st.just(teeth), "pinion_leaves": st.just(leaves)}
    if count > 4:
        given["layout"] = st.just(["barrel", *inner, "centre", "third", "fourth", "escape"])
    return draw(_numbers(Train, jewels=jewels, **given, mesh_efficiency=st.just(efficiency)))


@st.composite
def movements(draw):
    """Any movement that a design file can hold, plausible or not."""
    spring, barrel = draw(springs())
    jewels = st.integers(0, 40) | _numbers(JewelledHoles)
    pins = _numbers(
        IndexPins,
        low_contact_deg=st.none() | within(-360.0, 0.0),
        high_contact_deg=within(1.0, 360.0),
    )
    shape = draw(st.none() | hairsprings())
    straight = {} if shape is None else {"cubic_stiffness": st.just(0.0)}
    return Movement(
        name=draw(st.text(min_size=1).filter(str.strip)),
        story=draw(st.text()),
        balance=draw(_numbers(Balance, out_of_beat_deg=within(-2.0, 2.0), **straight)),
        escapement=draw(escapements()),
        train=draw(trains(jewels)),
        mainspring=spring,
        barrel=barrel,
        index_pins=draw(st.none() | pins),
        hairspring=shape,
    )
