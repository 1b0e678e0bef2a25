"""Before and after as text: what changed place by place, which causes moved, and whether it was as predicted."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from oscsim.show.bench_words import (
    READ_TITLES,
    SHORT,
    aligned,
    amount,
    change,
    estimate,
    interval,
    listed,
    place,
)
from oscsim.show.style import headline
from oscsim.show.tables import signed, wrapped
from oscsim.slips.readings import READ
from oscsim.text.sheet import Part, Sheet, close, sheet

if TYPE_CHECKING:
    from oscsim.bench.progress import CauseMoved, Progress

_ADJUSTED = ("unbalance", "out_of_beat", "regulation")


def progress_table(answer: Progress) -> Sheet:
    """The whole page."""
    parts: list[str | Part] = [
        f"{headline(answer.design)}: before and after the work",
        wrapped(progress_sentence(answer)),
    ]
    for kind in READ:
        rows = [
            [
                place(m.position, m.hours),
                amount(kind, m.before),
                amount(kind, m.after),
                f"{change(kind, m.change)} ± {change(kind, m.half_width).removeprefix('+')}",
                change(kind, m.predicted),
                "" if m.as_predicted else "otherwise than predicted",
            ]
            for m in answer.moved
            if m.kind == kind
        ]
        if rows:
            heads = [READ_TITLES[kind], "before", "after", "change, 90 %", "predicted", ""]
            parts.append(aligned(heads, rows, left=(0, 5)))
    parts.append(causes_text(answer))
    if abs(answer.common_rate_s_per_day) >= 1.0:
        parts.append(
            wrapped(
                f"All rates changed by {signed(answer.common_rate_s_per_day)} s/day more than predicted. That is taken "
                "as regulating and stands in the predicted changes above."
            )
        )
    parts.append(wrapped(f"Before: {answer.before.verdict}"))
    parts.append(wrapped(f"After: {answer.after.verdict}"))
    return sheet(*parts)


def progress_sentence(answer: Progress) -> str:
    """What changed on the whole, and whether that was predicted."""
    if math.isfinite(answer.gain_deg):
        turned = "rose" if answer.gain_deg > 0.0 else "fell"
        expected = signed(answer.predicted_gain_deg, 0)
        said = f"Amplitudes {turned} by {abs(answer.gain_deg):.0f} deg on average. "
        if answer.prediction in SHORT:
            said += f"Putting right {SHORT[answer.prediction]} was predicted to bring {expected} deg."
        else:
            said += f"Predicted was {expected} deg, for {answer.prediction}."
    else:
        said = "No amplitude was read both times."
    verdict = (
        "All changes together are as predicted, within the uncertainty of readings and prediction."
        if answer.as_predicted
        else "All changes together are not as predicted: something else moved, or it was not put right."
    )
    return f"{said} {verdict}"


def causes_text(answer: Progress) -> Part:
    """Which causes moved, and by how much."""
    moved = [c for c in answer.causes if c.moved]
    if not moved:
        faults = "The amplitudes did change, though. " if abs(answer.gain_deg) > 5.0 else ""
        return wrapped(
            f"No single cause can be said to have moved: the readings leave open which did. {faults}"
        )
    rows = [
        [
            SHORT[c.name],
            estimate(c.name, c.unit, c.before),
            _step(c, c.change),
            interval(c.name, c.unit, c.low, c.high),
        ]
        for c in moved
    ]
    table = aligned(["Causes that moved", "before", "change", "90 % interval"], rows)
    still = [
        SHORT[c.name] for c in answer.causes if not c.moved and not c.unlearnt and c.name not in _ADJUSTED
    ]
    note = f"No change can be told in {listed(still, 'or')}." if still else ""
    return close(table, wrapped("Changes per cent and times are after over before. " + note))


def _step(cause: CauseMoved, value: float) -> str:
    return estimate(cause.name, cause.unit, value)
