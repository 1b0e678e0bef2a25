"""Tables a watchmaker reads at a glance: positions as rows, hours as columns, units in the headings."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import fields
from typing import TYPE_CHECKING

import numpy as np

from oscsim.answers.regulate import regulated_word
from oscsim.arrays import Array
from oscsim.condition import Condition
from oscsim.escapements.kinds import kind_of
from oscsim.motion.states import STATES, Failure, State
from oscsim.parts.balance import REFERENCE_C
from oscsim.show.style import headline
from oscsim.text.sheet import Cell, Part, Prose, Sheet, Table, Words, sheet
from oscsim.units import Position

if TYPE_CHECKING:
    from oscsim.answers.points import SettledPoints
    from oscsim.answers.rundown import RunDown
    from oscsim.answers.settle import Settle
    from oscsim.movement import Movement
    from oscsim.setting import Setting

_COLUMNS = 10
#: What a watch does that does not simply run, in words.
STATE_VERBS = {State.STOPS: "stops", State.KNOCKS: "knocks", State.UNSETTLED: "wanders", State.TRIPS: "trips"}
#: Nearer than this to where it knocks or trips is too near, deg (as ``swap`` keeps clear of it).
_CLEAR_DEG = 10.0
#: Hours shown in the run-down's table, at most this many columns.
_STEPS_H = (1, 2, 3, 4, 6, 12, 24, 48, 96, 192)


def grid(title: str, columns: Sequence[str], rows: Sequence[str], cells: Sequence[Sequence[Words]]) -> Table:
    """A table of even columns under a title; wide ones are broken into blocks of columns."""
    lines = tuple((row, *line) for row, line in zip(rows, cells, strict=True))
    return Table(title, ("", *columns), lines, even=True)


def position_rows(places: Sequence[Position], tilt_deg: float | None) -> list[str]:
    """Row headings: ISO 3158 symbol and plain words."""
    return [f"{place.symbol:<3} {place.words}{tilted(tilt_deg)}" for place in places]


def hour_columns(hours: Array) -> list[str]:
    return [f"{hour:.4g} h" for hour in hours]


def cells(points: SettledPoints, values: Array, number: Callable[[float], str]) -> list[list[Words]]:
    """Numbers with the state in words wherever it is not simply running."""
    return [
        [state_cell(STATES[code], value, number) for code, value in zip(*line, strict=True)]
        for line in zip(points.code, values, strict=True)
    ]


def state_cell(state: State, value: float, number: Callable[[float], str]) -> Words:
    """A number with the state in words where it is not simply running; where there is no number, the state alone."""
    if state is State.STOPS:
        return Cell("", STATE_VERBS[state])
    if not np.isfinite(value):
        return Cell("", STATE_VERBS[state])
    return Cell(number(value), STATE_VERBS[state]) if state in STATE_VERBS else number(value)


def amplitude(value: float) -> str:
    return f"{value:.1f}"


def signed(value: float, decimals: int = 1) -> str:
    """A number with its sign; what is zero as shown has none."""
    text = f"{value:+.{decimals}f}"
    return text if float(text) else f"{0:.{decimals}f}"


def as_if_free(points: SettledPoints, movement: Movement) -> list[Part]:
    """What the numbers of answers that compare are where the swing gets too far; nothing where it does not."""
    if not points.too_far.any():
        return []
    return [
        wrapped(
            f"Where it {beyond(movement)} the numbers are those of the motion it would have if it did not: they tell "
            "by how much the drive is too strong. What it shows there oscsim settle says."
        )
    ]


def milliseconds(value: float) -> str:
    return f"{value:.2f}"


def wrapped(sentence: str) -> Prose:
    """A sentence broken into lines."""
    return Prose(sentence)


def when(hours: float) -> str:
    return "fully wound" if hours == 0.0 else f"after {hours:.4g} h"


def tilted(tilt_deg: float | None) -> str:
    """What a heading says of the tilt: nothing where the positions have their own."""
    return "" if tilt_deg is None else f", dial tilted {tilt_deg:g} deg"


def warmth(setting: Setting) -> str:
    """The temperature in words: nothing at that of the design's numbers."""
    return "" if setting.temperature_c == REFERENCE_C else f"at {setting.temperature_c:g} °C"


def around(setting: Setting) -> str:
    """What a heading says of temperature and condition: nothing of what is as usual."""
    told = [
        f"{f.metadata['quantity'].meaning} {value:g} {f.metadata['quantity'].unit}".rstrip()
        for f in fields(Condition)
        if (value := getattr(setting.condition, f.name)) != f.default
    ]
    warm = warmth(setting)
    return (f", {warm}" if warm else "") + (f"; condition: {', '.join(told)}" if told else "")


