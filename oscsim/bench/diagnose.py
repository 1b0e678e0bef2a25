"""Is it low because something is wrong, or because it was made so? If something is, what, how large, and what next?"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from oscsim.answers.result import Result
from oscsim.bench.adjustments import ADJUSTMENTS, Adjusted, adjusted, spread_of
from oscsim.bench.causes import FAULTS
from oscsim.bench.how_sure import as_sure
from oscsim.bench.likelihood import at_rows, moments_of
from oscsim.bench.next_step import Next, next_steps
from oscsim.bench.sound import What, known, table_of
from oscsim.bench.verdict import CERTAIN, Pattern, early_slip, neglect, odd_patterns, sentence, word
from oscsim.bench.weighing import Weighed, weigh
from oscsim.errors import InputError
from oscsim.fields import Quantity
from oscsim.movement import Movement
from oscsim.slips.findings import merged
from oscsim.slips.reading_files import Read, readings_of
from oscsim.slips.readings import READ, Readings
from oscsim.slips.slip import Slip
from oscsim.tolerances import NORMAL_90

WORTH = Quantity("deg", "", "loss of amplitude that is worth opening the movement for", 5, 150)
#: Misfits this rare are not put down to chance.
RARE = 0.01
_FEWEST, _BEST = 2, ("CH", "12H")
_SIDES = ("flat", "vertical")
#: No more amplitudes within what this one would be read as, 90 %, and nothing known shows them.
_HALF = 0.5
#: What shows less than this at its largest does not show, deg.
_HIDDEN = 1.0


@dataclass(frozen=True)
class Interval:
    """5, 50 and 95 %."""

    low: float
    middle: float
    high: float

    def to_dict(self) -> dict[str, float]:
        return dict(vars(self))


_UNTOLD = Interval(math.nan, math.nan, math.nan)
#: Beat errors of ordinary sound movements, ms (common practice without source).
_BEAT = Interval(0.0, 0.3, 0.8)


@dataclass(frozen=True, kw_only=True)
class Cause:
    """One cause: the chance that it is there (of an adjustment: that it is more than ordinary; None where nothing was
    read of it), its size if it is there, what mending it alone brings flat and vertical, deg (None: nothing), and by
    how much the vertical rates come together, s/day."""

    name: str
    short: str
    do: str
    chance: float | None
    size: Interval | None
    unit: str
    gain_deg: Mapping[str, Interval] | None
    gain_spread_s_per_day: float | None
    direction_deg: float | None = None
    direction_half_width_deg: float | None = None

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers, null where there is none."""
        size = None if self.size is None else {**self.size.to_dict(), "unit": self.unit}
        gain = None if self.gain_deg is None else {side: one.to_dict() for side, one in self.gain_deg.items()}
        found = {"name": self.name, "chance": self.chance, "size": size, "gain_deg": gain,
                 "gain_spread_s_per_day": self.gain_spread_s_per_day}  # fmt: skip
        if size is not None and self.direction_deg is not None:
            size |= {
                "direction_deg": self.direction_deg,
                "direction_half_width_deg": self.direction_half_width_deg,
            }
        return found


@dataclass(frozen=True)
class Shown:
    """One value read, with what a sound movement and this one would be read as, 90 %; doubted: likelier a bad value."""

    position: str
    hours: float
    read: str
    value: float
    sound: Interval
    this: Interval
    doubted: bool

    def to_dict(self) -> dict[str, Any]:
        return {**vars(self), "sound": self.sound.to_dict(), "this": self.this.to_dict()}


