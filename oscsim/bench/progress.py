"""What did the work change, and is it what was predicted? Two sets of readings of one movement, before and after."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from oscsim.answers.result import Result
from oscsim.arrays import Array
from oscsim.bench.adjustments import DONE, adjusted
from oscsim.bench.causes import NAMES
from oscsim.bench.diagnose import Diagnose, Interval, diagnose, weighed
from oscsim.bench.hypotheses import NEGLECTED
from oscsim.bench.likelihood import at_rows, rate_columns
from oscsim.bench.sound import What, known
from oscsim.errors import InputError, nearest, shown
from oscsim.movement import Movement
from oscsim.slips.reading_files import Read, readings_of
from oscsim.slips.readings import READ, Reading, Readings
from oscsim.slips.slip import Slip
from oscsim.tolerances import NORMAL_90

_UPRIGHT = ("12H", "3H", "6H", "9H")


@dataclass(frozen=True)
class Moved:
    """One value read before and after: its change ± the readings' 90 %, and the change predicted with its 90 %, NaN
    where none is."""

    position: str
    hours: float
    read: str
    before: float
    after: float
    change: float
    half_width: float
    predicted: float
    predicted_half_width: float

    @property
    def as_predicted(self) -> bool | None:
        """Whether the two agree, nine times in ten; None without a prediction."""
        if math.isnan(self.predicted):
            return None
        return abs(self.change - self.predicted) <= math.hypot(self.half_width, self.predicted_half_width)


@dataclass(frozen=True)
class Turn:
    """One thing on the whole, before and after, seen and predicted: mean amplitude, spread of the vertical rates, mean
    beat error, in ``unit``; changes with their 90 % intervals, predicted None where nothing is."""

    name: str
    unit: str
    before: float
    after: float
    seen: Interval
    predicted: Interval | None

    @property
    def as_predicted(self) -> bool | None:
        """Whether seen and predicted overlap; None without a prediction."""
        if self.predicted is None:
            return None
        return self.seen.low <= self.predicted.high and self.predicted.low <= self.seen.high

    def to_dict(self) -> dict[str, Any]:
        told = None if self.predicted is None else self.predicted.to_dict()
        return {"name": self.name, "unit": self.unit, "before": self.before, "after": self.after,
                "seen": self.seen.to_dict(), "predicted": told, "as_predicted": self.as_predicted}  # fmt: skip


@dataclass(frozen=True, repr=False, kw_only=True)
class Progress(Result):
    """Diagnoses before and after, what was done (``told``: by whom it was said, else the first cause before), every
    value's change, and amplitude, rate spread and beat on the whole."""

    before: Diagnose
    after: Diagnose
    done: tuple[str, ...]
    told: bool
    moved: tuple[Moved, ...]
    turns: tuple[Turn, ...]

    @property
    def designs(self) -> tuple[Movement, ...]:
        return self.before.designs

    @property
    def as_predicted(self) -> bool | None:
        """Whether all that was predicted came; None where nothing was."""
        told = [turn.as_predicted for turn in self.turns if turn.as_predicted is not None]
        return all(told) if told else None

    def rows(self) -> list[dict[str, Any]]:
        return [
            {f.name: getattr(m, f.name) for f in fields(m)} | {"as_predicted": m.as_predicted}
            for m in self.moved
        ]

    def settings(self) -> dict[str, Any]:
        return {
            "before": self.before.settings(),
            "after": self.after.settings(),
            "done": list(self.done) if self.told else None,
        }

    def body(self) -> dict[str, Any]:
        return {
            "done": list(self.done),
            "as_predicted": self.as_predicted,
            "changes": {turn.name: turn.to_dict() for turn in self.turns},
            "chance_of_loss_before": self.before.chance_of_loss if self.before.swings_fit else None,
            "chance_of_loss_after": self.after.chance_of_loss if self.after.swings_fit else None,
            "verdict_before": self.before.verdict,
            "verdict_after": self.after.verdict,
            "readings": self.rows(),
        }


