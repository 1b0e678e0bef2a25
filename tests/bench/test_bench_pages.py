"""The bench's commands and pages: verdict first, one printed page, one line for what cannot be used."""

import json
import math
import re

import pytest

import oscsim
from oscsim.bench.causes import FAULTS
from oscsim.cli import main
from oscsim.designs import bundled_readings

from . import manual


def run(capsys, *words):
    code = main(words)
    out = capsys.readouterr()
    return code, out.out, out.err


def test_low_but_sound_and_low_and_sick(capsys):
    # much the same amplitudes; only the packet was made to show more
    shown = {}
    for design, name in (("dockhand", "dockhand_low_but_sound"), ("packet", "packet_low_and_sick")):
        code, out, _ = run(capsys, "diagnose", design, name, "--format", "json")
        assert code == 0
        answer = json.loads(out)
        flat = [
            r["value"] for r in answer["readings"] if r["read"] == "amplitude_deg" and r["position"] == "CH"
        ]
        shown[design] = (answer["verdict_word"], flat)
        chances = [cause["chance"] for cause in answer["causes"] if cause["gain_deg"] is not None]
        assert chances == sorted(chances, reverse=True)
    assert shown["dockhand"][0] == "sound"
    assert shown["packet"][0] == "worth opening"
    assert max(shown["dockhand"][1]) < max(shown["packet"][1]) < 260.0


def test_verdict_comes_first_and_cautions_last(capsys):
    _, out, _ = run(capsys, "diagnose", "packet", "packet_low_and_sick")
    parts = out.split("\n\n")
    assert parts[1].startswith("Worth opening")
    assert parts[-1].startswith("Cautions")
    assert "eye" in parts[-1]
    assert max(len(line) for line in out.splitlines()) <= 118


def test_report_is_a_sheet_for_the_job_and_one_for_the_rest(tmp_path, capsys):
    page = tmp_path / "page.pdf"
    code, _, _ = run(capsys, "diagnose", "packet", "packet_low_and_sick", "--report", str(page))
    assert code == 0
    data = page.read_bytes()
    assert data[:5] == b"%PDF-"
    assert len(re.findall(rb"/Type\s*/Page\b", data)) <= 2


@pytest.mark.parametrize(
    "words",
    [
        ("diagnose", "dockhand", "dockhand_low_but_sound"),
        ("poise", "ferryman", "ferryman_heavy_point"),
        ("progress", "packet", "packet_dirty_pivots", "packet_cleaned"),
        ("fit", "tidewaiter", "tidewaiter_known_good", "--free", "balance.viscous_q"),
    ],
)
def test_every_command_draws_and_speaks_to_programs(words, tmp_path, capsys):
    code, out, _ = run(capsys, *words, "--plot", str(tmp_path / "p.png"))
    assert code == 0
    assert len(out.splitlines()) > 10
    assert (tmp_path / "p.png").stat().st_size > 10_000
    form = "csv" if words[0] == "poise" else "json"
    _, out, _ = run(capsys, *words, "--format", form)
    if form == "json":
        assert json.loads(out)["design"]
    else:
        assert len(out.splitlines()) == 1 + len(oscsim.load_readings(words[2]).rows)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("diagnose", "packet", "packet_cleand"), "did you mean 'packet_cleaned'"),
        (("diagnose", "packet", "packet_cleaned", "--report", "x.png"), "is not .pdf"),
        (("diagnose", "packet", "packet_cleaned", "--lift-angle", "5"), "out of range"),
        (("poise", "packet", "packet_cleaned", "--radius", "abc"), "not a number"),
        (("fit", "packet", "packet_cleaned", "--free", "balance.viscous"), "did you mean"),
        (("fit", "packet", "packet_cleaned"), "--free"),
        (("designs", "--readings", "nothing"), "no bundled readings"),
    ],
)
def test_what_cannot_be_used_is_one_line(words, said, capsys):
    code, out, err = run(capsys, *words)
    assert code == 2
    assert out == ""
    assert said in err
    assert err.count("\n") == 1


def test_bundled_readings(capsys):
    names = bundled_readings()
    assert len(names) >= 5
    _, out, _ = run(capsys, "designs", "--readings")
    for name in names:
        assert name in out
        assert oscsim.load_readings(name).rows
        assert name.split("_")[0] in oscsim.bundled()


def test_the_manual_shows_what_is_printed():
    page = manual.PAGE.read_text("utf-8")
    assert page.count("$ oscsim") >= 5
    assert manual.refreshed(page) == page, "python -m tests.bench.manual writes it anew"


def test_the_manual_lists_the_causes():
    lines = manual.PAGE.read_text("utf-8").splitlines()
    for fault in FAULTS:
        (row,) = [line for line in lines if line.startswith(f"| `{fault.name}` |")]
        if math.isfinite(fault.width):
            assert f"{fault.width:g}" in row
