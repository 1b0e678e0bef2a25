"""What to read or to measure next: by how much each is expected to change the decision, with a usual time for it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from oscsim.arrays import Array
from oscsim.bench.likelihood import BY_POSITION, OFFSET, place_of
from oscsim.bench.weighing import Weighed
from oscsim.slips.readings import LOOKED, UNCERTAINTY, Readings
from oscsim.units import POSITIONS

#: Usual times, minutes (common practice without source): a reading, one a day later, and what is looked at.
_READING, _LATER = 2.0, 5.0
MINUTES = {
    "lock_deg": 5.0,
    "barrel_torque_n_mm": 20.0,
    "escape_torque_un_m": 30.0,
    "usual_amplitude_deg": 10.0,
    "sister": 10.0,
}
WORDS = {
    "lock_deg": "the whole lock, by eye", "barrel_torque_n_mm": "the torque on the barrel's arbor, fully wound",
    "escape_torque_un_m": "the torque at the escape wheel, fully wound",
    "usual_amplitude_deg": "the usual amplitude of the kind, from a data sheet or a colleague",
    "sister": "another movement of the kind that is known to be sound: flat and vertical",
}  # fmt: skip
#: Outcomes tried of each, rows that are looked at, and a minute's price against the change of a chance.
_OUTCOMES, _ROWS = 48, 1500


@dataclass(frozen=True)
class Next:
    """What to do next: name ("reading" or what is measured), where, in words, why, usual minutes, and by how much the
    chance that decides is expected to move."""

    name: str
    position: str | None
    hours: float | None
    what: str
    why: str
    minutes: float
    change: float

    def to_dict(self) -> dict[str, Any]:
        return dict(vars(self))


def next_steps(w: Weighed, readings: Readings, loses: Array, whether: bool) -> tuple[Next, ...]:
    """All that could be done, best first; ``loses`` (rows,): whether a row has lost what is worth opening for.

    ``whether``: the chance of that counts; without it, where it is worth opening, the chance of the likeliest cause.
    """
    t = w.table
    order = np.argsort(-w.weight)[:_ROWS]
    share = w.weight[order] / w.weight[order].sum()
    rng = np.random.default_rng(0)
    taken = order[
        np.searchsorted(np.cumsum(share), (np.arange(_OUTCOMES) + rng.random()) / _OUTCOMES).clip(
            0, len(order) - 1
        )
    ]
    causes = t.size[order] > 0.0
    noise = rng.standard_normal(_OUTCOMES)

    def change(shown: Array, sd: float) -> float:
        outcome = shown[taken] + sd * noise
        like = -0.5 * ((outcome[:, None] - shown[order]) / sd) ** 2
        then = share * np.exp(like - like.max(axis=1, keepdims=True))
        then /= then.sum(axis=1, keepdims=True)
        if whether:
            return float(np.abs(then @ loses[order] - share @ loses[order]).mean())
        return float((then @ causes).max(axis=1).mean() - (share @ causes).max())

    why = "it tells most whether it is low" if whether else "it tells most what it is"
    found = [
        Next(name, position, hours, what, why, minutes, max(change(shown, sd), 0.0))
        for name, position, hours, what, minutes, shown, sd in _candidates(w, readings)
    ]
    return tuple(sorted(found, key=lambda one: -one.change / (1.0 + one.minutes / 30.0)))


def _candidates(
    w: Weighed, readings: Readings
) -> Iterator[tuple[str, str | None, float | None, str, float, Array, float]]:
    """Name, place, hours, words, minutes, what every row would show, and its standard deviation."""
    t, taken = w.table, {(row.position, row.hours) for row in readings.rows}
    place = sum(chance * size**2 for size, chance in BY_POSITION)
    noise = math.sqrt(UNCERTAINTY["amplitude_deg"] ** 2 + place + OFFSET**2)
    upright = next((p for p in ("12H", "3H", "6H", "9H") if (p, 0.0) not in taken), "12H")
    for m, moment in enumerate(t.moments):
        for position in ("CH", "FH", upright):
            if (position, moment.hours) in taken or moment.let_down:
                continue
            when = "fully wound" if moment.hours == 0.0 else f"{moment.hours:.4g} h after full wind"
            what = f"amplitude in {position} ({POSITIONS[position].words}), {when}"
            shown = t.swing[:, place_of(position), m]
            yield "reading", position, moment.hours, what, _LATER if moment.hours else _READING, shown, noise
    for name, words in WORDS.items():
        if name in readings.findings.looked or (name == "sister" and readings.findings.sisters):
            continue
        if name == "sister":
            shown, sd = t.swing[t.healthy, 0, 0], 10.0
        elif name == "usual_amplitude_deg":
            shown, sd = t.swing[t.healthy, 0, 0], 12.0
        else:
            shown = t.looks[name]
            sd = LOOKED[name].uncertainty_of(w.mean(shown))
            if not sd > 0.0:  # the rows that count hardly run, and nothing is known of what they would show
                continue
        if name in ("sister", "usual_amplitude_deg") and w.sound.drawn:
            continue
        yield name, None, None, words, MINUTES[name], shown, sd
