"""Designs that cannot be: one line naming the key, its value, unit and range; from Python and the command line."""

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

import oscsim
from oscsim.movement import PARTS
from tests.movements import INDEX_PINS, all_quantities, attempt, design_text, quantity_changes
from tests.sizes import NIGHTLY

QUANTITIES = dict(all_quantities())
#: The tables that a file must have (docs/physics.md §1 to 4), and what the keys it may leave out then are.
TABLES = ["balance", "barrel", "escapement", "mainspring", "train"]
DEFAULTS = {
    "unbalance_ug_cm": 0.0, "heavy_point_deg": 0.0, "out_of_beat_deg": 0.0, "cubic_stiffness": 0.0,
    "free_curvature_per_m": 0.0, "slip_torque_n_mm": None, "lift_angle_deg": None,
    "horn_clearance_deg": 8.0, "knock_restitution": 0.5,
}  # fmt: skip


@pytest.fixture
def rejected(refusal, tmp_path):
    """The complaint about a design's text. The command line is asked about the first text of a test, at night about
    each: it says the same, and so does a second command, which writes no picture."""
    asked = []

    def run(text):
        path, picture = tmp_path / "bad.toml", tmp_path / "picture.png"
        path.write_text(text, "utf-8")
        with pytest.raises(oscsim.InputError) as caught:
            oscsim.loads(text, str(path))
        line = f"oscsim: {caught.value}\n"
        assert line[:-1].isprintable()
        assert len(line) < 1000
        if NIGHTLY or not asked:
            asked.append(text)
            assert refusal("settle", path) == line
            assert refusal("rundown", path, "--plot", picture) == line
            assert not picture.exists()
        return line

    return run


def _unit(info):
    return f" {info.unit}" if info.unit else ""


def _beyond(info):
    """Numbers outside the range: just, by a little, by far; as TOML text."""
    step = (lambda x, to: x + math.copysign(1, to)) if info.whole else math.nextafter
    numbers = [step(info.low, -math.inf), step(info.high, math.inf), -1e300, 1e300]
    if info.whole:
        numbers = [int(number) for number in numbers]
    return [repr(number) for number in numbers] + ["-1" + "0" * 400, "0x" + "f" * 9000]


@pytest.mark.parametrize("key", QUANTITIES)
def test_every_quantity_out_of_range(key, rejected):
    info = QUANTITIES[key]
    for value in _beyond(info):
        changes, without = quantity_changes(key, value)
        line = rejected(design_text(changes, without=without))
        shown = "(int too large to show)" if value.startswith("0x") else value[:50]
        assert f"{key} = {shown}" in line
        assert f"{_unit(info)}: out of range, must be " in line
        assert line.endswith(f"from {info.low:g} to {info.high:g}{_unit(info)}\n")


@pytest.mark.parametrize("key", QUANTITIES)
def test_every_quantity_of_a_wrong_kind(key, rejected):
    info = QUANTITIES[key]
    kinds = {
        "true": "True", "false": "False", '"12"': "'12'", "[1.0]": "[1.0]", "2026-03-01": "2026",
        "nan": "nan", "inf": "inf", "-inf": "-inf", "{ a = 1 }": "{'a': 1}", '""': "''",
    }  # fmt: skip
    if info.whole:
        kinds |= {f"{info.high - 0.5!r}": f"{info.high - 0.5!r}", f"{info.high:.1f}": f"{info.high:.1f}"}
    for value, shown in kinds.items():
        if key == "train.jewels" and value.startswith("{"):
            continue  # a table of holes is welcome here
        changes, without = quantity_changes(key, value)
        line = rejected(design_text(changes, without=without))
        assert f"{key} = " in line
        assert shown in line
        assert "not a " in line
        assert line.endswith(f"from {info.low:g} to {info.high:g}{_unit(info)}\n")


@pytest.mark.parametrize("key", QUANTITIES)
def test_the_ends_of_every_range_are_inside(key):
    info = QUANTITIES[key]
    assert info.low < info.high
    for end in (info.low, info.high):
        changes, without = quantity_changes(key, repr(int(end) if info.whole else float(end)))
        text = design_text(changes, without=without)
        _, complaint = attempt(lambda text=text: oscsim.loads(text))
        # it may not go with the rest of this design, but that is another complaint
        assert "must be from" not in complaint
        assert "out of range" not in complaint


