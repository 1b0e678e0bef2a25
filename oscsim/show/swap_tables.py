"""The table of mainsprings that could take the present one's place, in order, with the cautions."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from oscsim.answers.swap import AS_NEAR, CAUTION, HIGHER, KNOCK_MARGIN
from oscsim.motion.states import TOO_FAR, State
from oscsim.show.style import headline, short
from oscsim.show.tables import STATE_VERBS, around, beyond, grid, signed, wrapped
from oscsim.text.phrases import listed
from oscsim.text.sheet import Cell, Part, Sheet, Words, close, sheet

if TYPE_CHECKING:
    from oscsim.answers.swap import Fitted, Swap

#: Springs named in a sentence.
_NAMED = 3
_WORDS = {state.label: word for state, word in STATE_VERBS.items()}


def numbered(answer: Swap) -> list[str]:
    """The present spring, then the candidates by rank."""
    names = [fitted.candidate.name for fitted in answer.candidates]
    return [
        f"-  {answer.present.candidate.name}",
        *(f"{n}  {short(name)}" for n, name in enumerate(names, 1)),
    ]


def swap_table(answer: Swap) -> Sheet:
    """Amplitudes, reserve and knock by spring, then strip and barrel, remarks, the best in words, and the cautions."""
    every, rows = (answer.present, *answer.candidates), numbered(answer)
    swing = ["CH 0 h", "CH 24 h", "12H 0 h", "12H 24 h", "floor at h", "below knock"]
    strip = ["high mm", "thick mm", "long mm", "N·mm wound", "turns", "reserve h", "fill %", "stress %"]
    aim = "the present spring's" if answer.wanted_deg is None else f"{answer.wanted_deg:g} deg"
    floor = "none" if not math.isfinite(answer.floor_deg) else f"{answer.floor_deg:.0f} deg flat"
    heading = (
        f"{headline(answer.design)}: mainsprings in the present barrel, for {aim} dial up, fully wound"
        f"{around(answer.setting)}"
    )
    legend = (
        f"floor: amplitude below which the vertical rates lie more than {answer.tolerance_s_per_day:g} s/day apart, "
        f"here {floor}{', for a usual want of poise, as the design has none' if answer.unbalance_is_usual else ''}; "
        f"below knock: deg left at full wind before it {beyond(answer.movement)}. fill: area of "
        "the strip over half the free area of the barrel, 100 % gives the most turns; stress: greatest elastic stress "
        "on the arbor over the elastic limit, above 100 % the strip takes a set when first wound, as most do."
    )
    parts: list[Part] = [
        wrapped(heading),
        grid("Amplitude, deg", swing, rows, [_swings(fitted) for fitted in every]),
        grid("Strip and barrel", strip, rows, [_strip(fitted) for fitted in every]),
        grid(
            "Against the present spring", _AGAINST, rows[1:], [_against(answer, f) for f in answer.candidates]
        ),
        *([wrapped(_order(answer))] if len(answer.candidates) > 1 else []),
        wrapped(legend),
    ]
    if answer.calibrated_elastic_limit_mpa is not None:
        known = f"From the known amplitude the strip's elastic limit is {answer.calibrated_elastic_limit_mpa:.0f} MPa."
        parts.append(wrapped(known))
    remarks = [
        wrapped(f"{headline(fitted.candidate.name)}: {fitted.remark}") for fitted in every if fitted.remark
    ]
    if remarks:
        parts.append(close(*remarks))
    tall = [
        f for f in answer.candidates if f.candidate.height_mm > HIGHER * answer.present.candidate.height_mm
    ]
    if tall:
        names = listed(
            [f"{headline(f.candidate.name)} ({f.candidate.height_mm:g} mm)" for f in tall[:_NAMED]]
        )
        parts.append(
            wrapped(
                f"Higher than the present strip, {answer.present.candidate.height_mm:g} mm: {names}"
                + (f" and {len(tall) - _NAMED} more" if len(tall) > _NAMED else "")
                + ". The height under the barrel's cover is not known here: measure it first."
            )
        )
    if told := _bridle(answer):
        parts.append(wrapped(told))
    return sheet(*parts, wrapped(_swap_sentence(answer)), wrapped(f"Caution: {CAUTION}"))


_AGAINST = ("CH 0 h, deg", "CH 24 h, deg", "12H 24 h, deg", "reserve, h")


def _against(answer: Swap, fitted: Fitted) -> list[str]:
    """By how much a spring changes amplitudes and reserve."""
    names = ("flat_wound_deg", "flat_24h_deg", "vertical_24h_deg", "reserve_hours")
    change = [getattr(fitted, name) - getattr(answer.present, name) for name in names]
    return [signed(value, 1) if math.isfinite(value) else "-" for value in change]


def _order(answer: Swap) -> str:
    """How the springs are ranked."""
    return (
        f"Order: what runs for a day and stays {KNOCK_MARGIN:g} deg clear of where it {beyond(answer.movement)} comes "
        f"first; of that within {AS_NEAR:g} deg of what is wanted, no nearer than an amplitude is read, the one with "
        "most amplitude dial up after 24 h, those higher than the present strip last; then by nearness."
    )


def _bridle(answer: Swap) -> str:
    """What the bridle does: where it slips, what that takes of the best spring, and where one of its own would slip."""
    if not math.isfinite(answer.present.slip_torque_n_mm):
        return ""
    fits = [fitted for fitted in answer.candidates if math.isfinite(fitted.held_torque_n_mm)]
    if not fits:
        return ""
    best = fits[0]
    slip, name = best.slip_torque_n_mm, headline(best.candidate.name)
    if best.held_torque_n_mm > slip * (1.0 + 1e-9):
        does = (
            f"with {name} the bridle slips at {slip:.2f} N·mm after {best.turns:.1f} turns; held, the strip would go "
            f"on to {best.held_torque_n_mm:.2f} N·mm and {best.held_turns:.1f} turns"
        )
    else:
        does = f"with {name} the bridle never slips: {slip:.2f} N·mm is more than the strip pulls"
    if answer.own_bridle:
        return f"The bridle: {does}. It is taken to slip at the same share of that as the present one."
    if math.isclose(slip, best.own_slip_torque_n_mm, rel_tol=5e-3):
        return f"The bridle: {does}."
    return (
        f"The bridle: {does}. A bridle of its own, slipping at the same share of what the strip can pull as the "
        f"present one, would slip at {best.own_slip_torque_n_mm:.2f} N·mm: ask with --own-bridle, or give "
        "slip_torque_n_mm."
    )


def _cell(value: float, state: str) -> Words:
    if state == State.STOPS.label or not math.isfinite(value):
        return Cell("", _WORDS[state]) if state in _WORDS else "-"
    return Cell(f"{value:.1f}", _WORDS.get(state, ""))


def _swings(fitted: Fitted) -> list[Words]:
    points = (
        (fitted.flat_wound_deg, fitted.state),
        (fitted.flat_24h_deg, fitted.flat_24h_state),
        (fitted.vertical_wound_deg, fitted.vertical_wound_state),
        (fitted.vertical_24h_deg, fitted.vertical_24h_state),
    )
    return [
        *(_cell(value, state) for value, state in points),
        f"{fitted.floor_hours:.1f}" if math.isfinite(fitted.floor_hours) else "-",
        signed(fitted.knock_margin_deg, 0).removeprefix("+")
        if math.isfinite(fitted.knock_margin_deg)
        else "-",
    ]


def _strip(fitted: Fitted) -> list[str]:
    size = fitted.candidate
    found = (
        (fitted.full_torque_n_mm, 2),
        (fitted.turns, 2),
        (fitted.reserve_hours, 1),
        (100.0 * fitted.fill, 0),
        (100.0 * fitted.stress, 0),
    )
    return [
        *(f"{value:g}" for value in (size.height_mm, size.thickness_mm, size.length_mm)),
        *(f"{value:.{decimals}f}" if math.isfinite(value) else "-" for value, decimals in found),
    ]


def _swap_sentence(answer: Swap) -> str:
    sound = [fitted for fitted in answer.candidates if fitted.state == State.RUNNING.label]
    unfit = sum(fitted.state not in {state.label for state in State} for fitted in answer.candidates)
    knocks = sum(fitted.state in [state.label for state in TOO_FAR] for fitted in answer.candidates)
    said = []
    if sound:
        best, count = sound[0], len(answer.candidates)
        name = headline(best.candidate.name)
        which = f"of {count} springs {name} does best" if count > 1 else f"{name} gives"
        same = best.candidate.size == answer.present.candidate.size
        now = "the size of the present one" if same else f"the present spring: {_day(answer.present)}"
        said.append(f"{which}: {_day(best)} ({now})")
        if best.knock_margin_deg < KNOCK_MARGIN:
            said.append(
                f"but it swings within {KNOCK_MARGIN:g} deg of where it {beyond(answer.movement)}, too near to leave so"
            )
    else:
        said.append("none of these springs lets the watch run soundly")
    if knocks:
        said.append(f"{knocks} would swing too far at full wind: it {beyond(answer.movement)}")
    if unfit:
        said.append(f"{unfit} cannot be fitted")
    return f"What this means: {'; '.join(said)}."


def _day(fitted: Fitted) -> str:
    wound, later = (
        _told(fitted.flat_wound_deg, fitted.state),
        _told(fitted.flat_24h_deg, fitted.flat_24h_state),
    )
    return f"dial up {wound} fully wound, {later} after 24 h, reserve {fitted.reserve_hours:.0f} h"


def _told(value: float, state: str) -> str:
    return f"{value:.0f} deg" if math.isfinite(value) else _WORDS.get(state, state)
