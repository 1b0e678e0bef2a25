"""The diagnosis as a page of text: verdict, readings against their bands, causes, margin, next reading, cautions."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from oscsim.show.bench_words import (
    CAUTIONS,
    READ_TITLES,
    READ_WORDS,
    SHORT,
    UNITS,
    aligned,
    amount,
    change,
    estimate,
    interval,
    listed,
    odds,
    place,
    spoken_place,
)
from oscsim.show.style import headline
from oscsim.show.tables import wrapped
from oscsim.slips.readings import READ
from oscsim.text.sheet import Cell, Part, Sheet, Words, close, items, sheet

if TYPE_CHECKING:
    from oscsim.bench.findings import Cause, Diagnose, Judged

#: A reading whose weight falls below this is named as doubtful.
_DOUBTED = 0.5
_SILENT = "the readings say nothing about it"
#: Alone it would explain much, beside the others nothing is left for it.
_OPEN = "left open beside the others"


def diagnose_table(answer: Diagnose) -> Sheet:
    """The whole page."""
    told = answer.readings.lift_angle_deg
    lift = "the design's own lift angle" if told is None else f"a lift angle of {told:g} deg"
    rows = len(answer.readings.rows)
    heading = f"{headline(answer.design)}: diagnosis from {rows} rows of readings, instrument told {lift}"
    parts: list[str | Part] = [
        heading,
        wrapped(answer.verdict),
        judged_text(answer),
        causes_text(answer),
        wrapped(margin_sentence(answer)),
        wrapped(next_sentence(answer)),
    ]
    parts += [wrapped(remark) for remark in remarks(answer)]
    parts.append(items("Cautions", CAUTIONS))
    return sheet(*parts)


def judged_rows(answer: Diagnose, kind: str) -> list[list[Words]]:
    """Place, value, band, judgement and how far outside, for one kind of reading."""
    return [
        [
            place(j.position, j.hours),
            amount(kind, j.value),
            f"{amount(kind, j.low)} to {amount(kind, j.high)}",
            _judgement(j),
            amount(kind, j.predicted),
        ]
        for j in answer.judged
        if j.kind == kind
    ]


def judged_heads(answer: Diagnose) -> list[str]:
    """Heads of the columns beside the place."""
    return ["read", "such, 90 %" if answer.movement.filled else "sound, 90 %", "", "all causes fitted"]


def judged_text(answer: Diagnose) -> Sheet:
    """Every kind of reading against the bands of sound examples."""
    tables = []
    for kind in READ:
        if rows := judged_rows(answer, kind):
            heads = [READ_TITLES[kind], *judged_heads(answer)]
            tables.append(aligned(heads, rows, left=(0, 3)))
    return sheet(*tables)


def _judgement(j: Judged) -> Words:
    if j.judgement == "inside":
        return "inside"
    by = amount("amplitude_deg" if j.kind == "amplitude_deg" else "beat_error_ms", j.outside_by)
    return Cell("", f"{j.judgement} by {by} {UNITS[j.kind]}")


CAUSE_HEADS = ("Cause", "estimate", "90 % interval", "odds for it")


def cause_row(cause: Cause) -> list[str]:
    """One cause as cells of the table with ``CAUSE_HEADS``."""
    if cause.unlearnt:
        return [SHORT[cause.name], "–", _OPEN if cause.found else _SILENT, odds(cause.evidence)]
    at = f" at {cause.direction_deg:.0f} deg" if cause.direction_deg is not None else ""
    return [
        f"{SHORT[cause.name]}, less than drawn" if cause.less and cause.evidence > 0.0 else SHORT[cause.name],
        estimate(cause.name, cause.unit, cause.estimate) + at,
        interval(cause.name, cause.unit, cause.low, cause.high),
        odds(cause.evidence),
    ]


ODDS_NOTE = (
    "Per cent and times are of the design's value. Odds: how much better the readings are explained with the cause "
    "than without it; 10 to 1 and more counts as found."
)


def causes_text(answer: Diagnose) -> Sheet:
    """The causes in order of evidence, and which of them look the same."""
    rows = [cause_row(cause) for cause in answer.causes]
    parts: list[Part] = [aligned(CAUSE_HEADS, rows, title="Causes in order of evidence"), wrapped(ODDS_NOTE)]
    if alike := alike_sentence(answer):
        parts.append(wrapped(alike))
    return close(*parts)


def alike_sentence(answer: Diagnose) -> str:
    """Which causes these readings cannot tell apart, in words; each pair once."""
    said: set[frozenset[str]] = set()
    clauses = []
    for cause in answer.causes:
        others = [o for o in cause.indistinguishable_from if frozenset((cause.name, o)) not in said]
        said |= {frozenset((cause.name, other)) for other in others}
        if others:
            clauses.append(f"{SHORT[cause.name]} from {listed([SHORT[o] for o in others], 'or')}")
    return f"These readings cannot tell {'; nor '.join(clauses)}." if clauses else ""


def margin_sentence(answer: Diagnose) -> str:
    """Where the floor lies and what is left above it."""
    if not math.isfinite(answer.floor_deg):
        return (
            "The vertical positions of this design never keep within the tolerated spread: it has no floor."
        )
    if answer.floor_is_least:
        why = "" if answer.movement.balance.unbalance_ug_cm else (
            " It is drawn without want of poise; oscsim band --unbalance tells a floor for some."
        )  # fmt: skip
        return (
            f"Down to {answer.floor_deg:.0f} deg dial up, the lowest computed, the vertical positions of this design "
            f"keep within what is tolerated, so it has no floor above that.{why}"
        )
    floor = f"The design's floor is {answer.floor_deg:.0f} deg of true amplitude dial up"
    if not math.isfinite(answer.margin_deg):
        return f"{floor}; as fitted the movement has no steady amplitude there when fully wound."
    if answer.margin_deg < 0.0:
        return f"{floor}. Fully wound, as fitted, this movement lies {-answer.margin_deg:.0f} deg below it."
    return (
        f"{floor}: below it the vertical positions part by more than tolerated. Fully wound, as fitted, this movement "
        f"has {answer.margin_deg:.0f} deg to spare and keeps above the floor for {answer.margin_hours:.0f} h."
    )


def next_sentence(answer: Diagnose) -> str:
    """What to read next and why, in words."""
    best = answer.following
    verb = "Read again" if best.again else "Read next"
    what = f"{verb}: {READ_WORDS[best.read]} in {spoken_place(best.position, best.hours)}."
    causes = list(dict.fromkeys("unbalance" if n.startswith("unbalance") else n for n in best.narrows))
    if not causes:
        return f"{what} It would not tell much more, and no other single reading would: now look and measure."
    alone = _alone(answer)
    repeated = " All places are taken, so a repeat is meant." if best.again else ""
    return f"{what} It would narrow {listed([SHORT[name] for name in causes])} most.{alone}{repeated}"


def _alone(answer: Diagnose) -> str:
    """What the cause found predicts for that reading."""
    cause, best = answer.found, answer.following
    if cause is None or best.read not in cause.predicts:
        return ""
    moved = change(best.read, cause.predicts[best.read])
    if not float(moved):
        return ""
    return f" There {SHORT[cause.name]}, as fitted, makes {moved} {UNITS[best.read]}."


def remarks(answer: Diagnose) -> list[str]:
    """Doubted readings and a fit that did not end."""
    said = []
    doubted = [j for j in answer.judged if j.weight < _DOUBTED]
    if doubted:
        places = [f"{READ_WORDS[j.kind]} in {spoken_place(j.position, j.hours)}" for j in doubted]
        said.append(
            f"Doubted, and given little weight: {'; '.join(places)}. Take {'it' if len(places) == 1 else 'them'} again."
        )
    if not answer.converged:
        said.append("The search for the causes did not come to an end: take the estimates as rough.")
    return said
