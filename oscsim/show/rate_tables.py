"""Tables of rates: by position, against amplitude, over the heavy point's direction, and the working band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from oscsim.answers.ratemap import FIRST_ORDER_NODE_DEG, PLACES, ROUND
from oscsim.answers.regulate import regulated_word
from oscsim.answers.shares import CAUSES
from oscsim.arrays import Array
from oscsim.motion.states import TOO_FAR, State
from oscsim.show.labels import circumstances
from oscsim.show.style import headline
from oscsim.show.tables import (
    STATE_VERBS,
    amplitude,
    around,
    beat_errors,
    beyond,
    cells,
    grid,
    hour_columns,
    position_rows,
    signed,
    tilted,
    when,
    wrapped,
)
from oscsim.text.sheet import Part, Prose, Sheet, sheet

if TYPE_CHECKING:
    from oscsim.answers.band import Band
    from oscsim.answers.isochronism import Isochronism
    from oscsim.answers.ratemap import RateMap
    from oscsim.answers.rates import Rates
    from oscsim.movement import Movement

#: Shares below this everywhere are named below the table and not shown in it, s/day.
SMALL = 0.005
#: Causes as they stand in a sentence.
_SAID = {
    "regulation": "how the hairspring is set",
    "hairspring": "the hairspring not being linear",
    "hairspring_shape": "the hairspring's shape",
    "hairspring_weight": "the hairspring's weight",
    "index_pins": "play at the index pins",
    "poise": "want of poise",
    "drag": "air, oil and inner friction",
    "pivots": "dry friction at the pivots",
    "escapement": "the escapement",
    "out_of_beat": "being out of beat",
}
#: Steps of amplitude for a table's columns, deg, and the most columns.
_STEPS, _MOST = (1, 2, 5, 10, 20, 30, 50, 100), 10


def how_set(movement: Movement) -> str:
    """As built, or regulated and by how much."""
    setting = movement.balance.regulation_s_per_day
    word = regulated_word(movement)
    return f"{word} (hairspring set {signed(setting, 2)} s/day)" if setting else word


def _or_dash(value: float, decimals: int = 1) -> str:
    return signed(value, decimals) if math.isfinite(value) else "-"


def rates_table(answer: Rates) -> Sheet:
    """Rate, amplitude and beat error by position and hour, their mean and spread, the shares, and what they mean."""
    p, setting = answer.points, answer.setting
    rows, columns = position_rows(setting.places, setting.tilt_deg), hour_columns(p.hours[0])
    word = regulated_word(answer.movement)
    tables: list[Part] = [
        grid(f"Rate {word}, s/day", columns, rows, cells(p, p.shown_rate_s_per_day, signed)),
        grid("Amplitude, deg", columns, rows, cells(p, p.shown_amplitude_deg, amplitude)),
    ]
    if setting.lift_angle_deg is not None:
        title = f"Amplitude shown by an instrument told a lift angle of {setting.lift_angle_deg:g} deg, deg"
        tables.append(grid(title, columns, rows, cells(p, p.apparent_amplitude_deg, amplitude)))
    tables.append(beat_errors(answer.movement, p, columns, rows))
    if len(rows) > 1:
        summary = {
            "mean rate": answer.mean_rate_s_per_day,
            "position spread (fastest less slowest)": answer.position_spread_s_per_day,
            "horizontal less vertical": answer.horizontal_less_vertical_s_per_day,
        }
        body = [[_or_dash(value) for value in values] for values in summary.values()]
        body[1] = [text.removeprefix("+") for text in body[1]]  # a spread has no sign
        tables.append(grid(f"Over these {len(rows)} positions, s/day", columns, list(summary), body))
    if answer.shares:
        tables.extend(_shares_at_hours(answer))
    heading = f"{headline(answer.design)}: rates by position, {how_set(answer.movement)}{around(setting)}"
    return sheet(wrapped(heading), *tables, wrapped(_rates_sentence(answer)))


def shown_causes(shares: dict[str, Array]) -> tuple[list[str], list[str]]:
    """Causes whose share is not negligible everywhere, and the others."""
    some = [c for c, share in shares.items() if np.nanmax(np.abs(share), initial=0.0) >= SMALL]
    return some, [cause for cause in shares if cause not in some]


def _nothing_from(causes: Sequence[str]) -> list[Prose]:
    return [wrapped(f"Nothing from: {'; '.join(CAUSES[cause] for cause in causes)}.")] if causes else []


def _shares_at_hours(answer: Rates) -> list[Part]:
    """What moves the rate, one table for each hour, and which causes do nothing."""
    some, none = shown_causes(answer.shares)
    columns = [place.symbol for place in answer.setting.places]
    together = np.sum(list(answer.shares.values()), axis=0)
    tables = []
    for j, hour in enumerate(answer.points.hours[0]):
        values = [*(answer.shares[cause][:, j] for cause in some), together[:, j]]
        body = [[_or_dash(value, 2) for value in line] for line in values]
        rows = [*(CAUSES[cause] for cause in some), "together"]
        tables.append(grid(f"What moves the rate {when(hour)}, s/day", columns, rows, body))
    return [*tables, *_nothing_from(none)]


def _rates_sentence(answer: Rates) -> str:
    hours = answer.points.hours[0]
    said = [_at_hour(answer, j) for j in sorted({0, int(np.argmin(np.abs(hours - 24.0)))})]
    if (answer.points.too_far | answer.points.has(State.UNSETTLED)).any():
        said.append(f"a rate where it {beyond(answer.movement)} or wanders is none to regulate by")
    return "What this means: " + "; ".join([*said, *_scatter(answer)]) + "."


def _at_hour(answer: Rates, j: int) -> str:
    """Mean, spread and flat against vertical at one hour, in words."""
    hour, rate = when(answer.points.hours[0, j]), answer.points.shown_rate_s_per_day[:, j]
    if not np.isfinite(rate).all():
        where = [
            symbol for symbol, value in zip(answer.setting.positions, rate, strict=True) if np.isnan(value)
        ]
        return f"{hour} there is no rate in {', '.join(where)}, so neither mean nor spread"
    if len(rate) == 1:
        return f"{hour} {answer.setting.places[0].words} it rates {signed(rate[0])} s/day"
    words = f"{hour} the mean is {signed(answer.mean_rate_s_per_day[j])} s/day"
    words += f", the positions lie {answer.position_spread_s_per_day[j]:.1f} s/day apart"
    gap = answer.horizontal_less_vertical_s_per_day[j]
    if not math.isfinite(gap):
        return words
    if abs(gap) < 0.05:
        return words + " and flat is as fast as vertical"
    return words + f" and flat is {abs(gap):.1f} s/day {'faster' if gap > 0.0 else 'slower'} than vertical"


def _scatter(answer: Rates) -> list[str]:
    """Where the vertical positions lie most apart, and why, if they do."""
    p = answer.points
    vertical = [i for i, place in enumerate(answer.setting.places) if math.isfinite(place.hour_up)]
    if len(vertical) < 2 or answer.setting.tilt_deg is not None:
        return []
    rated = np.isfinite(p.rate_s_per_day[vertical]).all(axis=0)
    if not rated.any():
        return []
    spread = np.where(rated, np.ptp(p.rate_s_per_day[vertical], axis=0), -1.0)
    j = int(np.argmax(spread))
    if spread[j] < 1.0:
        return [f"the verticals keep within {max(spread[j], 0.1):.1f} s/day of one another"]
    swing = float(p.amplitude_deg[vertical, j].mean())
    words = f"the verticals lie most apart {when(p.hours[0, j])}, {spread[j]:.1f} s/day at {swing:.0f} deg: "
    if swing < FIRST_ORDER_NODE_DEG:
        words += "below about 220 deg want of poise tells more, the lower the amplitude"
    else:
        words += "want of poise hides only near 220 deg and shows again above it, the other way round"
    return [
        words,
        *_weight(
            answer.movement, "the hairspring's weight parts them as well, and near 220 deg it alone does"
        ),
    ]


def _weight(movement: Movement, words: str) -> list[str]:
    """What is to be said of the hairspring's weight, where the design tells it."""
    return [words] if movement.hairspring is not None and movement.hairspring.weighs else []


