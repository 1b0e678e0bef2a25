"""Does it stay wound, what does it show in the morning, how should it lie at night? Some days with its wearer."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from oscsim.answers.result import OneMovement
from oscsim.arrays import Array
from oscsim.condition import AS_DESIGNED, Condition
from oscsim.errors import InputError
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.movement import Movement
from oscsim.operating import hours_of_wind, turns_left
from oscsim.units import POSITIONS
from oscsim.use.stretches import NOISE, WOUND, Stretch, at_night, usual_day
from oscsim.use.wound import Curves, Wind, curves_of, state_word

PER_HOUR = Quantity("h/h", "w", "hours of running that an hour on the wrist winds", 0, 30)
COUNT = Quantity("", "", "days to follow", 1, 366, whole=True)
WIND_AT = Quantity("h", "", "hour of the day at which it is wound, counted from putting it on", 0, 24)
CROWN = Quantity("turns", "", "turns of the crown given each day", 0, 200)
#: The trade's least vertical amplitude after a day, deg (common practice without source).
LOW = 180.0


@dataclass(frozen=True, repr=False, kw_only=True)
class Days(OneMovement):
    """Days of one watch with its wearer, from full wind. Arrays: by the hour, and again where a stretch begins or it is
    wound (hours,); daily (days,).

    w: hours of running that an hour worn winds, 0 for a hand-wound one; crown_h: those that the crown gives, infinite:
    fully; conserved: wound less spent, slipped and change of state, h of running (nothing but rounding).
    """

    condition: Condition
    day: tuple[Stretch, ...]
    w: float
    wind_at_h: float | None
    crown_h: float
    noise_s_per_day: float
    hour: Array
    wound_h: Array
    turns: Array
    amplitude_deg: Array
    rate_s_per_day: Array
    error_s: Array
    state: tuple[str, ...]
    lies: tuple[str, ...]
    worn: tuple[bool, ...]
    daily_error_s: Array
    morning_deg: Array
    stopped_share: float
    break_even_hours: float | None
    crown_turns_to_full: float | None
    balance_h: dict[str, float]
    residual_rad: float

    @property
    def mornings(self) -> list[int]:
        """Where in the table each day ends, before the watch is put on or wound."""
        return [int(np.searchsorted(self.hour, 24.0 * n)) for n in range(1, self.days + 1)]

    @property
    def days(self) -> int:
        """How many days were followed."""
        return len(self.daily_error_s)

    @property
    def stays_wound(self) -> bool:
        """Whether it never stood still."""
        return self.stopped_share == 0.0

    @property
    def hours_worn(self) -> float:
        """Hours of the day on the wrist or in the pocket."""
        return math.fsum(one.hours for one in self.day if one.worn)

    @property
    def least_morning_deg(self) -> float:
        """The least amplitude of a morning, before it is put on or wound; NaN where it stands."""
        return float(np.min(self.morning_deg)) if np.isfinite(self.morning_deg).all() else math.nan

    @property
    def spread_s(self) -> float:
        """Standard deviation of the daily errors: as computed, and the day-to-day noise."""
        kept = self.daily_error_s[np.isfinite(self.daily_error_s)]
        return math.hypot(float(np.std(kept)) if len(kept) else 0.0, self.noise_s_per_day)

    @cached_property
    def night(self) -> dict[str, float | None]:
        """Error of the last day with the night spent in each position, s/day; None where it stops. Computed when it is
        first asked for."""
        curves = curves_of(self.movement, self.condition)
        return _nights(curves, self.day, self.w, self.wind_at_h, self.crown_h, self.days)

    @property
    def best_night(self) -> str | None:
        """The position in which the day's error is smallest; None where none lets it run."""
        there = {symbol: abs(error) for symbol, error in self.night.items() if error is not None}
        return min(there, key=lambda symbol: there[symbol]) if there else None

    def settings(self) -> dict[str, Any]:
        return {
            "day": [
                {
                    "hours": one.hours,
                    "positions": dict(one.mix),
                    "temperature_c": one.temperature_c,
                    "worn": one.worn,
                }
                for one in self.day
            ],
            "wound_per_hour": self.w,
            "wind_at_hour": self.wind_at_h,
            "noise_s_per_day": self.noise_s_per_day,
            "condition": self.condition.__dict__,
        }

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "day": int(hour // 24) + 1,
                "hour": float(hour % 24),
                "worn": self.worn[i],
                "positions": self.lies[i],
                "state": self.state[i],
                "turns": self.turns[i],
                "hours_since_full_wind": self.wound_h[i],
                "amplitude_deg": self.amplitude_deg[i],
                "rate_s_per_day": self.rate_s_per_day[i],
                "error_s": self.error_s[i],
            }
            for i, hour in enumerate(self.hour)
        ]

    def body(self) -> dict[str, Any]:
        kept = self.daily_error_s[np.isfinite(self.daily_error_s)]
        return {
            "stays_wound": self.stays_wound,
            "stopped_share": self.stopped_share,
            "least_morning_amplitude_deg": self.least_morning_deg,
            "morning_amplitude_deg": self.morning_deg,
            "daily_error_s": self.daily_error_s,
            "mean_daily_error_s": float(np.mean(kept)) if len(kept) else math.nan,
            "spread_s": self.spread_s,
            "night": self.night,
            "best_night": self.best_night,
            "break_even_hours": self.break_even_hours,
            "crown_turns_to_full": self.crown_turns_to_full,
            "balance_h": self.balance_h,
            "residual_rad": self.residual_rad,
            "hours": self.rows(),
        }


