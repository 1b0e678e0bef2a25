"""The command line: what it prints for people and for programs."""

import csv
import io
import json
import subprocess
import sys
from dataclasses import replace

import pytest

import oscsim
from oscsim.designs import DEFAULT_DESIGN
from tests.movements import REFERENCE

DESIGN = str(REFERENCE / "heavy.toml")
#: The keys of a point that programs rely on, in order; the numbers among them are null when the watch stops.
POINT = (
    "position", "hours", "state", "amplitude_deg", "rate_s_per_day", "beat_error_ms", "apparent_amplitude_deg",
    "barrel_torque_n_mm", "escape_torque_n_m", "residual_rad",
)  # fmt: skip
#: And what they may find behind: on an instrument told another lift angle, and the drive over what a stop would need.
SHOWN = {"shown_amplitude_deg", "shown_rate_s_per_day"}
FURTHER = {"stability", "amplitude_low_deg", "amplitude_high_deg", "turns", "excess_drive_percent"} | SHOWN


@pytest.fixture
def printed(command):
    """Standard output of a command that must succeed and have nothing to complain about."""

    def run(*arguments):
        code, out, err = command(*arguments)
        assert (code, err) == (0, "")
        assert out.endswith("\n")
        assert not out.endswith("\n\n")
        return out

    return run


#: What every answer says of itself.
ORIGIN = ["design", "design_hash", "version", "settings"]


def test_settle_json(printed):
    positions, hours = ["CH", "12H", "6H"], [24.0, 0.0, 5000.0]
    text = printed(
        "settle", DESIGN, "--positions", *positions, "--hours", "24", "0", "5000", "--format", "json"
    )
    answer = json.loads(text, parse_constant=pytest.fail)  # neither NaN nor Infinity
    assert list(answer) == [*ORIGIN, "filled", "points"]
    assert (answer["design"], answer["version"]) == ("heavy balance, deep lock", oscsim.__version__)
    points = answer["points"]
    assert [(p["position"], p["hours"]) for p in points] == [(p, h) for p in positions for h in hours]
    for point in points:
        assert tuple(point)[: len(POINT)] == POINT
        assert set(point) == set(POINT) | FURTHER | {"failure"}
        if point["hours"] == 5000.0:
            assert point["state"] == "stops"
            assert point["failure"] == "let down"
            assert {point[key] for key in set(point) - {"position", "hours", "state", "failure"}} == {None}
        else:
            assert point["state"] == "running"
            assert point["failure"] is None
            assert {type(point[key]) for key in set(point) - {"position", "state", "failure"}} == {float}
            assert point["residual_rad"] <= 1e-10


def test_settle_json_agrees_with_python(printed):
    options = ["--positions", "3H", "--hours", "6", "--tilt", "45", "--lift-angle", "50", "--format=json"]
    text = printed("settle", DESIGN, *options)
    setting = oscsim.Setting(positions="3H", hours=6, tilt_deg=45, lift_angle_deg=50)
    assert text == oscsim.settle(oscsim.load(DESIGN), setting).to_json()
    settings = json.loads(text)["settings"]
    assert (settings["tilt_deg"], settings["lift_angle_deg"], settings["positions"]) == (45.0, 50.0, ["3H"])


def test_settle_by_turns(printed):
    point = json.loads(printed("settle", DESIGN, "--turns", "4", "--format", "json"))["points"][0]
    assert point["turns"] == pytest.approx(4.0)
    hours = json.loads(printed("settle", DESIGN, "--hours", point["hours"], "--format", "json"))["points"][0]
    assert hours["amplitude_deg"] == pytest.approx(point["amplitude_deg"], abs=1e-9)


def test_rundown_json(printed):
    text = printed("rundown", DESIGN, "--positions", "CH", "9H", "--step", "4", "--format", "json")
    answer = json.loads(text, parse_constant=pytest.fail)
    assert list(answer) == [*ORIGIN, "filled", "hours", "stop_hours", "stop_failure", "curves"]
    assert list(answer["stop_hours"]) == list(answer["curves"]) == ["CH", "9H"]
    hours = answer["hours"]
    assert hours == [4.0 * i for i in range(len(hours))]
    assert hours[-2] <= max(answer["stop_hours"].values()) <= hours[-1]
    for position, curve in answer["curves"].items():
        assert set(curve) == {"amplitude_deg", "rate_s_per_day", "state", "residual_rad"} | SHOWN
        assert {len(values) for values in curve.values()} == {len(hours)}
        for i, hour in enumerate(hours):
            stopped = hour > answer["stop_hours"][position]
            assert (curve["state"][i] == "stops") == stopped
            assert (curve["amplitude_deg"][i] is None) == (curve["rate_s_per_day"][i] is None) == stopped


def test_csv(printed):
    asked = ["settle", DESIGN, "--positions", "CH", "12H", "--hours", "0", "5000", "--format"]
    rows = list(csv.DictReader(io.StringIO(printed(*asked, "csv"))))
    points = json.loads(printed(*asked, "json"))["points"]
    assert tuple(rows[0]) == tuple(points[0])
    assert len(rows) == len(points) == 4
    for row, point in zip(rows, points, strict=True):
        for key, value in point.items():
            assert row[key] == ("" if value is None else str(value))
    down = printed("rundown", DESIGN, "--positions", "CH", "--step", "10", "--format", "csv")
    table = list(csv.DictReader(io.StringIO(down)))
    assert {"position", "hours", "state", "amplitude_deg", "rate_s_per_day"} <= set(table[0])
    assert (table[0]["state"], table[-1]["state"], table[-1]["amplitude_deg"]) == ("running", "stops", "")


