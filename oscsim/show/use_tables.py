"""Tables and sentences of the watch in use: trial, days, diary."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from oscsim.motion.states import TOO_FAR, State
from oscsim.show.style import headline
from oscsim.show.tables import STATE_VERBS, beyond, grid, wrapped
from oscsim.text.phrases import share
from oscsim.text.sheet import Sheet, close, sheet
from oscsim.units import POSITIONS
from oscsim.use.judging import CRITERIA

if TYPE_CHECKING:
    from oscsim.use.days import Days
    from oscsim.use.diary import Diary, Told
    from oscsim.use.morning import Morning
    from oscsim.use.trial import Trial

_NONE = "-"


def _told(value: float | None, digits: int, sign: bool = True) -> str:
    if value is None or not math.isfinite(value):
        return _NONE
    text = f"{value:+.{digits}f}" if sign else f"{value:.{digits}f}"
    return text.lstrip("+-") if float(text) == 0.0 else text


def _chance(value: float) -> str:
    return _NONE if math.isnan(value) else share(value)


def trial_table(answer: Trial) -> Sheet:
    """The criteria with limits, margin and chance, the daily rates, and what decides."""
    rows, cells = [], []
    for one in answer.criteria:
        words, unit = CRITERIA[one.name]
        # one just passed or just missed is not told as on its limit
        digits = 2 if one.name == "C" or abs(one.margin) < 0.05 else 1
        signed = one.name in ("M", "D", "C", "R", "D_other")
        limit = (
            f"{_told(one.low, digits)} to {_told(one.high, digits)}"
            if one.low is not None
            else f"at most {one.high:g}"
        )
        rows.append(f"{one.name:<8}{words}, {unit}")
        cells.append(
            [_told(one.value, digits, signed), limit, _told(one.margin, digits), _chance(one.chance)]
        )
    symbols = list(dict.fromkeys((day["position"], day["temperature_c"]) for day in answer.body()["days"]))
    rates = {(day["position"], day["temperature_c"]): day["rate_s_per_day"] for day in answer.body()["days"]}
    by_day = grid(
        "Mean rate over a day from full wind, s/day",
        [f"{symbol} {warmth:g} °C" for symbol, warmth in symbols],
        ["rate"],
        [[_told(rates[at], 1) for at in symbols]],
    )
    how = (
        "as built"
        if answer.regulated_s_per_day is None
        else f"regulated to {answer.regulated_s_per_day:+g} s/day"
    )
    heading = (
        f"{headline(answer.design)}: trial of fifteen days after ISO 3159, category {answer.category}, {how}"
    )
    return sheet(
        wrapped(heading),
        grid("Criteria", ["value", "limit", "margin", "chance"], rows, cells),
        by_day,
        wrapped(_trial_words(answer)),
        wrapped(_TRIAL_LEGEND),
    )


_TRIAL_LEGEND = (
    "Every day begins fully wound, a self-winding movement is wound by hand. Print disagrees about the "
    "sign of D: here it is 6H less CH, D_other is the opposite; seven criteria count, with D. V and Vmax "
    "come from day-to-day noise alone, so they are given as that noise lets expect. The chance counts "
    "examples within the tolerances, where they were drawn, and the noise. The official trial is made by "
    "an accredited laboratory."
)


def _trial_words(answer: Trial) -> str:
    if answer.state in (State.STOPS, *TOO_FAR):
        where = ", ".join(
            dict.fromkeys(
                f"{day['position']} at {day['temperature_c']:g} °C"
                for day in answer.body()["days"]
                if day["state"] == answer.state.label
            )
        )
        why = "it stops within a day" if answer.state is State.STOPS else f"it {beyond(answer.movement)}"
        return f"No trial: {why} in {where}."
    decides = answer.decides
    assert decides is not None
    drawn = f"{answer.examples} examples of the design" if answer.examples else "the design itself"
    failed = [one.name for one in answer.criteria if one.margin < 0.0 and one.name != "D_other"]
    passes = "would pass all seven" if not failed else f"would fail {', '.join(failed)}"
    return (
        f"Without noise {headline(answer.design)} {passes}. "
        f"With a day-to-day noise of {answer.noise_s_per_day:g} s/day, "
        f"{drawn} pass{'' if answer.examples else 'es'} all seven in {_chance(answer.all_seven)} of trials. "
        f"{decides.name} ({CRITERIA[decides.name][0]}) decides: it is passed in {_chance(decides.chance)}."
    )


def days_table(answer: Days) -> Sheet:
    """Day by day: wind, amplitude in the morning, error; the night positions; the answers in words."""
    ends = answer.mornings
    shown = [n for n in range(len(ends)) if n < 7 or n == len(ends) - 1]
    lines = []
    for n in shown:
        i = ends[n]
        lines.append(
            [
                f"{answer.turns[i]:.1f}",
                f"{answer.wound_h[i]:.1f}",
                STATE_VERBS[State.STOPS]
                if math.isnan(answer.amplitude_deg[i])
                else f"{answer.amplitude_deg[i]:.0f}",
                _told(float(answer.daily_error_s[n]), 1),
            ]
        )
    table = grid(
        "In the morning, before it is put on or wound",
        ["turns wound", "h since full wind", "amplitude deg", "error of the day s"],
        [f"day {n + 1}" for n in shown],
        lines,
    )
    nights = grid(
        "Error of a day by the position at night, s/day",
        list(answer.night),
        ["night"],
        [[_told(error, 1) for error in answer.night.values()]],
    )
    heading = f"{headline(answer.design)}: {answer.days} days with its wearer, from full wind"
    return sheet(wrapped(heading), wrapped(_day_words(answer)), table, nights, wrapped(_days_words(answer)))


def _day_words(answer: Days) -> str:
    said = "; ".join(
        f"{one.hours:g} h {'worn' if one.worn else 'laid down'}, {one.words}, {one.temperature_c:g} °C"
        for one in answer.day
    )
    winds = f"An hour worn winds {answer.w:g} h of running." if answer.w else "Wearing winds nothing."
    if answer.wind_at_h is not None:
        when = f"{answer.wind_at_h:g} h after that" if answer.wind_at_h else "then"
        winds += f" The day begins when it is put on; it is wound by hand {when}."
    return f"A day: {said}. {winds}"


def _days_words(answer: Days) -> str:
    said = []
    if answer.stays_wound:
        said.append(
            f"It stays wound: in the morning it shows at least {answer.least_morning_deg:.0f} deg where it lies."
        )
    else:
        first = next(n for n, one in enumerate(answer.daily_error_s) if math.isnan(one)) + 1
        said.append(
            f"It does not stay wound: it stands {100 * answer.stopped_share:.0f} % of the time, first on day {first}. "
            "Errors are told for days without a stop."
        )
    if answer.break_even_hours is not None:
        said.append(
            f"Break-even: {answer.break_even_hours:.1f} h worn a day; here it is worn {answer.hours_worn:g} h."
        )
    if answer.crown_turns_to_full:
        said.append(f"Winding it fully takes about {answer.crown_turns_to_full:.0f} turns of the crown.")
    knocks = any(state.label in answer.state for state in TOO_FAR)
    if answer.best_night is not None and not knocks:  # no position makes up for a knock
        said.append(
            f"At night it is best laid {POSITIONS[answer.best_night].words} ({answer.best_night}): "
            f"{_told(answer.night[answer.best_night], 1)} s/day."
        )
    kept = [one for one in answer.daily_error_s if math.isfinite(one)]
    if kept:
        said.append(
            f"A day's error is {_told(sum(kept) / len(kept), 1)} s, from one day to the next ± {answer.spread_s:.1f} s "
            f"(one standard deviation, with a noise of {answer.noise_s_per_day:g} s/day)."
        )
    if knocks:
        said.append(f"It {beyond(answer.movement)} while fully wound: no watch may be left so.")
    return " ".join(said)


def morning_table(answer: Morning) -> Sheet:
    """The answer's own page, and below it the morning of a usual day."""
    rows = [
        [
            "-" if math.isnan(one.hours_since_full_wind) else f"{one.hours_since_full_wind:.1f}",
            one.state if math.isnan(one.amplitude_deg) else f"{one.amplitude_deg:.0f}",
        ]
        for one in answer.woken
    ]
    table = grid(
        f"In the morning of a usual day, worn {answer.hours_worn:g} h, then laid {POSITIONS[answer.night].words}",
        ["h since full wind", "amplitude deg"],
        [headline(one.name) for one in answer.woken],
        rows,
    )
    return sheet(answer.answer.sheet(), table, wrapped(_MORNING))


