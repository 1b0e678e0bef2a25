"""Checking a design file: all complaints and gaps at once, suggestions that load, bands that hold the sound designs."""

import csv
import io
import json
import math
import tomllib

import pytest

import oscsim
from oscsim.answers.check import check
from oscsim.answers.follows import follows
from oscsim.designs import bundled_text
from oscsim.movement import movement_from
from oscsim.tables import put, quantity_of
from oscsim.typical.bands import FOLLOWS
from tests.movements import REFERENCE, all_quantities, design_text

SOUND = [*oscsim.bundled(), *(str(REFERENCE / f"{name}.toml") for name in ("fast", "heavy", "slow"))]


@pytest.mark.parametrize("design", SOUND)
def test_sound_designs_are_valid_and_plausible(design):
    found = check(design)
    assert found.valid
    assert (found.problems, found.missing, found.unusual, found.odd) == ((), (), (), ())
    assert "Valid and plausible" in found.text()


def test_every_band_of_what_follows_is_used():
    assert {one.name for d in SOUND for one in follows(oscsim.load(d))} == set(FOLLOWS)


def test_what_follows():
    found = {one.name: one.value for one in follows(oscsim.load("dockhand"))}
    assert found["frequency_hz"] == 3.0
    # k = I (2πf)² of docs/physics.md, 20 mg·cm² at 3 Hz
    assert found["stiffness_un_m_per_rad"] == pytest.approx(20e-10 * (6 * math.pi) ** 2 * 1e6)
    assert found["radius_of_gyration_mm"] == pytest.approx(10 * math.sqrt(20 / 82))
    assert found["hours_per_barrel_turn"] == pytest.approx(5.5)  # its file says so
    # first-order theory, 86400 J1(A)/A g m r/(I ω²) at A = π: 1 µg·cm at 10 mg·cm² and 4 Hz gives 1.215 s/day
    assert found["unbalance_rate_at_180_deg_s_per_day"] == pytest.approx(
        1.215 * 5 * 0.5 * (4 / 3) ** 2, rel=2e-3
    )
    settled = oscsim.settle(
        oscsim.load("dockhand"), oscsim.Setting(positions=["CH", "12H"])
    ).points.amplitude_deg
    assert found["amplitude_ch_wound_deg"] == settled[0, 0]


def test_a_strip_too_thick_for_its_beat_shows_in_its_modulus():
    """k = E w h³/(12 L): read a quarter too thick it would need half the modulus of steel (by derivation)."""
    own, thick = (
        {
            one.name: one.value
            for one in follows(oscsim.load("dinghy").with_({"hairspring.strip_thickness_mm": h}))
        }
        for h in (0.017, 1.25 * 0.017)
    )
    name = "hairspring_modulus_gpa"
    assert thick[name] == pytest.approx(own[name] / 1.25**3)
    assert FOLLOWS[name].holds(own[name])
    assert not FOLLOWS[name].holds(thick[name])


def test_total_q_against_the_free_swing():
    """First order against the engine's own free balance: 1/Q from the loss per period of docs/physics.md §6."""
    movement = oscsim.load("dockhand").with_({"balance.quadratic_drag": 0.0, "balance.pivot_friction": 0.0})
    found = {one.name: one.value for one in follows(movement)}
    assert found["total_q_at_270_deg"] == pytest.approx(265.0)


NUMBERS = [name for name, _ in all_quantities() if name.startswith(("balance.", "escapement.", "train.m"))]


@pytest.mark.parametrize("name", NUMBERS)
def test_a_missing_number_gets_a_suggestion_that_loads(name, tmp_path):
    path = tmp_path / "gap.toml"
    path.write_text(design_text(without=[name]), "utf-8")
    found = check(path)
    if found.valid:  # it has a default
        assert oscsim.load(path)
        return
    assert found.problems == ()
    (gap,) = found.missing
    assert gap.name == name if name != "escapement.fork_ratio" else "escapement.lift_angle_deg"
    tables = tomllib.loads(path.read_text("utf-8"))
    info = quantity_of(oscsim.Movement, gap.name)
    put(tables, gap.name, int(gap.suggested) if info.whole else gap.suggested)
    assert movement_from(tables)
    assert gap.reason


def test_everything_missing_is_named_at_once(tmp_path):
    path = tmp_path / "little.toml"
    path.write_text('name = "Little"\n[balance]\nbeats_per_hour = 21600\n[train]\njewels = 17\n', "utf-8")
    found = check(path)
    required = {
        n
        for n, info in all_quantities()
        if n.count(".") == 1 and not n.startswith(("index_pins", "hairspring"))
    }
    named = {gap.name for gap in found.missing}
    assert len(named) == 34
    assert named <= required
    assert "balance.inertia_mg_cm2" in named
    tables = tomllib.loads(path.read_text("utf-8"))
    for gap in found.missing:
        put(
            tables,
            gap.name,
            int(gap.suggested) if quantity_of(oscsim.Movement, gap.name).whole else gap.suggested,
        )
    movement = movement_from(tables)  # all suggestions together make a movement that runs
    assert oscsim.settle(movement, oscsim.Setting()).points.amplitude_deg[0, 0] > 100.0