def isochronism_table(answer: Isochronism) -> Sheet:
    """Rate against amplitude with its shares and the torque it takes, a table for each position."""
    shown = _round_columns(answer.amplitude_deg)
    columns = [f"{answer.amplitude_deg[j]:g} deg" for j in shown]
    some, none = shown_causes(answer.shares)
    tables = []
    for i, place in enumerate(answer.setting.places):
        body = [[_or_dash(answer.shares[cause][i, j], 2) for j in shown] for cause in some]
        body.append([_or_dash(answer.rate_s_per_day[i, j], 2) for j in shown])
        rows = [*(CAUSES[cause] for cause in some), "together: the rate"]
        title = f"{place.symbol} {place.words}: what moves the rate, s/day"
        torque = [amplitude(t) if np.isfinite(t) else "-" for t in answer.barrel_torque_n_mm[i, shown]]
        tables.append(grid(title, columns, rows, body))
        tables.append(
            grid(f"{place.symbol} {place.words}: torque on the barrel that keeps it up, N·mm",
                 columns, ["torque"], [torque])
        )  # fmt: skip
    about = f"{how_set(answer.movement)}{circumstances(answer.setting)}"
    heading = f"{headline(answer.design)}: rate against amplitude, {about}"
    notes = _notes(answer.state[:, shown], answer)
    if np.isfinite(answer.rate_s_per_day).any():
        notes += _nothing_from(none)
    end = wrapped(_isochronism_sentence(answer, some))
    return sheet(wrapped(heading), *tables, *notes, end)


