"""Lists as spreadsheets save them, and TOML files: what is understood, and what is refused in one clear line.

Sources: RFC 4180 for quoting; that spreadsheets write ``sep=;`` first, semicolons and decimal commas where the language
has them, UTF-16 for "Unicode text" and Latin-1 in older ones is common practice without source.
"""

from __future__ import annotations

import csv
import io

import numpy as np
import pytest

from oscsim.answers.candidates import read_candidates
from oscsim.commands.compare import read_groups
from oscsim.errors import InputError
from oscsim.output import csv_text, json_text
from oscsim.slips.reading_files import load_readings
from oscsim.spreadsheet import column, read_rows, rows_of
from oscsim.toml import tables_of

KNOWN = ("name", "height_mm", "torque_n_mm")
PLAIN = "name,height_mm,torque_n_mm\nlong pier,1.25,-3.5\nquay,0.9,\n"


@pytest.mark.parametrize(
    "content",
    [
        PLAIN.encode(),
        PLAIN.replace(",", "\t").encode(),
        PLAIN.replace(",", ";").encode(),
        PLAIN.replace(",", ";").replace(".", ",").encode(),
        PLAIN.replace(",", "\t").replace(".", ",").encode(),
        b"sep=;\n" + PLAIN.replace(",", ";").replace(".", ",").encode(),
        b"sep=,\r\n" + PLAIN.replace("\n", "\r\n").encode(),
        b"sep=|\n" + PLAIN.replace(",", "|").replace(".", ",").encode(),
        PLAIN.replace("\n", "\r").encode(),
        PLAIN.encode("utf-8-sig"),
        PLAIN.encode("utf-16"),
        b"\xef\xbb\xbfsep=;\n" + PLAIN.replace(",", ";").encode(),
        ("# drawer, the upper one; 2 springs\n\n" + PLAIN.replace("quay", " # no\n quay ")).encode(),
        PLAIN.replace("name", " Name ").replace("height_mm", "HEIGHT_MM").encode(),
        PLAIN.replace("\n", ",,\n").encode(),
        (PLAIN + ",,\n  \n").encode(),
        PLAIN.replace("-3.5", "\N{MINUS SIGN}3.5").replace("0.9,", "0.9,\N{EN DASH}").encode(),
        PLAIN.replace("long pier", '"long pier"').replace("1.25", '"1.25"').encode(),
    ],
)
def test_the_same_list_however_it_was_saved(content, tmp_path):
    path = tmp_path / "list.csv"
    path.write_bytes(content)
    rows = read_rows(path, "a list", KNOWN, ("name",))
    assert [row.words("name") for row in rows][:1] == ["long pier"]
    assert rows[-1].words("name") == "quay"
    np.testing.assert_array_equal(column(rows, "height_mm"), [1.25, 0.9])
    np.testing.assert_array_equal(column(rows, "torque_n_mm"), [-3.5, np.nan])


def test_latin_1_and_words_with_commas(tmp_path):
    path = tmp_path / "list.csv"
    path.write_bytes("name;height_mm\nKüste, 2;1,5\n".encode("latin-1"))
    (row,) = read_rows(path, "a list", KNOWN)
    assert (row.words("name"), row.number("height_mm")) == ("Küste, 2", 1.5)


def test_where_a_row_stands_and_units_behind_numbers():
    (row,) = rows_of("# one\n\nname,height_mm\n\nquay,1.5 mm\n", "here.csv", KNOWN)
    assert row.where == "here.csv, line 5"
    assert row.number("height_mm", "m", "mm") == 1.5
    with pytest.raises(InputError, match=r"here.csv, line 5: height_mm = '1.5 mm': not a number"):
        row.number("height_mm")


@pytest.mark.parametrize("cell", ["1.234,5", "1_0", "1e", "nan", "inf", "0x1", "1,5"])
def test_what_is_no_number_is_not_made_one(cell):
    (row,) = rows_of(f'name,height_mm\nquay,"{cell}"\n', "list", KNOWN)
    with pytest.raises(InputError, match=r"line 2: height_mm = .*not a"):
        row.number("height_mm")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "list: empty, needs the headings name"),
        ("sep=;\n# nothing\n", "empty"),
        ("name,hight_mm\n", "unknown heading 'hight_mm'; did you mean 'height_mm'"),
        ("name;height_mm\n1;2;3\n", "list, line 2: more cells than headings"),
        ("name,Name\n", "heading name stands there twice"),
        ("height_mm\n1\n", "heading name is missing; needed are name"),
        ("name,,height_mm\n", "unknown heading ''"),
        ('name\n"' + "a" * 200_000 + '"\n', "not CSV"),
    ],
)
def test_a_list_that_cannot_be(text, said):
    with pytest.raises(InputError) as error:
        rows_of(text, "list", KNOWN, ("name",))
    assert said in str(error.value)


def test_springs_and_readings_are_read_alike(tmp_path):
    springs = tmp_path / "springs.csv"
    springs.write_text(
        "sep=;\n# drawer\nname;height_mm;thickness_mm;length_mm\nlong;1,25;0,105;380\n", "utf-16"
    )
    (found,) = read_candidates(springs)
    assert (found.name, found.height_mm, found.thickness_mm, found.length_mm) == ("long", 1.25, 0.105, 380.0)
    card = tmp_path / "card.csv"
    card.write_text("sep=;\n# drawer\nPosition;Hours;Amplitude_deg\nCH;0;251,5\n", "latin-1")
    assert load_readings(card).rows[0].amplitude_deg == 251.5


@pytest.mark.parametrize("read", [read_groups, load_readings])
def test_no_reader_is_slow_over_dots(read, tmp_path, monkeypatch):
    # tomllib needs time as the square of the dots, some 4 s for these: it must not see them
    monkeypatch.setattr("tomllib.loads", lambda text: pytest.fail("parsed"))
    path = tmp_path / "dots.toml"
    path.write_text(f"{'a.' * 16_000}a = 1\n", "utf-8")
    with pytest.raises(InputError, match="nested too deeply"):
        read(path)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("lock_deg = 1,5", "line 2, 'lock_deg = 1,5'; a decimal comma, write a point"),
        ("lock_deg = 1.5 deg", "a number with its unit"),
        ("name = dinghy", "words stand in quotation marks"),
        ('name = "dinghy', "a quotation mark is missing"),
        ("name =", "no value after the ="),
        ("just words", "a line is a key, = and a value"),
    ],
)
def test_toml_says_the_line_and_what_is_often_wrong_with_it(line, said):
    with pytest.raises(InputError) as error:
        tables_of(f"[escapement]\n{line}\nother = 1\n")
    assert said in str(error.value)
    assert "line 2" in str(error.value)


def test_written_in_one_way():
    rows = [{"a": 1.0, "b": np.nan}, {"a": np.int64(2), "c": 'say "x", y'}]
    assert list(csv.DictReader(io.StringIO(csv_text(rows)))) == [
        {"a": "1.0", "b": "", "c": ""},
        {"a": "2", "b": "", "c": 'say "x", y'},
    ]
    assert json_text({"a": np.array([1.0, np.inf])}) == '{\n "a": [\n  1.0,\n  null\n ]\n}\n'
