"""The outside checks write a book while they run: ``python -m pytest tests/outside --ledger docs/outside-checks.md``.

Every test of this directory carries ``pytest.mark.check(number)`` (checks.py). The page is written, or held to the
committed one (test_page.py), only when all of them ran and passed; part of them makes no page.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from .book import Book, Ledger
from .checks import TITLES
from .page import page

HERE = Path(__file__).parent
#: Tests about the book itself come last, in this order.
LAST = ("test_faults", "test_page")
#: Every test of this directory that was found, before any was deselected by name.
FOUND = pytest.StashKey[list[pytest.Function]]()
BOOK = pytest.StashKey[Book]()
PASSED = pytest.StashKey[set[str]]()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--ledger", metavar="FILE", type=Path, help="write the page of outside checks (tests/outside)"
    )


def pytest_configure(config: pytest.Config) -> None:
    config.stash[BOOK], config.stash[PASSED], config.stash[FOUND] = Book(), set(), []


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    def late(item: pytest.Item) -> int:
        here = item.path.parent == HERE and item.path.stem in LAST
        return LAST.index(item.path.stem) + 1 if here else 0

    items.sort(key=late)
    here = [item for item in items if isinstance(item, pytest.Function) and item.path.parent == HERE]
    config.stash[FOUND] = here
    for item in here:
        if not late(item):
            check_of(item)


def check_of(item: pytest.Function) -> int:
    """The number of a test's check; a test without one, or with one unknown, is an error."""
    marks = list(item.iter_markers("check"))
    number = marks[0].args[0] if marks else None
    if number not in TITLES:
        raise pytest.UsageError(f"{item.nodeid}: needs pytest.mark.check(number) with a number of checks.py")
    return int(number)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item):  # type: ignore[no-untyped-def]
    report = yield
    if report.when == "call" and report.passed:
        item.config.stash[PASSED].add(item.nodeid)
    return report


def missing(config: pytest.Config) -> str:
    """Why the book is not whole, or nothing."""
    found = config.stash[FOUND]
    if any("::" in argument for argument in config.invocation_params.args):
        return "single tests were asked for"
    files = {item.path.name for item in found}
    if absent := {path.name for path in HERE.glob("test_*.py")} - files:
        return f"not run: {', '.join(sorted(absent))}"
    wanted = {item.nodeid for item in found if item.path.stem != "test_page"}
    if left := wanted - config.stash[PASSED]:
        return f"{len(left)} of {len(wanted)} outside checks did not run or did not pass"
    return ""


def pytest_sessionfinish(session: pytest.Session) -> None:
    target = session.config.getoption("ledger", None)
    if target is None or session.config.option.collectonly:
        return
    if why := missing(session.config):
        print(f"\n{target}: not written, {why}")
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
        return
    temporary = target.with_name(target.name + ".tmp")
    temporary.write_text(page(session.config.stash[BOOK]), encoding="utf-8")
    os.replace(temporary, target)
    print(f"\nwrote {target}: {len(session.config.stash[BOOK].rows)} rows")


@pytest.fixture
def book(request: pytest.FixtureRequest) -> Book:
    """What the run has entered so far."""
    return request.config.stash[BOOK]


@pytest.fixture
def ledger(request: pytest.FixtureRequest, book: Book) -> Ledger:
    """Where a test enters its comparisons, under the number of its check."""
    return Ledger(book, check_of(request.node))