def progress(
    what: What,
    before: Read,
    after: Read,
    *,
    done: Sequence[str] | None = None,
    worth_deg: float = 20.0,
) -> Progress:
    """Compare readings before and after a piece of work, place by place.

    ``done``: what was put right, names of causes; without it what the verdict before names: a neglected movement, or
    the likeliest cause, if it is likelier than not; nothing where nothing known fits.
    What is done is taken to have been there. Amplitudes after are given for the lift angle told before; what instrument
    and position add is the same both times. Raises InputError when no place was read both times, or too little.
    """
    what, told = known(what), done is not None
    done = [done] if isinstance(done, str) else done
    before, after = readings_of(before), readings_of(after)
    for name in done or ():
        if name not in DONE:
            raise InputError(f"done: {shown(name)}: no cause; {nearest(str(name), DONE)}")
    first = diagnose(what, before, worth_deg=worth_deg)
    second = diagnose(what, after, worth_deg=worth_deg)
    done = _named(first) if done is None else done
    pairs = _pairs(before, after)
    values = _predicted(what, before, pairs, tuple(done))
    if not (done or first.fits):  # readings that nothing known fits foretell nothing
        values = tuple(replace(m, predicted=math.nan, predicted_half_width=math.nan) for m in values)
    return Progress(
        before=first,
        after=second,
        done=tuple(done),
        told=told,
        moved=values,
        turns=_turns(values, tuple(done), first),
    )


def _named(before: Diagnose) -> list[str]:
    """What the verdict names as not in order: nothing where nothing known fits."""
    if not before.fits:
        return []
    likely = [cause.name for cause in before.causes if (cause.chance or 0.0) > 0.5]
    faults = (
        NEGLECTED
        if before.chance_of_neglect > 0.5
        else [c.name for c in before.faults[:1] if c.name in likely]
    )
    return [*faults, *(c.name for c in before.adjustments if c.name in likely and c.name != "regulation")]


def _pairs(before: Readings, after: Readings) -> list[tuple[Reading, Reading]]:
    """Rows of the same place read both times, those after as the instrument would have shown them before."""
    scale = 1.0
    if before.lift_angle_deg is not None and after.lift_angle_deg is not None:
        scale = before.lift_angle_deg / after.lift_angle_deg
    then = {(r.position, r.hours, r.turns_let_down): r for r in before.rows}
    found = [
        (then[key], replace(row, amplitude_deg=row.amplitude_deg * scale))
        for row in after.rows
        if (key := (row.position, row.hours, row.turns_let_down)) in then
    ]
    found = [(a, b) for a, b in found if any(_both(a, b, kind) for kind in READ)]
    if not found:
        raise InputError(
            f"{before.source}, {after.source}: no position was read at the same hour both before and after, so nothing "
            "can be compared"
        )
    return found


def _both(a: Reading, b: Reading, kind: str) -> bool:
    return math.isfinite(getattr(a, kind)) and math.isfinite(getattr(b, kind))