@pytest.mark.parametrize("key", [k for k in QUANTITIES if k.count(".") == 1 and k.split(".")[0] in TABLES])
def test_every_missing_key(key, rejected):
    info = QUANTITIES[key]
    movement, complaint = attempt(lambda: oscsim.loads(design_text(without=[key])))
    if complaint:
        line = rejected(design_text(without=[key]))
        if key == "escapement.fork_ratio":
            assert "escapement.fork_ratio, escapement.lift_angle_deg: exactly one is needed, neither" in line
        elif key == "train.mesh_efficiency":
            assert "train.mesh_efficiency, train.mesh_friction: exactly one is needed" in line
        else:
            assert f"{key}: missing; {info.meaning}, " in line
            assert f"from {info.low:g} to {info.high:g}{_unit(info)}" in line
    else:
        table, name = key.split(".")
        value = getattr(getattr(movement, table), name)
        assert value == DEFAULTS.get(name, value)
        assert value is None or info.low <= value <= info.high


@pytest.mark.parametrize("table", TABLES)
def test_missing_table(table, rejected):
    assert f"{table}: missing table" in rejected(design_text(without=[f"{table}."]))


@pytest.mark.parametrize("table", PARTS)
@pytest.mark.parametrize("value", ["5", "true", '"x"', "[1]", "[{}]", "nan"])
def test_anything_for_a_table(table, value, rejected):
    line = rejected(design_text({table: value}, without=[f"{table}."]))
    assert f"{table} = " in line
    assert f"not a table, must be a table [{table}]" in line


@pytest.mark.parametrize("value", ["5", "[1]", '"x"', "{ third = 5 }", "{ third = [] }"])
def test_anything_for_the_arbors(value, rejected):
    line = rejected(design_text({"train.arbors": value}))
    assert "not a table, must be a table [train.arbors" in line


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("balance.inertia_mg_cm", "1", "balance.inertia_mg_cm: unknown key; did you mean 'inertia_mg_cm2'?"),
        ("balance.Mass_mg", "1", "balance.Mass_mg: unknown key; did you mean 'mass_mg'?"),
        ("escapement.TEETH", "1", "escapement.TEETH: unknown key; did you mean 'teeth'?"),
        ("escapement.loc_deg", "1", "did you mean 'lock_deg'?"),
        ("balnce.mass_mg", "1", "balnce: unknown table; did you mean 'balance'?"),
        ("Barrel", "{}", "Barrel: unknown table; did you mean 'barrel'?"),
        ("main_spring.height_mm", "1", "main_spring: unknown table; did you mean 'mainspring'?"),
        ("stroy", '"x"', "stroy: unknown key; did you mean 'story'?"),
        ("train.jewel", "1", "train.jewel: unknown key; did you mean 'jewel"),
        ("train.arbors.forth.pivot_radius_mm", "1", "train.arbors.forth: unknown table; did you mean 'fourth'?"),
        ("train.arbors.third.pivot_mm", "1", "train.arbors.third.pivot_mm: unknown key; did you mean"),
        ("zzz", "1", "zzz: unknown key; known: name, story, balance, escapement, train, mainspring, barrel"),
        ('"bal\\nance"', "1", "bal ance: unknown key; did you mean 'balance'?"),
        ('"\\u001b[31m\\u0007\\u202e"', "1", r"\x1b[31m\x07\u202e: unknown key"),
        ('"' + "k" * 100_000 + '"', "1", "kkk…: unknown key"),
        ('""', "1", "oscsim: "),
    ],
)  # fmt: skip
def test_unknown_keys_bring_the_nearest_spelling(key, value, said, rejected):
    assert said in rejected(design_text({key: value}))


def test_unknown_hole_of_a_jewel_table(rejected):
    line = rejected(design_text({"train.jewels": "{ escap = 1 }"}))
    assert "train.jewels.escap: unknown key; did you mean 'escape'?" in line