def test_settle_table(printed):
    out = printed(
        "settle", DESIGN, "--positions", "CH", "12H", "--hours", "0", "24", "5000", "--lift-angle", "50"
    )
    lines = out.splitlines()
    assert "heavy balance, deep lock" in lines[0]
    for heading in ("Amplitude, deg", "Rate as built, s/day", "Beat error, ms", "50 deg"):
        assert any(heading in line for line in lines), heading
    setting = oscsim.Setting(positions=["CH", "12H"], hours=[0, 24])
    points = oscsim.settle(oscsim.load(DESIGN), setting).points
    start = next(i for i, line in enumerate(lines) if line.startswith("Amplitude, deg"))
    assert lines[start + 1].split() == ["0", "h", "24", "h", "5000", "h"]
    for i, place in enumerate(["CH dial up", "12H 12 up"]):
        shown = [f"{points.amplitude_deg[i, j]:.1f}" for j in (0, 1)]
        assert lines[start + 2 + i].split() == [*place.split(), *shown, "stops"]
    sentence = " ".join(lines[len(lines) - lines[::-1].index("") :])
    # the sentence says what the instrument shows: the same time in the lift, taken for 50 deg
    told = replace(setting, lift_angle_deg=50.0)
    read = oscsim.settle(oscsim.load(DESIGN), told).points.apparent_amplitude_deg
    assert f"{read[0, 0]:.0f} deg flat" in sentence
    assert f"{read[1, 1]:.0f} deg vertical" in sentence
    assert sentence.endswith(".")


def test_states_in_words(printed, tmp_path):
    # edges.json of the reference numbers: the fast design with a strip twice as high, no slipping bridle, knocks
    movement = oscsim.load(REFERENCE / "fast.toml")
    strong = movement.with_({"mainspring.height_mm": 2.4, "mainspring.slip_torque_n_mm": None})
    oscsim.save(strong, tmp_path / "strong.toml")
    out = printed("settle", tmp_path / "strong.toml", "--hours", "0", "5000")
    assert "knocks" in out
    assert "stops" in out
    assert "fork's horn" in out


def test_rundown_table(printed):
    out = printed("rundown", DESIGN, "--positions", "CH", "3H", "--step", "6")
    answer = oscsim.rundown(oscsim.load(DESIGN), oscsim.Setting(positions=["CH", "3H"]), step_h=6)
    for words in ("CH", "dial up", "3H", "3 up", "Amplitude, deg", "s/day", "0 h", "24 h", "stops"):
        assert words in out
    for stop in answer.stop_hours:
        assert f"{stop:.2f}" in out
    assert out.strip().endswith(".")


@pytest.mark.parametrize(("ending", "start"), [("png", b"\x89PNG\r\n"), ("svg", b"<?xml"), ("PDF", b"%PDF-")])
def test_rundown_picture(ending, start, printed, tmp_path):
    path = tmp_path / f"down.{ending}"
    out = printed("rundown", DESIGN, "--positions", "CH", "12H", "--step", "8", "--plot", path)
    assert out == printed("rundown", DESIGN, "--positions", "CH", "12H", "--step", "8")
    assert path.read_bytes().startswith(start)
    assert [p.name for p in tmp_path.iterdir()] == [path.name]


def test_defaults(printed):
    assert DEFAULT_DESIGN in oscsim.bundled()
    assert printed("settle") == printed(
        "settle", DEFAULT_DESIGN, "--positions", "CH", "12H", "--hours", "0", "24"
    )
    rows = csv.DictReader(io.StringIO(printed("rundown", "--format", "csv", "--step", "24")))
    found = list(dict.fromkeys(row["position"] for row in rows))
    assert found == list(oscsim.POSITIONS)


def test_designs_are_listed_and_printed(printed, tmp_path):
    listing = printed("designs")
    assert len(oscsim.bundled()) >= 5
    for name in oscsim.bundled():
        assert name in listing.split()
        text = printed("designs", name)
        copy = tmp_path / f"{name}.toml"
        copy.write_text(text, "utf-8")
        assert oscsim.load(copy) == oscsim.load(name)
        assert oscsim.load(name).name in listing
    assert f"{DEFAULT_DESIGN} (used when no design is named)" in listing


def test_help_and_version(command):
    for words in ([], ["--help"], ["settle", "--help"], ["rundown", "-h"], ["designs", "-h"]):
        code, out, err = command(*words)
        assert (code, err) == (0, "")
        assert out.startswith("usage: oscsim")
    assert command("--version") == (0, f"oscsim {oscsim.__version__}\n", "")


def test_module_command():
    run = [sys.executable, "-W", "error", "-m", "oscsim", "settle", DESIGN, "--format", "json"]
    found = subprocess.run(run, capture_output=True, encoding="utf-8", timeout=60)
    assert (found.returncode, found.stderr) == (0, "")
    assert len(json.loads(found.stdout)["points"]) == 4
    wrong = subprocess.run(
        [*run[:5], "settle", "nowhere.toml"], capture_output=True, encoding="utf-8", timeout=60
    )
    assert (wrong.returncode, wrong.stdout, wrong.stderr.count("\n")) == (2, "", 1)
