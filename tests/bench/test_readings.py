"""Readings files: what is understood, and that what is not is refused in one clear line."""

from __future__ import annotations

import math

import pytest

from oscsim.bench.diagnose import diagnose
from oscsim.errors import InputError
from oscsim.files import load
from oscsim.parts.balance import REFERENCE_C
from oscsim.slips.reading_files import load_readings
from oscsim.slips.readings import UNCERTAINTY, Reading, Readings, missing_places

HEAD = "position,hours,amplitude_deg,rate_s_per_day,beat_error_ms\n"


@pytest.fixture
def written(tmp_path):
    """Writes a readings file and returns its path."""

    def write(text, name="card.csv"):
        place = tmp_path / name
        place.write_text(text, "utf-8")
        return place

    return write


@pytest.fixture
def refused(written):
    """The one line with which a readings file is refused."""

    def read(text, name="card.csv"):
        with pytest.raises(InputError) as error:
            load_readings(written(text, name))
        message = str(error.value)
        assert "\n" not in message
        assert message.isprintable()
        assert len(message) < 500
        return message

    return read


def test_csv(written):
    found = load_readings(written(HEAD + "CH,0,251,+4,0.3\n12H,24,190.5,-6.5,0\n"))
    assert found.lift_angle_deg is None
    assert found.rows == (Reading("CH", 0.0, 251.0, 4.0, 0.3), Reading("12H", 24.0, 190.5, -6.5, 0.0))


@pytest.mark.parametrize(
    ("words", "symbol"),
    [
        ("CH", "CH"),
        ("fh", "FH"),
        ("dial up", "CH"),
        ("Dial-Down", "FH"),
        ("face up", "CH"),
        ("12 up", "12H"),
        ("3 o'clock up", "3H"),
        ("6h", "6H"),
        ("9_UP", "9H"),
    ],
)
def test_symbols_and_plain_words(written, words, symbol):
    # ISO 3158: CH dial up, FH dial down, nH hour n up
    assert load_readings(written(f"{HEAD}{words},0,251,4,0.3\n")).rows[0].position == symbol


def test_blanks_comments_spaces_and_order(written):
    text = (
        "# the harbour master's watch\n\nrate_s_per_day , position,hours, amplitude_deg\n"
        "  4 , CH , 0 , \n   # a day later\n,CH,24,210\n"
    )
    first, second = load_readings(written(text)).rows
    assert first.rate_s_per_day == 4.0
    assert math.isnan(first.amplitude_deg)
    assert second.amplitude_deg == 210.0
    assert math.isnan(second.rate_s_per_day)
    assert math.isnan(second.beat_error_ms)


def test_uncertainty_and_temperature(written):
    text = (
        "position,hours,amplitude_deg,amplitude_deg_uncertainty,rate_s_per_day,rate_s_per_day_uncertainty,"
        "temperature_c\nCH,0,250,2,4,,8\nFH,0,250,,4,0.5,\n"
    )
    first, second = load_readings(written(text)).rows
    assert (first.amplitude_deg_uncertainty, first.temperature_c) == (2.0, 8.0)
    assert first.rate_s_per_day_uncertainty == UNCERTAINTY["rate_s_per_day"]
    assert second.amplitude_deg_uncertainty == UNCERTAINTY["amplitude_deg"]
    assert (second.rate_s_per_day_uncertainty, second.temperature_c) == (0.5, REFERENCE_C)


def test_minus_signs_of_every_kind(written):
    rows = load_readings(written(f"{HEAD}CH,0,250,-4,\nFH,0,250,\N{MINUS SIGN}4,\n")).rows
    assert [row.rate_s_per_day for row in rows] == [-4.0, -4.0]


def test_toml(written):
    text = (
        'lift_angle_deg = 51\n[[reading]]\nposition = "dial up"\namplitude_deg = 250\n'
        '[[reading]]\nposition = "3H"\nhours = 24\nrate_s_per_day = -4.5\n'
    )
    place = written(text, "card.toml")
    found = load_readings(place)
    assert found.lift_angle_deg == 51
    assert found.rows == (Reading("CH", 0.0, 250.0), Reading("3H", 24.0, rate_s_per_day=-4.5))
    # what is said on the spot goes before the file
    assert load_readings(place, 49.0).lift_angle_deg == 49.0


def test_missing_places():
    rows = tuple(Reading(symbol, 0.0, 250.0) for symbol in ("CH", "12H", "9H"))
    assert missing_places(Readings(rows)) == ["FH", "3H", "6H"]


