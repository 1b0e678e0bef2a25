"""The table of what examples of a design show, and which tolerance matters most."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from oscsim.answers.regulate import regulated_word
from oscsim.condition import Condition
from oscsim.motion.states import State
from oscsim.show.labels import circumstances, point_in_words, spoken, with_unit
from oscsim.show.style import headline
from oscsim.show.tables import beyond, grid, position_rows, signed, wrapped
from oscsim.tables import unit_of, value_at
from oscsim.text.phrases import listed
from oscsim.text.sheet import Cell, Part, Sheet, Words, close, sheet

if TYPE_CHECKING:
    from collections.abc import Callable

    from oscsim.answers.tolerance import Band95, Tolerance
    from oscsim.arrays import Array
    from oscsim.tolerances import Spread

_PERCENTS = ("5 %", "50 %", "95 %")
#: Shares of the variance below this are gathered in one line, %.
_SMALL = 1.0


def tolerance_table(answer: Tolerance) -> Sheet:
    """Bands of amplitude and rate by position and hour, states, what matters most, and what that means."""
    setting = answer.setting
    rows = [
        f"{row}, {hour:.4g} h"
        for row in position_rows(setting.places, setting.tilt_deg)
        for hour in answer.hours
    ]
    word = regulated_word(answer.movement)
    title = "Amplitude, deg, below which 5, 50 and 95 % of the examples lie"
    tables: list[Part] = [grid(title, _PERCENTS, rows, _cells(answer, answer.amplitude_deg, _whole))]
    if setting.lift_angle_deg is not None:
        title = f"Amplitude shown by an instrument told a lift angle of {setting.lift_angle_deg:g} deg, deg"
        tables.append(grid(title, _PERCENTS, rows, _cells(answer, answer.apparent_amplitude_deg, _whole)))
    tables.append(
        grid(f"Rate {word}, s/day, likewise", _PERCENTS, rows, _cells(answer, answer.rate_s_per_day, signed))
    )
    if set(answer.states) != {State.RUNNING.label}:
        columns = [f"{state} %" for state in answer.states]
        body = [
            [_percent(share.reshape(-1)[n]) for share in answer.states.values()] for n in range(len(rows))
        ]
        tables.append(grid("States of the examples", columns, rows, body))
    tables.append(_spreads(answer))
    heading = f"{headline(answer.design)}: {what_examples_show(answer)}{circumstances(setting)}"
    return sheet(wrapped(heading), *tables, wrapped(_tolerance_sentence(answer)))


def _whole(value: float) -> str:
    """An amplitude no finer than so many draws give: its 5 and 95 % are good to some tenths of a degree at best."""
    return f"{value:.0f}"


def what_examples_show(answer: Tolerance) -> str:
    """What the answer is about, for a heading: only of a measured design as it should be are examples sound."""
    who = f"{answer.examples} examples" if _worn(answer) else f"{answer.examples} sound examples"
    said = f"what {who} would show"
    if answer.movement.filled:
        said = f"what {answer.examples} such movements may show"
    return said + (" in this condition" if _worn(answer) else "")


def _worn(answer: Tolerance) -> bool:
    return answer.setting.condition != Condition()


def _cells(answer: Tolerance, band: Band95, number: Callable[[float], str]) -> list[list[Words]]:
    """Band ends; where too few examples have a number, what they mostly do instead."""
    parts = [part.reshape(-1) for part in (band.low, band.middle, band.high)]
    return [
        [
            number(part[n]) if math.isfinite(part[n]) else _instead(answer, n, k)
            for k, part in enumerate(parts)
        ]
        for n in range(parts[0].size)
    ]


def _instead(answer: Tolerance, point: int, end: int) -> Cell:
    """Examples that stop lie below all others, those that knock beyond any number above."""
    stops = answer.states.get(State.STOPS.label)
    share = 0.0 if stops is None else float(stops.reshape(-1)[point])
    return Cell("", "stops" if share >= (0.05, 0.5, 0.95)[end] - 0.01 and share > 0.0 else "knocks")


def _told(spread: Spread) -> str:
    width = f"{spread.percent:g} %" if spread.plus_minus is None else f"{spread.plus_minus:g}"
    return f"±{width}{' uniform' if spread.shape == 'uniform' else ''}"


def _spreads(answer: Tolerance) -> Part:
    """The spreads drawn from; with indices (a number's share alone and with the others), those that matter first."""
    total, rate = answer.total, answer.rate_total
    if total is None or rate is None:
        rows = [spread.name for spread in answer.spreads]
        body = [[_designed(answer, spread), _told(spread)] for spread in answer.spreads]
        return grid("Spreads", ["as designed", "spread"], rows, body)
    kept = np.maximum(total, rate) >= 0.01 * _SMALL
    order = [n for n in np.argsort(-total, kind="stable") if kept[n]]
    rows = [answer.spreads[n].name for n in order]
    body = [
        [
            _designed(answer, answer.spreads[n]),
            _told(answer.spreads[n]),
            _percent(total[n]),
            _percent(rate[n]),
        ]
        for n in order
    ]
    where = point_in_words(answer.setting, _hours(answer))
    title = f"What matters most {where}: share of the variance, %"
    table = grid(title, ["as designed", "spread", "of amplitude", "of rate"], rows, body)
    rest = len(answer.spreads) - len(order)
    return close(table, f"and {rest} others of less than {_SMALL:g} % each") if rest else table


def _hours(answer: Tolerance) -> Array:
    return np.tile(answer.hours, (len(answer.setting.positions), 1))


def _percent(share: float) -> str:
    """In whole per cent, which is as fine as the draws are; what there is of less is not nothing."""
    percent = max(100.0 * share, 0.0)
    return "under 1" if 0.05 < percent < 0.5 else f"{percent:.0f}"


def _most(answer: Tolerance, shares: Array) -> str:
    """The two numbers that matter most, in words."""
    order = np.argsort(-shares)[:2]
    return listed([f"{spoken(answer.spreads[n].name)} ({_percent(shares[n])} %)" for n in order])


def _designed(answer: Tolerance, spread: Spread) -> str:
    value = float(value_at(answer.movement, spread.name))
    return with_unit(value, unit_of(type(answer.movement), spread.name))


def _tolerance_sentence(answer: Tolerance) -> str:
    where = point_in_words(answer.setting, _hours(answer))
    low, middle, high = (
        float(part.reshape(-1)[0])
        for part in (answer.amplitude_deg.low, answer.amplitude_deg.middle, answer.amplitude_deg.high)
    )
    worn, guessed = _worn(answer), bool(answer.movement.filled)
    may = "may " if guessed else ""
    who = "such movements" if guessed else "examples" if worn else "sound examples"
    which = " in this condition" if worn else ""
    said = []
    if math.isfinite(low) and math.isfinite(high):
        far = beyond(answer.movement)
        knocks = float(np.ravel(answer.states.get(far, np.zeros(1)))[0])
        band = f"{where}, nine in ten {who}{which} {may}show {low:.0f} to {high:.0f} deg"
        if knocks:
            band += f", and of a hundred {_percent(knocks)} {far.removesuffix('s')}"
        elif not (worn or guessed):
            band += ", so a reading in there is no fault of the example's own"
        said.append(band)
    elif math.isfinite(middle):
        said.append(
            f"{where}, half of the {who}{which} {may}lie below {middle:.0f} deg, but the band is open at one end"
        )
    else:
        said.append(f"{where}, more than half of the {who}{which} {may}have no amplitude")
    if answer.first_order is not None and answer.total is not None:
        said.append(f"most of the spread comes from {_most(answer, answer.total)}")
    if answer.rate_total is not None:
        said.append(f"most of the rate's from {_most(answer, answer.rate_total)}")
    text = f"What this means: {'; '.join(said)}."
    if worn:
        text += " What is healthy for them is what they show without the condition."
    if answer.assumed:
        text += (
            " The design gives no [tolerance]: these spreads are assumed (common practice without source), so the band "
            "is no better than they are."
        )
    return text
