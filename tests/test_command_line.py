"""The command line as a whole: its page, examples, completion, colour, formats and exit codes."""

import csv
import dataclasses
import io
import json
import re
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest

import oscsim
from oscsim.cli import parser_of_all
from oscsim.command_line import page
from oscsim.commands.options import FORMATS
from oscsim.commands.points import CONDITION
from oscsim.designs import bundled_diaries, bundled_series
from oscsim.text import terminal

COMMITTED = Path(__file__).parents[1] / "docs" / "command-line.md"
PARSERS = parser_of_all()
#: Print a script, or open a window, or write a page: no answer in three formats.
NO_FORMAT = {"completion", "page", "explore"}


def test_the_committed_page_is_the_generated_one():
    assert COMMITTED.read_text("utf-8") == page(), "run python -m oscsim.command_line > docs/command-line.md"


@pytest.mark.parametrize("name", PARSERS)
def test_help_has_an_example_that_parses(name, command):
    code, out, err = command(name, "--help")
    assert (code, err) == (0, "")
    example = " ".join(out.split("example: ")[1].split())
    words = shlex.split(example.split(" > ")[0])
    assert words[:2] == ["oscsim", name]
    PARSERS[name].parse_args(words[2:])
    for action in PARSERS[name]._actions:  # every option says what it is for
        assert action.help, f"{name} {action.dest}"
        assert "%(" not in action.help


@pytest.mark.parametrize("name", PARSERS)
def test_options_are_consistent(name):
    """The same option means the same kind of thing everywhere: one metavar each, formats and pictures in all."""
    options = {a.option_strings[-1]: a for a in PARSERS[name]._actions if a.option_strings}
    if name not in NO_FORMAT:
        assert options["--format"].metavar == "|".join(FORMATS)
    expected = {"--positions": "POS", "--position": "POS", "--hours": "H", "--tilt": "DEG", "--temperature": "C",
                "--plot": "FILE", "--lift-angle": "DEG", "--condition": "NAME=VALUE",
                "--set": "NAME=VALUE", "--tolerance": "S_PER_DAY",
                "--regulate": "TARGET", "--output": "FILE.toml"}  # fmt: skip
    for option, metavar in expected.items():
        if option in options:
            assert options[option].metavar == metavar, option
    assert ("--overwrite" in options) == ("--output" in options)


def test_exit_codes_are_told(command):
    out = command("--help")[1]
    for code in ("0", "2", "130"):
        assert f"\n            {code}  " in out or f"exit codes: {code}  " in out
    assert "NO_COLOR" in out


@pytest.mark.skipif(shutil.which("bash") is None, reason="needs bash")
@pytest.mark.parametrize(
    ("line", "wanted", "unwanted"),
    [
        (["se"], {"settle"}, {"rates"}),
        (["settle", "dock"], {"dockhand"}, {"packet"}),
        (["settle", "--p"], {"--positions", "--plot"}, {"--hours"}),
        (["settle", "dockhand", "--positions", "CH", ""], {"12H", "FH"}, {"dockhand"}),
        (["settle", "--tilt", "45", "pa"], {"packet"}, {"45"}),
        (["settle", "--tilt", ""], set(), {"dockhand"}),
        (["settle", "--format", ""], set(FORMATS), {"dockhand"}),
        (["settle", "--format", "=", "j"], {"json"}, {"csv"}),
        (["change", "--set", "balance.iner"], {"balance.inertia_mg_cm2="}, set()),
        (["fit", "dockhand", "x.csv", "--free", "balance.v"], {"balance.viscous_q"}, set()),
        (["sketch", "--family", ""], {"small", "pocket"}, {"dockhand"}),
        (["check", "shelf"], {"shelf of mine.toml"}, set()),
        (["diagnose", "dock"], {"dockhand", "dockhand_low_but_sound"}, {"packet"}),
        (["progress", "pack"], {"packet", "packet_cleaned"}, set()),
        (["diagnose", "packet", "packet_c"], {"packet_cleaned"}, set()),
        (["ripple", "packet", "packet_r"], {"packet_rubbing_hand"}, {"packet_cleaned"}),
        (["diary", "dockhand", "dockhand_s"], {"dockhand_september"}, set()),
        (["designs", "--series", ""], {"packet_rubbing_hand"}, {"packet"}),
        (["completion", ""], {"bash", "zsh", "fish"}, set()),
    ],
)
def test_bash_completion(line, wanted, unwanted, command, tmp_path):
    (tmp_path / "shelf of mine.toml").write_text("")
    (tmp_path / "oscsim.bash").write_text(command("completion", "bash")[1], "utf-8")
    words = " ".join(shlex.quote(word) for word in ("oscsim", *line))
    script = f"source ./oscsim.bash; COMP_WORDS=({words}); COMP_CWORD={len(line)}; _oscsim; "
    script += "printf '%s\\n' \"${COMPREPLY[@]}\""
    run = subprocess.run(
        ["bash", "-c", script], capture_output=True, encoding="utf-8", timeout=30, cwd=tmp_path
    )
    assert run.stderr == ""
    found = set(run.stdout.split("\n")) - {""}
    assert wanted <= found
    assert not unwanted & found


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_knows_all_commands_and_options(shell, command):
    code, out, err = command("completion", shell)
    assert (code, err) == (0, "")
    for name, parser in PARSERS.items():
        assert name in out
        for action in parser._actions:
            for option in action.option_strings:
                # a short option has a long one beside it
                assert not option.startswith("--") or option.removeprefix("--") in out
    if shutil.which(shell):
        subprocess.run([shell, "-n"], input=out, encoding="utf-8", timeout=30, check=True)