@pytest.mark.parametrize(
    ("row", "said"),
    [
        # units mixed up: turns or radians for degrees, seconds for milliseconds, an hour for a day
        ("CH,0,4.7,2,0.3", ["line 2", "amplitude_deg = 4.7 deg", "from 30 to 400 deg", "unit"]),
        ("CH,0,250,90000,0.3", ["line 2", "rate_s_per_day", "from -3600 to 3600 s/day", "unit"]),
        ("CH,0,250,2,300", ["beat_error_ms = 300.0 ms", "from 0 to 50 ms", "unit"]),
        # impossible
        ("CH,0,720,2,0.3", ["amplitude_deg = 720", "from 30 to 400 deg"]),
        ("CH,0,250,2,-0.3", ["beat_error_ms = -0.3 ms", "from 0 to 50 ms"]),
        ("CH,-3,250,2,0.3", ["hours = -3.0 h", "from 0 to 10000 h"]),
        ("CH,0,nan,2,0.3", ["amplitude_deg", "not a finite number"]),
        ("CH,0,inf,2,0.3", ["amplitude_deg", "not a finite number"]),
        ("CH,0,250 degC,2,0.3", ["amplitude_deg = '250 degC'", "not a number"]),
        ("CH,0,250,2 min,0.3", ["rate_s_per_day = '2 min'", "not a number"]),
        ("CH,0,,,", ["line 2", "nothing was read", "amplitude_deg, rate_s_per_day, beat_error_ms"]),
        ("CH,0,250,2,0.3,7", ["line 2", "more cells than headings"]),
        ("lug up,0,250,2,0.3", ["line 2", "position 'lug up'", "CH, FH, 12H, 3H, 6H, 9H"]),
        ("dail up,0,250,2,0.3", ["position 'dail up'", "did you mean 'dial up'"]),
        (",0,250,2,0.3", ["position ''"]),
    ],
)
def test_a_row_that_cannot_be(refused, row, said):
    message = refused(f"{HEAD}{row}\n")
    for part in said:
        assert part in message


def test_rates_in_minutes_a_day(refused, written):
    rates = zip(("CH", "FH", "12H", "3H"), ("0.15", "0.1", "-0.02", "0.2"), strict=True)
    text = HEAD + "".join(f"{symbol},0,250,{rate},0.3\n" for symbol, rate in rates)
    message = refused(text)
    for part in ("rate_s_per_day", "from -0.02 to 0.2 s/day", "min/day?", "rate_s_per_day_uncertainty"):
        assert part in message
    # a fine regulation read finely is nobody's mistake once that is said
    head, *rows = text.splitlines()
    stated = [f"{head},rate_s_per_day_uncertainty", *(f"{row},0.05" for row in rows)]
    assert len(load_readings(written("\n".join(stated))).rows) == 4


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        ("# nothing\n\n", "empty"),
        (HEAD, "no readings"),
        ("position,hours,amplitud\nCH,0,250\n", "did you mean 'amplitude_deg'"),
        ("position,hours,rate_min_per_day\nCH,0,0.1\n", "did you mean 'rate_s_per_day'"),
        ("position,hours,beat_eror_ms\nCH,0,0.1\n", "did you mean 'beat_error_ms'"),
        ("amplitude_deg,hours\n250,0\n", "heading position is missing"),
        ("position,amplitude_deg\nCH,250\n", "heading hours is missing"),
        ("position,hours,hours\nCH,0,0\n", "twice"),
    ],
)
def test_a_file_that_cannot_be(refused, text, said):
    assert said in refused(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("lift_angel_deg = 51\n", "did you mean 'lift_angle_deg'"),
        ("lift_angle_deg = 5\n[[reading]]\nposition = 'CH'\namplitude_deg = 250\n", "from 10 to 120 deg"),
        ("reading = 3\n", "must be tables [[reading]]"),
        ("[[reading]]\namplitude_deg = 250\n", "heading position is missing"),
        ("[[reading]]\nposition = 'CH'\namplitude_deg = true\n", "not a number"),
        ("[[reading]]\nposition = 'CH'\namplitude = 250\n", "did you mean 'amplitude_deg'"),
        ("[[reading]\n", "not TOML"),
    ],
)
def test_toml_that_cannot_be(refused, text, said):
    assert said in refused(text, "card.toml")


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(InputError, match="absent"):
        load_readings(tmp_path / "absent.csv")


@pytest.mark.parametrize(
    ("rows", "missing"),
    [
        ([Reading("12H", 0.0, 230.0, 3.0)], "CH"),
        ([Reading("CH", 0.0, 250.0), Reading("FH", 0.0, rate_s_per_day=3.0)], "12H"),
        ([Reading("3H", 0.0, rate_s_per_day=3.0), Reading("6H", 0.0, rate_s_per_day=1.0)], "CH and 12H"),
    ],
)
def test_too_few_readings_says_which_are_missing(rows, missing):
    with pytest.raises(InputError) as error:
        diagnose(load("dockhand"), Readings(tuple(rows), source="card.csv"))
    message = str(error.value)
    assert message.startswith("card.csv: ")
    assert f"missing is the amplitude in {missing}, " in message
    assert "at least 2" in message


@pytest.mark.parametrize("mark", [";", "\t"])
def test_cells_parted_as_other_spreadsheets_do(mark, tmp_path):
    """With a decimal comma, as they write it too."""
    rows = (("position", "hours", "amplitude_deg", "rate_s_per_day"), ("dial up", "0", "252,5", "+1,5"),
            ("12H", "24", "233", "-4.0"))  # fmt: skip
    path = tmp_path / "card.csv"
    path.write_text("\n".join(mark.join(row) for row in rows), "utf-8")
    first, second = load_readings(path).rows
    assert (first.position, first.hours, first.amplitude_deg, first.rate_s_per_day) == ("CH", 0.0, 252.5, 1.5)
    assert (second.position, second.amplitude_deg, second.rate_s_per_day) == ("12H", 233.0, -4.0)
