"""A sketch as text: what to expect and how surely, which filled numbers matter, and what it must not be used for."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from oscsim.show.bench_words import aligned, as_sure, between, place, spoken_place
from oscsim.show.labels import spoken
from oscsim.show.style import headline
from oscsim.show.tables import wrapped
from oscsim.text.phrases import listed
from oscsim.text.sheet import Cell, Part, Sheet, Table, Words, close, sheet
from oscsim.typical.families import FACTS
from oscsim.typical.numbers import NO_WAY, how_to

if TYPE_CHECKING:
    from oscsim.bench.sketched import Expected, Number, Sketch

#: Filled numbers in the table; how many are named as the next to be measured.
_MOST, _NEXT = 10, 3
#: Numbers that move the amplitude by less than this, deg, are not worth measuring for it.
_LITTLE = 3.0


def sketch_table(answer: Sketch) -> Sheet:
    """The whole page."""
    parts: list[str | Part] = [
        f"{headline(answer.design)}: a plausible design, sketched",
        _known(answer),
        _expected(answer),
    ]
    if answer.held:
        parts.append(_held(answer))
    parts += [
        _numbers(answer),
        wrapped(" ".join(_next(answer))),
        *(wrapped(line) for line in (answer.lift_said, *_warnings(answer)) if line),
    ]
    return sheet(*parts)


def _known(answer: Sketch) -> Sheet:
    """Family, what was given and how much was filled."""
    given = [n for n in answer.numbers if n.source == "given"]
    facts = [
        f"the {FACTS[name].meaning} ({value:.4g} {FACTS[name].unit})"
        for name, value in answer.slip.facts.items()
    ]
    known = listed([f"{len(given)} number{'s' * (len(given) != 1)} of the design", *facts])
    return close(
        wrapped(f"Family: {answer.family.name} ({answer.why}): {answer.family.traits}."),
        wrapped(f"Given: {known}. Filled: {len(answer.filled)} numbers."),
    )


def _cell(one: Expected) -> Words:
    if one.state == "stops":
        return Cell("", "stops")
    if not math.isfinite(one.amplitude_deg):
        return Cell("", "knocks")
    words = {"knocks": "knocks", "unsettled": "wanders"}
    return Cell(f"{one.amplitude_deg:.0f}", words.get(one.state, ""))


def _span(low: float, high: float) -> str:
    """A band; minus infinity is a watch that stops, infinity one that swings beyond the horn and out of range."""
    ends = [f"{end:.0f}" if math.isfinite(end) else "stops" if end < 0.0 else "knocks" for end in (low, high)]
    return ends[0] if ends[0] == ends[1] else " to ".join(ends)


def _expected(answer: Sketch) -> Table:
    heads = ["Amplitude to expect, deg", "sketch", "90 % of such movements"]
    rows: list[list[Words]] = [
        [place(e.position, e.hours), _cell(e), _span(e.low_deg, e.high_deg)] for e in answer.expected
    ]
    if answer.held:
        heads.append("before the readings")
        for row, e in zip(rows, answer.expected, strict=True):
            row.append(_span(e.family_low_deg, e.family_high_deg))
    return aligned(heads, rows)


def _held(answer: Sketch) -> Table:
    rows: list[list[Words]] = []
    for h in answer.held:
        span = Cell(_span(h.family_low_deg, h.family_high_deg), "outside" if h.outside else "")
        rows.append([place(h.position, h.hours), f"{h.read_deg:.0f}", span, f"{h.sketch_deg:.0f}"])  # fmt: skip
    return aligned(["Amplitude shown, deg", "read", "before the readings, 90 %", "sketch"], rows)


def short_number(value: float) -> str:
    """Three significant digits, without an exponent where a watchmaker would write none."""
    return f"{float(f'{value:.3g}'):g}"


def _moves(n: Number) -> float:
    return max(n.moves_flat_deg, n.moves_vertical_deg) if math.isfinite(n.moves_flat_deg) else 0.0


def _numbers(answer: Sketch) -> Part:
    numbers = [n for n in answer.filled if isinstance(n.value, int | float)]
    filled = sorted(numbers, key=_moves, reverse=True)
    shown = [n for n in filled[:_MOST] if _moves(n) > 0.0] or list(filled[:_MOST])
    rows = [
        [n.name, _value(n), number_range(n), n.unit or "–", _shift(n.moves_flat_deg), _shift(n.moves_vertical_deg),
         how_to(n.name)]
        for n in shown
    ]  # fmt: skip
    heads = ["Filled number", "value", "range, 95 %", "unit", "dial up", "12 up", "how to learn it"]
    title = "By how many degrees half its range alone moves the amplitude, fully wound; together they leave less open"
    table = aligned(heads, rows, left=(0, 6), title=title)
    rest = [n for n in filled if n not in shown]
    last = (
        f"{len(rest)} more are filled; the design file has them all."
        if rest and not math.isfinite(_moves(rest[0]))
        else f"{len(rest)} more, each up to {max(_moves(n) for n in rest):.0f} deg."
        if rest
        else ""
    )
    return close(table, last) if last else table


def number_range(n: Number) -> str:
    if not math.isfinite(n.low):
        return "a count"
    return between(n.low, n.high, lambda end: as_sure(end, 0.5 * (n.high - n.low)))


def _value(n: Number) -> str:
    """A filled number in the digits that its range allows."""
    value = float(n.value)
    return as_sure(value, 0.5 * (n.high - n.low)) if math.isfinite(n.low) else f"{value:.4g}"


def _shift(value: float) -> str:
    return f"±{value:.0f}" if math.isfinite(value) else "–"


def _next(answer: Sketch) -> list[str]:
    """What to measure next, from the numbers that move the amplitude most and can be learnt."""
    able = [
        n
        for n in sorted(answer.filled, key=_moves, reverse=True)
        if how_to(n.name) != NO_WAY and _moves(n) >= _LITTLE
    ]
    if not able:
        return ["No filled number that a bench can measure moves the amplitude by more than 3 deg."]
    named = [f"{spoken(n.name)} ({how_to(n.name)})" for n in able[:_NEXT]]
    said = [f"To learn most, measure next: {listed(named)}; docs/bench.md says how. Give what you measured in place of "
            "what was filled."]  # fmt: skip
    counts = [
        spoken(n.name).replace("number of ", "")
        for n in answer.filled
        if n.name in ("escapement.teeth", "train.jewels")
    ]
    if counts:
        said.append(f"Count, if you can: {listed(counts)}.")
    return said


def _warnings(answer: Sketch) -> list[str]:
    """What a sketch must not be used for."""
    said = []
    if answer.unusual:
        said.append(f"Unusual among what was given: {'; '.join(answer.unusual)}. Look again: is it the right unit, and "
                    "for a strip the order HEIGHT THICKNESS LENGTH?")  # fmt: skip
    if answer.usual_deg is not None:
        said.append(
            f"The strip was not measured. It is taken to be as strong as makes the usual amplitude of this family, "
            f"{answer.family.usual_deg:g} ± {answer.family.usual_off_deg:g} deg dial up when fully wound, or what was "
            "read: these amplitudes are the family's habit and not computed from this movement. Measure its height and "
            "thickness first."
        )
    if outside := [spoken_place(h.position, h.hours) for h in answer.held if h.outside]:
        said.append(
            f"Read outside what nine in ten of its family would show: {listed(outside)}. Either the movement is not in "
            "order, or it is of another family, or a number given is wrong. Made from a sick movement, a sketch takes "
            "the fault for health."
        )
    if answer.slip.findings:
        said.append(
            "What was looked at, let swing or read of a sister does not weigh the sketch: the file keeps it, and "
            "oscsim diagnose weighs by it."
        )
    if answer.held:
        said.append(
            "The amplitudes above were used to make the sketch. That it agrees with them says nothing about health: "
            "for that it needs readings not used here, of a movement known to be in order, or the numbers above "
            "measured."
        )
    said.append(
        "A sketch judges no movement until the numbers that matter are measured. It shows what such a movement does: "
        "what a thinner strip, a deeper lock or another position changes."
    )
    return said
