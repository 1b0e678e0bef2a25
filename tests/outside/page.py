"""The page of outside checks, printed from the book of a whole run; and whether two pages say the same."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterable

from .book import Book, Row, reached
from .checks import TITLES, TOPICS
from .sources import DERIVED, MEMORY, PRACTICE

#: Agreement better than this is rounding, and differs from machine to machine: it is not printed.
ROUNDING = 1e-8
#: Smaller than this it is nought.
NOUGHT = 1e-12

TOP = """\
# Outside checks

What the numbers of oscsim were checked against, and how closely they agree. Made by the tests that run:

```sh
python -m pytest tests/outside --ledger docs/outside-checks.md
```

Do not edit it; a test holds this page to what the tests find. Rates are in s/day, a gain positive; amplitudes are from
the dead point to one side.

How to read a row. *Formula* is first-order theory as oscsim prints it, *engine* the motion solved, *whole watch* a
design settled with its escapement, one of tests/outside/reference or a bundled one. *Outside* is the value of the
source, *ours* what the library computes, *digits* how many leading digits of the two agree: -log10 of the difference
over the outside value; of eight or more, rounding decides. *Allowed* is the tolerance of the test, which fails beyond
it, and the last column says why it is what it is. Where a row stands for several cases, their number follows what is
checked, and the numbers are those of the case that agrees least. A band holds every case between its ends. *By
derivation* means that the source is the mathematics of the equation of motion, worked out by scipy or mpmath and not by
the library. *Common practice* has no source, and *from memory* was not looked up: both are used as bands.
"""
FAULTS = """\
## Can these checks fail?

Each fault below was put into the library on purpose, and the checks named were run again. All of them failed, as they
should; the tests hold that on every run, and that every check that reaches the library is made to fail by one fault at
least.

