"""Tables of what-if questions: amplitude against one number or over two, and what each number's step changes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from oscsim.answers.regulate import regulated_word
from oscsim.arrays import Array, Flags, Indices
from oscsim.motion.states import State
from oscsim.show.labels import (
    circumstances,
    places_in_words,
    point_columns,
    point_in_words,
    spoken,
    with_unit,
)
from oscsim.show.style import headline
from oscsim.show.tables import STATE_VERBS, amplitude, as_if_free, cells, grid, signed, when, wrapped
from oscsim.text.sheet import Part, Sheet, sheet
from oscsim.typical.numbers import facts_of

if TYPE_CHECKING:
    from oscsim.answers.whatif import Sensitivities, WhatIf

#: Most rows and, for a map, columns shown; files have all.
_ROWS, _ACROSS = 25, 9
#: Changes smaller than this are none, deg.
_NOTHING = 0.005
#: Changes larger than this mean that the step is no small one there, deg.
_STEEP = 60.0
#: Differences of amplitude below this show as none, and tops lower than this above the ends are none, deg.
_SHOWN, _TOP = 0.05, 0.5
#: A level stretch counts from this share of the values' span on.
_LEVEL = 0.05
#: Most groups of places, and most stretches of values, that a sentence names for a state.
_CLAUSES, _STRETCHES = 6, 3
_SLIP = "mainspring.slip_torque_n_mm"


def spread_out(count: int, most: int) -> list[int]:
    """At most ``most`` of ``count`` indices, evenly, with both ends."""
    return sorted({round(i) for i in np.linspace(0, count - 1, min(count, most))})


def named(answer: WhatIf, name: str) -> str:
    """A number as it heads an axis or table: 'escapement.lock_deg, deg'."""
    unit = answer.units[name]
    return f"{name}, {unit}" if unit else name


def whatif_table(answer: WhatIf) -> Sheet:
    """Amplitude for each value of one number, or for each pair of two, and what that means."""
    setting = answer.setting
    about = " and ".join(named(answer, name) for name in answer.values)
    what = "amplitude and rate" if len(answer.values) == 1 and answer.moves_rate_alone else "amplitude"
    heading = f"{headline(answer.design)}: {what} against {about}{circumstances(setting)}"
    designed = "; ".join(
        f"{name} = {with_unit(value, answer.units[name])}" for name, value in answer.as_designed.items()
    )
    body = _curve(answer) if len(answer.values) == 1 else _maps(answer)
    sentence = _curve_sentence(answer) if len(answer.values) == 1 else _map_sentence(answer)
    free = as_if_free(answer.points, answer.movement)
    return sheet(wrapped(heading), f"As designed: {designed}", *body, *free, wrapped(sentence))


def _curve(answer: WhatIf) -> list[str | Part]:
    ((name, values),) = answer.values.items()
    kept = spread_out(len(values), _ROWS)
    p = answer.points.shaped((len(values), -1))
    columns = point_columns(answer.setting, answer.points.hours[0])
    rows = [f"{value:g}" for value in values[kept]]
    body = cells(p, p.amplitude_deg, amplitude)
    tables: list[str | Part] = [
        grid(f"Amplitude, deg; rows: {named(answer, name)}", columns, rows, [body[i] for i in kept])
    ]
    if answer.moves_rate_alone:
        rate = cells(p, p.rate_s_per_day, signed)
        title = f"Rate {regulated_word(answer.movement)}, s/day; rows: {named(answer, name)}"
        tables.append(grid(title, columns, rows, [rate[i] for i in kept]))
    if len(kept) < len(values):
        tables.append(f"{len(kept)} of {len(values)} values are shown; csv and json have all.")
    return tables


def _maps(answer: WhatIf) -> list[str | Part]:
    (first, second), (down, across) = answer.values, answer.values.values()
    rows, columns = spread_out(len(down), _ROWS), spread_out(len(across), _ACROSS)
    shape = (len(down), len(across), -1)
    hours = answer.points.hours[0, 0]
    tables: list[str | Part] = []
    for n in range(hours.size):
        p = answer.points.shaped(shape).point(n)
        body = cells(p, p.amplitude_deg, amplitude)
        title = f"Amplitude {point_in_words(answer.setting, hours, n)}, deg; rows: {named(answer, first)}; columns: "
        title += named(answer, second)
        shown = [[body[i][j] for j in columns] for i in rows]
        tables.append(grid(title, [f"{across[j]:g}" for j in columns], [f"{down[i]:g}" for i in rows], shown))
    if len(rows) * len(columns) < len(down) * len(across):
        tables.append(f"{len(rows)} × {len(columns)} of {len(down)} × {len(across)} values are shown.")
    return tables


def _wrong_in_words(answer: WhatIf) -> str:
    """Where any point asked for stops, knocks or wanders: for which values, in which place."""
    p = answer.points.shaped((*(len(values) for values in answer.values.values()), -1))
    hours, said = answer.points.hours.reshape(-1, *answer.points.hours.shape[-2:])[0], ""
    for state, word in STATE_VERBS.items():
        groups: dict[bytes, list[int]] = {}
        found = p.has(state)
        for n in range(found.shape[-1]):
            if found[..., n].any():
                groups.setdefault(found[..., n].tobytes(), []).append(n)
        told = [
            f"{_which(answer, found[..., group[0]])} ({places_in_words(answer.setting, hours, group)})"
            for group in groups.values()
        ]
        if len(told) > _CLAUSES:
            told = [*told[:_CLAUSES], "and at other places, see the table"]
        said += f" It {word} {'; '.join(told)}." if told else ""
    return said


def _which(answer: WhatIf, found: Flags) -> str:
    """For which values, or pairs of them, something was found."""
    names, grids = list(answer.values), list(answer.values.values())
    if found.ndim == 1:
        return _values_in_words(grids[0], found, answer.units[names[0]])
    ends = [np.asarray(found.any(axis=axis)) for axis in (1, 0)]
    told = [
        f"{spoken(name)} {_values_in_words(values, end, answer.units[name])}"
        for name, values, end in zip(names, grids, ends, strict=True)
        if not end.all()
    ]
    with_ = f" with {' and '.join(told)}" if told else ""
    if (found == np.outer(ends[0], ends[1])).all():
        return with_.strip() or "with every pair"
    return f"for {int(found.sum())} of {found.size} pairs{f', all{with_}' if told else ''}"


def _values_in_words(values: Array, found: Flags, unit: str) -> str:
    """The values where ``found``, as stretches of the line of values asked for: 'from 0.13 mm on'."""
    order = np.argsort(values, kind="stable")
    line, at = values[order], found[order]
    stretches = _stretches(at)
    if at.all():
        return "at every value"
    if len(stretches) > _STRETCHES:
        ends = f"between {line[stretches[0][0]]:g} and {with_unit(line[stretches[-1][1] - 1], unit)}"
        return f"at {int(at.sum())} of {at.size} values {ends}"
    told = []
    for first, end in stretches:
        last = end - 1
        if first == last:
            told.append(f"at {with_unit(line[first], unit)}")
        elif last == len(line) - 1:
            told.append(f"from {with_unit(line[first], unit)} on")
        elif first == 0:
            told.append(f"up to {with_unit(line[last], unit)}")
        else:
            told.append(f"from {line[first]:g} to {with_unit(line[last], unit)}")
    return " and ".join(told)


def _stretches(flags: Flags) -> list[tuple[int, int]]:
    """Begin and end (beyond the last) of every run of true flags."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(int)))
    return [(int(i), int(j)) for i, j in zip(edges[::2], edges[1::2], strict=True)]


