"""Numbers that a sketch filled and nobody measured: the file names them, answers say so, measuring one strikes it."""

import json
from dataclasses import replace

import pytest

import oscsim
from oscsim.answers.check import check
from oscsim.cli import main
from oscsim.show.page import page_html
from oscsim.slips.readings import Reading, Readings
from oscsim.slips.slip import Slip, load_slip
from tests.answers.every import movement


@pytest.fixture(scope="module")
def sketch():
    return oscsim.sketch(
        Slip(
            given={"balance.beats_per_hour": 21600, "train.jewels": 17},
            facts={"balance_diameter_mm": 8.5},
            name="Quay",
        )
    )


@pytest.fixture(scope="module")
def path(sketch, tmp_path_factory):
    place = tmp_path_factory.mktemp("sketch") / "quay.toml"
    place.write_text(sketch.file_text(), "utf-8")
    return place


def test_the_file_names_what_was_filled(sketch, path):
    loaded = oscsim.load(path)
    assert loaded == sketch.movement
    assert set(loaded.filled) == {number.name for number in sketch.filled}
    assert "balance.beats_per_hour" not in loaded.filled


def test_a_number_given_anew_is_struck(sketch):
    changed = sketch.movement.with_({"balance.inertia_mg_cm2": 6.0, "escapement.fork_ratio": 0.2})
    struck = {"balance.inertia_mg_cm2", "escapement.lift_angle_deg"}
    assert set(sketch.movement.filled) - set(changed.filled) == struck


def test_holes_and_their_count_strike_each_other():
    holes = [name for name in oscsim.parameter_names() if name.startswith("train.jewels.")]
    counted = movement().with_({"train.jewels": 15})
    by_count = oscsim.loads('filled = ["train.jewels"]\n' + oscsim.dumps(counted))
    assert by_count.with_({holes[0]: 1}).filled == tuple(holes[1:])
    assert by_count.with_(dict.fromkeys(holes, 2)).filled == ()
    by_hole = oscsim.loads(
        f'filled = ["{holes[1]}"]\n' + oscsim.dumps(by_count.with_(dict.fromkeys(holes, 2)))
    )
    assert by_hole.filled == (holes[1],)
    assert by_hole.with_({"train.jewels": 15}).filled == ()


def test_the_list_is_no_number_of_the_design():
    noted = oscsim.loads('filled = ["balance.mass_mg"]\n' + oscsim.dumps(movement()))
    assert noted.filled == ("balance.mass_mg",)
    assert noted.design_hash == movement().design_hash
    assert oscsim.loads(oscsim.dumps(noted)) == noted
    same = [oscsim.settle(m).to_dict() | {"filled": None} for m in (movement(), noted)]
    assert same[0] == same[1]


@pytest.mark.parametrize(
    "command",
    ["settle", "rundown", "rates", "budget", "band", "whatif --sensitivities balance.mass_mg",
     "tolerance --examples 20", "trace --samples 5", "explore --plot FILE"],
)  # fmt: skip
def test_answers_remind_of_it(sketch, command, path, capsys, tmp_path):
    name, *options = command.replace("FILE", str(tmp_path / "desk.png")).split()
    assert main([name, str(path), *options]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert f"Quay (sketch) is a sketch: {len(sketch.filled)} of its numbers came from its family" in said
    assert "healthy" not in said


def test_a_sketch_is_diagnosed_by_what_made_it(sketch):
    """By its slip: all designs that it leaves possible, not the one in the file."""
    own = oscsim.settle(sketch.movement).points.amplitude_deg[0, 0]
    readings = Readings(tuple(Reading(p, 0.0, own - 10.0) for p in ("CH", "FH")), None, "slip.csv")
    found = oscsim.diagnose(sketch.movement, readings)
    assert found.families
    assert found.verdict_word in ("sound", "undecided")
    low = Readings(tuple(Reading(p, 0.0, 150.0) for p in ("CH", "FH")), None, "slip.csv")
    assert oscsim.diagnose(sketch.movement, low).chance_of_loss > found.chance_of_loss + 0.3


def test_others_do_not():
    said = oscsim.settle(movement()).text()
    assert "sketch" not in said
    assert "healthy for it" in said


def test_programs_and_notebooks_and_lessons_are_told(sketch, path):
    answer = oscsim.settle(oscsim.load(path))
    assert json.loads(answer.to_json())["filled"] == list(sketch.movement.filled)
    assert oscsim.settle(movement()).to_dict()["filled"] == []
    assert "is a sketch" in answer._repr_html_()
    assert "is a sketch" in page_html(oscsim.page(sketch.movement))


def test_the_sketch_itself_says_it_once(sketch):
    assert sketch.text().count("is a sketch") == 0
    assert sketch.text().count("A sketch judges no movement") == 1


def test_check_marks_them(sketch, path):
    found = check(path)
    assert found.valid
    words = {"hairspring.winds", "train.wheel_teeth", "train.pinion_leaves"}  # the page shows numbers
    assert {v.name for v in found.values if v.origin == "filled"} == set(sketch.movement.filled) - words
    (line,) = [line for line in found.text().splitlines() if line.startswith("lock_deg")]
    assert " filled " in line


def test_as_a_slip_only_the_measured_counts(sketch, path):
    slip = load_slip(path)
    assert not set(slip.given) & set(sketch.movement.filled)
    assert dict(slip.given) == {"balance.beats_per_hour": 21600, "train.jewels": 17}
    assert not {spread.name for spread in slip.own} & set(sketch.movement.filled)
    again = oscsim.sketch(slip.with_(facts={"balance_diameter_mm": 8.5}))
    assert again.movement.name == "Quay (sketch)"
    assert again.movement.balance == sketch.movement.balance
    assert again.movement.filled == sketch.movement.filled


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ('filled = "balance.mass_mg"', "filled = 'balance.mass_mg': must be a list of names"),
        ('filled = ["balance.mas_mg"]', "did you mean 'balance.mass_mg'"),
        ("filled = [3]", "filled: 3: no number of a design file"),
        ('filled = ["name"]', "no number of a design file"),
        ('filled = ["index_pins.stiffness_share"]', "but the design does not have it"),
    ],
)
def test_wrong_lists_are_refused(entry, said, tmp_path):
    text = f"{entry}\n{oscsim.dumps(movement())}"
    with pytest.raises(oscsim.InputError, match=said):
        oscsim.loads(text)
    (tmp_path / "x.toml").write_text(text, "utf-8")
    (problem,) = check(tmp_path / "x.toml").problems
    assert said in problem


def test_a_movement_made_in_python_is_checked_too():
    with pytest.raises(oscsim.InputError, match="must be a list of names"):
        replace(movement(), filled="balance.mass_mg")
    with pytest.raises(oscsim.InputError, match="no number of a design file"):
        replace(movement(), fitted=(("balance.mass", 1.0),))


def test_a_sketch_is_called_one_whatever_its_name():
    named = oscsim.sketch(Slip(given={"balance.beats_per_hour": 18000}, facts={"balance_diameter_mm": 11.0},
                               name="Sketchley 5"))  # fmt: skip
    assert named.movement.name == "Sketchley 5 (sketch)"