| fault | failed under it |
| --- | --- |
"""


def page(book: Book) -> str:
    """The whole page, Markdown."""
    parts = [TOP, _summary(book)]
    for topic, checks in TOPICS.items():
        parts.append(f"## {topic}\n")
        for number, title in checks.items():
            rows = [row for row in book.rows.values() if row.check == number]
            parts.append(f"### {number}. {title[0].upper()}{title[1:]}\n\n{_tables(rows)}")
    parts.append(FAULTS + _faults(book))
    parts.append(_sources(book))
    return "\n".join(parts)


def _summary(book: Book) -> str:
    """How much is held against what, and what is not reached."""
    rows = list(book.rows.values())
    held = [row for row in rows if row.kind not in ("not reached", "apart")]
    apart = sorted({row.check for row in rows if row.kind == "apart"})
    silent = [f"{n} ({TITLES[n]})" for n, any_row in sorted(reached(book).items()) if not any_row]
    lines = [
        f"{len(held)} rows hold {sum(row.cases for row in held)} comparisons, under {len(TITLES)} numbers; 1 to 30 are "
        "the list that the library was begun with."
    ]
    if apart:
        lines.append(
            f"Under {_listed(map(str, apart))} something of ours stands apart from its source; it says why."
        )
    if silent:
        lines.append(
            f"Nothing in the library can be held against {_listed(silent)}; the reasons stand there."
        )
    return "\n".join(textwrap.fill(line, 120) for line in lines) + "\n"


def _listed(words: Iterable[str]) -> str:
    words = list(words)
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]]))


def _tables(rows: Iterable[Row]) -> str:
    """The rows of one check: values first, then bands, statements, and what is not reached."""
    rows = list(rows)
    out = []
    values = [row for row in rows if row.kind in ("value", "worst")]
    if values:
        out.append(
            _table(
                ("what", "outside", "ours", "unit", "digits", "allowed", "source", "why so much is allowed"),
                [(_what(r), *_numbers(r), str(r.source), r.why) for r in values],
            )
        )
    bands = [row for row in rows if row.kind == "band"]
    if bands:
        out.append(
            _table(
                ("what", "band", "ours", "unit", "source", "remark"),
                [(_what(r), _span(r.outside), _span(r.ours), r.unit, str(r.source), r.why) for r in bands],
            )
        )
    said = [row for row in rows if row.kind == "says"]
    if said:
        out.append(
            _table(
                ("what", "the source says", "ours", "source", "remark"),
                [(_what(r), str(r.outside), str(r.ours), str(r.source), r.why) for r in said],
            )
        )
    apart = [row for row in rows if row.kind == "apart"]
    if apart:
        out.append(
            _table(
                ("stands apart from its source", "band", "ours", "unit", "source", "why it is left so"),
                [(_what(r), _span(r.outside), _span(r.ours), r.unit, str(r.source), r.why) for r in apart],
            )
        )
    absent = [row for row in rows if row.kind == "not reached"]
    if absent:
        out.append(
            _table(
                ("not reached", "the source says", "source", "why not"),
                [(r.what, str(r.outside), str(r.source), r.why) for r in absent],
            )
        )
    return "\n".join(out)


def _table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    lines = [head, ("---",) * len(head), *rows]
    return "".join("| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |\n" for line in lines)


def _what(row: Row) -> str:
    return row.what + (f" ({row.cases} cases)" if row.cases > 1 else "")


def _numbers(row: Row) -> tuple[str, str, str, str, str]:
    """Outside, ours, unit, digits, allowed."""
    if row.kind == "worst":
        assert isinstance(row.ours, float)
        return "", f"within {_ceiling(row.ours)}", row.unit, "", _short(row.allowed)
    assert isinstance(row.outside, float)
    assert isinstance(row.ours, float)
    outside, ours = (0.0 if abs(value) < NOUGHT else value for value in (row.outside, row.ours))
    apart, size = abs(ours - outside), abs(outside)
    written = repr(outside).removesuffix(".0")
    given = (
        len(re.sub(r"\D|e.*", "", written)) <= 13
    )  # typed from a source, not worked out: shown as it stands there
    if apart <= ROUNDING * size or apart == 0.0:
        digits = f"{-math.log10(ROUNDING):.0f} or more" if size > 0.0 else ""
        decimals = _decimals(written) if given else 8 - math.floor(math.log10(size))
    else:
        digits = f"{max(-math.log10(apart / size), 0.0):.1f}" if size > 0.0 else ""
        decimals = max(_decimals(written) if given else 0, 1 - math.floor(math.log10(apart)))
    allowed = _short(row.allowed) if row.relative is None else f"{_short(row.relative)} of it"
    outside_text = _minus(written) if given and "e" not in written else _number(outside, decimals)
    return outside_text, _number(ours, decimals), row.unit, digits, allowed


def _short(tolerance: float) -> str:
    """A tolerance, two digits: 1e-5, 0.002."""
    return re.sub(r"e-0", "e-", f"{tolerance:.2g}").replace("0.0001", "1e-4")


def _minus(text: str) -> str:
    return "−" + text[1:] if text.startswith("-") else text


def _decimals(text: str) -> int:
    """Decimals of a number as it was written down."""
    return len(text.partition(".")[2]) if "e" not in text else 0


def _number(value: float, decimals: int) -> str:
    if value == 0.0:
        return "0"
    if not 1e-4 <= abs(value) < 1e7:
        return _minus(re.sub(r"e-0", "e-", f"{value:.6g}"))
    return _minus(f"{value:.{max(min(decimals, 13 - len(str(int(abs(value))))), 0)}f}")


def _span(ends: object) -> str:
    assert isinstance(ends, tuple)
    low, high = (_minus(f"{end:.4g}") for end in ends)
    return low if low == high else f"{low} to {high}"


def _ceiling(value: float) -> str:
    """The power of ten above it: the last digits of such a departure are rounding."""
    return f"1e{math.ceil(math.log10(max(value, 1e-15))):d}"


def _faults(book: Book) -> str:
    return "".join(f"| {what} | {', '.join(map(str, checks))} |\n" for what, checks in book.faults.values())


def _sources(book: Book) -> str:
    used = {row.source.short: row.source.full for row in book.rows.values()}
    first = [s.short for s in (DERIVED, PRACTICE, MEMORY) if s.short in used]
    rest = sorted(name for name in used if name not in first)
    note = "Those marked *looked up* were read again for this page; the others are as the list of checks gives them."
    return f"## Sources\n\n{note}\n\n" + "".join(f"- **{name}**: {used[name]}\n" for name in [*first, *rest])


NUMBER = re.compile(r"[-−]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")


def differences(one: str, other: str) -> list[str]:
    """Lines in which two pages differ by more than rounding on another machine does."""
    found = []
    a, b = (text.replace("| 8 or more |", "| 8.0 |").splitlines() for text in (one, other))
    if len(a) != len(b):
        found.append(f"{len(a)} lines against {len(b)}")
    for left, right in zip(a, b, strict=False):
        same_words = NUMBER.sub("#", left) == NUMBER.sub("#", right)
        if not (same_words and all(map(_alike, NUMBER.findall(left), NUMBER.findall(right)))):
            found.append(f"{left}\n  against\n{right}")
    return found


def _alike(one: str, other: str) -> bool:
    a, b = (float(text.replace("−", "-")) for text in (one, other))
    if max(abs(a), abs(b)) < 1e-10:  # rounding
        return True
    if max(abs(a), abs(b)) < 1e-6:  # what is left of a method: its power of ten at most
        return a == b or (a * b > 0.0 and 1e-2 <= a / b <= 1e2)
    count_of_digits = all(re.fullmatch(r"\d\.\d", text) for text in (one, other))
    return math.isclose(a, b, rel_tol=1e-4, abs_tol=0.1001 if count_of_digits else 1e-6)
