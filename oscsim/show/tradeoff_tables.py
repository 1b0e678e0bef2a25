"""Tables and sentences of what designs get for what they give up, and of years without service."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from oscsim.answers.ageing import never
from oscsim.answers.measures import MEASURES
from oscsim.movement import Movement
from oscsim.show.labels import spoken
from oscsim.show.sketch_tables import short_number
from oscsim.show.style import headline, short
from oscsim.show.tables import around, beyond, grid, wrapped
from oscsim.tables import quantity_of, unit_of
from oscsim.text.phrases import listed
from oscsim.text.sheet import Part, Sheet, Table, sheet

if TYPE_CHECKING:
    from oscsim.answers.ageing import Ageing
    from oscsim.answers.tradeoff import Front, Tradeoff

#: Rows of a front that are printed, spread over it.
_ROWS = 9
#: What counts as better, as a share of the larger of two values.
_SAME = 0.03


def value_text(name: str, value: float) -> str:
    """A measure's value; never where it does not come to that."""
    if not math.isfinite(value):
        return "never" if name.startswith("years") else "-"
    if name in ("lock_short", "knock_chance"):
        return f"{100.0 * value:.1f} %"
    if abs(value) >= 100.0:
        return f"{value:.0f}"
    return f"{value:.2f}" if name == "jolt_loss" else f"{value:.1f}"


def with_unit(name: str, value: float) -> str:
    """The value and its unit; none behind a word."""
    unit = MEASURES[name].unit if math.isfinite(value) else ""
    return f"{value_text(name, value)} {unit}".rstrip()


def measure_label(name: str) -> str:
    """Words, unit."""
    measure = MEASURES[name]
    unit = f", {measure.unit}" if measure.unit else ""
    return f"{measure.words}{unit}"


def tradeoff_table(answer: Tradeoff) -> Sheet:
    """The measures side by side, or the front of one design."""
    return _front(answer, answer.front) if answer.front is not None else _side_by_side(answer)


def _side_by_side(answer: Tradeoff) -> Sheet:
    names = [short(movement.name) for movement in answer.movements]
    rows, lines = [], []
    for name in answer.names:
        rows.append(measure_label(name))
        lines.append(
            [
                MEASURES[name].better,
                *(
                    value_text(name, answer.values[name][n])
                    + (
                        f" ({value_text(name, answer.low[name][n])} to {value_text(name, answer.high[name][n])})"
                        if math.isfinite(answer.low[name][n])
                        else ""
                    )
                    for n in range(len(names))
                ),
            ]
        )
    parts: list[str | Part] = [
        _narrow(
            f"What each design gets and gives up{around(answer.setting)}", ["better", *names], rows, lines
        )
    ]
    if told := _dashes(answer):
        parts.append(wrapped(told))
    if told := _too_far(answer):
        parts.append(wrapped(told))
    if len(names) == 2:
        parts += [wrapped(sentence) for sentence in _sentences(answer)]
    parts.append(
        wrapped(
            (f"In brackets 5 and 95 % of {answer.examples} sound examples. " if answer.examples else "")
            + "Wear goes with the work of friction as a proportion only; years lean on a "
            "model of ageing whose sources lie far apart (docs/ageing.md)."
        )
    )
    return sheet(*parts)


#: Why a measure has no number, where that is no fault of the design.
_WHY_NONE = {
    "knock_chance": "how many sound examples knock is counted over drawn examples (--examples 200)",
    "worn_hours": "only a movement that winds itself is wound by wearing ([winding] in its design)",
}


def _dashes(answer: Tradeoff) -> str:
    """What a dash means where one stands."""
    said = [
        why for name, why in _WHY_NONE.items()
        if name in answer.names and not np.isfinite(answer.values[name]).all()
    ]  # fmt: skip
    return f"-: {'; '.join(said)}." if said else ""


def _too_far(answer: Tradeoff) -> str:
    """Which designs knock or trip, where the measures tell it."""
    if "below_knock" not in answer.names:
        return ""
    said = [
        f"{headline(movement.name)} {beyond(movement)} fully wound: its amplitudes and rates there are those of the "
        "motion it would have if it did not, and no watch may be left so."
        for movement, left in zip(answer.movements, answer.values["below_knock"], strict=True)
        if not left > 0.0
    ]
    return " ".join(said)


def _narrow(title: str, columns: Sequence[str], rows: Sequence[str], lines: Sequence[Sequence[str]]) -> Table:
    """A table whose columns are as wide as they must be."""
    return Table(
        title, ("", *columns), tuple((row, *line) for row, line in zip(rows, lines, strict=True)), even=False
    )


def _sentences(answer: Tradeoff) -> list[str]:
    """What the second design gets and gives up against the first."""
    one, two = (headline(movement.name) for movement in answer.movements)
    gets: list[str] = []
    gives: list[str] = []
    for name in answer.names:
        a, b = answer.values[name]
        if name in _WHY_NONE and not np.isfinite([a, b]).all():
            continue
        before, after = MEASURES[name].gain(np.array([a, b]))
        gain = 0.0 if before == after else float(after - before)
        size = max(abs(a), abs(b)) if np.isfinite([a, b]).all() else 0.0
        if math.isnan(gain) or (math.isfinite(gain) and abs(gain) <= _SAME * size):
            continue
        first = value_text(name, a) if np.isfinite([a, b]).all() else with_unit(name, a)
        told = f"{MEASURES[name].words} ({first} to {with_unit(name, b)})"
        (gets if gain > 0.0 else gives).append(told)
    found = []
    if gets:
        found.append(f"Against {one}, {two} gets the better {'; '.join(gets)}.")
    if gives:
        found.append(f"It gives up: {'; '.join(gives)}.")
    return found or [f"{two} and {one} lie within {100 * _SAME:.0f} % of one another in all of these."]