def _notes(state: NDArray[np.str_], answer: Isochronism | RateMap) -> list[Prose]:
    """What is to be said of amplitudes that are not reached, or knock."""
    said = []
    if (state == State.UNREACHED.label).any():
        said.append(
            f"Where a dash stands, no torque up to {answer.ceiling:g} times that at full wind keeps the amplitude up."
        )
    if np.isin(state, [one.label for one in TOO_FAR]).any():
        said.append(f"Above {answer.knock_deg:.0f} deg it {beyond(answer.movement)}.")
    return [wrapped(" ".join(said))] if said else []


def _round_columns(values: Array) -> list[int]:
    """At most ten of the values, in order: all of them, the round ones, or some evenly spread."""
    if len(values) <= _MOST:
        return list(range(len(values)))
    for step in _STEPS:
        found = [j for j, value in enumerate(values) if value % step == 0.0]
        if 3 <= len(found) <= _MOST:
            return found
    return [round(j) for j in np.linspace(0, len(values) - 1, _MOST)]


def _isochronism_sentence(answer: Isochronism, causes: Sequence[str]) -> str:
    place, runs = answer.setting.places[0].words, answer.state[0] == State.RUNNING.label
    said, swing, rate = "What this means: ", answer.amplitude_deg, answer.rate_s_per_day[0]
    if not runs.any():
        return (
            f"{said}{place}, no torque up to {answer.ceiling:g} times that at full wind keeps up one of these "
            "amplitudes without knocking."
        )
    at = np.flatnonzero(runs)
    high, low = at[np.argmax(swing[at])], at[np.argmin(swing[at])]
    if high == low:
        return f"{said}{place} at {swing[high]:g} deg it rates {signed(rate[high])} s/day."
    change = rate[low] - rate[high]
    moved = {cause: answer.shares[cause][0, low] - answer.shares[cause][0, high] for cause in causes}
    most = sorted(moved, key=lambda cause: -abs(moved[cause]))[:2]
    most = [cause for cause in most if abs(moved[cause]) >= 0.05] or most[:1]
    told = " and ".join(f"{signed(moved[cause])} s/day by {_SAID[cause]}" for cause in most)
    fall = f"as the amplitude falls from {swing[high]:g} to {swing[low]:g} deg {place}"
    if abs(change) < 1.0:
        kept = f"the ends differ by {abs(change):.1f} s/day only"
        return f"{said}{fall} {kept}: what moves the rate cancels, {told}."
    way = "loses" if change < 0.0 else "gains"
    return f"{said}{fall} the watch {way} {abs(change):.1f} s/day, most of all {told}."