@takes_design
def days(
    movement: Movement,
    day: Sequence[Stretch] | None = None,
    *,
    count: int = 14,
    hours_worn: float = 14.0,
    life: str = "usual",
    wrist: str = "left",
    night: str = "CH",
    wound_per_hour: float | None = None,
    wind_at: float | None = None,
    crown_turns: float | None = None,
    noise_s_per_day: float = 1.0,
    condition: Condition | None = None,
) -> Days:
    """Follow ``count`` days from full wind. A day begins when the watch is put on.

    day: stretches that add up to 24 h (``load_day``); without it a usual day of hours_worn, life (desk, usual, active),
    wrist (left, right, pocket) and night. wound_per_hour: w of the manual's page, default the design's own or the
    life's, in a pocket 0; wind_at: hour at which it is wound by hand, by crown_turns or fully (default where wearing
    winds nothing: 0, when put on).
    Raises InputError, also for a hand-wound design with wound_per_hour and a watch that stops fully wound.
    """
    condition = condition or AS_DESIGNED
    COUNT.check("days", count)
    NOISE.check("noise_s_per_day", noise_s_per_day)
    stretches = tuple(day) if day is not None else usual_day(hours_worn, life=life, wrist=wrist, night=night)
    pocket = day is None and wrist == "pocket"
    w = 0.0 if pocket and wound_per_hour is None else winds(movement, wound_per_hour, life)
    by_hand = pocket or not (movement.winding and movement.winding.kind == "self")
    if wind_at is None and by_hand and w == 0.0:
        wind_at = 0.0
    if wind_at is not None:
        WIND_AT.check("wind_at", wind_at)
    per_turn = float(hours_of_wind(movement, 1.0))
    given = _crown(movement, crown_turns, wind_at, per_turn)
    curves = curves_of(movement, condition)
    curves.prepare(
        [(symbol, one.temperature_c) for one in stretches for symbol, _ in one.mix]
        + [(symbol, one.temperature_c) for one in stretches if not one.worn for symbol in POSITIONS]
    )
    watch = Wind.full(1)
    winding = np.array([w])
    hour, wound, runs, error, then = ([] for _ in range(5))
    daily, mornings, taken = [], [], []

    def note(at: float, stretch: Stretch) -> None:
        hour.append(at)
        wound.append(float(watch.x[0]))
        runs.append(bool(watch.runs[0]))
        error.append(float(watch.error_s[0]))
        then.append(stretch)

    note(0.0, stretches[0])
    for number in range(count):
        begun, stood = float(watch.error_s[0]), float(watch.stopped[0])
        for at, hours, stretch, by_hand in _pieces(stretches, wind_at):
            if by_hand:
                taken.append(float(watch.x[0]))
                watch.wind(given)
            if stretch.words != then[-1].words or by_hand:
                note(24.0 * number + at, stretch)
            watch.go(hours, curves.of(stretch), winding * stretch.worn)
            note(24.0 * number + at + hours, stretch)
        stands = float(watch.stopped[0]) > stood
        daily.append(math.nan if stands else float(watch.error_s[0]) - begun)
        mornings.append(len(hour) - 1)
    total = 24.0 * count
    x, swing, rate = np.array(wound), *np.full((2, len(wound)), math.nan)
    for stretch in dict.fromkeys(then):
        rows = np.flatnonzero([one == stretch and run for one, run in zip(then, runs, strict=True)])
        curve = curves.of(stretch)
        swing[rows], rate[rows] = curve.amplitude_at(x[rows]), curve.rate_at(x[rows])
    return Days(
        movement=movement,
        condition=condition,
        day=stretches,
        w=w,
        wind_at_h=wind_at,
        crown_h=given,
        noise_s_per_day=float(noise_s_per_day),
        hour=np.array(hour),
        wound_h=x,
        turns=np.asarray(turns_left(condition.applied_to(movement), x)),
        amplitude_deg=swing,
        rate_s_per_day=rate,
        error_s=np.array(error),
        state=tuple(
            state_word(curves.of(one), at, run) for one, at, run in zip(then, wound, runs, strict=True)
        ),
        lies=tuple(one.words for one in then),
        worn=tuple(one.worn for one in then),
        daily_error_s=np.array(daily),
        morning_deg=swing[mornings],
        stopped_share=float(watch.stopped[0]) / total if watch.stopped[0] > 1e-9 else 0.0,
        break_even_hours=24.0 / w if w > 0.0 else None,
        crown_turns_to_full=_to_full(movement, taken[-1] if taken else float(watch.x[0]), per_turn),
        balance_h={
            "wound": float(watch.wound[0]),
            "spent": float(watch.spent[0]),
            "slipped": float(watch.slipped[0]),
            "change": -float(watch.x[0]),
        },
        residual_rad=max(curves.of(one).residual_rad for one in stretches),
    )


