"""Tables of what-if questions: amplitude against one number or over two, and what each number's step changes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from oscsim.arrays import Array, Codes
from oscsim.motion.states import STATES, State
from oscsim.show.labels import bench_step, circumstances, point_columns, point_in_words, with_unit
from oscsim.show.sheet import sheet
from oscsim.show.style import headline
from oscsim.show.tables import amplitude, cells, grid, signed, wrapped

if TYPE_CHECKING:
    from oscsim.answers.whatif import Sensitivities, WhatIf

#: Most rows and, for a map, columns shown; files have all.
_ROWS, _ACROSS = 25, 9
#: Changes smaller than this are none, deg.
_NOTHING = 0.005
#: Changes larger than this mean that the step is no small one there, deg.
_STEEP = 60.0


def spread_out(count: int, most: int) -> list[int]:
    """At most ``most`` of ``count`` indices, evenly, with both ends."""
    return sorted({round(i) for i in np.linspace(0, count - 1, min(count, most))})


def named(answer: WhatIf, name: str) -> str:
    """A number as it heads an axis or table: 'escapement.lock_deg, deg'."""
    unit = answer.units[name]
    return f"{name}, {unit}" if unit else name


def whatif_table(answer: WhatIf) -> str:
    """Amplitude for each value of one number, or for each pair of two, and what that means."""
    setting = answer.setting
    about = " and ".join(named(answer, name) for name in answer.values)
    heading = f"{headline(answer.design)}: amplitude against {about}{circumstances(setting)}"
    designed = "; ".join(
        f"{name} = {with_unit(value, answer.units[name])}" for name, value in answer.as_designed.items()
    )
    body = _curve(answer) if len(answer.values) == 1 else _maps(answer)
    sentence = _curve_sentence(answer) if len(answer.values) == 1 else _map_sentence(answer)
    return sheet(wrapped(heading), f"As designed: {designed}", *body, wrapped(sentence))


def _curve(answer: WhatIf) -> list[str]:
    ((name, values),) = answer.values.items()
    kept = spread_out(len(values), _ROWS)
    p = answer.points.shaped((len(values), -1))
    columns = point_columns(answer.setting, answer.points.hours[0])
    rows = [f"{value:g}" for value in values[kept]]
    body = cells(p, p.amplitude_deg, amplitude)
    tables: list[str] = [
        grid(f"Amplitude, deg; rows: {named(answer, name)}", columns, rows, [body[i] for i in kept])
    ]
    if len(kept) < len(values):
        tables.append(f"{len(kept)} of {len(values)} values are shown; csv and json have all.")
    return tables


def _maps(answer: WhatIf) -> list[str]:
    (first, second), (down, across) = answer.values, answer.values.values()
    rows, columns = spread_out(len(down), _ROWS), spread_out(len(across), _ACROSS)
    shape = (len(down), len(across), -1)
    hours = answer.points.hours[0, 0]
    tables: list[str] = []
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


def _states_in_words(code: Codes, where: str) -> str:
    """Which states other than running occur."""
    words = {State.STOPS: "stops", State.KNOCKS: "knocks", State.UNSETTLED: "wanders"}
    found = [word for state, word in words.items() if (code == STATES.index(state)).any()]
    return f" For some values it {' or '.join(found)} {where}." if found else ""


def _curve_sentence(answer: WhatIf) -> str:
    ((name, values),) = answer.values.items()
    hours = answer.points.hours[0]
    where = point_in_words(answer.setting, hours)
    p = answer.points.shaped((len(values), -1))
    swing, wrong = p.amplitude_deg[:, 0], _states_in_words(p.code[:, 0], where)
    known = np.flatnonzero(np.isfinite(swing))
    if known.size < 2:
        return f"What this means: there are fewer than two amplitudes to compare {where}.{wrong}"
    known = known[np.argsort(values[known], kind="stable")]
    a, b = known[0], known[-1]
    unit, gained = answer.units[name], swing[b] - swing[a]
    ends = f"from {with_unit(values[a], '')} to {with_unit(values[b], unit)}"
    said = f"What this means: {where}, raising {name} {ends} "
    if abs(gained) < 0.05:
        said += f"leaves the amplitude at {swing[a]:.1f} deg"
    else:
        word = "raises" if gained > 0 else "lowers"
        said += f"{word} the amplitude from {swing[a]:.1f} to {swing[b]:.1f} deg"
    step = bench_step(name)
    if values[b] > values[a]:
        each = gained / (values[b] - values[a]) * step
        said += f", on average {signed(each, 2)} deg for each {with_unit(step, unit)}"
    top = known[int(np.argmax(swing[known]))]
    if swing[top] > max(swing[a], swing[b]) + 0.5:
        said += f"; it is greatest, {swing[top]:.1f} deg, near {with_unit(values[top], unit)}"
    return f"{said}.{wrong}"


def _map_sentence(answer: WhatIf) -> str:
    (first, second), (down, across) = answer.values, answer.values.values()
    hours = answer.points.hours[0, 0]
    where = point_in_words(answer.setting, hours)
    p = answer.points.shaped((len(down), len(across), -1)).point(0)
    wrong = _states_in_words(p.code, where)
    if not np.isfinite(p.amplitude_deg).any():
        return f"What this means: there is no amplitude {where}.{wrong}"

    def at(flat: np.intp) -> str:
        i, j = np.unravel_index(flat, p.amplitude_deg.shape)
        values = f"{first} = {with_unit(down[i], answer.units[first])}"
        values += f" and {second} = {with_unit(across[j], answer.units[second])}"
        return f"{p.amplitude_deg[i, j]:.1f} deg with {values}"

    low, high = np.nanargmin(p.amplitude_deg), np.nanargmax(p.amplitude_deg)
    return f"What this means: {where} the amplitude is least, {at(low)}, and greatest, {at(high)}.{wrong}"


def sensitivities_table(answer: Sensitivities) -> str:
    """What a bench step, and one per cent, of each number does to the amplitude; the strongest first."""
    p, setting = answer.points, answer.setting
    columns = point_columns(setting, p.hours)
    steps = np.array([bench_step(name) for name in answer.names])
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
    parts: list[str] = [wrapped(heading)]
    if rows:
        title = "Change of amplitude, deg, for the step named; the last column for 1 % more"
        parts.append(grid(title, [*columns, f"1 %, {columns[0]}"], rows, body))
        if np.nanmax(np.abs(per_step[order])) > _STEEP:
            parts.append(f"steep: more than {_STEEP:g} deg, beyond what a slope can say of a whole step.")
    still = [answer.names[n] for n in range(len(answer.names)) if size[n] < _NOTHING and not unknown[n]]
    if still:
        parts.append(wrapped(f"Less than {_NOTHING:g} deg for a step: {', '.join(still)}."))
    if unknown.any():
        parts.append(wrapped(f"No amplitude near it: {', '.join(np.array(answer.names)[unknown])}."))
    return sheet(*parts, wrapped(_steps_sentence(answer, order, per_step, steps)))


def _row(answer: Sensitivities, n: int, step: float) -> str:
    return f"{answer.names[n]} +{with_unit(step, answer.units[n])}"


def _change(value: float, state: str = "") -> str:
    """A change, or the state where the design itself has no amplitude."""
    if abs(value) > _STEEP:
        return "steep"
    if math.isfinite(value):
        return signed(value, 2)
    return state if state in (State.STOPS.label, State.KNOCKS.label) else "-"


def _steps_sentence(answer: Sensitivities, order: list[int], per_step: Array, steps: Array) -> str:
    where = point_in_words(answer.setting, answer.points.hours)
    if not order:
        state = str(answer.points.state.reshape(-1)[0])
        return f"What this means: no step here moves the amplitude (state {where}: {state})."
    ranked = sorted(order, key=lambda n: -abs(per_step[n, 0]) if math.isfinite(per_step[n, 0]) else 0.0)
    told = [f"{_row(answer, n, steps[n])} ({_change(per_step[n, 0])} deg)" for n in ranked[:3]]
    return (
        f"What this means: {where}, of these steps the amplitude feels most {', '.join(told[:-1])}"
        f"{' and ' if len(told) > 1 else ''}{told[-1]}. The steps are what a bench would call a small change, not "
        "equal ones; small changes add up, large ones do not."
    )
