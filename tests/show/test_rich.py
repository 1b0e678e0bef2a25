"""What a notebook shows: the text's own tables and sentences, escaped, for every kind of answer."""

import json
import re
from html.parser import HTMLParser

import pytest

import oscsim
from oscsim.text.sheet import Prose, Sheet, Table
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


def _parts(text):
    """All parts of a text that hold no others."""
    if isinstance(text, Sheet):
        for part in text.parts:
            yield from _parts(part)
    else:
        yield text


@pytest.mark.parametrize("kind", ASK)
def test_the_same_tables_and_words_as_the_text(kind):
    found = answer(kind)
    text, page = found.text(), Page(found._repr_html_())
    tables = [part for part in _parts(text) if isinstance(part, Table)]
    assert [table["caption"] for table in page.tables] == [table.caption for table in tables]
    for shown, told in zip(page.tables, tables, strict=True):
        assert [tuple(row) for row in shown["rows"]] == [told.heads, *told.lines]
    assert len(tables) >= 1
    assert sorted(set(str(text).replace("\n- ", "\n").split()) - set(page.words)) == []
    # nothing of it is an unstructured block of preformatted text
    assert not any("\n\n" in part for part in _parts(text) if not isinstance(part, Table))


@pytest.mark.parametrize("kind", ASK)
def test_a_console_shows_the_text(kind):
    assert repr(answer(kind)) == str(answer(kind)) == answer(kind).text()


@pytest.mark.parametrize("kind", ASK)
def test_units_stand_in_the_headings(kind):
    """A table of numbers says in caption, heads or row headings what they are in."""
    units = r"deg|s/day|\bms\b|\bh\b|%|N·mm|nJ|µJ|µg·cm|\bmm\b|rad/s|\bunit\b|odds"
    for table in (part for part in _parts(answer(kind).text()) if isinstance(part, Table)):
        told = " ".join([table.caption, *table.heads, *(line[0] for line in table.lines)])
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
        oscsim.compare([named, movement()], oscsim.Setting()),
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


def test_text_that_remembers_is_text():
    prose, table = Prose("one two " * 30), Table("t\n1", "t", ("",), (("1",),))
    both = Sheet([prose, table])
    assert max(len(line) for line in prose.splitlines()) <= 100
    assert both == f"{prose}\n\n{table}"
    assert isinstance(both + "\n", str)
    assert both.parts == (prose, table)
