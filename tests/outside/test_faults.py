"""Every outside check can fail: deliberate faults (faults.py) are put into the library and the checks run again.

Each fault meets the checks named with it. `HYPOTHESIS_PROFILE=nightly` lets it meet the first test of every other
check as well, and prints what else failed (`-rP` shows it).
"""

from __future__ import annotations

import warnings

import pytest

from ..sizes import NIGHTLY
from .book import Book, Ledger, caught
from .conftest import FOUND, LAST, check_of
from .faults import FAULTS

#: So many tests of a check that is not named with a fault are tried by night.
A_FEW = 1


@pytest.fixture(scope="session")
def checks(request) -> dict[int, list[pytest.Function]]:
    """All tests of the outside checks by their number, also those that were deselected by name."""
    by_number: dict[int, list[pytest.Function]] = {}
    for item in request.config.stash[FOUND]:
        if item.path.stem not in LAST:
            by_number.setdefault(check_of(item), []).append(item)
    if len(by_number) < 2:
        pytest.skip("needs all outside checks: python -m pytest tests/outside -k fault")
    return by_number


def failure(items: list[pytest.Function]) -> str:
    """The first failure among the tests of one check, or nothing; what they enter is thrown away."""
    for item in items:
        arguments = dict(item.callspec.params) if hasattr(item, "callspec") else {}
        if "ledger" in item.fixturenames:
            arguments["ledger"] = Ledger(Book(), check_of(item))
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                item.function(**arguments)
        except (TypeError, AttributeError, NameError):  # a fault badly put in place, not one that was noticed
            raise
        except Exception as wrong:
            return f"{item.name}: {type(wrong).__name__}: {str(wrong).splitlines()[0] if str(wrong) else ''}"
    return ""


@pytest.mark.parametrize("name", FAULTS)
def test_caught(name, checks, book, monkeypatch):
    fault = FAULTS[name]
    fault.put(monkeypatch)
    asked = {number: checks[number] for number in fault.fails}
    if NIGHTLY:
        asked |= {number: items[:A_FEW] for number, items in checks.items() if number not in asked}
    failed = {number: found for number, items in sorted(asked.items()) if (found := failure(items))}
    monkeypatch.undo()
    print("\n" + name, *(f"  {number}: {why}" for number, why in failed.items()), sep="\n")
    assert set(fault.fails) <= set(failed), f"{fault.what}: not noticed by {set(fault.fails) - set(failed)}"
    caught(book, name, fault.what, fault.fails)


@pytest.mark.parametrize("number", [7, 9, 17, 24])
def test_nothing_fails_without_a_fault(number, checks):
    # the runner itself: the same calls as above pass as long as nothing is wrong
    assert failure(checks[number]) == ""