def _predicted(
    what: Movement | Slip, before: Readings, pairs: Sequence[tuple[Reading, Reading]], done: tuple[str, ...]
) -> tuple[Moved, ...]:
    """Every value's change, seen and predicted."""
    w = weighed(what, before)
    also, t = adjusted(w, w.readings), w.table
    mended = [NAMES.index(name) for name in done if name in NAMES]
    there = (t.size[:, mended] > 0.0).any(axis=1) if mended else np.ones(len(w.weight), bool)
    share = w.weight * there
    share = w.weight if share.sum() < 1e-12 else share / share.sum()
    to = t.after(mended)
    rows = [a for a, _ in pairs]
    told = np.reshape(w.values.told, (-1, 1))
    swings = (at_rows(t.shown[to], t, rows) - at_rows(t.shown, t, rows)) * told
    rates = np.nan_to_num(at_rows(t.rate[to], t, rows) - at_rows(t.rate, t, rows))
    swing, swing_sd = _moments(swings, share)
    rate, rate_sd = _moments(rates, share)
    rate, turned = rate + _poised(w.table, rows, swing, also.heavy, "unbalance" in done), 0.0
    regulated = [
        b.rate_s_per_day - a.rate_s_per_day - r
        for (a, b), r in zip(pairs, rate, strict=True)
        if _both(a, b, "rate_s_per_day")
    ]
    if regulated:  # a regulator moved on the way shifts all rates alike
        turned = float(np.mean(regulated))
    found = []
    for kind in READ:
        for n, (a, b) in enumerate(pairs):
            if not _both(a, b, kind):
                continue
            was, now = getattr(a, kind), getattr(b, kind)
            half = NORMAL_90 * math.hypot(
                getattr(a, f"{kind}_uncertainty"), getattr(b, f"{kind}_uncertainty")
            )
            guess, sd = {
                "amplitude_deg": (swing[n], swing_sd[n]),
                "rate_s_per_day": (rate[n] + turned, math.hypot(rate_sd[n], 1.5)),
                "beat_error_ms": (-was if "out_of_beat" in done else 0.0, 0.15),
            }[kind]
            found.append(
                Moved(
                    a.position, a.hours, kind, was, now, now - was, half, float(guess), NORMAL_90 * float(sd)
                )
            )
    return tuple(found)


def _moments(values: Array, share: Array) -> tuple[Array, Array]:
    """Mean and standard deviation of (rows, values)."""
    mean = share @ values
    return mean, np.sqrt(share @ (values - mean) ** 2)


def _poised(t: Any, rows: Sequence[Reading], swing: Array, heavy: Array | None, poised: bool) -> Array:
    """What becomes of the heavy point's part of the rates: gone, or as it is at the new amplitude."""
    if heavy is None:
        return np.zeros(len(rows))
    was = rate_columns(t, rows)[:, 2:] @ heavy
    if poised:
        return np.asarray(-was)
    later = [replace(r, amplitude_deg=r.amplitude_deg + s) for r, s in zip(rows, swing, strict=True)]
    return np.asarray(rate_columns(t, later)[:, 2:] @ heavy - was)


def _turns(moved: Sequence[Moved], done: tuple[str, ...], first: Diagnose) -> tuple[Turn, ...]:
    """Amplitude, spread of the verticals and beat on the whole."""
    found = []
    for kind, name, unit in (("amplitude_deg", "amplitude", "deg"), ("beat_error_ms", "beat", "ms")):
        own = [m for m in moved if m.read == kind]
        if own:
            seen, noise = (
                _mean([m.change for m in own]),
                _mean([m.half_width for m in own]) / math.sqrt(len(own)),
            )
            guess, wide = _mean([m.predicted for m in own]), _mean([m.predicted_half_width for m in own])
            found.append(Turn(name, unit, _mean([m.before for m in own]), _mean([m.after for m in own]),
                              _around(seen, noise), _foretold(guess, wide)))  # fmt: skip
    own = [m for m in moved if m.read == "rate_s_per_day" and m.position in _UPRIGHT]
    hours = min((m.hours for m in own), default=0.0)
    own = [m for m in own if m.hours == hours]
    if len(own) > 1:
        was, now = np.ptp([m.before for m in own]), np.ptp([m.after for m in own])
        noise = max(m.half_width for m in own)
        guess = float(np.ptp([m.before + m.predicted for m in own]) - was)
        wide = math.hypot(noise / math.sqrt(2.0), max(m.predicted_half_width for m in own))
        found.insert(1, Turn("rate_spread", "s/day", float(was), float(now), _around(float(now - was), noise),
                             _foretold(guess, wide)))  # fmt: skip
    return tuple(found)


def _around(middle: float, half: float) -> Interval:
    return Interval(middle - half, middle, middle + half)


def _foretold(middle: float, half: float) -> Interval | None:
    return None if math.isnan(middle) else _around(middle, half)


def _mean(values: Sequence[float]) -> float:
    return float(np.mean(values))
