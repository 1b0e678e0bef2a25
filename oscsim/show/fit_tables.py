"""A fitted design as text: the numbers before and after, and how the readings agree."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from oscsim.show.bench_words import READ_TITLES, aligned, amount, as_sure, between, place
from oscsim.show.style import headline
from oscsim.show.tables import wrapped
from oscsim.slips.readings import READ
from oscsim.text.phrases import listed
from oscsim.text.sheet import Sheet, sheet

if TYPE_CHECKING:
    from oscsim.bench.fit import Fit


def fit_table(answer: Fit) -> Sheet:
    """The whole page."""
    heading = (
        f"{headline(answer.design)}: {len(answer.numbers)} number{'s' * (len(answer.numbers) > 1)} fitted to "
        f"{len(answer.compared)} values read"
        + (f" of {len(answer.examples)} examples" if len(answer.examples) > 1 else "")
    )
    rows = [
        [
            n.name,
            f"{n.before:.5g}",
            as_sure(n.value, 0.5 * (n.high - n.low)),
            between(n.low, n.high, lambda end, n=n: as_sure(end, 0.5 * (n.high - n.low))),  # type: ignore[misc]
            n.unit or "–",
        ]
        for n in answer.numbers
    ]
    numbers = aligned(["Number", "design", "fitted", "90 % interval", "unit"], rows)
    tables = []
    for kind in READ:
        lines = [
            [
                (f"{c.example}: " if len(answer.examples) > 1 else "") + place(c.position, c.hours),
                *(amount(kind, value) for value in (c.value, c.before, c.after)),
            ]
            for c in answer.compared
            if c.kind == kind
        ]
        if lines:
            tables.append(aligned([READ_TITLES[kind], "read", "design", "fitted"], lines))
    return sheet(heading, numbers, *tables, wrapped(" ".join(fit_sentences(answer))))


def fit_sentences(answer: Fit) -> list[str]:
    """How well it fits, what was not learnt, what stands in for what."""
    count = len(answer.compared)
    off = math.sqrt(answer.misfit / count)
    said = [
        f"The fitted design is off by {off:.2g} times the readings' uncertainty on average"
        + ("; about 1 is as good as the readings." if off < 1.5 else ": something not fitted is wrong too.")
    ]
    if any(c.kind == "rate_s_per_day" for c in answer.compared):
        said.append("Rates are compared about their own mean unless the regulation is fitted.")
    if unlearnt := [n.name for n in answer.numbers if n.unlearnt]:
        them = "it" if len(unlearnt) == 1 else "them"
        said.append(f"The readings say nothing about {listed(unlearnt)}: leave {them} as drawn.")
    said_pairs: set[frozenset[str]] = set()
    for n in answer.numbers:
        others = [o for o in n.alike if frozenset((n.name, o)) not in said_pairs]
        said_pairs |= {frozenset((n.name, o)) for o in others}
        if others:
            said.append(f"{n.name} and {listed(others)} stand in for one another: measure one of them.")
    if answer.apart is not None:
        low, middle, high = answer.apart
        said.append(
            f"Examples of this kind lie {middle:.2g} times as far apart as the design's spreads say, {low:.2g} to "
            f"{high:.2g} (90 %)."
        )
    if not answer.converged:
        said.append("The search did not come to an end: take the numbers as rough.")
    said.append(
        "The intervals allow what was not fitted the spread of sound examples, and the instrument its errors. Fit only "
        "movements known to be in order: a fault fitted into a design is taken for health ever after."
    )
    return said