def test_completion_knows_all_of_a_condition():
    assert tuple(f.name for f in dataclasses.fields(oscsim.Condition)) == CONDITION


def test_completion_of_another_shell(refusal):
    assert "did you mean 'bash'?" in refusal("completion", "bsh")


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_colour_only_on_a_terminal(monkeypatch):
    for key in ("NO_COLOR", "TERM"):
        monkeypatch.delenv(key, raising=False)
    assert terminal.coloured(Terminal())
    assert not terminal.coloured(io.StringIO())
    assert terminal.complaint(io.StringIO()) == "oscsim:"
    monkeypatch.setenv("NO_COLOR", "1")
    assert not terminal.coloured(Terminal())
    monkeypatch.setenv("NO_COLOR", "")  # empty counts as not set
    assert terminal.coloured(Terminal())
    monkeypatch.setenv("TERM", "dumb")
    assert not terminal.coloured(Terminal())


@pytest.mark.parametrize(("words", "coloured"), [
    (["settle", "dockhand", "--hours", "0", "100"], True),
    (["settle", "dockhand", "--format", "csv"], False),
    (["designs", "dockhand"], False),
    (["completion", "bash"], False),
])  # fmt: skip
def test_colour_adds_nothing_but_colour(words, coloured, command, monkeypatch):
    from oscsim import cli

    plain = command(*words)[1]
    for key in ("NO_COLOR", "TERM"):
        monkeypatch.delenv(key, raising=False)
    out = Terminal()
    monkeypatch.setattr("sys.stdout", out)
    assert cli.main(words) == 0
    assert ("\033" in out.getvalue()) == coloured
    assert re.sub(r"\033\[\d*m", "", out.getvalue()) == plain


def test_designs_in_all_formats(command):
    rows = json.loads(command("designs", "--format", "json")[1])
    assert [row["name"] for row in rows] == oscsim.bundled()
    assert [row["name"] for row in rows if row["default"]] == ["dockhand"]
    table = list(csv.DictReader(io.StringIO(command("designs", "--format", "csv")[1])))
    assert [row["name"] for row in table] == oscsim.bundled()
    one = json.loads(command("designs", "packet", "--format", "json")[1])
    assert oscsim.loads(one["file"]) == oscsim.load("packet")
    keys = {
        row["key"]: row["value"]
        for row in csv.DictReader(io.StringIO(command("designs", "packet", "--format", "csv")[1]))
    }
    assert float(keys["balance.viscous_q"]) == oscsim.load("packet").balance.viscous_q


@pytest.mark.parametrize(
    ("kind", "known", "keys"),
    [
        ("readings", oscsim.bundled_readings, {"position", "hours", "amplitude_deg"}),
        ("series", bundled_series, {"time_s", "amplitude_deg"}),
        ("diary", bundled_diaries, {"error_s", "hours_worn"}),
    ],
)
def test_what_is_bundled_beside_designs(kind, known, keys, command, refusal):
    listed = json.loads(command("designs", f"--{kind}", "--format", "json")[1])
    assert [row["name"] for row in listed] == known()
    assert all(row["story"].endswith(".") for row in listed)
    rows = json.loads(command("designs", f"--{kind}", listed[0]["name"], "--format", "json")[1])
    assert keys <= set(rows[0])
    assert "did you mean" in refusal("designs", f"--{kind}", listed[0]["name"] + "x")
    assert refusal("designs", "packet", f"--{kind}") == f"oscsim: NAME, --{kind}: give one of them\n"


def test_the_hairspring_of_no_design_named_is_one_that_is_drawn(command, refusal):
    assert command("hairspring")[1].startswith("Dinghy: the hairspring by its shape")
    assert refusal("hairspring", "dockhand").endswith("bundled designs that have one: dinghy, tidewaiter\n")


def test_fit_does_not_write_over_a_file(tmp_path, command, refusal):
    path = tmp_path / "mine.toml"
    path.write_text("old", "utf-8")
    words = ("fit", "tidewaiter", "tidewaiter_known_good", "--free", "balance.viscous_q", "--output", path)
    assert "--overwrite writes over it" in refusal(*words)
    assert path.read_text("utf-8") == "old"
    assert command(*words, "--overwrite")[0] == 0
    assert oscsim.load(path).fitted


def test_a_change_that_changes_nothing_says_how_to_say_it(command):
    code, out, err = command("change", "ferryman", "--condition", "oil_age_years=8")
    assert (code, out) == (2, "")
    assert "nothing is changed" in err
    assert "--condition is how it stands now" in err
    assert err.count("\n") == 1
    code, out, err = command("change", "ferryman", "--oil-age", "8")
    assert (code, err) == (0, "")
