"""Tables of designs side by side, and of one movement before and after a piece of work."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from oscsim.answers.budget import PLACES
from oscsim.answers.regulate import regulated_word
from oscsim.arrays import Array, Indices
from oscsim.escapements.kinds import kind_of
from oscsim.motion.states import STATES, State
from oscsim.movement import Movement
from oscsim.parts.train import Arbors
from oscsim.show.budget_tables import shares
from oscsim.show.labels import (
    circumstances,
    places_in_words,
    point_columns,
    point_in_words,
    spoken,
    with_unit,
)
from oscsim.show.style import headline, short
from oscsim.show.tables import (
    STATE_VERBS,
    amplitude,
    around,
    as_if_free,
    cells,
    grid,
    hour_columns,
    position_rows,
    signed,
    wrapped,
)
from oscsim.tables import unit_of, value_at
from oscsim.text.phrases import listed
from oscsim.text.sheet import Cell, Part, Sheet, Table, Words, close, sheet
from oscsim.typical.numbers import DRIVE, facts_of

if TYPE_CHECKING:
    from oscsim.answers.attribution import Attribution, Share
    from oscsim.answers.change import Change
    from oscsim.answers.compare import Compare
    from oscsim.answers.points import SettledPoints

#: Shares below these are not worth a number, or a sentence, deg; parts of the drive further from zero than _APART are
#: not told apart: one design's spring and gearing on the other's balance is no watch.
_SMALL, _WORTH, _APART = 0.5, 2.0, 60.0
#: Numbers closer than this share of them are alike; so many differences are named for a group.
_ALIKE, _MOST_WORDS = 0.02, 5
#: Gains below this show as none, deg.
_NOTHING = 0.05
_WIDTH = 100


def number_or(value: float, word: str, decimals: int = 1) -> str:
    return f"{value:.{decimals}f}" if math.isfinite(value) else word


def compare_table(answer: Compare) -> Sheet:
    """Amplitudes and rates side by side, reserve and band, budget, and what makes the difference between two."""
    p, setting, names = answer.points, answer.setting, [short(m.name) for m in answer.movements]
    columns = point_columns(setting, p.hours[0])
    flat = p.shaped((len(names), -1))
    swings = cells(flat, flat.amplitude_deg, amplitude)
    rows = list(names)
    if len(names) == 2:
        rows.append("second less first")
        swings.append(
            [signed(v) if math.isfinite(v) else "-" for v in np.diff(flat.amplitude_deg, axis=0)[0]]
        )
    built = {regulated_word(movement) for movement in answer.movements}
    word = f" {built.pop()}" if len(built) == 1 else ""
    tables: list[Part] = [
        grid("Amplitude, deg", columns, rows, swings),
        grid(f"Rate{word}, s/day", columns, names, cells(flat, flat.rate_s_per_day, signed)),
        _reserve_and_band(answer, names),
        _budgets(answer, names),
    ]
    if answer.attribution is not None:
        tables.append(_attribution(answer, answer.attribution))
    heading = f"{listed(names)}: side by side{circumstances(setting)}"
    free = as_if_free(p, answer.movements[0])
    return sheet(wrapped(heading), *tables, *free, wrapped(compare_sentence(answer)))


def _reserve_and_band(answer: Compare, names: list[str]) -> Table:
    tolerance = answer.bands[0].tolerance_s_per_day
    columns = ["reserve h", "floor deg", "at h", "ceiling deg", "knock deg"]
    body = [
        [
            f"{reserve:.1f}",
            number_or(band.floor_deg, "none"),
            number_or(band.floor_hours, "-"),
            number_or(band.ceiling_deg, "none"),
            f"{band.knock_deg:.1f}",
        ]
        for reserve, band in zip(answer.reserve_hours, answer.bands, strict=True)
    ]
    title = (
        f"Reserve, and the flat amplitudes between which the vertical rates lie within {tolerance:g} s/day of one "
        "another"
    )
    return grid(title, columns, names, body)


def _budgets(answer: Compare, names: list[str]) -> Table:
    """The first point's budget of each design, in per cent."""
    where = point_in_words(answer.setting, answer.points.hours[0])
    parts = [shares(budget) for budget in answer.budgets]
    places = [place for place in PLACES if any(place in part for part in parts)]
    known = [budget.given_j.reshape(-1)[0] for budget in answer.budgets]
    lines = [
        [number_or(1e9 * given, "-") for given in known],
        *(
            [number_or(float(part[place][0]) if place in part else 0.0, "-") for part in parts]
            for place in places
        ),
    ]
    rows = ["given to the escape wheel, nJ per beat"]
    rows += [f"{PLACES[place]}, %" for place in places]
    return grid(f"Energy of a beat, {where}", names, rows, lines)