def ratemap_table(answer: RateMap) -> Sheet:
    """Rate at round amplitudes by where the heavy point stands, and the node."""
    below, place = answer.below_deg, answer.setting.places[0]
    columns = [f"{word} ({(below + turn) % 360.0:g} deg)" for word, turn in PLACES.items()]
    rows = [f"{swing:g} deg" for swing in ROUND]
    body = [[_or_dash(value) for value in line] for line in answer.quarters_s_per_day]
    heading = (
        f"{headline(answer.design)}: rate by amplitude and direction of the heavy point, {place.symbol} {place.words}"
        f"{tilted(answer.setting.tilt_deg)}, want of poise {answer.unbalance_ug_cm:g} µg·cm, "
        f"{how_set(answer.movement)}{around(answer.setting)}"
    )
    title = (
        f"Rate {regulated_word(answer.movement)}, s/day, by where the heavy point stands at rest "
        "(deg clockwise from 12 o'clock)"
    )
    table = grid(title, [*columns, "poised"], rows, body)
    reached = np.isfinite(answer.quarters_s_per_day)
    state = np.where(np.array(ROUND)[:, None] > answer.knock_deg, TOO_FAR[0].label, State.RUNNING.label)
    notes = _notes(np.where(reached, state, State.UNREACHED.label), answer)
    return sheet(wrapped(heading), table, *notes, wrapped(_ratemap_sentence(answer)))


def _ratemap_sentence(answer: RateMap) -> str:
    if math.isfinite(answer.node_deg):
        said = [
            f"the node found is {answer.node_deg:.2f} deg; first-order theory has {FIRST_ORDER_NODE_DEG:.2f}, and "
            f"escapement, friction and spring shift it by {signed(answer.node_deg - FIRST_ORDER_NODE_DEG, 2)} deg"
        ]
    else:
        said = [f"no torque up to {answer.ceiling:g} times that at full wind reaches a node"]
    told = []
    effect = (answer.quarters_s_per_day[:, 0] - answer.quarters_s_per_day[:, 2]) / (
        2.0 * answer.unbalance_ug_cm
    )
    kept = {swing: value for swing, value in zip(ROUND, effect, strict=True) if math.isfinite(value)}
    for swing in (180.0, 300.0 if 300.0 in kept else 270.0):
        if swing in kept:
            way = "gains" if kept[swing] > 0.0 else "loses"
            told.append(f"{way} {abs(kept[swing]):.2f} s/day at {swing:g} deg")
    if told:
        said.append(f"a heavy point below {' and '.join(told)} for each µg·cm, one above the opposite")
    said.append("so compare the verticals well below the node, near which no poise fault shows")
    said += _weight(answer.movement, "what parts them at the node is the hairspring's weight")
    return "What this means: " + "; ".join(said) + "."


