"""Positions and units against ISO 3158, the SI and the calendar."""

import math

import pytest

from oscsim import POSITIONS, InputError, position, units

# Outside: ISO 3158:1976, symbols of the positions (docs/physics.md §1, checks of the trade no. 24).
# Dial tilt from horizontal and the hour that is up, in degrees: 30 a dial hour.
ISO_3158 = {
    "CH": ("dial up", 0, None),
    "FH": ("dial down", 180, None),
    "12H": ("12 up", 90, 0),
    "3H": ("3 up", 90, 90),
    "6H": ("6 up", 90, 180),
    "9H": ("9 up", 90, 270),
}


def test_the_six_positions():
    assert list(POSITIONS) == list(ISO_3158)
    for symbol, (words, tilt, up) in ISO_3158.items():
        place = POSITIONS[symbol]
        assert (place.symbol, place.words) == (symbol, words)
        assert math.degrees(place.tilt) == pytest.approx(tilt)
        assert math.isnan(place.hour_up) if up is None else math.degrees(place.hour_up) == pytest.approx(up)


@pytest.mark.parametrize("symbol", ISO_3158)
def test_symbols_and_words_in_any_case(symbol):
    words = ISO_3158[symbol][0]
    spellings = {
        symbol,
        symbol.lower(),
        words,
        words.upper(),
        words.replace(" ", "-"),
        words.replace(" ", "_"),
    }
    for spelling in spellings | {f"  {words} ", f" {symbol}\n"}:
        assert position(spelling) is POSITIONS[symbol]


@pytest.mark.parametrize(
    ("words", "symbol"),
    [("face up", "CH"), ("Face down", "FH"), ("12 o'clock up", "12H"), ("3 o'clock up", "3H"),
     ("6 O'CLOCK UP", "6H"), ("9 o'clock up", "9H")],
)  # fmt: skip
def test_other_plain_words(words, symbol):
    assert position(words).symbol == symbol


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("13H", "'3H'"),
        ("12Hx", "'12H'"),
        ("dail up", "'dial up'"),
        ("HC", ""),
        ("", ""),
        ("up", ""),
        ("CH FH", ""),
    ],
)
def test_unknown_positions_are_refused(name, near):
    with pytest.raises(InputError, match="must be one of CH, FH, 12H, 3H, 6H, 9H") as caught:
        position(name)
    assert repr(name) in str(caught.value)
    assert near in str(caught.value)


@pytest.mark.parametrize("name", [None, 12, True, ["CH"], math.nan, b"CH"])
def test_what_is_not_text_is_no_position(name):
    with pytest.raises(InputError, match="must be one of CH"):
        position(name)


def test_units_in_si():
    # Outside: 3rd CGPM 1901 (standard acceleration of free fall); SI prefixes; a day of 24 h of 3600 s
    assert units.G0 == 9.80665
    assert math.isclose(units.MG_CM2, 1e-6 * (1e-2) ** 2, rel_tol=1e-15)
    assert math.isclose(units.UG_CM, 1e-9 * 1e-2, rel_tol=1e-15)
    assert units.N_MM == units.MM == 1e-3
    assert (units.UM, units.MG, units.MPA, units.GPA) == (1e-6, 1e-6, 1e6, 1e9)
    assert (units.HOUR, units.DAY) == (3600.0, 24 * 3600.0)


@pytest.mark.parametrize(("text", "unit", "value"), [
    ("16 mg cm2", "mg·cm²", 16.0), ("16 mg·cm²", "mg·cm²", 16.0), ("12um", "µm", 12.0), ("7 N mm", "N·mm", 7.0),
    ("1.2e-6", "1/rad", 1.2e-6), ("2900 MPa", "MPa", 2900.0),
])  # fmt: skip
def test_a_unit_may_be_typed_as_a_keyboard_has_it(text, unit, value):
    assert units.trade_number("x", text, unit) == value