@dataclass(frozen=True, repr=False, kw_only=True)
class Diagnose(Result):
    """chance_of_loss: that it shows, flat or vertical and fully wound, at least worth_deg less than the same movement
    would in sound condition; chance_of_early_slip: that it does so only a day later, since the bridle slips too early
    or the mainspring is too strong for it; chance_of_neglect: that old oil, dirt on the balance and drive lost in the
    train have come together; loss_deg flat and vertical; fits, misfit_p: whether anything known shows
    such readings; causes: what takes amplitude by chance, then adjustments; shown: every value; following: what to do
    next, best first, nothing where it is surely sound; families: of a slip, how probable each is. Every low and high is
    the 90 % interval. Where nothing fits, causes and rates are those of what fits least badly: pages, JSON and CSV
    leave them out but for the beat, which is read by itself; losses and amplitudes too unless ``swings_fit``, where it
    is the rates alone that nothing shows."""

    what: Movement | Slip
    movement: Movement
    readings: Readings
    worth_deg: float
    chance_of_loss: float
    chance_of_early_slip: float
    chance_of_neglect: float
    loss_deg: Mapping[str, Interval]
    fits: bool
    swings_fit: bool
    misfit_p: float
    patterns: tuple[Pattern, ...]
    causes: tuple[Cause, ...]
    shown: tuple[Shown, ...]
    following: tuple[Next, ...]
    families: Mapping[str, float]
    effective_rows: float
    verdict: str
    verdict_word: str

    @property
    def designs(self) -> tuple[Movement, ...]:
        return (self.movement,)

    @property
    def faults(self) -> tuple[Cause, ...]:
        """What takes amplitude, likeliest first."""
        return tuple(cause for cause in self.causes if cause.gain_deg is not None)

    @property
    def adjustments(self) -> tuple[Cause, ...]:
        """What takes none."""
        return tuple(cause for cause in self.causes if cause.gain_deg is None)

    @property
    def best(self) -> Next | None:
        """What to do next."""
        return self.following[0] if self.following else None

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "position": s.position, "hours": s.hours, "read": s.read, "value": s.value,
                **{f"{who}_{end}": getattr(one, end) for who, one in (("sound", s.sound), ("this", s.this))
                   for end in ("low", "middle", "high")},
                "doubted": s.doubted,
            }
            for s in map(self._told, self.shown)
        ]  # fmt: skip

    def told(self, read: str) -> bool:
        """Whether it is known what values of this kind should have been: not where nothing known fits."""
        return {"rate_s_per_day": self.fits, "amplitude_deg": self.swings_fit}.get(read, True)

    def _told(self, shown: Shown) -> Shown:
        if self.told(shown.read):
            return shown
        return replace(shown, sound=_UNTOLD, this=_UNTOLD, doubted=False)

    def _ranked(self, cause: Cause) -> Cause:
        """A cause as it may be told: where nothing fits, the beat alone."""
        if self.fits or cause.name == "out_of_beat":
            return cause
        return replace(cause, chance=None, size=None, gain_deg=None, gain_spread_s_per_day=None)

    def settings(self) -> dict[str, Any]:
        return self.readings.settings() | {"worth_deg": self.worth_deg}

    def body(self) -> dict[str, Any]:
        following = self.following if self.fits else ()
        return {
            "verdict_word": self.verdict_word,
            "verdict": self.verdict,
            "chance_of_loss": self.chance_of_loss if self.swings_fit else None,
            "chance_of_early_slip": self.chance_of_early_slip,
            "chance_of_neglect": self.chance_of_neglect,
            "worth_deg": self.worth_deg,
            "loss_deg": {
                side: one.to_dict() if self.swings_fit else None for side, one in self.loss_deg.items()
            },
            "fits": self.fits,
            "swings_fit": self.swings_fit,
            "misfit_p": self.misfit_p,
            "patterns": [pattern.to_dict() for pattern in self.patterns],
            "causes": [self._ranked(cause).to_dict() for cause in self.causes],
            "readings": [self._told(one).to_dict() for one in self.shown],
            "next": following[0].to_dict() if following else None,
            "afterwards": [one.to_dict() for one in following[1:]],
            "families": dict(self.families),
            "effective_rows": self.effective_rows,
        }