def _column(name: str) -> str:
    """A number's or a measure's name, short, with its unit."""
    info = None if name in MEASURES else quantity_of(Movement, name)
    unit = MEASURES[name].unit if info is None else info.unit
    bare = name.split(".")[-1]
    return f"{bare}, {unit}" if unit and info is None else bare


def _front(answer: Tradeoff, found: Front) -> Sheet:
    count = len(next(iter(found.measures.values())))
    picked = np.unique(
        np.append(np.linspace(0, count - 1, min(_ROWS, count)).round().astype(int), found.knee)
    )
    names = [*found.numbers, *found.measures]
    columns = [_column(n) for n in names]
    rows, lines = [], []
    for row in picked:
        rows.append("knee" if row == found.knee else f"{row + 1}")
        lines.append([short_number(found.numbers[n][row]) for n in found.numbers]
                     + [value_text(n, found.measures[n][row]) for n in found.measures])  # fmt: skip
    name = headline(answer.movements[0].name)
    rows.append(short(answer.movements[0].name))
    own = [_own_number(answer.movements[0], n) for n in found.numbers]
    lines.append(own + [value_text(n, found.here[n]) for n in found.measures])
    aims = listed([MEASURES[a].words for a in answer.aims])
    said = [
        f"{found.computed} designs around {name} were settled, {found.kept} keep to the limits and "
        f"{count} of these cannot be bettered in {aims} without losing in another. The knee is the one nearest to the "
        "best of all aims, each on the front's own scale."
    ]
    if found.on:
        said.append(f"{name} itself lies on the front: nothing in these ranges betters it in all aims.")
    else:
        moved = [
            f"{spoken(n)} {_own_number(answer.movements[0], n)} to "
            f"{short_number(found.numbers[n][found.nearest])} {unit_of(Movement, n)}".rstrip()
            for n in answer.ranges
        ]
        said.append(f"{name} can be bettered; the nearest place on the front: {', '.join(moved)}.")
    for limit, share in found.refused.items():
        said.append(f"The limit on {MEASURES[limit].words} alone refuses {100 * share:.0f} % of the designs.")
    for one, values in answer.bundled.items():
        told = ", ".join(f"{MEASURES[a].words} {with_unit(a, values[a])}" for a in answer.aims)
        said.append(f"{headline(one)}: {told}.")
    return sheet(
        _narrow(f"Front of {name}{around(answer.setting)}", columns, rows, lines), *(wrapped(s) for s in said)
    )


def _own_number(movement: Movement, name: str) -> str:
    from oscsim.tables import value_at

    return f"{float(value_at(movement, name)):.4g}"


def ageing_table(answer: Ageing) -> Sheet:
    """Amplitudes over the years, the years to each limit, what a cleaning would give back."""
    parts: list[str | Part] = []
    years = [f"{year:g} year{'' if year == 1.0 else 's'}" for year in answer.years]
    for n, movement in enumerate(answer.movements):
        rows = ["dial up, wound", "12 up, wound", "dial up after a day", "12 up after a day"]
        knock, far = float(answer.knock_deg[n]), beyond(movement)

        def swing(value: float, knock: float = knock, far: str = far) -> str:
            return f"{_swing(value)} {far}" if knock < value < math.inf else _swing(value)

        lines = [[swing(v) for v in values[n]] for values in answer.amplitude_deg.values()]
        low, high = (one["amplitude_vertical_24h"][n] for one in (answer.least_deg, answer.most_deg))
        rows += ["  range of the sources", "  a cleaning gives it back"]
        lines.append([f"{_swing(a)} to {_swing(b)}" for a, b in zip(low, high, strict=True)])
        lines.append([f"{v + 0.0:.0f}" for v in np.round(answer.given_back_deg[n])])
        parts.append(
            grid(
                f"{headline(movement.name)}: amplitude without service, deg{around(answer.setting)}",
                years,
                rows,
                lines,
            )
        )
        limit, stop = answer.years_to_limit[n], answer.years_to_stop[n]
        said = (
            f"12 up, a day after winding, it {_when(f'falls below {answer.limit_deg:g} deg', limit)}, and "
            f"{_when('stops within the day', stop)}."
        )
        if answer.amplitude_deg["amplitude_flat"][n][0] > knock:
            said += f" Fully wound it {far}: no watch may be left so."
        parts.append(wrapped(said))
    parts.append(
        wrapped(
            "Friction on stone and brass rises evenly to that of clean dry surfaces in ten years and stays, the drag "
            "with it. Published ratios of dry to oiled lie far apart, and the range shows them; how long oil lasts is "
            "common practice without source (docs/ageing.md)."
        )
    )
    return sheet(*parts)


def _swing(value: float) -> str:
    return "stops" if value == 0.0 else "knocks" if math.isinf(value) else f"{value:.0f}"


def _when(what: str, three: np.ndarray[tuple[int], np.dtype[np.float64]]) -> str:
    """What happens when, and between which ends of the sources."""
    late, usual, early = (never(float(v)) for v in three)
    told = {"never": f"never {what}", "from the start": f"{what} from the start"}.get(
        usual, f"{what} after {usual} years"
    )
    between = f"after {early} years" if early[0].isdigit() else early
    return told if late == usual == early else f"{told} (sources: {between} to {late})"
