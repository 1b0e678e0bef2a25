"""Options that cannot be: one line, exit code 2, nothing on standard output, no picture."""

import os

import pytest

from tests.movements import REFERENCE

DESIGN = str(REFERENCE / "heavy.toml")

SETTLE = [
    ("--positions 13H", "position '13H': must be one of CH, FH, 12H, 3H, 6H, 9H", "did you mean"),
    ("--positions CH 12X", "position '12X': must be one of", "did you mean '12'?"),
    ("--positions", "--positions: expected at least one argument", ""),
    ("--hours nan", "hours = nan h: not a finite number, must be from 0 to 10000 h", ""),
    ("--hours 0 inf", "hours = inf h: not a finite number", ""),
    ("--hours -1", "hours = -1.0 h: out of range, must be from 0 to 10000 h", ""),
    ("--hours 1e5", "hours = 100000.0 h: out of range", ""),
    ("--hours six", "hours = 'six': not a number, must be from 0 to 10000 h", ""),
    ("--hours 0x10", "hours = '0x10': not a number", ""),
    ("--hours", "--hours: expected at least one argument", ""),
    ("--turns -1", "turns = -1.0 turns: out of range, must be from 0 to 1000 turns", ""),
    ("--turns nan", "turns = nan turns: not a finite number", ""),
    # the reference file says 8.29 turns for this design at full wind
    ("--turns 8.3", "turns = 8.3 turns: more than fit, must be from 0 to 8.28", "turns"),
    ("--turns 3 --hours 0", "--hours, --turns: give one of the two, not both", ""),
    ("--tilt 200", "tilt_deg = 200.0 deg: out of range, must be from 0 to 180 deg", ""),
    ("--tilt -1", "tilt_deg = -1.0 deg: out of range", ""),
    ("--tilt nan", "tilt_deg = nan deg: not a finite number", ""),
    ("--tilt steep", "tilt_deg = 'steep': not a number, must be from 0 to 180 deg", ""),
    ("--tilt", "--tilt: expected one argument", ""),
    ("--lift-angle 0", "lift_angle_deg = 0.0 deg: out of range, must be from 10 to 120 deg", ""),
    ("--lift-angle inf", "lift_angle_deg = inf deg: not a finite number", ""),
    ("--lift-angle 52mm", "lift_angle_deg = '52mm': not a number", ""),
    ("--format xml", "--format 'xml': must be one of text, csv, json", ""),
    ("--format jsn", "--format 'jsn': must be one of text, csv, json", "did you mean 'json'?"),
    ("--format", "--format: expected one argument", ""),
    ("--postions CH", "--postions: unknown option", "did you mean '--positions'?"),
    ("--position=CH", "--position: unknown option", "did you mean '--positions'?"),
    ("--zzz", "--zzz: unknown option; known: -h, --help, --positions", ""),
    ("-z", "-z", ""),
    ("--plot x.gif", "ending '.gif' is not one of", ""),
    ("another.toml", "another.toml", ""),
]
RUNDOWN = [
    ("--step 0", "step_h = 0.0 h: out of range, must be from 0.01 to 100 h", ""),
    ("--step -1", "step_h = -1.0 h: out of range", ""),
    ("--step nan", "step_h = nan h: not a finite number", ""),
    ("--step often", "step_h = 'often': not a number, must be from 0.01 to 100 h", ""),
    ("--hours 3", "--hours: unknown option", ""),
    ("--positions 13H", "position '13H': must be one of", ""),
    ("--positions CH FH dial-up", "positions = CH FH CH: one is given twice", ""),
    ("--tilt 181", "tilt_deg = 181.0 deg: out of range", ""),
    ("--format yaml", "--format 'yaml': must be one of text, csv, json", ""),
]


@pytest.mark.parametrize(("options", "said", "near"), SETTLE)
def test_settle(options, said, near, refusal):
    line = refusal("settle", DESIGN, *options.split())
    assert said in line
    assert near in line