def diagnose(what: What, readings: Read, *, worth_deg: float = 20.0) -> Diagnose:
    """Judge readings of a movement by all that is known of it: a design (fitted or not), a sketch, or a slip; or the
    file of one. Readings too may be given by their file.

    ``worth_deg``: the loss that is worth opening it for. Raises InputError where fewer than two amplitudes were read,
    or no sound movement of the kind runs.
    """
    WORTH.check("worth_deg", worth_deg)
    readings = readings_of(readings)
    _enough(readings)
    what = known(what)
    w = weighed(what, readings)
    also = adjusted(w, w.readings)
    t = w.table
    loss = t.loss
    loses = loss.max(axis=1) >= worth_deg
    chance = w.share(loses)
    misfit = min(w.misfit_p, also.misfit_p)
    lost = {side: Interval(*w.ends(loss[:, k])) for k, side in enumerate(_SIDES)}
    causes, shown = _causes(w, also, readings), _shown(w, also, w.readings)
    patterns = odd_patterns(w, also, readings, rare=misfit < RARE)
    fits = misfit >= RARE and not any(pattern.explains for pattern in patterns)
    early, neglected = early_slip(w, worth_deg), neglect(w)
    verdict_word = word(chance + early, fits)
    certain = verdict_word == "sound" and chance + early < CERTAIN
    return Diagnose(
        what=what,
        movement=_named(what, w),
        readings=readings,
        worth_deg=worth_deg,
        chance_of_loss=chance,
        chance_of_early_slip=early,
        chance_of_neglect=neglected,
        loss_deg=lost,
        fits=fits,
        swings_fit=fits or _within(shown) > _HALF,
        misfit_p=misfit,
        patterns=patterns,
        causes=causes,
        shown=shown,
        following=() if certain else next_steps(w, readings, loses, verdict_word in ("undecided", "sound")),
        families={} if w.sound.drawn else _families(w),
        effective_rows=w.effective,
        verdict=sentence(verdict_word, chance, worth_deg, lost, causes, patterns, early, neglected, readings),
        verdict_word=verdict_word,
    )


def _within(shown: Sequence[Shown]) -> float:
    """Share of the amplitudes read that lie within what this movement would be read as."""
    swings = [one.this.low <= one.value <= one.this.high for one in shown if one.read == "amplitude_deg"]
    return sum(swings) / len(swings)


def weighed(what: Movement | Slip, readings: Readings) -> Weighed:
    """The table of what is known, weighed by the readings and by what was found."""
    if isinstance(what, Slip) and what.findings and what.findings != readings.findings:
        readings = replace(readings, findings=merged(what.findings, readings.findings))
    sound, t = table_of(what, moments_of(readings))
    return weigh(t, sound, as_sure(readings, sound.ripple_deg))


def _enough(readings: Readings) -> None:
    read = [row.position for row in readings.rows if math.isfinite(row.amplitude_deg) or row.stops]
    if len(read) < _FEWEST or not any(math.isfinite(row.amplitude_deg) for row in readings.rows):
        missing = " and ".join(symbol for symbol in _BEST if symbol not in read)
        raise InputError(
            f"{readings.source}: {len(read) or 'no'} amplitude read, a diagnosis needs at least {_FEWEST}; "
            f"missing is the amplitude in {missing}, best fully wound"
        )


def _named(what: Movement | Slip, w: Weighed) -> Movement:
    """The design for the heading: as given, or the first of those that a slip allows."""
    return what if isinstance(what, Movement) else w.sound.first


def _families(w: Weighed) -> dict[str, float]:
    names = np.array(w.sound.family)[w.table.healthy]
    found = {str(name): w.share(names == name) for name in dict.fromkeys(w.sound.family)}
    return dict(sorted(found.items(), key=lambda item: -item[1]))


def unseen(w: Weighed, readings: Readings) -> set[str]:
    """Faults that would show in nothing that was read, such as the lower pivot's end where dial down was not: their
    chance is what it was before, and they are named after the others."""
    t, read = w.table, [row for row in readings.rows if row.stops or math.isfinite(row.amplitude_deg)]
    shown = at_rows(t.shown, t, read) * t.lift_deg[:, None]
    found = set()
    for j, fault in enumerate(FAULTS):
        there = t.size[:, j] > 0.0
        if np.abs(shown[t.mended[there, j]] - shown[there]).max() < _HIDDEN:
            found.add(fault.name)
    return found