def settle_table(answer: Settle) -> Sheet:
    """Amplitude, rate and beat error by position and hour, and what they mean."""
    p, setting = answer.points, answer.setting
    rows, columns = position_rows(setting.places, setting.tilt_deg), hour_columns(p.hours[0])
    tables: list[Part] = [grid("Amplitude, deg", columns, rows, cells(p, p.shown_amplitude_deg, amplitude))]
    if setting.lift_angle_deg is not None:
        title = f"Amplitude shown by an instrument told a lift angle of {setting.lift_angle_deg:g} deg, deg"
        tables.append(grid(title, columns, rows, cells(p, p.apparent_amplitude_deg, amplitude)))
    built = regulated_word(answer.movement)
    tables.append(grid(f"Rate {built}, s/day", columns, rows, cells(p, p.shown_rate_s_per_day, signed)))
    tables.append(beat_errors(answer.movement, p, columns, rows))
    heading = (
        f"{headline(answer.design)}: settled state by position and hours since full wind{around(setting)}"
    )
    return sheet(wrapped(heading), *tables, settle_sentence(answer))


def settle_sentence(answer: Settle) -> Prose:
    """What the amplitudes mean for this design, in words."""
    p, hours, told = answer.points, answer.points.hours[0], answer.setting.lift_angle_deg
    values = p.shown_amplitude_deg if told is None else p.apparent_amplitude_deg
    said = []
    for j in sorted({0, int(np.argmin(np.abs(hours - 24.0)))} if len(hours) > 1 else {0}):
        said.append(
            f"{when(hours[j])} {_by_kind(answer.setting.places, answer.setting.tilt_deg, p, values, j)}"
        )
    if told is not None:
        said[0] = f"on an instrument told a lift angle of {told:g} deg, {said[0]}"
    failed = answer.failure[p.has(State.STOPS)].tolist()
    return _healthy("; ".join(said) + ".", answer, failed)


def _by_kind(
    places: Sequence[Position], tilt_deg: float | None, p: SettledPoints, swings: Array, j: int
) -> str:
    """Mean amplitudes flat and vertical at hour ``j``, or that the watch stops."""
    flat = [i for i, place in enumerate(places) if place.symbol in ("CH", "FH")]
    kinds = {"flat": flat, "vertical": [i for i in range(len(places)) if i not in flat]}
    if tilt_deg is not None:
        kinds = {f"tilted {tilt_deg:g} deg": list(range(len(places)))}
    return " and ".join(_in_words(p, swings, rows, j, kind) for kind, rows in kinds.items() if rows)


def _in_words(p: SettledPoints, swings: Array, rows: list[int], j: int, kind: str) -> str:
    """One kind of position at hour ``j``: its mean amplitude and what is wrong with it, if anything is."""
    states = {STATES[code] for code in p.code[rows, j]}
    if states == {State.STOPS}:
        return f"stopped {kind}"
    values = swings[rows, j]
    told = f"{np.nanmean(values):.0f} deg {kind}" if np.isfinite(values).any() else f"above 400 deg {kind}"
    wrong = {
        State.STOPS: "partly stopped",
        State.KNOCKS: "knocking",
        State.UNSETTLED: "wandering",
        State.TRIPS: "tripping",
    }
    return ", ".join([told, *(words for state, words in wrong.items() if state in states)])


def _healthy(said: str, answer: Settle | RunDown, failed: Sequence[str | None]) -> Prose:
    """The amplitudes ``said``, and what may be concluded: only of the design as it should be can they be healthy."""
    p, worn, guessed = answer.points, answer.setting.condition != Condition(), bool(answer.movement.filled)
    begun = "What such a movement may show" if guessed else "What this design should show"
    sentences = [f"{begun}{' in this condition' if worn else ''}: {said}"]
    if worn:
        sentences.append("What is healthy for it is what it shows without the condition.")
    elif p.has(State.RUNNING).any() and not guessed:
        running = "these" if p.has(State.RUNNING).all() else "those without a remark"
        healthy = f"healthy for it {warmth(answer.setting)}".rstrip()
        sentences.append(f"Amplitudes near {running} are {healthy}, whatever is usual in another family.")
    if p.too_far.any():
        limit, kind = np.nanmin(p.knock_angle_deg), kind_of(answer.movement.escapement)
        sentences.append(
            f"At {limit:.0f} deg {kind.TOO_FAR}{' and the watch gains by the minute' if kind.ALIKE else ''}: "
            f"the drive is {np.nanmax(p.excess_drive_percent):.0f} % too strong for it, and no watch may be left so."
        )
    elif (left := float(np.nanmin(p.knock_angle_deg - p.shown_amplitude_deg, initial=np.inf))) < _CLEAR_DEG:
        sentences.append(
            f"It comes within {left:.0f} deg of where {kind_of(answer.movement.escapement).TOO_FAR}, and what brings "
            "amplitude, such as fresh oil or a movement of the hand, may make it do so."
        )
    if p.has(State.UNSETTLED).any():
        sentences.append("Where it wanders, the escape wheel comes too late for some impulses.")
    why = failure_sentence(answer.movement, failed)
    return wrapped(" ".join([*sentences, why] if why else sentences))


