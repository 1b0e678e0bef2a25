"""The manual, without building it: names, formulas, pictures and pages are all there, and links lead somewhere."""

import re
import shlex
from pathlib import Path

import pytest

import oscsim
from oscsim.cli import parser_of_all
from oscsim.commands import COMMANDS

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
PAGES = sorted(DOCS.glob("*.md"))
STUDIES = sorted(path for path in (ROOT / "studies").glob("*.py") if not path.name.startswith("_"))
TEXT = {path.name: path.read_text("utf-8") for path in PAGES}


def _blocks(page, directive):
    """Bodies of a directive's blocks, without their options."""
    for body in re.findall(rf"^```{{{directive}}}\n(.*?)^```", TEXT[page], re.MULTILINE | re.DOTALL):
        yield "\n".join(line for line in body.splitlines() if not line.startswith(":")).strip()


def _commands(directive):
    for page in TEXT:
        for body in _blocks(page, directive):
            yield pytest.param(body, id=f"{page}: {body}")


def test_every_public_name_is_in_the_manual():
    listed = re.findall(r"^   ([A-Za-z_]\w*)$", TEXT["api.md"], re.MULTILINE)
    listed += re.findall(r"py:data:: (\w+)", TEXT["api.md"])
    assert sorted(listed) == sorted(oscsim.__all__)


def test_every_derivation_is_in_the_manual():
    from oscsim.theory import derivations

    shown = [name for block in _blocks("theory.md", "derivation") for name in block.split()]
    assert sorted(shown) == sorted(name for name, _, _ in derivations())


@pytest.mark.parametrize("line", [*_commands("picture"), *_commands("answer"), *_commands("lesson")])
def test_commands_of_the_manual_can_be_parsed(line):
    program, *words = shlex.split(line)
    assert program == "oscsim"
    assert callable(parser_of_all()[words[0]].parse_args(words[1:]).run)


def test_every_command_that_draws_has_its_picture_explained():
    drawn = [shlex.split(body) for body in _blocks("plots.md", "picture")]
    files = [words[words.index("--plot") + 1] for words in drawn]
    assert len(set(files)) == len(files)
    draws = {name for name, sub in parser_of_all().items() if "--plot" in sub._option_string_actions}
    assert len(draws) > 10
    assert {words[1] for words in drawn} == draws


def test_every_command_is_in_the_manual():
    text = "\n".join(TEXT.values())
    missing = [command for command in COMMANDS if f"oscsim {command}" not in text]
    assert missing == []


def test_every_page_is_in_the_table_of_contents():
    entries = [name for block in _blocks("index.md", "toctree") for name in block.split()]
    assert len(entries) == len(set(entries))
    pages = {path.stem for path in [*PAGES, *DOCS.glob("*.ipynb")]} - {"index"}
    assert pages == {name for name in entries if not name.startswith("_made/")}


@pytest.mark.parametrize("name", [*TEXT, "../README.md", "../DEVELOPERS.md"])
def test_links_lead_somewhere(name):
    text = (DOCS / name).read_text("utf-8")
    prose = re.sub(r"```.*?```", "", text, flags=re.DOTALL)
    for target in re.findall(r"\]\(([^)\s]+)\)", prose):
        if not target.startswith(("http", "#")):
            assert ((DOCS / name).parent / target.split("#")[0]).exists(), target


def test_pages_that_state_the_version():
    assert f"## {oscsim.__version__}" in TEXT["changelog.md"]
    assert f"oscsim {oscsim.__version__}" in TEXT["citation.md"]
    assert f"version {oscsim.__version__}" in TEXT["citation.md"]


@pytest.mark.parametrize("study", STUDIES, ids=lambda path: path.stem)
def test_every_study_has_a_title_and_a_story(study):
    first, line, blank, *story = study.read_text("utf-8").split('"""')[1].splitlines()
    assert line == "=" * len(first)
    assert blank == ""
    assert len(" ".join(story).split()) >= 30
    assert re.search(r"workshop|apprentice|foreman", " ".join(story))