def _causes(w: Weighed, also: Adjusted, readings: Readings) -> tuple[Cause, ...]:
    t = w.table
    upright = max(w.mean(t.full[:, 1]), 30.0)
    spread = spread_of(also.torque, upright)
    faults = []
    full = t.full
    for j, fault in enumerate(FAULTS):
        there = t.size[:, j] > 0.0
        brings = full[t.mended[:, j]] - full
        gain = {side: Interval(*w.ends(brings[:, k], there)) for k, side in enumerate(_SIDES)}
        ends = (fault.shown(end) for end in w.ends(t.size[:, j], there))
        together = (
            spread - spread_of(also.torque, upright + gain["vertical"].middle) if len(also.moved) else None
        )
        faults.append(
            Cause(
                name=fault.name,
                short=fault.short,
                do=fault.do,
                chance=w.share(there),
                size=Interval(*ends),
                unit=fault.unit,
                gain_deg=gain,
                gain_spread_s_per_day=together,
            )
        )
    hidden = unseen(w, readings)
    others = []
    for one in ADJUSTMENTS:
        size, poise = also.size[one.name], one.name == "unbalance" and also.direction_deg is not None
        together = (spread if one.name == "unbalance" else 0.0) if len(also.moved) else None
        others.append(
            Cause(
                name=one.name,
                short=one.short,
                do=one.do,
                chance=also.chance[one.name],
                size=None if size is None else Interval(*size),
                unit=one.unit,
                gain_deg=None,
                gain_spread_s_per_day=together,
                direction_deg=also.direction_deg if poise else None,
                direction_half_width_deg=also.direction_half_width_deg if poise else None,
            )
        )
    return (
        *sorted(faults, key=lambda cause: (cause.name in hidden, -(cause.chance or 0.0))),
        *sorted(others, key=lambda cause: -(cause.chance or 0.0)),
    )


def _shown(w: Weighed, also: Adjusted, readings: Readings) -> tuple[Shown, ...]:
    """Every value beside what a sound movement and this one would be read as."""
    t, found = w.table, []
    swung = [row for row in readings.rows if math.isfinite(row.amplitude_deg)]
    told = np.reshape(w.values.told, (-1, 1))
    own = at_rows(t.shown, t, swung) * told
    well = at_rows(t.shown[t.healthy], t, swung) * told
    for n, row in enumerate(swung):
        noise = NORMAL_90 * math.hypot(row.amplitude_deg_uncertainty, w.around[n])
        sound, this = (_wider(w.ends(values[:, n]), noise) for values in (well, own))
        found.append(
            Shown(row.position, row.hours, "amplitude_deg", row.amplitude_deg, sound, this, n in w.doubted)
        )
    timed = [row for row in readings.rows if math.isfinite(row.rate_s_per_day)]
    for n, row in enumerate(timed):
        half = NORMAL_90 * float(also.sd[n])
        sound, this = (
            Interval(middle - half, middle, middle + half)
            for middle in (float(also.sound[n] + also.alike[n]), float(also.expected[n] + also.moved[n]))
        )
        doubted = bool(also.doubted[n])
        found.append(
            Shown(row.position, row.hours, "rate_s_per_day", row.rate_s_per_day, sound, this, doubted)
        )
    beat = also.size["out_of_beat"]
    for row in readings.rows:
        if math.isfinite(row.beat_error_ms) and beat is not None:
            this = _wider(beat, NORMAL_90 * row.beat_error_ms_uncertainty)
            found.append(
                Shown(row.position, row.hours, "beat_error_ms", row.beat_error_ms, _BEAT, this, False)
            )
    order = {(row.position, row.hours): k for k, row in enumerate(readings.rows)}
    return tuple(sorted(found, key=lambda s: (tuple(READ).index(s.read), order[s.position, s.hours])))


def _wider(ends: tuple[float, float, float], by: float) -> Interval:
    low, middle, high = ends
    return Interval(
        max(middle - math.hypot(middle - low, by), 0.0), middle, middle + math.hypot(high - middle, by)
    )
