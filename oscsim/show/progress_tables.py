"""Before and after as text: amplitude, rate spread and beat on the whole, then place by place."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from oscsim.show.bench_words import READ_TITLES, aligned, amount, change, place
from oscsim.show.style import headline
from oscsim.show.tables import wrapped
from oscsim.slips.readings import READ
from oscsim.text.phrases import listed
from oscsim.text.sheet import Part, Sheet, sheet

if TYPE_CHECKING:
    from oscsim.bench.diagnose import Interval
    from oscsim.bench.progress import Progress

TURNS = {
    "amplitude": "Mean amplitude, deg",
    "rate_spread": "Spread of the vertical rates, s/day",
    "beat": "Mean beat error, ms",
}
_KINDS = {"amplitude": "amplitude_deg", "rate_spread": "rate_s_per_day", "beat": "beat_error_ms"}


def progress_table(answer: Progress) -> Sheet:
    """The whole page."""
    rows = []
    for turn in answer.turns:
        kind = _KINDS[turn.name]
        agrees = "as predicted" if turn.as_predicted else _OTHERWISE[turn.as_predicted]
        predicted = "–" if turn.predicted is None else _interval(kind, turn.predicted)
        if turn.predicted is not None and turn.predicted.low == turn.predicted.high:
            predicted = _foretold(kind, turn.predicted.middle, 0.0)
        # means of amplitudes and beat errors, and a spread: none has a sign
        before, after = (amount(kind, value).removeprefix("+") for value in (turn.before, turn.after))
        rows.append(
            [
                TURNS[turn.name],
                before,
                after,
                _interval(kind, turn.seen),
                predicted,
                agrees,
            ]
        )
    whole = aligned(
        ["On the whole", "before", "after", "change, 90 %", "predicted, 90 %", ""], rows, left=(0, 5)
    )
    parts: list[str | Part] = [
        f"{headline(answer.design)}: before and after the work",
        wrapped(progress_sentence(answer)),
        whole,
    ]
    for kind in READ:
        lines = [
            [
                place(m.position, m.hours),
                amount(kind, m.before),
                amount(kind, m.after),
                f"{change(kind, m.change)} ± {change(kind, m.half_width).removeprefix('+')}",
                _foretold(kind, m.predicted, m.predicted_half_width),
                _OTHERWISE[m.as_predicted],
            ]
            for m in answer.moved
            if m.read == kind
        ]
        if lines:
            parts.append(
                aligned(
                    [READ_TITLES[kind], "before", "after", "change, 90 %", "predicted, 90 %", ""],
                    lines,
                    left=(0, 5),
                )
            )
    if any(_untouched(m.read, m.predicted, m.predicted_half_width) for m in answer.moved):
        parts.append(wrapped(_UNTOUCHED))
    parts += [wrapped(f"Before: {answer.before.verdict}"), wrapped(f"After: {answer.after.verdict}")]
    return sheet(*parts)


#: What is said of a change by whether it is as predicted; None: nothing was.
_OTHERWISE = {True: "", False: "otherwise than predicted", None: ""}
#: A place that the work does not touch has nothing foretold to be sure or unsure of.
_NONE = "none"
_UNTOUCHED = (
    "none: the work done does not touch what is read there, so only the readings' own scatter should show; their "
    "uncertainty stands with the change."
)


def _untouched(kind: str, predicted: float, half_width: float) -> bool:
    """Whether nothing is foretold, as far as it would be printed."""
    none = change(kind, 0.0)
    return not math.isnan(predicted) and change(kind, predicted) == none and change(kind, half_width) == none


def _foretold(kind: str, predicted: float, half_width: float) -> str:
    if math.isnan(predicted):
        return "–"
    if _untouched(kind, predicted, half_width):
        return _NONE
    return f"{change(kind, predicted)} ± {change(kind, half_width).removeprefix('+')}"


def _interval(kind: str, ends: Interval) -> str:
    return f"{change(kind, ends.middle)} ({change(kind, ends.low)} to {change(kind, ends.high)})"


def progress_sentence(answer: Progress) -> str:
    """What was done, and whether what was predicted came."""
    short = {cause.name: cause.short for cause in answer.before.causes}
    work = listed([short[name] for name in answer.done])
    if not work:
        why = (
            "the readings before name no cause"
            if answer.before.fits
            else "nothing known fits the readings before"
        )
        return f"Nothing was said to be done and {why}, so no change was predicted."
    whose = "Done" if answer.told else "Taken to be done, as the likeliest before"
    came = (
        f"All that was predicted came, within the uncertainty of readings and prediction{_otherwise(answer)}."
        if answer.as_predicted is not False
        else "Not all that was predicted came: something else moved, or it was not put right."
    )
    return f"{whose}: {work}. {came}"


def _otherwise(answer: Progress) -> str:
    """How many values went otherwise than predicted where the whole did not: one in ten may by chance."""
    odd = [m for m in answer.moved if m.as_predicted is False]
    if not odd:
        return ""
    where = listed(list(dict.fromkeys(f"{m.position} at {m.hours:g} h" for m in odd)))
    return f", on the whole; {len(odd)} of {len(answer.moved)} values did not ({where}), one in ten may by chance"