def beyond(movement: Movement) -> str:
    """What its escapement does beyond the knock angle: knocks, trips."""
    return STATE_VERBS[kind_of(movement.escapement).BEYOND]


def failure_sentence(movement: Movement, words: Iterable[str | None]) -> str:
    """What the words for why it stops mean for its escapement, each once; empty without any."""
    told, known = dict.fromkeys(word for word in words if word), kind_of(movement.escapement).FAILURES
    said = [f"{word}: {known[Failure(word)]}" for word in told]
    return f"{'; '.join(said)}.".capitalize() if said else ""


def beat_errors(
    movement: Movement, points: SettledPoints, columns: Sequence[str], rows: Sequence[str]
) -> Table | Prose:
    """The table of the beat errors, or why there are none."""
    if not kind_of(movement.escapement).ALIKE:
        return wrapped(
            "Beat error: none, as only every second beat has an impulse and the two do not sound alike."
        )
    return grid("Beat error, ms", columns, rows, cells(points, points.beat_error_ms, milliseconds))


def reminded(page: Sheet, designs: Sequence[Movement]) -> Sheet:
    """The page, and below it that a design is a sketch where one is."""
    return page.followed_by(*(wrapped(sketch_sentence(movement)) for movement in designs if movement.filled))


def slip_reminded(page: Sheet, designs: Sequence[Movement]) -> Sheet:
    """The page of a diagnosis, and below it what it means that a movement is known by a slip or a sketch only."""
    return page.followed_by(*(wrapped(slip_sentence(movement)) for movement in designs if movement.filled))


def slip_sentence(movement: Movement) -> str:
    """What is known of a movement of which a bench has measured only some numbers, and what makes it more."""
    return (
        f"{headline(movement.name)} is known by what a bench has: {len(movement.filled)} of its numbers were drawn "
        "from what is usual in its family, and what stands here is as wide as that leaves it. What you measure "
        "yourself, and readings of a sound movement of its kind (--sister), make it narrower."
    )


def sketch_sentence(movement: Movement) -> str:
    """What must be known of a design with numbers that nobody measured."""
    count = "one" if len(movement.filled) == 1 else f"{len(movement.filled)}"
    return (
        f"{headline(movement.name)} is a sketch: {count} of its numbers came from its family and not from the bench. "
        "What stands here is a first idea and judges no movement. Measure what you can, change it in the file and "
        "strike its name from 'filled' there."
    )


def rundown_table(answer: RunDown) -> Sheet:
    """Amplitude and rate by position at round hours, the hour of the stop, and what they mean."""
    p, setting = answer.points, answer.setting
    last = float(answer.hours[-1])
    step = next((s for s in _STEPS_H if last / s <= _COLUMNS - 2), _STEPS_H[-1])
    index = sorted({int(np.argmin(np.abs(answer.hours - h))) for h in np.arange(0.0, last + 1e-9, step)})
    shown = p.at_hours(np.isin(np.arange(len(answer.hours)), index))
    rows, columns = position_rows(setting.places, setting.tilt_deg), hour_columns(answer.hours[index])
    swings = cells(shown, shown.shown_amplitude_deg, amplitude)
    for line, hour in zip(swings, answer.stop_hours, strict=True):
        line.append(f"{hour:.2f} h")
    table = grid("Amplitude, deg", [*columns, "stops at"], rows, swings)
    built = regulated_word(answer.movement)
    rates = grid(f"Rate {built}, s/day", columns, rows, cells(shown, shown.shown_rate_s_per_day, signed))
    said = []
    for j in sorted({0, int(np.argmin(np.abs(answer.hours - 24.0)))}):
        said.append(
            f"{when(answer.hours[j])} {_by_kind(setting.places, setting.tilt_deg, p, p.shown_amplitude_deg, j)}"
        )
    low, high = min(answer.stop_hours), max(answer.stop_hours)
    span = f"{low:.1f} h" if high - low < 0.05 else f"{low:.1f} to {high:.1f} h"
    sentence = _healthy("; ".join(said) + f"; it stops after {span}.", answer, answer.stop_failures())
    heading = f"{headline(answer.design)}: run-down from full wind{around(setting)}"
    return sheet(wrapped(heading), table, rates, sentence)
