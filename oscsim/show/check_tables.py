"""A checked design file as text: complaints and gaps first, then every number, what follows, and what looks odd."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from oscsim.movement import PARTS
from oscsim.show.bench_words import aligned, as_sure
from oscsim.show.sketch_tables import short_number
from oscsim.show.style import headline
from oscsim.show.tables import wrapped
from oscsim.text.sheet import Cell, Part, Sheet, Table, Words, close, sheet
from oscsim.typical.bands import FOLLOWS, Usual

if TYPE_CHECKING:
    from oscsim.answers.check import Check, Missing, Value
    from oscsim.answers.follows import Follows

_UNUSUAL = "unusual"


def check_table(answer: Check) -> Sheet:
    """The whole page."""
    parts: list[str | Part] = [_heading(answer)]
    if answer.problems:
        parts.append(close("Wrong", *(f"  {problem}" for problem in answer.problems)))
    if answer.missing:
        parts.append(_missing(answer))
    parts += [_part(table, [v for v in answer.values if v.name.split(".")[0] == table], answer) for table in PARTS
              if any(v.name.split(".")[0] == table for v in answer.values)]  # fmt: skip
    if answer.follows:
        parts.append(_follows(answer))
    parts.append(_verdict(answer))
    return sheet(*parts)


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'s' if number != 1 else ''}"


def _heading(answer: Check) -> str:
    shown = headline(answer.source)
    if answer.valid:
        return f"{shown}: a valid design, {headline(answer.design)}"
    said = []
    if answer.problems:
        said.append(_count(len(answer.problems), "thing") + " wrong")
    if answer.missing:
        said.append(_count(len(answer.missing), "entry").replace("entrys", "entries") + " missing")
    return f"{shown}: not a valid design, {' and '.join(said)}"


def _missing(answer: Check) -> Sheet:
    rows = [[gap.name, _suggested(gap), _ends(gap.low, gap.high), gap.unit or "–", gap.reason or gap.meaning]
            for gap in answer.missing]  # fmt: skip
    table = aligned(["Missing", "suggested", "range, 95 %", "unit", "why"], rows, left=(0, 4))
    sizes = f"Suggestions are those of the family '{answer.family.name}', as oscsim sketch makes them."
    return close(table, wrapped(sizes))


def _suggested(gap: Missing) -> str:
    """In no more digits than its range allows."""
    if not math.isfinite(gap.suggested):
        return "–"
    return (
        as_sure(gap.suggested, 0.5 * (gap.high - gap.low))
        if math.isfinite(gap.low)
        else f"{gap.suggested:.4g}"
    )


def _ends(low: float, high: float) -> str:
    return f"{short_number(low)} to {short_number(high)}" if math.isfinite(low) else "–"


def _usual(usual: Usual | None) -> str:
    return "–" if usual is None else f"{short_number(usual.low)} to {short_number(usual.high)}"


def _part(table: str, values: Sequence[Value], answer: Check) -> Table:
    """One table of the file: what it is, and its numbers."""
    # of the kind that the design has, where a part comes in kinds
    part = PARTS[table] if answer.movement is None else type(getattr(answer.movement, table))
    words = (part.__doc__ or "").split("\n")[0].split(" (docs")[0].rstrip(".").replace("``", "")
    rows: list[list[Words]] = []
    for v in values:
        remark = ", ".join([_UNUSUAL] * (not v.plausible) + [v.origin] * (v.origin != "file"))
        rows.append(
            [
                v.name.split(".", 1)[1],
                f"{v.value:g}",
                v.unit or "–",
                _usual(v.usual),
                remark if v.plausible else Cell("", remark),
                v.meaning,
            ]
        )
    heads = ["key", "value", "unit", "usual", "", "meaning"]
    return aligned(heads, rows, left=(0, 2, 4, 5), title=f"[{table}] {words}")


def _follows(answer: Check) -> Table:
    title = "What follows from it" + (", with the suggested values" if answer.missing else "")
    rows: list[list[Words]] = [[one.words, _derived(one), one.unit or "–", _usual(FOLLOWS[one.name]), _odd(one, answer)]
            for one in answer.follows]  # fmt: skip
    return aligned(["", "value", "unit", "usual", ""], rows, left=(0, 2, 4), title=title)


def _derived(one: Follows) -> str:
    return short_number(one.value) if math.isfinite(one.value) else "–"


def _odd(one: Follows, answer: Check) -> Cell:
    if one.state not in ("", "running"):
        return Cell("", {"unsettled": "wanders"}.get(one.state, one.state))
    return Cell("", _UNUSUAL if one in answer.odd else "")


def _verdict(answer: Check) -> Part:
    """What to do about it."""
    if not answer.valid:
        said = []
        if answer.problems:
            said.append("Put right what is wrong.")
        if answer.missing:
            said.append("Fill what is missing, or let oscsim sketch fill it and mark it: oscsim sketch "
                        f"{answer.source} --output complete.toml.")  # fmt: skip
        return wrapped(" ".join(said))
    looks = [
        _look(v.name, _with_unit(v.value, v.unit), v.usual) for v in answer.unusual if v.usual is not None
    ]
    for one in answer.odd:
        state = f", {_odd(one, answer)}" if one.state not in ("", "running") else ""
        looks.append(_look(one.words, _with_unit(one.value, one.unit) + state, FOLLOWS[one.name]))
    if not looks:
        return wrapped("Valid and plausible: every number lies where such numbers usually lie. That does not make it "
                       "right: only a movement known to be in order can.")  # fmt: skip
    look_again = f"Valid, and worth a second look ({_count(len(looks), 'number')}). Unusual is not wrong:"
    return close(wrapped(look_again), *(f"  {look}" for look in looks))


def _with_unit(value: float, unit: str) -> str:
    return f"{short_number(value)} {unit}".rstrip() if math.isfinite(value) else "none"


def _look(name: str, value: str, usual: Usual) -> str:
    hint = f"; {usual.hint}" if usual.hint else ""
    return f"{name}: {value}, usual {_usual(usual)} ({usual.source}){hint}"