def _flat(values: Array, swing: Array) -> tuple[int, int] | None:
    """Ends of the longest stretch of a curve that is as good as level, long enough to be more than a mere top."""
    span, reach = values[-1] - values[0], float(np.ptp(swing))
    if span <= 0.0:
        return None
    level = np.abs(np.diff(swing)) <= 1e-3 * reach / span * np.diff(values)
    long = [(i, j) for i, j in _stretches(level) if values[j] - values[i] > _LEVEL * span]
    return max(long, key=lambda ends: values[ends[1]] - values[ends[0]], default=None)


def _bridle(answer: WhatIf, kept: Indices, name: str) -> str:
    """Why a stretch is level, where the bridle is the cause: it slips all along, or at a torque never reached."""
    slip = answer.movement.mainspring.slip_torque_n_mm
    if slip is None:
        return ""
    values = answer.values[name][kept]
    slips = values if name == _SLIP else np.full(values.shape, slip)
    torque = answer.points.barrel_torque_n_mm.reshape(len(answer.values[name]), -1)[kept, 0]
    at_slip = np.isclose(torque, slips, rtol=1e-6, atol=0.0)
    if at_slip.all() and name != _SLIP:
        return f": there the bridle slips, at {with_unit(slip, 'N·mm')}"
    # the first of them may be where it only just slips
    return ": there the bridle no longer slips" if name == _SLIP and not at_slip[1:].any() else ""