def in_order(shares: Sequence[Share]) -> list[Share]:
    """The greatest first."""
    return sorted(shares, key=lambda share: -abs(share.degrees))


def parts_of(share: Share) -> list[Share]:
    """The shares within a group that are worth a line; none where only all of them together make a watch."""
    if _one_choice(share):
        return []
    worth = [one for one in in_order(share.inner) if abs(one.degrees) >= _SMALL]
    return worth if len(worth) > 1 else []


def _one_choice(share: Share) -> bool:
    """Whether spring, gearing, balance and beat differ so much that half of them would be no watch."""
    return share.group == DRIVE and max((abs(one.degrees) for one in share.inner), default=0.0) > _APART


def _attribution(answer: Compare, shared: Attribution) -> Sheet:
    rows, values = [], []
    for share in in_order(shared.shares):
        for words, degrees in (
            (share.group, share.degrees),
            *((f"  {o.group}", o.degrees) for o in parts_of(share)),
        ):
            rows.append(words)
            values.append([signed(degrees, 0)])
    where = point_in_words(answer.setting, answer.points.hours[0])
    title = f"What makes the difference {where}: second less first, deg"
    table = grid(title, ["deg"], [*rows, "together"], [*values, [signed(shared.difference_deg, 0)]])
    return sheet(table, close("What differs, first and second", *_differences(answer, shared)))


def _differences(answer: Compare, shared: Attribution) -> list[str]:
    """The numbers that differ, group by group."""
    lines = []
    for share in shared.shares:
        told = []
        for name in share.differing:
            unit = unit_of(Movement, name)
            first, second = (value_at(movement, name) for movement in answer.movements)
            # the unit stands once, behind the last that is there
            told.append(
                f"{_in_words(name)} {_told(first, unit if second is None else '')}, {_told(second, unit)}"
            )
        if told:
            text = f"{share.group}: {'; '.join(told)}"
            lines.append(textwrap.fill(text, _WIDTH, initial_indent="  ", subsequent_indent="      "))
    return lines or ["  nothing"]


#: What is no number, in words.
_WORDS = {
    "train.wheel_teeth": "teeth of the wheels",
    "train.pinion_leaves": "leaves of the pinions",
    "train.arbors": "arbors of the train",
    "winding.kind": "winding",
    "escapement.kind": "kind of the escapement",
}


def _in_words(name: str) -> str:
    """A number as a watchmaker calls it, without its article."""
    return _WORDS.get(name) or spoken(name).removeprefix("the ")


