"""What a notebook shows: the text's own tables and sentences, escaped, for every kind of answer."""

import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

import oscsim
from oscsim.show.bench_words import aligned
from oscsim.show.tables import grid, wrapped
from oscsim.text.sheet import Cell, Sheet, Table, items, sheet
from tests.answers.every import ASK, answer, movement

#: Elements without an end.
VOID = {"br", "meta"}


class Page(HTMLParser):
    """Tables with their captions and cells, all words, and whether every element was closed in order."""

    def __init__(self, text):
        super().__init__()
        self.open, self.tables, self.words, self.tags = [], [], [], set()
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attributes):
        self.tags.add(tag)
        if tag not in VOID:
            self.open.append(tag)
        if tag == "table":
            self.tables.append({"caption": "", "rows": []})
        if tag == "tr":
            self.tables[-1]["rows"].append([])
        if tag in ("th", "td"):
            self.tables[-1]["rows"][-1].append("")

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" in self.open:
            return
        if self.open and self.open[-1] in ("th", "td"):
            self.tables[-1]["rows"][-1][-1] += data
        elif self.open and self.open[-1] == "caption":
            self.tables[-1]["caption"] += data
        self.words += data.split()


def _parts(part):
    """All parts that hold no others."""
    if isinstance(part, Sheet):
        for inner in part.parts:
            yield from _parts(inner)
    else:
        yield part


@pytest.mark.parametrize("kind", ASK)
def test_the_same_tables_and_words_as_the_text(kind):
    found = answer(kind)
    text, page = found.text(), Page(found._repr_html_())
    tables = [part for part in _parts(found.sheet()) if isinstance(part, Table)]
    assert [table["caption"] for table in page.tables] == [table.caption for table in tables]
    for shown, told in zip(page.tables, tables, strict=True):
        assert [tuple(row) for row in shown["rows"]] == [
            told.heads,
            *(tuple(map(str, line)) for line in told.lines),
        ]
    assert len(tables) >= 1
    assert sorted(set(str(text).replace("\n- ", "\n").split()) - set(page.words)) == []
    # nothing of it is an unstructured block of preformatted text
    assert not any("\n\n" in str(part) for part in _parts(found.sheet()) if not isinstance(part, Table))


@pytest.mark.parametrize("kind", ASK)
def test_a_console_shows_the_text(kind):
    assert repr(answer(kind)) == str(answer(kind)) == answer(kind).text()


@pytest.mark.parametrize("kind", ASK)
def test_units_stand_in_the_headings(kind):
    """A table of numbers says in caption, heads or row headings what they are in."""
    units = r"deg|s/day|\bms\b|\bh\b|%|N·mm|nJ|µJ|µg·cm|\bmm\b|rad/s|\bunit\b|odds"
    for table in (part for part in _parts(answer(kind).sheet()) if isinstance(part, Table)):
        told = " ".join([table.caption, *table.heads, *(str(line[0]) for line in table.lines)])
        assert re.search(units, told), table.caption


def test_states_are_shown_in_words():
    stopped = oscsim.settle(movement(), oscsim.Setting(hours=(0.0, 5000.0)))
    cells = [cell for table in Page(stopped._repr_html_()).tables for row in table["rows"] for cell in row]
    assert cells.count("stops") == 3  # amplitude, rate, beat error


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "a & b", '"quoted" <b>', "</div></table>"])
def test_whatever_a_design_is_called(name):
    named = movement().with_({"name": name})
    for found in (
        oscsim.settle(named),
        replace(answer("Compare"), movements=(named, *answer("Compare").movements[1:])),
        oscsim.swap(named, [oscsim.Candidate(name=name, height_mm=1.3, thickness_mm=0.1, length_mm=400.0)]),
    ):
        html = found._repr_html_()
        assert "script" not in Page(html).tags
        assert "b" not in Page(html).tags
        assert Page(html).open == []


def test_the_origin_is_folded_away_at_the_end():
    found = answer("Rates")
    html = found._repr_html_()
    assert "http" not in html
    end = html[html.index("<details>") :]
    assert found.design_hash in end
    settings = re.search('<code class="lines">(.*)</code>', end)[1].replace("&quot;", '"')
    assert json.loads(settings) == found.origin()["settings"]


def test_one_sheet_three_looks():
    table = Table("Swing, deg", ("", "0 h", "24 h"), (("CH", "251.0", Cell("", "stops")),), even=True)
    page = sheet(
        wrapped("A watch"), table, items("Cautions", ["Eyes & hands."]), wrapped("It stops at 24 h.")
    )
    plain = "A watch\n\nSwing, deg\n      0 h   24 h\nCH  251.0  stops\n\n"
    plain += "Cautions\n- Eyes & hands.\n\nIt stops at 24 h."
    assert page.plain() == str(page) == plain
    # colour by what a part means: the cell that warns, not the same word in a sentence
    bold, warn, end = "\033[1m", "\033[33m", "\033[0m"
    coloured = plain.replace("A watch", f"{bold}A watch{end}").replace("  stops\n", f"  {warn}stops{end}\n")
    assert page.ansi() == coloured
    html = page.html()
    assert Page(html).tables == [
        {"caption": "Swing, deg", "rows": [["", "0 h", "24 h"], ["CH", "251.0", "stops"]]}
    ]
    assert "<li>Eyes &amp; hands.</li>" in html
    assert "<strong>A watch</strong>" in html


def test_a_wide_table_is_broken_into_blocks():
    table = grid("t", [f"{n} h" for n in range(25)], ["CH"], [[f"{n}" for n in range(25)]])
    lines = table.plain().split("\n")
    assert [line.split() for line in lines if line.startswith("CH")] == [
        ["CH", *map(str, range(10))], ["CH", *map(str, range(10, 20))], ["CH", *map(str, range(20, 25))],
    ]  # fmt: skip


def test_a_remark_keeps_its_column_straight():
    table = aligned(["Place", "swing"], [["CH", "251.0"], ["FH", Cell("9.0", "wanders")]])
    assert table.plain() == "Place        swing\nCH           251.0\nFH     9.0 wanders"
    assert re.sub(r"\033\[\d*m", "", table.ansi()) == table.plain()