def one_day(watch: Wind, curves: Curves, day: Sequence[Stretch], w: Array, *, hand: bool) -> None:
    """A day from putting the watch on; ``hand``: it is wound then, fully."""
    if hand:
        watch.wind()
    for stretch in day:
        watch.go(stretch.hours, curves.of(stretch), w * stretch.worn)


def winds(movement: Movement, wound_per_hour: float | None = None, life: str = "usual") -> float:
    """w: as asked, or the design's own for a usual life, or the life's; raises InputError."""
    own = movement.winding
    if wound_per_hour is not None:
        PER_HOUR.check("wound_per_hour", wound_per_hour)
        if own is not None and own.kind == "hand":
            raise InputError(
                f"wound_per_hour = {wound_per_hour:g} h/h: {movement.name} is wound by hand and winds nothing on the "
                "wrist; leave it out"
            )
        return float(wound_per_hour)
    if own is None or own.kind == "hand":
        return 0.0
    usual = WOUND.get(life, WOUND["usual"])
    return usual if own.hours_per_hour_worn is None else own.hours_per_hour_worn * usual / WOUND["usual"]


def _crown(movement: Movement, turns: float | None, wind_at: float | None, per_turn: float) -> float:
    """Hours of running that the crown gives each day; infinite: fully."""
    if turns is None:
        return math.inf
    CROWN.check("crown_turns", turns)
    if wind_at is None:
        raise InputError(f"crown_turns = {turns:g} turns: give the hour too (wind_at)")
    per_barrel = movement.winding.crown_turns_per_barrel_turn if movement.winding else None
    if per_barrel is None:
        raise InputError(
            f"crown_turns = {turns:g} turns: the design does not say winding.crown_turns_per_barrel_turn"
        )
    return turns / per_barrel * per_turn


def _to_full(movement: Movement, x: float, per_turn: float) -> float | None:
    """Turns of the crown from x hours since full wind to full; None where the design does not say."""
    per_barrel = movement.winding.crown_turns_per_barrel_turn if movement.winding else None
    return None if per_barrel is None else x / per_turn * per_barrel


def _pieces(
    day: Sequence[Stretch], wind_at: float | None, step_h: float = 1.0
) -> list[tuple[float, float, Stretch, bool]]:
    """The day cut at whole steps, at the stretches' ends and where it is wound: begin, hours, stretch, wound at its
    begin."""
    ends = np.cumsum([one.hours for one in day])
    cuts = {0.0, 24.0, *np.arange(0.0, 24.0, step_h).tolist(), *ends.tolist()}
    wound = None if wind_at is None else wind_at % 24.0
    if wound is not None:
        cuts.add(wound)
    places = sorted(cut for cut in cuts if cut < 24.0 - 1e-9)
    places = [place for i, place in enumerate(places) if i == 0 or place - places[i - 1] > 1e-9]
    found = []
    for begun, ended in zip(places, [*places[1:], 24.0], strict=True):
        stretch = day[min(int(np.searchsorted(ends, begun + 1e-9)), len(day) - 1)]
        found.append((begun, ended - begun, stretch, wound is not None and abs(begun - wound) <= 1e-9))
    return found


def _nights(
    curves: Curves, day: Sequence[Stretch], w: float, wind_at: float | None, given: float, count: int
) -> dict[str, float | None]:
    """Error of the last day with the night spent in each position, s/day."""
    warmths = {one.temperature_c for one in day if not one.worn}
    found: dict[str, float | None] = {}
    for symbol in POSITIONS:
        watch, winding = Wind.full(1), np.array([w])
        error = stood = 0.0
        lies = at_night(day, symbol)
        for _ in range(min(count, 7)):
            error, stood = float(watch.error_s[0]), float(watch.stopped[0])
            for _, hours, stretch, by_hand in _pieces(lies, wind_at, 24.0):
                if by_hand:
                    watch.wind(given)
                watch.go(hours, curves.of(stretch), winding * stretch.worn)
        runs = float(watch.stopped[0]) == stood
        found[symbol] = float(watch.error_s[0]) - error if runs and warmths else None
    return found
