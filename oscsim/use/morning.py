"""Asked in use: what do the movements of an answer show in the morning of a usual day, not only fully wound?"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from oscsim.answers.compare import Compare
from oscsim.answers.result import Result
from oscsim.answers.swap import Swap
from oscsim.answers.whatif import WhatIf
from oscsim.condition import Condition
from oscsim.errors import InputError
from oscsim.motion.states import State
from oscsim.movement import Movement
from oscsim.use.days import one_day, winds
from oscsim.use.stretches import usual_day
from oscsim.use.wound import Wind, curves_of, state_word

#: Days after which a usual day repeats itself, or the watch stands.
_DAYS = 21


@dataclass(frozen=True, kw_only=True)
class Woken:
    """One movement in the morning, before it is put on or wound: hours since full wind and amplitude in the night's
    position, NaN where it stands; ``why``: what kept it from being followed."""

    name: str
    state: str
    hours_since_full_wind: float = math.nan
    amplitude_deg: float = math.nan
    why: str = ""

    def row(self) -> dict[str, Any]:
        """Plain, the unit in every key."""
        return {
            "name": self.name,
            "state": self.state,
            "morning_hours_since_full_wind": self.hours_since_full_wind,
            "morning_amplitude_deg": self.amplitude_deg,
        }


@dataclass(frozen=True, repr=False, kw_only=True)
class Morning(Result):
    """An answer (compare, swap, whatif), and beside it each of its movements in the morning of a usual day."""

    answer: Result
    hours_worn: float
    night: str
    woken: tuple[Woken, ...]

    @property
    def designs(self) -> tuple[Movement, ...]:
        return self.answer.designs

    def settings(self) -> dict[str, Any]:
        return {**self.answer.settings(), "hours_worn": self.hours_worn, "night": self.night}

    def rows(self) -> list[dict[str, Any]]:
        return [one.row() for one in self.woken]

    def body(self) -> dict[str, Any]:
        return {**self.answer.body(), "morning": self.rows()}


def morning(answer: Compare | Swap | WhatIf, *, hours_worn: float = 14.0, night: str = "CH") -> Morning:
    """The answer with the morning of each of its movements: worn ``hours_worn`` a day in the mix of a usual life, laid
    in the position ``night``; self-winding ones wound by wearing, others by hand when put on.

    Raises InputError for hours or a position that cannot be, and for other answers.
    """
    day = usual_day(hours_worn, night=night)
    movements = _movements(answer)
    condition = answer.setting.condition
    woken = tuple(_woken(name, movement, condition, day) for name, movement in movements.items())
    return Morning(answer=answer, hours_worn=float(hours_worn), night=day[-1].mix[0][0], woken=woken)


def _movements(answer: Result) -> Mapping[str, Movement | str]:
    """The movements of an answer by name; text says why there is none."""
    if isinstance(answer, Compare):
        return {movement.name: movement for movement in answer.movements}
    if isinstance(answer, Swap):
        found: dict[str, Movement | str] = {f"{answer.present.candidate.name} (present)": answer.movement}
        for fitted in answer.candidates:
            try:
                found[fitted.candidate.name] = fitted.candidate.fitted(answer.movement)
            except InputError:
                found[fitted.candidate.name] = "does not fit"
        return found
    if isinstance(answer, WhatIf):
        found = {}
        for values in product(*answer.values.values()):
            changes = dict(zip(answer.values, map(float, values), strict=True))
            told = ", ".join(f"{name} = {value:g}" for name, value in changes.items())
            found[told] = answer.movement_at(changes)
        return found
    raise InputError(f"{type(answer).__name__}: only compare, swap and whatif can be asked in use")


def _woken(name: str, movement: Movement | str, condition: Condition, day: Any) -> Woken:
    if isinstance(movement, str):
        return Woken(name=name, state=movement)
    curves, watch, w = curves_of(movement, condition), Wind.full(1), winds(movement)
    try:
        for _ in range(_DAYS):
            one_day(watch, curves, day, np.array([w]), hand=w == 0.0)
    except InputError as error:  # stops fully wound
        return Woken(name=name, state=State.STOPS.label, why=str(error))
    curve, runs = curves.of(day[-1]), bool(watch.runs[0])
    return Woken(
        name=name,
        state=state_word(curve, float(watch.x[0]), runs),
        hours_since_full_wind=float(watch.x[0]),
        amplitude_deg=float(curve.amplitude_at(watch.x)[0]) if runs else math.nan,
    )