WRONG = """\
name = 7
story = "x"
colour = "blue"
[balance]
beats_per_hour = 21600
inertia_mg_cm2 = 99999
mass_mg = "80"
[escapement]
lock_degree = 3
teeth = 15.5
[train]
jewels = { escape = 3, fith = 1 }
[train.arbors.fourth]
pivot = 3
[train.arbors.fifth]
pivot_radius_mm = 0.1
[mainspring]
height_mm = nan
[tolerance.balance]
inertia_mg_cm = { percent = 3 }
"""


def test_all_complaints_at_once(tmp_path):
    path = tmp_path / "wrong.toml"
    path.write_text(WRONG, "utf-8")
    said = "\n".join(check(path).problems)
    for part in (
        "name = 7: must be text", "colour: unknown key", "inertia_mg_cm2 = 99999", "mass_mg = '80'",
        "lock_degree: unknown key",
        "did you mean 'lock_deg'?", "teeth = 15.5", "train.jewels.escape = 3", "train.jewels.fith: unknown key",
        "train.arbors.fourth.pivot: unknown key", "train.arbors.fifth: unknown table", "height_mm = nan",
        "tolerance.balance.inertia_mg_cm",
    ):  # fmt: skip
        assert part in said, part
    assert len(check(path).problems) == 12


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "missing"),
        ("not toml", "not TOML"),
        ("[bench]\nfamily = 'plain'", "belongs into a bench slip"),
        ("balance = 3", "balance = 3: not a table"),
        ("[train]\narbors = 3\njewels = -1", "train.arbors = 3: not a table"),
        ("a." * 2000 + "b = 1", "nested too deeply"),
    ],
)
def test_odd_files(text, said, tmp_path):
    path = tmp_path / "odd.toml"
    path.write_text(text, "utf-8")
    found = check(path)
    assert not found.valid
    assert said in found.text()


def test_implausible_is_valid_and_told(tmp_path):
    path = tmp_path / "odd.toml"
    text = bundled_text("dockhand").replace("inertia_mg_cm2 = 20.0", "inertia_mg_cm2 = 2.0", 1)
    path.write_text(text.replace("draw_deg = 13.0", "draw_deg = 9.0"), "utf-8")
    found = check(path)
    assert found.valid
    assert {value.name for value in found.unusual} == {"escapement.draw_deg"}
    odd = {one.name for one in found.odd}
    assert {"radius_of_gyration_mm", "draw_beyond_friction_deg", "amplitude_ch_wound_deg"} <= odd
    shown = {one.name: one for one in found.follows}
    # a watch that knocks shows the swing at the horn, not the one it would have without
    assert shown["amplitude_ch_wound_deg"].state == "knocks"
    assert shown["amplitude_ch_wound_deg"].value == pytest.approx(shown["knock_angle_deg"].value, abs=0.5)
    said = found.text()
    assert "worth a second look" in said
    assert "is one in another unit?" in said
    assert "knocks" in said


def test_combinations_are_refused_as_loading_does(tmp_path):
    path = tmp_path / "tight.toml"
    path.write_text(bundled_text("dockhand").replace("length_mm = 350.0", "length_mm = 900.0"), "utf-8")
    with pytest.raises(oscsim.InputError) as refused:
        oscsim.load(path)
    assert check(path).problems == (str(refused.value).removeprefix(f"{path}: "),)


def test_command(command, tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text('name = "x"\n', "utf-8")
    code, out, err = command("check", "dockhand")
    assert (code, err) == (0, "")
    assert out.startswith("dockhand: a valid design, Dockhand")
    code, out, err = command("check", path, "dockhand", tmp_path / "no.toml", "--format", "json")
    assert (code, err) == (2, "")
    answers = json.loads(out, parse_constant=pytest.fail)
    assert [answer["valid"] for answer in answers] == [False, True, False]
    assert answers[2]["problems"][0].startswith("no such file")
    code, out, _ = command("check", "dockhand", "packet", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert code == 0
    assert {row["design"] for row in rows} == {"dockhand", "packet"}
    assert {"kind", "name", "value", "unit", "usual_low", "usual_high", "usual_source", "remark"} <= set(
        rows[0]
    )
    assert command("check", tmp_path / "*.toml")[0] == 2
    code, out, err = command("check", tmp_path / "*.tml")
    assert (code, out) == (2, "")
    assert "no file and no bundled design matches" in err


def test_a_slip_gets_suggestions_of_the_kind_that_its_sketch_is(tmp_path):
    slip = tmp_path / "kitchen.toml"
    slip.write_text(
        'name = "Kitchen"\n[bench]\nmovement_diameter_mm = 26.0\nwinding = "hand"\n'
        "[balance]\nbeats_per_hour = 18000\n[train]\njewels = 15\n",
        encoding="utf-8",
    )
    checked, sketched = oscsim.check(slip), oscsim.sketch(oscsim.load_slip(slip))
    assert checked.family.name == next(iter(sketched.families)) == "plain"
    mass = next(one for one in checked.missing if one.name == "balance.mass_mg")
    assert mass.low < sketched.movement.balance.mass_mg < mass.high
    assert f" {mass.suggested:.4g} " not in str(checked)  # no finer than its range


def test_what_the_teeth_make_is_no_default():
    origins = {value.name: value.origin for value in check("dockhand").values}
    assert origins["train.ratio"] == origins["train.meshes"] == "teeth"
    assert origins["balance.oil_share"] == "default"
    assert "``" not in check("dockhand").text()
