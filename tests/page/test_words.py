"""The page in its languages: one table, whole, and no word on the page that is not from it."""

import re
from importlib import resources

import numpy as np
import pytest

import oscsim
from oscsim.answers.budget import GROUPS
from oscsim.answers.measures import MEASURES
from oscsim.teaching import words as lesson_words
from oscsim.teaching.panels import _BY_CHOICE, _coil
from oscsim.teaching.words import LANGUAGES, TABLE, Words
from oscsim.units import POSITIONS
from oscsim.use.stretches import WOUND

FOLDER = resources.files("oscsim.show") / "lesson_page"
PLACES = re.compile(r"\{\w+\}")


def test_every_text_is_there_in_every_language():
    for key, row in TABLE.items():
        assert len(row) == len(LANGUAGES)
        assert all(text.strip() == text and text for text in row), key
        assert len({frozenset(PLACES.findall(text)) for text in row}) == 1, key


def test_what_scripts_and_page_ask_for_is_in_the_table():
    asked = set(re.findall(r"\{\{(\w+)\}\}", (FOLDER / "page.html").read_text("utf-8")))
    asked -= {"style", "style_hash", "script", "script_hash", "sliders", "questions", "data"}
    for file in FOLDER.iterdir():
        if file.name.endswith(".js"):
            asked |= set(re.findall(r'\bsay\("(\w+)"', file.read_text("utf-8")))
    assert len(asked) > 80
    assert asked <= set(TABLE)


def test_english_is_the_rest_of_the_programs():
    say = Words()
    for symbol, position in POSITIONS.items():
        assert say(f"position_{symbol}") == position.words
    for name in _BY_CHOICE:
        assert say(f"measure_{name}") == MEASURES[name].words
    for group in GROUPS:
        assert say(f"group_{group.replace(' ', '_')}") == group
    for life in WOUND:
        assert say(f"life_{life}") == life


#: The trade's word in German and French (sources in docs/page.md; others from memory of textbooks and dictionaries):
#: what it is, and a text that must use it.
TRADE = {
    "balance/part_balance": ("Unruh", "balancier"),
    "fork/part_fork": ("Gabel", "fourchette"),
    "pallet stones/at_work_entry": ("Palette", "palette"),
    "impulse pin/part_pin": ("Hebelstein", "cheville"),
    "guard finger/part_finger": ("messer", "dard"),
    "lock/slider_lock": ("Ruhe", "repos"),
    "draw/phase_unlocking_words": ("Anzug", "tirage"),
    "drop/group_drop": ("Fall", "chute"),
    "lift/phase_catch_up_words": ("Hebung", "levée"),
    "banking/part_banking": ("Begrenzung", "limitation"),
    "free arc/phase_free_out": ("Ergänzungsbogen", "arc supplémentaire ascendant"),
    "knocks/state_knocks": ("prellt", "rebat"),
    "rate/rate_head": ("Gang", "Marche"),
    "unbalance/slider_unbalance": ("Unwucht", "Balourd"),
    "barrel/hole_barrel": ("Federhaus", "barillet"),
    "third wheel/hole_third": ("Kleinbodenrad", "roue moyenne"),
    "arbor/measure_strip_stress": ("Federkern", "bonde"),
    "beat/energy_title": ("Halbschwingung", "alternance"),
    "gains/gains": ("vor", "avance"),
}


@pytest.mark.parametrize("term", TRADE)
def test_german_and_french_are_the_trades(term):
    row = TABLE[term.split("/")[1]]
    for word, text in zip(TRADE[term], row[1:], strict=True):
        assert word.lower() in text.lower()


def test_one_word_for_one_thing():
    """French has one word for lift and pallet stone, and German would say stone, impulse and drive of one thing."""
    german, french = (" ".join(row[column] for row in TABLE.values()).lower() for column in (1, 2))
    assert not {"eingangsstein", "ausgangsstein", "hebesteine", "gewinnt", "verliert {rate}"} & set(
        german.split()
    )
    assert "levée d'" not in french
    assert not re.search(r"\bbattement", french)


def test_french_keeps_its_signs_from_breaking_off():
    assert Words("fr")("ask_friction_words").endswith("voit-on\u202f?")


