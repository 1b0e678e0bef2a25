"""The page of outside checks: whole, and the committed one is what the tests make."""

from __future__ import annotations

from pathlib import Path

import pytest

from .book import Book, Ledger, reached
from .checks import TITLES
from .conftest import missing
from .page import differences, page
from .sources import DERIVED

PAGE = Path(__file__).parents[2] / "docs" / "outside-checks.md"


@pytest.fixture
def whole(request, book):
    """The book, when all of the outside checks ran."""
    if why := missing(request.config):
        pytest.skip(f"the book is not whole: {why}")
    return book


def test_every_check_has_its_row(whole):
    assert set(reached(whole)) == set(TITLES)


def test_every_check_that_reaches_the_library_was_made_to_fail(whole):
    made = {number for _, checks in whole.faults.values() for number in checks}
    assert {number for number, any_row in reached(whole).items() if any_row} - made == set()


def test_the_committed_page_is_what_the_tests_make(whole, request):
    if request.config.getoption("ledger", None) is not None:
        pytest.skip("a new page is being written")
    found = differences(PAGE.read_text(encoding="utf-8"), page(whole))
    assert not found, "run: python -m pytest tests/outside --ledger docs/outside-checks.md\n" + "\n".join(
        found
    )


# The book itself, on a book of its own.


@pytest.fixture
def own():
    return Ledger(Book(), 1)


def test_a_value_too_far_off_fails_and_is_named(own):
    with pytest.raises(AssertionError, match=r"check 1, a rate: 2\.5 s/day against 2\.386 \(by derivation\)"):
        own.value("a rate", 2.5, 2.386, "s/day", source=DERIVED, within=0.01, why="digits")
    with pytest.raises(AssertionError, match="nan"):
        own.value(
            "a rate", [2.386, float("nan")], 2.386, "s/day", source=DERIVED, relative=0.01, why="digits"
        )
    with pytest.raises(AssertionError, match="outside 1 to 2"):
        own.band("a band", [1.5, 2.1], 1.0, 2.0, source=DERIVED)
    with pytest.raises(AssertionError, match="outside 1 to 2"):
        own.band("a band", float("nan"), 1.0, 2.0, source=DERIVED)
    with pytest.raises(AssertionError, match="does not hold: it gains"):
        own.says("a sign", [True, False], "it gains", source=DERIVED)
    with pytest.raises(AssertionError, match="apart"):
        own.worst("points", float("nan"), 1e-8, source=DERIVED, why="")


def test_the_case_that_agrees_least_is_kept(own):
    for ours in (2.0, 2.2, 1.9):
        own.value("a rate", ours, 2.0, "s/day", source=DERIVED, within=0.5, why="")
        own.band("a band", ours, 1.0, 3.0, source=DERIVED)
    value, band = own.book.rows.values()
    assert (value.ours, value.cases) == (2.2, 3)
    assert (band.ours, band.cases) == ((1.9, 2.2), 3)


def test_pages_are_compared_to_rounding():
    line = "| rate | −0.802 | −0.80178 | 3.6 | within 1e-10 |"
    assert not differences(line, line.replace("−0.80178", "−0.80179").replace("1e-10", "1e-11"))
    for changed in ("−0.80278", "0.80178", "−8.0178", "about −0.80178"):
        assert differences(line, line.replace("−0.80178", changed))
    assert differences(line, line + "\n| one more |")
    assert not differences("| 8 or more |", "| 7.9 |")
    assert differences("| 8 or more |", "| 6.2 |")
