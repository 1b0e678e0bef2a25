"""Every answer says where it comes from: version, design, design hash, settings; and so do its pictures."""

import hashlib
import inspect
import json
import re

import pytest
from PIL import Image

import oscsim
from oscsim.answers.result import Result
from oscsim.movement import parameter_names
from oscsim.show import plots
from oscsim.tables import quantity_of, value_at
from tests.answers.every import ASK, CONDITION, SETTING, answer, movement


def test_there_is_an_answer_of_every_kind():
    kinds = {
        name
        for name in oscsim.__all__
        if inspect.isclass(getattr(oscsim, name)) and issubclass(getattr(oscsim, name), Result)
    }
    assert kinds == set(ASK)
    assert all(type(answer(kind)).__name__ == kind for kind in ("Settle", "Band"))


@pytest.mark.parametrize("kind", ASK)
def test_every_answer_carries_its_origin(kind):
    found = json.loads(answer(kind).to_json(), parse_constant=pytest.fail)
    assert list(found)[:4] == ["design", "design_hash", "version", "settings"]
    assert found["version"] == oscsim.__version__
    assert found["design"]
    for one in found["design_hash"].split(" / "):
        assert re.fullmatch("[0-9a-f]{16}", one)
    assert answer(kind).origin() == {key: found[key] for key in list(found)[:4]}
    settings = found["settings"]
    if kind in ("Diagnose", "Poise", "Fit"):
        (read,) = settings["examples"] if kind == "Fit" else (settings,)
        assert read["readings_source"].endswith(".csv")
        assert read["readings"][0].keys() >= {"position", "hours", "amplitude_deg", "temperature_c"}
    elif kind == "Sketch":
        assert settings["given"] == {"balance.beats_per_hour": 18000}
    elif kind == "Check":
        assert settings == {"file": "dockhand"}
    elif kind == "Page":
        assert settings == {"temperature_c": 23.0, "language": "en"}
    elif kind == "Progress":
        assert len(settings["before"]["readings"]) == len(settings["after"]["readings"])
    elif kind == "HairspringShape":  # of the spring alone
        assert settings == {"angles_deg": [-90.0, 45.0], "amplitudes_deg": [180.0, 250.0]}
    else:
        years = 0.0 if kind == "Ageing" else CONDITION.oil_age_years  # ageing counts from fresh oil
        assert settings["condition"]["oil_age_years"] == years
        assert settings["condition"]["drive"] == CONDITION.drive
        assert set(settings["condition"]) == set(oscsim.Condition.__dataclass_fields__)
        if kind in (
            "Trial",
            "Days",
            "Diary",
        ):  # the trial's positions and warmths are the standard's, a day's its own
            return
        assert settings["temperature_c"] == SETTING.temperature_c
        assert settings.keys() >= {"positions", "hours", "turns", "tilt_deg", "lift_angle_deg"}


def test_the_settings_give_the_answer_again():
    given = answer("Settle").to_dict()["settings"]
    given["condition"] = oscsim.Condition(**given["condition"])
    again = oscsim.settle(movement(), oscsim.Setting(**given))
    assert again.to_json() == answer("Settle").to_json()


def test_settings_by_turns():
    told = oscsim.Setting(turns=[2, 3]).to_dict()
    assert (told["hours"], told["turns"]) == (None, [2.0, 3.0])


def test_the_hash_is_that_of_the_numbers():
    m = movement()
    tables = {key: value for key, value in m.tables().items() if key not in ("name", "story")}

    def floats(value):
        if isinstance(value, dict):
            return {key: floats(inner) for key, inner in value.items()}
        if isinstance(value, list | tuple):  # teeth
            return [floats(inner) for inner in value]
        return value if isinstance(value, str) else float(value)

    text = json.dumps(floats(tables), sort_keys=True, separators=(",", ":"))
    assert m.design_hash == hashlib.sha256(text.encode()).hexdigest()[:16]