@pytest.mark.parametrize(("options", "said", "near"), RUNDOWN)
def test_rundown(options, said, near, refusal, tmp_path):
    line = refusal("rundown", DESIGN, *options.split(), "--plot", tmp_path / "picture.png")
    assert said in line
    assert near in line
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("name", ["picture.gif", "picture", "picture.png.exe", ".png", "picture.PNGG"])
def test_pictures_of_other_kinds(name, refusal, tmp_path):
    line = refusal("rundown", DESIGN, "--plot", tmp_path / name)
    assert name in line
    assert ".png, .svg, .pdf" in line
    assert os.listdir(tmp_path) == []


def test_where_a_picture_cannot_be_written(refusal, tmp_path):
    few = ("--positions", "CH", "--step", "20")
    missing = tmp_path / "nowhere" / "picture.png"
    assert f"{missing}: cannot be written: No such file or directory" in refusal(
        "rundown", DESIGN, *few, "--plot", missing
    )
    (tmp_path / "folder.svg").mkdir()
    assert "folder.svg: a directory" in refusal("rundown", DESIGN, *few, "--plot", tmp_path / "folder.svg")
    assert os.listdir(tmp_path) == ["folder.svg"]
    assert os.listdir(tmp_path / "folder.svg") == []


def test_a_picture_that_is_there_survives_bad_input(refusal, tmp_path):
    (tmp_path / "old.png").write_bytes(b"old")
    refusal("rundown", DESIGN, "--step", "0", "--plot", tmp_path / "old.png")
    refusal("rundown", "no such design", "--plot", tmp_path / "old.png")
    assert (tmp_path / "old.png").read_bytes() == b"old"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["setle"], "'setle'"),
        ([DESIGN], "heavy.toml"),
        (["designs", "dockhnd"], "did you mean 'dockhand'?"),
        (["designs", "dockhand", "packet"], "packet"),
        (["designs", "../designs/dockhand"], "no bundled design of that name"),
        (["designs", ""], "no bundled design of that name"),
        (["--versoin"], "--versoin"),
        (["settle", "--positions", "CH", "dockhand"], "position 'dockhand'"),
    ],
)
def test_commands_and_names(words, said, refusal):
    assert said in refusal(*words)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("settle", "--lift", "49"), "did you mean '--lift-angle'?"),
        (("settle", "--temp", "5"), "did you mean '--temperature'?"),
        (("whatif", "--vary", "lock_deg", "1", "5", "3"), "did you mean 'escapement.lock_deg'?"),
        (("change", "--set", "lock_deg=4"), "did you mean 'escapement.lock_deg'?"),
        (("settle", "--condition", "oil_age_years=5,drag=1.2"), "several are parted by spaces"),
    ],
)
def test_what_was_cut_short_is_recognised(words, said, refusal):
    assert said in refusal(*words)


@pytest.mark.parametrize(
    ("with_unit", "plain"),
    [
        ("settle --hours 0h,24h --temperature 8°C --tilt 45°", "settle --hours 0 24 --temperature 8 --tilt 45"),
        ("sketch --beats 3Hz --movement-diameter 11.5lignes", "sketch --beats 21600 --movement-diameter 25.942034"),
        ("change dockhand --set balance.beats_per_hour=3Hz", "change dockhand --set balance.beats_per_hour=21600"),
        ("band dockhand --tolerance 5s/day --unbalance 8µg·cm", "band dockhand --tolerance 5 --unbalance 8"),
    ],
)  # fmt: skip
def test_numbers_with_their_units(with_unit, plain, command):
    """A ligne is 1000/443.296 mm (French law of 19 Frimaire VIII); two beats make a period of a 3 Hz balance."""
    assert command(*with_unit.split(), "--format", "json") == command(*plain.split(), "--format", "json")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("settle", "--hours", "3mm"), "not a number"),
        (("setle", "dockhand"), "command 'setle': unknown; did you mean 'settle'?"),
        (("sketch", "--movement-diameter", "11", "--balance-diameter", "11.5"), "wider than its movement"),
    ],
)  # fmt: skip
def test_what_is_told_of_units_and_commands(words, said, refusal):
    assert said in refusal(*words)
