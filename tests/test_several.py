"""Several designs at once: each answer as it would be alone, told apart in every format."""

import csv
import io
import json

import pytest

from oscsim.designs import DEFAULT_DESIGN, bundled_text


@pytest.fixture
def shelf(tmp_path):
    for name in ("dinghy", "packet"):
        (tmp_path / f"{name}.toml").write_text(bundled_text(name), "utf-8")
    (tmp_path / "notes.txt").write_text("not a design", "utf-8")
    return tmp_path


ASKED = {
    "settle": [],
    "rundown": ["--positions", "CH", "--step", "12"],
    "rates": ["--hours", "0"],
    "isochronism": ["--amplitudes", "200", "250"],
    "ratemap": ["--amplitudes", "200", "230", "260"],
    "band": [],
    "trace": ["--samples", "4"],
    "budget": ["--hours", "0"],
    "whatif": ["--vary", "escapement.lock_deg", "1", "2", "2"],
    "change": ["--set", "train.jewel_friction=0.11"],
    "swap": ["--height", "0.7", "--thickness", "0.06", "--length", "220"],
    "tolerance": ["--examples", "20", "--no-sobol"],
}


#: Answers that take long where a hairspring's weight parts the positions: another design stands in for the first.
LONG = ("band", "swap")


@pytest.mark.parametrize("name", ASKED)
def test_each_as_if_alone(name, command, shelf):
    if name in LONG:
        (shelf / "dinghy.toml").write_text(bundled_text("dockhand"), "utf-8")
    designs = [str(shelf / "dinghy.toml"), str(shelf / "packet.toml")]
    alone = [command(name, design, *ASKED[name], "--format", "json") for design in designs]
    assert [(code, err) for code, _, err in alone] == [(0, "")] * 2
    code, out, err = command(name, str(shelf / "*.toml"), *ASKED[name], "--format", "json")
    assert (code, err) == (0, "")
    assert json.loads(out) == [json.loads(text) for _, text, _ in alone]


@pytest.mark.parametrize("name", ["settle", "rates", "trace", "whatif"])
def test_tables_and_texts(name, command, shelf):
    designs = [str(shelf / "dinghy.toml"), str(shelf / "packet.toml")]
    code, out, _ = command(name, *designs, *ASKED[name], "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert code == 0
    assert next(iter(rows[0])) == "design"
    assert list(dict.fromkeys(row["design"] for row in rows)) == designs
    single = list(csv.DictReader(io.StringIO(command(name, designs[0], *ASKED[name], "--format", "csv")[1])))
    mine = [row for row in rows if row["design"] == designs[0]]
    for row, own in zip(mine, single, strict=True):
        assert {key: row[key] for key in own} == own | {"design": row["design"]} if "design" in own else own
    text = command(name, *designs, *ASKED[name])[1]
    for design in designs:
        assert command(name, design, *ASKED[name])[1].strip() in text


def test_patterns(command, refusal, shelf, monkeypatch):
    monkeypatch.chdir(shelf)
    out = command("settle", "*.toml", "packet.toml", "--format", "json")[1]
    assert [answer["design"] for answer in json.loads(out)] == ["Dinghy", "Packet"]
    out = command("settle", "d*d", "--format", "json")[1]  # no such file: bundled ones
    assert json.loads(out)["design"] == "Dockhand"
    assert "designs '*.tml': no file and no bundled design matches this pattern" in refusal("settle", "*.tml")
    assert "notes.txt" in refusal("settle", "*")
    assert "matches this pattern" in refusal("compare", "x*", "y*")
    (shelf / "odd[1].toml").write_text(bundled_text("packet"), "utf-8")
    assert command("settle", "odd[1].toml")[0] == 0  # a name that looks like a pattern and is there


def test_compare_takes_patterns(command, shelf):
    found = json.loads(command("compare", shelf / "*.toml", "--format", "json")[1])
    assert "Dinghy" in json.dumps(found)
    assert "Packet" in json.dumps(found)


def test_pictures_carry_the_design(command, refusal, shelf):
    assert command("settle", "dinghy", "packet", "--plot", shelf / "p.png")[0] == 0
    assert sorted(p.name for p in shelf.glob("*.png")) == ["p-dinghy.png", "p-packet.png"]
    assert "same file name" in refusal("settle", "dinghy", shelf / "dinghy.toml", "--plot", shelf / "q.png")
    assert not list(shelf.glob("q*"))


def test_one_that_cannot_be_used_stops_all(refusal, shelf):
    (shelf / "later.toml").write_text("name = 3", "utf-8")
    line = refusal("settle", shelf / "*.toml", "--plot", shelf / "p.png")
    assert str(shelf / "later.toml") in line
    assert not list(shelf.glob("*.png"))
    line = refusal("settle", "dockhand", "packet", "--turns", "8.2")
    assert line.startswith("oscsim: dockhand: turns = 8.2 turns: more than fit")


def test_default_design(command):
    assert command("settle") == command("settle", DEFAULT_DESIGN)