def test_spelling_leaves_the_hash_alone():
    text = oscsim.dumps(movement())
    head, *tables = re.split(r"\n(?=\[)", text)
    turned = "# another order\n" + "\n".join([head, *reversed(tables)])
    assert oscsim.loads(turned).design_hash == movement().design_hash
    whole = re.sub(r"= (\d+)\.0$", r"= \1", text, flags=re.M)
    assert whole != text
    assert oscsim.loads(whole).design_hash == movement().design_hash
    renamed = movement().with_({"name": "another", "story": "told otherwise"})
    assert renamed.design_hash == movement().design_hash


def test_every_number_moves_the_hash():
    m = movement()
    seen = {m.design_hash}
    for name in parameter_names():
        info, value = quantity_of(oscsim.Movement, name), value_at(m, name)
        if info is None or not isinstance(value, int | float) or info.whole:
            continue
        if name.endswith(".wheel_radius_mm"):  # follows from the teeth
            continue
        changed = m.with_({name: value * (1.0 - 1e-12) if value else 1e-9})
        assert changed.design_hash not in seen, name
        seen.add(changed.design_hash)
    assert len(seen) > 30


def test_other_answers_have_other_hashes():
    found = answer("Change").to_dict()
    assert found["changed_design_hash"] == found["design_hash"]  # only the condition changed
    fit = answer("Fit").to_dict()
    assert fit["settings"]["start_design_hash"] == oscsim.load("tidewaiter").design_hash
    assert fit["design_hash"] != fit["settings"]["start_design_hash"]
    both = answer("Compare").to_dict()
    assert both["design_hash"].split(" / ") == both["design_hashes"]
    assert len(set(both["design_hashes"])) == 2


@pytest.mark.parametrize("ending", ["png", "pdf", "svg"])
def test_pictures_carry_their_origin(ending, tmp_path):
    shown = answer("RunDown")
    path, again = tmp_path / f"down.{ending}", tmp_path / f"again.{ending}"
    plots.save_figure(plots.figure_of(shown), path, shown.origin())
    if ending == "png":
        with Image.open(path) as image:
            assert json.loads(image.text["Description"]) == shown.origin()
            assert image.text["Software"] == f"oscsim {oscsim.__version__}"
            assert image.text["Title"] == shown.design
    else:
        assert shown.design_hash.encode() in path.read_bytes()
    if ending != "svg":  # matplotlib salts the identifiers of a drawing
        plots.save_figure(plots.figure_of(shown), again, shown.origin())
        assert again.read_bytes() == path.read_bytes()


def test_swap_and_band_follow_the_setting():
    """Colder oil and older oil take amplitude; what is given stands before the condition."""
    new = oscsim.swap(movement(), [])
    assert answer("Swap").present.flat_wound_deg < new.present.flat_wound_deg - 5.0
    settled = oscsim.settle(movement(), SETTING).points.amplitude_deg
    assert answer("Swap").present.flat_wound_deg == settled[0, 0]
    assert answer("Swap").present.vertical_24h_deg == settled[1, 1]
    assert answer("Band").full_wind_deg == pytest.approx(settled[0, 0], abs=1e-9)
    heavy = oscsim.Setting(condition=oscsim.Condition(unbalance_ug_cm=50.0))
    assert oscsim.band(movement(), 10.0, heavy).unbalance_ug_cm == 50.0
    assert oscsim.band(movement(), 10.0, heavy, unbalance_ug_cm=5.0).unbalance_ug_cm == 5.0


@pytest.mark.parametrize(
    "given",
    [{"positions": "12H"}, {"tilt_deg": 45.0}, {"lift_angle_deg": 52.0}, {"hours": 24.0}, {"turns": 2.0}],
)
def test_what_swap_and_band_have_of_their_own(given):
    with pytest.raises(oscsim.InputError, match=f"{next(iter(given))} = .*, leave it out"):
        oscsim.band(movement(), 10.0, oscsim.Setting(**given))
    with pytest.raises(oscsim.InputError, match=f"{next(iter(given))} = .*, leave it out"):
        oscsim.swap(movement(), [], oscsim.Setting(**given))
