"""Words for positions against ISO 3158: the symbol names the hour that is up, CH the dial up, FH the dial down."""

import math

import pytest

from oscsim.errors import InputError
from oscsim.setting import Setting
from oscsim.units import POSITIONS, position, positions_of

#: Direction in which a hand of the watch points, clockwise from straight up, by the word for it.
POINTS = {"up": 0.0, "right": 90.0, "down": 180.0, "left": 270.0}


@pytest.mark.parametrize("way", POINTS)
@pytest.mark.parametrize(("part", "hour"), [("crown", 3), ("pendant", 12)])
def test_crown_and_pendant_by_geometry(way, part, hour):
    """Hour h stands 30 h degrees clockwise of 12: with hour n up it points 30 (h - n) degrees from straight up.

    The watch is seen from its dial: the same on either wrist.
    """
    place = position(f"{part} {way}")
    n = int(place.symbol.removesuffix("H"))
    assert (30 * (hour - n)) % 360 == POINTS[way]
    assert math.degrees(place.hour_up) == pytest.approx(30 * n % 360)


@pytest.mark.parametrize(
    ("words", "symbol"),
    [
        ("DU", "CH"), ("dd", "FH"), ("CU", "3H"), ("CL", "6H"), ("CR", "12H"), ("PU", "12H"), ("PL", "3H"),
        ("PR", "9H"),
        ("Zifferblatt oben", "CH"), ("ZU", "FH"),
        ("Krone unten", "9H"), ("KO", "3H"), ("KL", "6H"), ("KR", "12H"),
        ("cadran en haut", "CH"), ("fond haut", "FH"), ("couronne à gauche", "6H"), ("Crown-Down", "9H"), ("12", "12H"),
    ],
)  # fmt: skip
def test_words_and_abbreviations(words, symbol):
    assert position(words).symbol == symbol


@pytest.mark.parametrize("word", ["CD", "cb", "PD"])
def test_what_means_two_things_is_asked_back(word):
    with pytest.raises(InputError, match="may be read in two ways, write"):
        position(word)


def test_what_is_accepted_is_listed():
    with pytest.raises(InputError, match=r"CH, FH, 12H, 3H, 6H, 9H, words such as 'dial up' or 'crown down'"):
        position("sideways")


def test_words_for_several():
    assert [p.symbol for p in positions_of(["all"])] == list(POSITIONS)
    assert [p.symbol for p in positions_of(["flat", "Vertical"])] == ["CH", "FH", "12H", "3H", "6H", "9H"]
    assert Setting(positions=("CH", "vertical")).positions == ("CH", "12H", "3H", "6H", "9H")