def compare_sentence(answer: Compare) -> str:
    """What makes the difference, in words."""
    first, *others = (headline(movement.name) for movement in answer.movements)
    hours = answer.points.hours[0]
    where = point_in_words(answer.setting, hours)
    values = answer.points.amplitude_deg.reshape(len(others) + 1, -1)[:, 0]
    if answer.attribution_remark:
        return f"What makes the difference cannot be said here: {answer.attribution_remark}."
    if answer.attribution is None:
        known = [i for i in range(len(values)) if math.isfinite(values[i])]
        if not known:
            return f"What this means: none of them settles {where}."
        names = [first, *others]
        low, high = min(known, key=lambda i: values[i]), max(known, key=lambda i: values[i])
        return (
            f"What this means: {where} they show from {values[low]:.0f} deg ({names[low]}) to {values[high]:.0f} deg "
            f"({names[high]}). Compare two alone to see what makes the difference."
        )
    shared, second = answer.attribution, others[0]
    total = shared.difference_deg
    if abs(total) < _SMALL:
        verb = f"shows the same amplitude as {first}"
    else:
        verb = f"settles {abs(total):.0f} deg {'lower' if total < 0 else 'higher'} than {first}"
    said = [f"What this means: {second} {verb} {where}."]
    order = [share for share in in_order(shared.shares) if abs(share.degrees) >= _SMALL]
    told = {
        sign: [f"{share.group} {signed(share.degrees, 0)}" for share in order if share.degrees * sign > 0]
        for sign in (-1, 1)
    }
    if told[-1]:
        said.append(f"What {second} has instead takes away: {listed(told[-1])} deg.")
    if told[1]:
        said.append(f"It {'gives back' if told[-1] else 'adds'}: {listed(told[1])} deg.")
    said += [_trade_words(answer, share, second, first) for share in order if abs(share.degrees) >= _WORTH]
    if shared.remarks:
        more = f" and {len(shared.remarks) - 1} more like it" if len(shared.remarks) > 1 else ""
        said.append(f"Left out of the count: {shared.remarks[0]}{more}.")
    said += [f"Left out of the count within {reason}." for reason in shared.within]
    return " ".join(filter(None, said))


def _trade_words(answer: Compare, share: Share, second: str, first: str) -> str:
    """What the second design has more or less of in one group, as a watchmaker says it; empty without a word."""
    words = []
    torque = answer.points.barrel_torque_n_mm.reshape(2, -1)[:, 0]
    of_spring = [name for name in share.differing if name.partition(".")[0] in ("mainspring", "barrel")]
    if of_spring and abs(torque[1] / torque[0] - 1.0) > _ALIKE:
        kind = "stronger" if torque[1] > torque[0] else "softer"
        words.append(f"a {kind} spring ({torque[1]:.1f} against {torque[0]:.1f} N·mm)")
    # escapements that differ as a whole, where a count of teeth or a drop says nothing
    one, other = (f"a {kind_of(movement.escapement).RELEASE}" for movement in answer.movements)
    if one != other and "escapement.kind" in share.differing:
        return f"{share.group[0].upper()}{share.group[1:]}: {second} has {other} in place of {one}."
    for name in share.differing:
        facts, (mine, yours) = facts_of(name), (value_at(movement, name) for movement in answer.movements)
        if facts.words is None or name in of_spring:
            continue
        if isinstance(mine, int | float) and isinstance(yours, int | float) and _apart(mine, yours):
            words.append(facts.words[0 if yours > mine else 1])
    if not words:
        return ""
    begun = f"{share.group[0].upper()}{share.group[1:]}: {second} has {listed(words[:_MOST_WORDS])}"
    if _one_choice(share):
        return f"{begun}, which belong together: half of them on {first} would make no watch."
    return f"{begun}."


def _apart(mine: float, yours: float) -> bool:
    return abs(yours - mine) > _ALIKE * max(abs(mine), abs(yours))


def change_table(answer: Change) -> Sheet:
    """What was done, amplitudes before, after and gained, and what that means."""
    b, a, setting = answer.before, answer.after, answer.setting
    rows, columns = position_rows(setting.places, setting.tilt_deg), hour_columns(b.hours[0])
    done = [
        f"  {work['name']}: {_told(work['before'], work['unit'])} to {_told(work['after'], work['unit'])}"
        for work in answer.work
    ]
    tables = [
        close("What is changed", *done),
        grid("Amplitude before, deg", columns, rows, cells(b, b.amplitude_deg, amplitude)),
        grid("Amplitude after, deg", columns, rows, cells(a, a.amplitude_deg, amplitude)),
        grid("Gained, deg", columns, rows, _gains(b, a, answer.gained_deg, signed)),
    ]
    moved = np.where(a.too_far | b.too_far, np.nan, a.rate_s_per_day - b.rate_s_per_day)
    if (np.abs(moved[np.isfinite(moved)]) >= 0.05).any():
        tables.append(grid("Rate after less before, s/day", columns, rows, _gains(b, a, moved, signed)))
    heading = f"{headline(answer.design)}: before and after{around(setting)}"
    free = as_if_free(a, answer.movement) or as_if_free(b, answer.movement)
    return sheet(wrapped(heading), *tables, *free, wrapped(_change_sentence(answer)))