def band_text(answer: Band) -> Sheet:
    """Spread of the vertical rates at round amplitudes, and the working band in a sentence."""
    shown = _round_columns(answer.flat_amplitude_deg)
    columns = [f"{answer.flat_amplitude_deg[j]:g} deg" for j in shown]
    spread = [_or_dash(v).lstrip("+") for v in answer.vertical_spread_s_per_day[shown]]
    vertical = [amplitude(v) if np.isfinite(v) else "-" for v in answer.vertical_amplitude_deg[shown]]
    rows = ["amplitude vertical, deg", "spread of the verticals, s/day"]
    heading = (
        f"{headline(answer.design)}: working band of amplitude, verticals within "
        f"{answer.tolerance_s_per_day:g} s/day, want of poise {answer.unbalance_ug_cm:g} µg·cm with the heavy point "
        f"{_where(answer)}, {how_set(answer.movement)}{around(answer.setting)}"
    )
    parts: list[Part] = [grid("At the amplitude dial up", columns, rows, [vertical, spread])]
    if answer.unbalance_is_usual:
        parts.append(
            wrapped(
                "The design has no want of poise, with which the verticals would never part: a usual one is taken."
            )
        )
    return sheet(wrapped(heading), *parts, wrapped(band_sentence(answer)))


def _where(answer: Band) -> str:
    if answer.heavy_point_deg is None:
        return "where it is worst"
    return f"at {answer.heavy_point_deg:g} deg"


def _small(value: float) -> str:
    """A number that may be far below one."""
    return f"{value:.1f}" if value >= 1.0 else f"{value:.2g}"


def band_sentence(answer: Band) -> str:
    """The band, where full wind and the run-down stand in it, and its ends, in one sentence."""
    within = (
        f"within {answer.tolerance_s_per_day:g} s/day of one another for an unbalance of "
        f"{answer.unbalance_ug_cm:g} µg·cm"
    )
    spread = answer.vertical_spread_s_per_day
    knock = f"above {answer.knock_deg:.0f} deg it {beyond(answer.movement)}"
    if not answer.met:
        best = int(np.argmin(spread))
        if not math.isfinite(spread[best]):
            return f"At no amplitude up to there do all the verticals run; {_fully_wound(answer)}."
        return (
            f"At no amplitude do the verticals stay {within}: at best, at {answer.flat_amplitude_deg[best]:.0f} deg "
            f"dial up, they lie {_small(spread[best])} s/day apart"
            + "".join(_weight(answer.movement, ", and the hairspring's weight has its part in that"))
            + f"; {_fully_wound(answer)}; {knock}."
        )
    floor, ceiling = answer.floor_deg, answer.ceiling_deg
    # a band so narrow that whole degrees would hide it
    ends = [f"{end:.{0 if ceiling - floor > 5.0 else 2}f}" for end in (floor, ceiling)]
    start = (
        f"From {ends[0]} deg, the lowest computed, to" if answer.floor_is_least else f"Between {ends[0]} and"
    )
    said = [f"{start} {ends[1]} deg dial up the verticals stay {within}", _fully_wound(answer)]
    if math.isfinite(answer.floor_hours):
        if answer.floor_is_least:
            said.append(
                f"the run-down stays inside until it falls below {floor:.0f} deg after {answer.floor_hours:.1f} h"
            )
        else:
            said.append(f"the run-down reaches the floor after {answer.floor_hours:.1f} h")
    if not answer.ceiling_is_knock:
        said.append(f"above {ends[1]} deg they part again")
    return "; ".join([*said, knock]) + "."


def _fully_wound(answer: Band) -> str:
    """What it shows dial up at full wind, and on which side of the band."""
    full, state = answer.full_wind_deg, answer.full_wind_state
    if state == State.STOPS.label:
        return "this design does not run even fully wound"
    shows = f"{full:.0f} deg" if math.isfinite(full) else "more than 400 deg"
    words = f"fully wound this design shows {shows}"
    told = {one.label: word for one, word in STATE_VERBS.items()}
    if state in (State.KNOCKS.label, State.TRIPS.label):
        words = f"fully wound this design {told[state]}, as its drive would carry it to {shows}"
    elif state in told:
        words += f" and {told[state]}"
    if not answer.met:
        return words
    if answer.ceiling_hours > 0.0:
        return f"{words}, too much for the band, and comes down into it after {answer.ceiling_hours:.1f} h"
    if not full > answer.floor_deg:
        return f"{words}, below the band from the start"
    return words