def test_no_other_language(refusal, tmp_path):
    with pytest.raises(oscsim.InputError, match="language"):
        oscsim.page(oscsim.load("dockhand"), language="nl")


def test_no_word_stands_outside_the_table(browser, tmp_path, monkeypatch):
    """With every letter of the table masked, no Latin word is left on the page but names and units."""
    parts = re.compile(r"(\{\w+\})")
    kept = ("decimal", "language")
    masked = {
        key: row
        if key in kept
        else tuple(
            "".join(p if parts.fullmatch(p) else re.sub("[^\\W\\d]", "ж", p) for p in parts.split(t))
            for t in row
        )
        for key, row in TABLE.items()
    }
    monkeypatch.setattr(lesson_words, "TABLE", masked)
    path = tmp_path / "masked.html"
    oscsim.page(oscsim.load("dockhand").with_({"story": ""})).save(path)
    browser.open(path)
    text = browser.soon(
        """for (const key of ["lock", "jewels", "friction", "torque", "node", "inertia"]) {
          document.getElementById("set-" + key).click();
          document.getElementById("show-" + key).click();
        }
        for (const select of document.querySelectorAll("main select, main .choices input")) {
          select.value = 0;
          select.dispatchEvent(new Event("input"));
        }
        const labels = [...document.querySelectorAll("[aria-label], [aria-valuetext]")].map(
          (e) => [e.getAttribute("aria-label"), e.getAttribute("aria-valuetext")]);
        const body = document.body.cloneNode(true);
        for (const hidden of body.querySelectorAll("script, noscript")) hidden.remove();
        return document.title + " " + body.textContent + " " + labels.flat().join(" ");"""
    )
    left = re.findall("[A-Za-z]{3,}", re.sub("Dockhand|Pilot|ISO|[0-9a-f]{12,}|null|min", " ", text))
    assert set(left) == set()
    assert browser.complaints() == []


#: Words of the rate map that stand on one another.
OVERLAPPING = """
    const words = [...document.querySelectorAll("#map text")].map((e) => [e.textContent, e.getBoundingClientRect()]);
    const found = [];
    words.forEach(([a, p], i) => words.slice(i + 1).forEach(([b, q]) => {
      const across = p.left < q.right && q.left < p.right;
      if (across && p.top + 2 < q.bottom - 2 && q.top + 2 < p.bottom - 2) found.push([a, b]);
    }));
    return found;"""


@pytest.mark.parametrize("language", ["de", "fr"])
def test_other_languages_open_and_fit(browser, tmp_path, language):
    path = tmp_path / f"{language}.html"
    oscsim.page(oscsim.load("dockhand"), language=language).save(path)
    for width, height in ((390, 844), (1366, 768)):
        browser.open(path, width=width, height=height)
        assert browser.soon("return document.documentElement.scrollWidth") <= width
        table = "const box = document.querySelector('.scroll'); return box.scrollWidth - box.clientWidth"
        assert browser.run(table) <= 0
        assert browser.run("return document.documentElement.lang") == language
        assert browser.soon(OVERLAPPING) == []
    bench = "const b = document.querySelector('.bench'); return b.scrollHeight - b.clientHeight"
    assert browser.run(bench) <= 0
    assert browser.run("return document.getElementById('value-lock').textContent") == "2,8°"
    assert browser.complaints() == []


@pytest.mark.parametrize("name", ["dockhand", "dinghy", "tidewaiter"])
def test_the_hairspring_that_is_said_to_be_wound_up_is_the_narrower_one(name):
    """By the spread of its turns about the staff, whichever way the strip winds outward."""
    movement, say = oscsim.load(name), Words()
    for variant in _coil(movement, say).variants:
        size = {d.name.split(",")[0]: float(np.hypot(d.x, d.y).mean()) for d in variant.drawings}
        assert size["wound up"] < size["at rest"] < size["unwound"]


def test_french_keeps_quotation_marks_and_units_together():
    say = Words("fr")
    assert "«\u00a0rebat\u00a0»" in say.texts["accuracy"]
    assert " %" not in Words("de").texts["hint_inertia"]
    assert "\u00a0:" in say.texts["energy_key"]