def _curve_sentence(answer: WhatIf) -> str:
    ((name, values),) = answer.values.items()
    where, unit = point_in_words(answer.setting, answer.points.hours[0]), answer.units[name]
    p = answer.points.shaped((len(values), -1))
    wrong = _wrong_in_words(answer)
    known = np.flatnonzero(np.isfinite(p.amplitude_deg[:, 0]))
    if known.size < 2:
        return f"What this means: there are fewer than two amplitudes to compare {where}.{wrong}"
    known = known[np.argsort(values[known], kind="stable")]
    at, swing = values[known], p.amplitude_deg[known, 0]
    if answer.moves_rate_alone:
        alone = f"{spoken(name)} leaves the amplitude as good as alone and moves the rate"
        return f"What this means: {alone}, {_most(answer)}."
    if np.ptp(swing) < _SHOWN:
        why = _bridle(answer, known, name)
        ends = f"from {at[0]:g} to {with_unit(at[-1], unit)}"
        said = f"raising {spoken(name)} {ends} leaves the amplitude at {swing[0]:.1f} deg{why}"
        return f"What this means: {where}, {said}{_later(answer)}.{wrong}"
    flat, a, b, more = _flat(at, swing), 0, len(at) - 1, ""
    if flat is not None:
        i, j = flat
        why = _bridle(answer, known[i : j + 1], name)
        level = f"it stays at {swing[i]:.1f} deg{why}"
        if j == b:
            lost = "gained" if swing[i] > swing[a] else "lost"
            more, b = f"; from {with_unit(at[i], unit)} on nothing more is {lost}{why}", i
        elif i == a:
            more, a = f"; up to {with_unit(at[j], unit)} {level}", j
        else:
            more = f"; from {at[i]:g} to {with_unit(at[j], unit)} {level}"
    gained = swing[b] - swing[a]
    word = "takes" if abs(gained) < _SHOWN else "raises" if gained > 0 else "lowers"
    said = f"raising {spoken(name)} from {at[a]:g} to {with_unit(at[b], unit)} {word} the amplitude"
    said += f" from {swing[a]:.1f} to {swing[b]:.1f} deg"
    top = int(np.argmax(swing))
    if swing[top] > max(swing[a], swing[b]) + _TOP:
        said += f"; it is greatest, {swing[top]:.1f} deg, near {with_unit(at[top], unit)}"
    elif flat is None and at[b] > at[a]:
        # a mean slope says something only where the curve goes one way
        step = facts_of(name).step
        each = gained / (at[b] - at[a]) * step
        said += f", on average {signed(each, 2)} deg for each {with_unit(step, unit)}"
    return f"What this means: {where}, {said}{more}{_later(answer)}.{wrong}"


def _most(answer: WhatIf) -> str:
    """Where one number moves the rate most, and between which of its values."""
    ((name, values),) = answer.values.items()
    rate = answer.points.shaped((len(values), -1)).rate_s_per_day
    n = int(np.argmax(np.ptp(rate, axis=0)))
    told = [
        f"{signed(rate[i, n])} s/day at {with_unit(values[i], answer.units[name])}"
        for i in (int(np.argmin(rate[:, n])), int(np.argmax(rate[:, n])))
    ]
    return f"most {point_in_words(answer.setting, answer.points.hours[0], n)}: from {' to '.join(told)}"


def _later(answer: WhatIf) -> str:
    """At later hours of the first position, where the amplitude has its top between the ends: a wind hides that."""
    ((name, values),) = answer.values.items()
    hours = answer.points.hours[0]
    order = np.argsort(values, kind="stable")
    said = ""
    for j in range(1, hours.shape[-1]):
        swing = answer.points.amplitude_deg[order, 0, j]
        known = np.flatnonzero(np.isfinite(swing))
        if known.size < 3:
            continue
        top = int(known[np.argmax(swing[known])])
        if swing[top] > max(swing[known[0]], swing[known[-1]]) + _TOP:
            best = with_unit(values[order][top], answer.units[name])
            said += f"; {when(float(hours[0, j]))} it is greatest, {swing[top]:.1f} deg, near {best}"
    return said


def _map_sentence(answer: WhatIf) -> str:
    (first, second), (down, across) = answer.values, answer.values.values()
    hours = answer.points.hours[0, 0]
    where = point_in_words(answer.setting, hours)
    p = answer.points.shaped((len(down), len(across), -1)).point(0)
    wrong = _wrong_in_words(answer)
    if not np.isfinite(p.amplitude_deg).any():
        return f"What this means: there is no amplitude {where}.{wrong}"

    def at(flat: np.intp) -> str:
        i, j = np.unravel_index(flat, p.amplitude_deg.shape)
        # many pairs may do equally well, above all where the bridle slips: the whole stretch is told
        same = np.abs(p.amplitude_deg - p.amplitude_deg[i, j]) < _SHOWN
        values = _level_at(first, down, same[:, j], int(i), answer.units[first])
        values += f" and {_level_at(second, across, same[i], int(j), answer.units[second])}"
        return f"{p.amplitude_deg[i, j]:.1f} deg with {values}"

    low, high = np.nanargmin(p.amplitude_deg), np.nanargmax(p.amplitude_deg)
    return f"What this means: {where}, the amplitude is least, {at(low)}, and greatest, {at(high)}.{wrong}"


