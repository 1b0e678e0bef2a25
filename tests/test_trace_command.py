"""``oscsim trace``: a settled beat, a start, a shock; for people, for programs, and as a picture."""

import csv
import io
import json
import math

import pytest

from tests.independent import integrator as it
from tests.movements import REFERENCE

DESIGN = str(REFERENCE / "heavy.toml")
OP = it.operating(it.load(REFERENCE / "heavy.toml"), "9H", 12.0)
PLACE = ("--position", "9H", "--hours", "12")


@pytest.fixture
def printed(command):
    """Standard output of a command that must succeed without a complaint."""

    def run(*arguments):
        code, out, err = command("trace", DESIGN, *arguments)
        assert (code, err) == (0, "")
        assert out.endswith("\n")
        return out

    return run


def test_settled_beats(printed):
    """Swing and period are those of the integrator's settled state."""
    answer = json.loads(printed(*PLACE, "--format", "json"), parse_constant=pytest.fail)
    want = it.settled(OP)
    swings = max(answer["angle_deg"]), -min(answer["angle_deg"])
    assert 0.5 * sum(swings) == pytest.approx(want["amplitude_deg"], abs=1e-7)
    period = OP["T_0"] / (1.0 + want["rate_s_per_day"] / 86400.0)
    assert answer["time_s"][-1] == pytest.approx(period, rel=1e-10)
    assert (answer["state"], answer["settings"]["positions"], answer["settings"]["hours"]) == (
        "running",
        ["9H"],
        [12.0],
    )
    assert len(answer["time_s"]) == 2 * 6 * 60
    text = printed(*PLACE)
    assert "2 free arc out" in text
    assert f"from {answer['swing_deg']:.1f} deg on the left" in " ".join(text.split())


def test_beats_and_samples(printed):
    rows = list(csv.DictReader(io.StringIO(printed("--beats", "3", "--samples", "7", "--format", "csv"))))
    assert len(rows) == 3 * 6 * 7
    assert rows[-1]["beat"] == "3"
    assert all(math.isfinite(float(value)) for key, value in rows[40].items() if key != "phase")


def test_start_followed_in_time(printed):
    answer = json.loads(printed(*PLACE, "--from", "60", "--duration", "5", "--format", "json"))
    want = it.march(lambda _t: OP, math.radians(60.0), 5.0)
    assert [swing["time_s"] for swing in answer["swings"]] == pytest.approx(list(want.time), rel=1e-9)
    assert answer["swings"][-1]["swing_deg"] == pytest.approx(math.degrees(want.amplitude[-1]), abs=1e-7)
    assert "below the" in printed(*PLACE, "--from", "60", "--duration", "5")


def test_where_the_watch_is_matters(printed):
    """Tilt and temperature arrive: dial up at 90 deg is a hanging watch with its heavy point below; oil thickens."""
    flat = json.loads(printed("--format", "json"))
    hung = json.loads(printed("--tilt", "90", "--format", "json"))
    cold = json.loads(printed("--temperature", "5", "--format", "json"))
    assert hung["swing_deg"] < flat["swing_deg"] - 5.0
    assert cold["swing_deg"] < flat["swing_deg"] - 1.0
    assert (hung["settings"]["tilt_deg"], cold["settings"]["temperature_c"]) == (90.0, 5.0)


@pytest.mark.parametrize(
    "options", [(), ("--from", "30", "--beats", "4"), ("--from", "800", "--duration", "2"), ("--from", "0")]
)
def test_picture(options, printed, tmp_path):
    printed(*options, "--plot", tmp_path / "motion.png")
    assert (tmp_path / "motion.png").read_bytes().startswith(b"\x89PNG")


WRONG = [
    ("--beats 2.5", "beats = 2.5: not a whole number, must be a whole number from 1 to 200"),
    ("--beats 0", "beats = 0: out of range"),
    ("--beats many", "beats = 'many': not a number"),
    ("--samples 1", "samples = 1: out of range, must be a whole number from 2 to 2000"),
    ("--from -3", "swing_deg = -3.0 deg: out of range, must be from 0 to 1000 deg"),
    ("--from nan", "swing_deg = nan deg: not a finite number"),
    ("--from", "--from: expected one argument"),
    ("--duration 5", "--duration: give the swing at the start with it, --from DEG"),
    ("--from 40 --duration 0", "duration_s = 0.0 s: out of range, must be from 0.01 to 3600 s"),
    (
        "--from 40 --duration 5 --beats 3",
        "--duration, --beats, --samples: give a duration, or beats and samples",
    ),
    ("--position 13H", "position '13H': must be one of CH, FH, 12H, 3H, 6H, 9H"),
    ("--positions CH", "--positions: unknown option; did you mean '--position'?"),
    ("--hours -1", "hours = -1.0 h: out of range"),
    ("--hours 500", "stops: no amplitude can be kept up; give a swing to start from"),
    ("--tilt 200", "tilt_deg = 200.0 deg: out of range"),
    ("--temperature 100", "temperature_c = 100.0 °C: out of range"),
    ("--plot motion.pgn", "did you mean '.png'?"),
    ("--format xml", "--format 'xml': must be one of text, csv, json"),
]


@pytest.mark.parametrize(("options", "said"), WRONG)
def test_bad_input(options, said, refusal):
    assert said in refusal("trace", DESIGN, *options.split())