@pytest.mark.parametrize(
    ("changes", "without", "said"),
    [
        ({"escapement.lift_angle_deg": "50"}, [], "exactly one is needed, both are given"),
        ({}, ["escapement.fork_ratio"], "exactly one is needed, neither is given"),
        # Λ = (B - ϱ - σ)/g = 10.7/g deg: 10 deg would need g = 1.07
        ({"escapement.lift_angle_deg": "10"}, ["escapement.fork_ratio"], "a fork ratio of 1.070, allowed 0.05 to 1"),
        # a strip of 900 × 0.11 mm fills 99.0 mm²; π/4 (10² - 2.8²) = 72.4 mm² are there
        ({"mainspring.length_mm": "900"}, [], "99.0 of the 72.4 mm²"),
        ({"mainspring.length_mm": "658.2"}, [], "no turns are left"),
        ({"mainspring.thickness_mm": "1.9"}, [], "the strip does not fit the barrel"),
        ({"barrel.arbor_diameter_mm": "12"}, [], "barrel.arbor_diameter_mm = 12 mm: must be less than "
         "barrel.inner_diameter_mm = 10 mm"),
        ({"barrel.arbor_diameter_mm": "10.0"}, [], "must be less than barrel.inner_diameter_mm = 10 mm"),
        (INDEX_PINS, ["index_pins.low_contact_deg", "index_pins.high_contact_deg"], "at least one is needed"),
        (INDEX_PINS | {"index_pins.high_contact_deg": "-20"}, [],
         "index_pins.low_contact_deg = -20.0 deg: must be less than index_pins.high_contact_deg = -20 deg"),
        # half a tooth space is 180/15 = 12 deg
        ({"escapement.drop_deg": "12"}, [], "must be less than half a tooth space, 12 deg"),
        ({"escapement.teeth_embraced": "8"}, [], "escapement.teeth_embraced = 8: "),
        ({"escapement.notch_shake_deg": "4", "escapement.pallet_lift_deg": "4"}, [],
         "escapement.notch_shake_deg = 4 deg: must be less than escapement.pallet_lift_deg = 4 deg"),
        ({"escapement.fork_ratio": "0.05"}, [], "escapement.fork_ratio = 0.05: "),
        ({"escapement.pallet_friction": "1", "escapement.drop_deg": "11.5"}, [], "escapement.pallet_friction = 1: "),
        # (2.6 + 8.0)/2/0.5 = 10.6 deg from the line of centres to the end of unlocking
        ({"balance.out_of_beat_deg": "-10.7", "escapement.fork_ratio": "0.5"}, [],
         "balance.out_of_beat_deg = -10.7 deg: the dead point must lie within the lift, less than ±10.60 deg"),
    ],
)  # fmt: skip
def test_values_that_do_not_go_together(changes, without, said, rejected):
    assert said in rejected(design_text(changes, without=without))


def test_what_just_fits_is_not_refused():
    oscsim.loads(design_text({"mainspring.length_mm": "657"}))  # 72.3 of 72.4 mm²
    oscsim.loads(design_text({"balance.out_of_beat_deg": "-10.59", "escapement.fork_ratio": "0.5"}))


@pytest.mark.parametrize("key", ["name", "story"])
@pytest.mark.parametrize("value", ["5", "true", "['x']", "{ a = 1 }", "nan"])
def test_text_keys(key, value, rejected):
    assert f"{key} = " in rejected(design_text({key: value}))
    assert "must be text in quotes" in rejected(design_text({key: value}))


def test_a_movement_needs_a_name(rejected):
    assert "name: missing text" in rejected(design_text(without=["name"]))
    assert "the movement needs a name" in rejected(design_text({"name": '" \\n "'}))


def test_the_same_checks_guard_movements_made_in_python():
    movement = oscsim.loads(design_text())
    with pytest.raises(oscsim.InputError, match=r"balance\.inertia_mg_cm2 = -1 mg·cm²: out of range"):
        movement.with_({"balance.inertia_mg_cm2": -1})
    with pytest.raises(oscsim.InputError, match=r"did you mean 'balance\.mass_mg'"):
        movement.with_({"balance.mas_mg": 1})
    with pytest.raises(oscsim.InputError, match=r"escapement\.teeth = 15\.0: not a whole number"):
        movement.with_({"escapement.teeth": 15.0})
    with pytest.raises(oscsim.InputError, match=r"balance\.mass_mg = '1': not a number"):
        oscsim.Balance(**(vars(movement.balance) | {"mass_mg": "1"}))


_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.text(max_size=5), inner, max_size=2),
    max_leaves=4,
)


@given(st.sampled_from(oscsim.parameter_names()), _values)
def test_any_value_is_taken_or_refused_in_one_line(name, value):
    movement = oscsim.loads(design_text())
    changed, complaint = attempt(lambda: movement.with_({name: value}))
    if changed is None:
        assert complaint.isprintable()
        assert name.split(".")[-1] in complaint or complaint.startswith(
            ("index_pins.", "hairspring.", "winding.", "balance.cubic")
        )
    else:
        assert oscsim.loads(oscsim.dumps(changed)) == changed


@given(st.text())
def test_any_text_is_refused_in_one_line(text):
    with pytest.raises(oscsim.InputError) as caught:
        oscsim.loads(text)
    assert str(caught.value).isprintable()


def test_json_is_not_toml(rejected):
    assert "not TOML" in rejected(json.dumps({"name": "x"}))
