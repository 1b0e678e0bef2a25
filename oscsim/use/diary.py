"""What a diary of daily errors tells: how fast the wearer winds it, how it is regulated, how much it wavers."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from oscsim.answers.result import OneMovement
from oscsim.arrays import Array
from oscsim.condition import AS_DESIGNED, Condition
from oscsim.errors import InputError
from oscsim.files import takes_design
from oscsim.movement import Movement
from oscsim.use.days import one_day
from oscsim.use.diary_file import Entry, load_diary
from oscsim.use.stretches import usual_day
from oscsim.use.wound import Wind, curves_of

#: Hours of running an hour worn may wind: the values tried, evenly likely before the diary is read.
_WINDINGS = np.linspace(0.0, 12.0, 121)
#: Draws of noise and regulation for each of the windings' chances.
_DRAWS = 8000
_FEWEST = 4
#: An interval this wide beside the prior's says that the diary did not tell.
_UNTOLD = 0.6


@dataclass(frozen=True, kw_only=True)
class Told:
    """A number with its 90 % interval; learnt: whether the diary tells more of it than was known before."""

    low: float
    middle: float
    high: float
    learnt: bool

    def to_dict(self) -> dict[str, Any]:
        """Plain."""
        return {"low": self.low, "middle": self.middle, "high": self.high, "learnt": self.learnt}


@dataclass(frozen=True, repr=False, kw_only=True)
class Diary(OneMovement):
    """What a diary tells of winding (h/h; None: wound by hand), regulation beside the design's, and day-to-day noise,
    s/day. gaps, gained, expected (lines - 1,): days, seconds gained and what the middle of all that says; stopped: the
    chance that it stood still on the way."""

    entries: tuple[Entry, ...]
    condition: Condition
    hours_worn: float
    winding: Told | None
    regulation_s_per_day: Told
    noise_s_per_day: Told
    mean_s_per_day: float
    gaps: Array
    gained_s: Array
    expected_s: Array
    stopped: float
    cannot_tell: tuple[str, ...]

    def settings(self) -> dict[str, Any]:
        return {
            "lines": len(self.entries),
            "hours_worn": self.hours_worn,
            "condition": self.condition.__dict__,
        }

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "day": entry.day,
                "days_since_last": self.gaps[i],
                "gained_s": self.gained_s[i],
                "expected_s": self.expected_s[i],
                "hours_worn": entry.hours_worn,
            }
            for i, entry in enumerate(self.entries[1:])
        ]

    def body(self) -> dict[str, Any]:
        return {
            "winding_h_per_h": self.winding.to_dict() if self.winding else None,
            "regulation_s_per_day": self.regulation_s_per_day.to_dict(),
            "noise_s_per_day": self.noise_s_per_day.to_dict(),
            "mean_s_per_day": self.mean_s_per_day,
            "chance_it_stood": self.stopped,
            "cannot_tell": list(self.cannot_tell),
            "lines": self.rows(),
        }


@takes_design
def diary(
    movement: Movement,
    entries: Sequence[Entry] | str | os.PathLike[str],
    *,
    hours_worn: float = 14.0,
    life: str = "usual",
    wrist: str = "left",
    night: str = "CH",
    condition: Condition | None = None,
    rng: np.random.Generator | int | None = 0,
) -> Diary:
    """Weigh a diary against the design: every winding from 0 to 12 h/h is followed through its days from full wind;
    regulation and noise are what is left (flat prior of the one, 1/σ of the other: t and χ² of what the fit leaves).

    entries: the lines, or their file or the name of a bundled diary (``load_diary``).
    hours_worn, life, wrist, night: of days on which the diary says nothing (``usual_day``). A hand-wound design is
    wound fully each day. Raises InputError for fewer than 4 lines, days that go back, or a watch that stops
    fully wound.
    """
    condition = condition or AS_DESIGNED
    lines = load_diary(entries) if isinstance(entries, str | os.PathLike) else tuple(entries)
    _check(lines)
    generator = rng if isinstance(rng, np.random.Generator) else np.random.default_rng(rng)
    hand = movement.winding is None or movement.winding.kind == "hand"
    w = np.zeros(1) if hand else _WINDINGS
    curves = curves_of(movement, condition)
    watch = Wind.full(len(w))
    gaps = np.diff([one.day for one in lines]).astype(float)
    gained = np.array([b.error_s - (a.error_s if math.isnan(a.set_s) else a.set_s)
                       for a, b in pairwise(lines)])  # fmt: skip
    foretold, stood = np.empty((len(gaps), len(w))), np.zeros((len(gaps), len(w)))
    for i, (entry, gap) in enumerate(zip(lines[1:], gaps, strict=True)):
        worn = hours_worn if math.isnan(entry.hours_worn) else entry.hours_worn
        day = usual_day(worn, life=life, wrist=wrist, night=night)
        begun, stopped = watch.error_s.copy(), watch.stopped.copy()
        for _ in range(int(gap)):
            one_day(watch, curves, day, w, hand=hand)
        foretold[i], stood[i] = watch.error_s - begun, watch.stopped - stopped
    return _weighed(movement, lines, condition, hours_worn, w, hand, gaps, gained, foretold, stood, generator)


def _weighed(
    movement: Movement,
    lines: tuple[Entry, ...],
    condition: Condition,
    hours_worn: float,
    w: Array,
    hand: bool,
    gaps: Array,
    gained: Array,
    foretold: Array,
    stood: Array,
    rng: np.random.Generator,
) -> Diary:
    """The posterior over the windings tried; noise of g days has the variance g σ²."""
    weight = 1.0 / gaps
    left = gained[:, None] - foretold
    # the weighted mean of (gained - foretold)/gap with variance σ²/gap
    regulation = left.sum(axis=0) / gaps.sum()
    squares = (weight[:, None] * (left - gaps[:, None] * regulation) ** 2).sum(axis=0)
    free = len(gaps) - 1
    # a watch that stood still shows it: nobody's diary has a loss of hours without being set anew
    score = -0.5 * free * np.log(squares) - np.where(stood.sum(axis=0) > 0.0, 20.0, 0.0)
    chance = np.exp(score - score.max())
    chance /= chance.sum()
    row = rng.choice(len(w), size=_DRAWS, p=chance)
    sigma = np.sqrt(squares[row] / rng.chisquare(free, _DRAWS))
    offset = regulation[row] + sigma / math.sqrt(gaps.sum()) * rng.standard_normal(_DRAWS)
    winding = None if hand else _told(w[row], wide=float(np.ptp(w)))
    return Diary(
        movement=movement,
        entries=lines,
        condition=condition,
        hours_worn=float(hours_worn),
        winding=winding,
        regulation_s_per_day=_told(offset),
        noise_s_per_day=_told(sigma),
        mean_s_per_day=float(gained.sum() / gaps.sum()),
        gaps=gaps,
        gained_s=gained,
        expected_s=foretold @ chance + gaps * float(chance @ regulation),
        stopped=float(chance @ (stood.sum(axis=0) > 0.0)),
        cannot_tell=_untold(lines, winding, hand),
    )


def _told(draws: Array, wide: float = math.inf) -> Told:
    low, middle, high = np.percentile(draws, (5.0, 50.0, 95.0))
    return Told(
        low=float(low), middle=float(middle), high=float(high), learnt=bool(high - low < _UNTOLD * wide)
    )


def _untold(lines: Sequence[Entry], winding: Told | None, hand: bool) -> tuple[str, ...]:
    said = ["positions: how it lay is assumed, so regulation and position are one number here"]
    if not hand and winding is not None and not winding.learnt:
        said.append(
            "winding: the days are too much alike; days of little wearing, or the state of wind at night, would tell"
        )
    if not hand and all(math.isnan(one.hours_worn) for one in lines):
        said.append("winding: the hours worn were not written down")
    if len(lines) < 8:
        said.append("noise: fewer than eight lines say little of how much it wavers")
    return tuple(said)


def _check(lines: Sequence[Entry]) -> None:
    if len(lines) < _FEWEST:
        raise InputError(f"diary: {len(lines)} lines, at least {_FEWEST} are needed")
    for before, after in pairwise(lines):
        if after.day <= before.day:
            raise InputError(f"diary: day {after.day} after day {before.day}, days must go forward")
    if lines[-1].day - lines[0].day > 366:
        raise InputError(f"diary: {lines[-1].day - lines[0].day} days, at most 366")