def _level_at(name: str, values: Array, same: Flags, at: int, unit: str) -> str:
    """A number at the value with index ``at``, or the stretch of values that are as good."""
    if same.sum() > 1:
        return f"{spoken(name)} {_values_in_words(values, same, unit)}"
    return f"{spoken(name)} {with_unit(values[at], unit)}"


def sensitivities_table(answer: Sensitivities) -> Sheet:
    """What a bench step, and one per cent, of each number does to the amplitude; the strongest first."""
    p, setting = answer.points, answer.setting
    columns = point_columns(setting, p.hours)
    steps = np.array([facts_of(name).step for name in answer.names])
    slope = answer.amplitude_deg_per_unit.reshape(len(answer.names), -1)
    per_step = slope * steps[:, None]
    per_cent = slope * np.abs(answer.as_designed)[:, None] / 100.0
    size = np.nanmax(np.abs(np.where(np.isfinite(per_step), per_step, 0.0)), axis=1)
    unknown = np.asarray(~np.isfinite(slope).any(axis=1))
    order = [n for n in np.argsort(-size, kind="stable") if size[n] >= _NOTHING]
    states = p.state.reshape(-1)
    rows = [
        f"{answer.names[n]} {answer.as_designed[n]:g} + {with_unit(steps[n], answer.units[n])}" for n in order
    ]
    body = [
        [
            *(_change(value, state) for value, state in zip(per_step[n], states, strict=True)),
            _change(per_cent[n, 0], states[0]),
        ]
        for n in order
    ]
    heading = f"{headline(answer.design)}: what one step of each number changes{circumstances(setting)}"
    parts: list[str | Part] = [wrapped(heading)]
    if rows:
        title = "Change of amplitude, deg, for the step named; the last column for 1 % more"
        parts.append(grid(title, [*columns, f"1 %, {columns[0]}"], rows, body))
        if np.nanmax(np.abs(per_step[order])) > _STEEP:
            parts.append(f"steep: more than {_STEEP:g} deg, beyond what a slope can say of a whole step.")
    still = [n for n in range(len(answer.names)) if size[n] < _NOTHING and not unknown[n]]
    if still:
        rate = answer.rate_s_per_day_per_unit.reshape(len(answer.names), -1) * steps[:, None]
        parts.append(
            wrapped(
                f"Less than {_NOTHING:g} deg for a step, in brackets the most that its rate moves by, s/day: "
                f"{', '.join(_with_rate(answer.names[n], rate[n]) for n in still)}."
            )
        )
    if unknown.any():
        parts.append(wrapped(f"No amplitude near it: {', '.join(np.array(answer.names)[unknown])}."))
    return sheet(*parts, wrapped(_steps_sentence(answer, order, per_step, steps)))


def _with_rate(name: str, rate: Array) -> str:
    """A number with the largest change of the rate for its step, where there is one to speak of."""
    most = float(rate[np.argmax(np.abs(np.where(np.isfinite(rate), rate, 0.0)))])
    return f"{name} ({signed(most, 2)})" if abs(most) >= _NOTHING else name


def _row(answer: Sensitivities, n: int, step: float) -> str:
    return f"{spoken(answer.names[n])} +{with_unit(step, answer.units[n])}"


def _change(value: float, state: str = "") -> str:
    """A change, or the state where the design itself has no amplitude."""
    if abs(value) > _STEEP:
        return "steep"
    if math.isfinite(value):
        return signed(value, 2)
    return state if state in (State.STOPS.label, State.KNOCKS.label, State.TRIPS.label) else "-"


def _steps_sentence(answer: Sensitivities, order: list[int], per_step: Array, steps: Array) -> str:
    where = point_in_words(answer.setting, answer.points.hours)
    if not order:
        state = str(answer.points.state.reshape(-1)[0])
        return f"What this means: no step here moves the amplitude (state {where}: {state})."
    ranked = sorted(order, key=lambda n: -abs(per_step[n, 0]) if math.isfinite(per_step[n, 0]) else 0.0)
    told = [f"{_row(answer, n, steps[n])} ({_change(per_step[n, 0])} deg)" for n in ranked[:3]]
    strip = [n for n in order if answer.names[n] in ("mainspring.height_mm", "mainspring.thickness_mm")]
    slips = answer.movement.mainspring.slip_torque_n_mm is not None
    held = ""
    moves = np.abs(np.nan_to_num(per_step[strip])) >= 0.005
    if slips and moves.any() and not moves[:, 0].any():
        held = f" The strip itself shows nothing {where}, where the bridle slips at its own torque, and shows later."
    return (
        f"What this means: {where}, of these steps the amplitude feels most {', '.join(told[:-1])}"
        f"{' and ' if len(told) > 1 else ''}{told[-1]}. The steps are what a bench would call a small change, not "
        f"equal ones; small changes add up, large ones do not.{held}"
    )