def _told(value: Any, unit: str) -> str:
    if value is None:
        return "none"
    if isinstance(value, tuple):
        return " ".join(map(str, value))
    if isinstance(value, str):
        return value
    if isinstance(value, Arbors):
        return "standard sizes" if value == Arbors() else "own sizes"
    return with_unit(value, unit) if isinstance(value, int | float) else "by hole"


def _gains(
    before: SettledPoints, after: SettledPoints, values: Array, number: Callable[[float], str]
) -> list[list[Words]]:
    """Differences, with the states in words where one of the two has no number."""

    def cell(i: int, j: int) -> Words:
        old, new = STATES[before.code[i, j]], STATES[after.code[i, j]]
        if math.isfinite(values[i, j]):
            return number(float(values[i, j]))
        if old is State.STOPS and new is not State.STOPS:
            return "now runs" if new is State.RUNNING else Cell("now", STATE_VERBS[new])
        if new is State.RUNNING:
            return f"no longer {STATE_VERBS[old]}"
        return Cell("now" if new is State.STOPS and old is not State.STOPS else "", STATE_VERBS[new])

    return [[cell(i, j) for j in range(values.shape[1])] for i in range(values.shape[0])]


def _change_sentence(answer: Change) -> str:
    gained, hours = answer.gained_deg.reshape(-1), answer.before.hours
    said = []
    known = np.flatnonzero(np.isfinite(gained))
    if known.size:
        said.append(_gain_in_words(answer, gained, known))
    for state, word in STATE_VERBS.items():
        new = answer.after.has(state) & ~answer.before.has(state)
        gone = answer.before.has(state) & ~answer.after.has(state)
        for found, begun in ((new, "afterwards it"), (gone, "it no longer")):
            if found.any():
                places = places_in_words(answer.setting, hours, np.flatnonzero(found).tolist())
                said.append(f"{begun} {word} ({places})")
    return f"What this means: {'; '.join(said) or 'it stops before and after'}."


def _gain_in_words(answer: Change, gained: Array, known: Indices) -> str:
    """What is gained at the ``known`` points, and where most; gain and loss apart where there are both."""
    low, high = (int(known[pick(gained[known])]) for pick in (np.argmin, np.argmax))

    def where(n: int) -> str:
        return point_in_words(answer.setting, answer.before.hours, n)

    if max(abs(gained[low]), abs(gained[high])) < _NOTHING:
        return "the amplitude stays as it is"
    if gained[low] <= -_NOTHING and gained[high] >= _NOTHING:
        return (
            f"it gains up to {gained[high]:.1f} deg ({where(high)}) and loses up to {-gained[low]:.1f} deg "
            f"({where(low)})"
        )
    if abs(gained[high] - gained[low]) < 1.0:
        verb = "gains" if gained[known].mean() > 0 else "costs"
        place = "everywhere" if known.size == gained.size else "wherever it runs before and after"
        return f"it {verb} about {abs(gained[known].mean()):.1f} deg {place}"
    verb = "gains" if gained[high] >= _NOTHING else "loses"
    least, most = sorted((low, high), key=lambda n: abs(gained[n]))
    ends = [f"{where(n)} ({signed(gained[n])} deg)" for n in (most, least)]
    return f"it {verb} most {ends[0]} and least {ends[1]}"