_MORNING = (
    "A self-winding movement is wound by wearing, another by hand when it is put on. One that winds quickly lives "
    "near full wind, so what it shows in the morning lies nearer to the wound amplitude than its run-down does."
)


def diary_table(answer: Diary) -> Sheet:
    """What the diary tells, with intervals, and what it cannot tell."""
    told: list[tuple[str, Told | None]] = [
        ("winding, h of running per h worn", answer.winding),
        ("regulation beside the design, s/day", answer.regulation_s_per_day),
        ("day-to-day noise, s/day", answer.noise_s_per_day),
    ]
    rows = [name for name, one in told if one is not None]
    cells = [
        [
            f"{one.middle:+.1f}" if "regulation" in name else f"{one.middle:.1f}",
            f"{one.low:.1f} to {one.high:.1f}",
        ]
        for name, one in told
        if one is not None
    ]
    heading = f"{headline(answer.design)}: what a diary of {len(answer.entries)} lines tells"
    said = [f"Over the diary it went {answer.mean_s_per_day:+.1f} s/day."]
    if answer.winding is not None and answer.winding.learnt:
        said.append(
            f"An hour on this wrist winds about {answer.winding.middle:.1f} h of running: it breaks even at "
            f"{24.0 / max(answer.winding.middle, 1e-9):.1f} h worn a day."
        )
    if answer.stopped > 0.5:
        said.append("It probably stood still on the way: errors across a stop tell nothing.")
    cannot = close(wrapped("What it cannot tell:"), *(wrapped(f"- {one}") for one in answer.cannot_tell))
    return sheet(
        wrapped(heading),
        grid("90 % intervals", ["middle", "90 %"], rows, cells),
        wrapped(" ".join(said)),
        cannot,
    )
