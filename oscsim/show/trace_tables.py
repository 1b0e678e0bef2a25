"""Tables of the motion in time: the phases of a beat, and swing after swing from a start."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from oscsim.escapements.kinds import kind_of
from oscsim.motion.states import State
from oscsim.show.style import headline
from oscsim.show.tables import around, beyond, failure_sentence, grid, signed, tilted, wrapped
from oscsim.text.phrases import listed
from oscsim.text.sheet import Prose, Sheet, sheet

if TYPE_CHECKING:
    from oscsim.answers.trace import Trace, Transient
    from oscsim.setting import Setting

_NANO = 1e9
#: Beats and swings shown; the files have all of them.
_BEATS, _TIMES = 2, 12


def place_and_hour(setting: Setting) -> str:
    """The one position and state of wind, in words: '12 up, 24 h since full wind'."""
    place = f"{setting.places[0].words}{tilted(setting.tilt_deg)}"
    if setting.turns is not None:
        return f"{place}, {np.ravel(setting.turns)[0]:g} turns wound"
    hours = float(np.ravel(setting.hours)[0])
    return f"{place}, " + ("fully wound" if hours == 0.0 else f"{hours:g} h since full wind")


def trace_table(answer: Trace) -> Sheet:
    """The phases of the first two beats, and what they add up to."""
    release = kind_of(answer.movement.escapement).RELEASE
    columns = ["to deg", "ms", "in rad/s", "out rad/s", f"{release} deg", "wheel deg", "given nJ"]
    knocks = {knock["after_beat"]: knock["energy_j"] for knock in answer.knocks()}
    rows, body = [], []
    if 0 in knocks:
        rows.append("knock of the shock" if _shocked(answer) else "knock before")
        body.append(_knock_cells(knocks[0]))
    for phase in answer.phases():
        if phase["beat"] > _BEATS:
            break
        rows.append(f"{phase['beat']} {phase['phase']}")
        body.append(_phase_cells(phase))
        if phase["phase"] == "free arc out" and phase["beat"] in knocks:
            rows.append(f"{phase['beat']} knock")
            body.append(_knock_cells(knocks[phase["beat"]]))
    start = f"from {answer.swing_deg:.1f} deg on the left"
    if _shocked(answer):
        start = f"after a shock that would carry it to {answer.swing_deg:.1f} deg on the left"
    where = f"{place_and_hour(answer.setting)}, {start}{around(answer.setting)}"
    heading = f"{headline(answer.design)}: one beat after another, {where}"
    giver = "the escapement" if answer.rebound is None else "escapement or horn"
    legend = (
        f"to deg: where the balance stands when the phase ends; in, out: its speed; {release}, wheel: what they "
        f"turned; given: what {giver} gave the balance, less than 0 where it took."
    )
    return sheet(
        wrapped(heading), grid("Phases", columns, rows, body), wrapped(legend), _trace_sentence(answer)
    )


def _shocked(answer: Trace) -> bool:
    """Whether it was sent beyond the horn, and did not come there by itself."""
    return answer.swing_deg > answer.knock_deg


def _phase_cells(phase: dict[str, Any]) -> list[str]:
    free = phase["phase"].startswith("free arc")
    return [
        signed(phase["to_deg"], 2),
        f"{phase['duration_s'] * 1e3:.3f}",
        signed(phase["speed_in_rad_per_s"], 2),
        signed(phase["speed_out_rad_per_s"], 2),
        signed(phase["lever_deg"], 2),
        signed(phase["wheel_deg"], 2),
        "-" if free else signed(phase["escapement_j"] * _NANO, 2),
    ]


def _knock_cells(energy_j: float) -> list[str]:
    return [*["-"] * 6, signed(-energy_j * _NANO, 2)]


def _trace_sentence(answer: Trace) -> Prose:
    phases, found = answer.phases(), list[str]()
    kind = kind_of(answer.movement.escapement)
    if answer.state == State.STOPS.label:
        last = phases[-1]
        if last["phase"] == "free arc in":
            found.append(
                f"The swing of {abs(last['to_deg']):.1f} deg does not reach the {kind.MET}: the watch stops."
            )
        elif last["phase"] == "free arc out":
            found.append(
                f"The swing out of beat {last['beat']}, {abs(last['to_deg']):.1f} deg, does not reach the {kind.MET} "
                "again: the watch stops."
            )
        else:
            found.append(f"The balance stops in the phase '{last['phase']}' of beat {last['beat']}.")
        found.append(failure_sentence(answer.movement, [answer.failure]))
    knocks = answer.knocks()
    if answer.state == State.TRIPS.label:
        found.append(f"Beyond {answer.knock_deg:.0f} deg {kind.TOO_FAR}.")
    elif knocks or answer.state == State.KNOCKS.label:
        each = _knocks_in_words(knocks, _shocked(answer))
        found.append(f"Beyond {answer.knock_deg:.0f} deg {kind.TOO_FAR} and rebounds{each}.")
    whole = [number for number in range(1, int(answer.beat[-1]) + 1) if _is_whole(answer, number)]
    if whole:
        count = len(whole)
        given, taken, lost, at_fork, lasting = np.zeros(5)
        for phase in phases:
            if phase["beat"] in whole:
                given += max(phase["escapement_j"], 0.0) / count
                taken -= min(phase["escapement_j"], 0.0) / count
                lost += phase["friction_j"] / count
                at_fork += 0.0 if phase["phase"].startswith("free arc") else phase["duration_s"] / count
                lasting += phase["duration_s"] / count
        within = [knock["energy_j"] for knock in knocks if knock["after_beat"]]
        struck = sum(within) / count
        mean = "In a beat, on average," if within and count > 1 else "In a beat"
        also = ""
        if within:
            also = f" and the knock{'s' if len(within) > 1 else ''} {struck * _NANO:.1f} nJ"
        found.append(
            f"{mean} the escapement takes {taken * _NANO:.1f} nJ and gives {given * _NANO:.1f} nJ; friction and air "
            f"take {lost * _NANO:.1f} nJ{also}, so the balance {_balance(given - taken - lost - struck, given)}. It is "
            f"at the {kind.MET} for {at_fork * 1e3:.1f} of {lasting * 1e3:.1f} ms and swings free the rest."
        )
    return wrapped(" ".join(found))


def _knocks_in_words(knocks: Sequence[dict[str, Any]], shocked: bool) -> str:
    """What the knocks take, one by one where they are few."""
    told = [
        f"{_when_knocked(knock['after_beat'], shocked)} takes {knock['energy_j'] * _NANO:.1f} nJ"
        for knock in knocks
    ]
    if len(told) > _BEATS + 1:
        taken = [knock["energy_j"] * _NANO for knock in knocks]
        return f": {len(told)} knocks take {min(taken):.1f} to {max(taken):.1f} nJ each"
    return f": {listed(told)}" if told else ""


def _when_knocked(beat: int, shocked: bool) -> str:
    if beat:
        return f"the knock at the end of beat {beat}"
    return "the shock's own knock, before beat 1," if shocked else "the knock before beat 1"


def _is_whole(answer: Trace, number: int) -> bool:
    """Whether a beat went through to its free arc out."""
    return bool((answer.phase[answer.beat == number] == "free arc out").any())


def _balance(more: float, given: float) -> str:
    if abs(more) <= 1e-3 * given:
        return "keeps its swing"
    return f"{'gains' if more > 0.0 else 'loses'} {abs(more) * _NANO:.1f} nJ"


def transient_table(answer: Transient) -> Sheet:
    """The swing at a dozen times, the knocks, and how it ends."""
    last = len(answer.time_s) - 1
    # every other swing, so that the table stays on one side
    even = np.linspace(0, last // 2, min(_TIMES, last // 2 + 1))
    shown = sorted({2 * round(i) for i in even})
    rows = [f"{answer.time_s[i]:.3f} s" for i in shown]
    body = [
        [
            f"{answer.swing_deg[i]:.2f}",
            "right" if answer.side[i] > 0 else "left",
            f"{int(answer.knocked[: i + 1].sum())}",
            f"{int(answer.lost[: i + 1].sum())}",
        ]
        for i in shown
    ]
    start = f"from {answer.start_deg:g} deg, {place_and_hour(answer.setting)}"
    heading = f"{headline(answer.design)}: swing in time {start}{around(answer.setting)}"
    columns = ["swing deg", "side", f"{beyond(answer.movement)} so far", "impulses lost"]
    return sheet(wrapped(heading), grid("Swings", columns, rows, body), transient_sentence(answer))


def transient_sentence(answer: Transient) -> Prose:
    """What became of the swing, in words."""
    end, last = answer.time_s[-1], answer.swing_deg[-1]
    knocks, kind = int(answer.knocked.sum()), kind_of(answer.movement.escapement)
    said = []
    if knocks:
        many = "once" if knocks == 1 else f"{knocks} times"
        said.append(
            f"It {beyond(answer.movement)} {many}, the last time after {_last_knock(answer):.2f} s: {kind.TOO_FAR}."
        )
    settles = np.isfinite(answer.settled_deg)
    if answer.state == State.STOPS.label:
        if len(answer.time_s) == 1:
            said.append(
                f"A swing of {answer.swing_deg[0]:g} deg does not get through the {kind.MET}: the watch does not start."
            )
        else:
            said.append(f"It stops after {end:.2f} s, its last swing {last:.1f} deg.")
        said.append(failure_sentence(answer.movement, [answer.failure]))
        if settles:
            said.append(
                f"Started by hand with a large enough swing it settles at {answer.settled_deg:.1f} deg."
            )
    elif settles:
        short = last - answer.settled_deg
        gap = f"{abs(short):.2g} deg {'above' if short > 0.0 else 'below'}"
        near = "close to" if abs(short) < 0.5 else f"{gap}"
        said.append(
            f"After {end:.1f} s it swings {last:.1f} deg, {near} the {answer.settled_deg:.1f} deg at which it settles."
        )
    else:
        said.append(
            f"After {end:.1f} s it swings {last:.1f} deg; there is no settled amplitude within 400 deg."
        )
    return wrapped(" ".join(said))


def _last_knock(answer: Transient) -> float:
    return float(answer.time_s[int(np.flatnonzero(answer.knocked)[-1])])
