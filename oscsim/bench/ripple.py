"""Which wheel makes the amplitude breathe? A series of amplitudes read against the turns of the design's train."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from typing import Any

import numpy as np

from oscsim.answers.breathing import Follows, follows_drive
from oscsim.answers.result import InSetting
from oscsim.arrays import Array
from oscsim.bench.periodic import SAMPLES, TURNS, Periodic, Term, periodic, spacing
from oscsim.errors import InputError
from oscsim.files import takes_design
from oscsim.motion.response import followed
from oscsim.movement import Movement
from oscsim.parts.teeth import tooth_ripple
from oscsim.setting import Setting
from oscsim.slips.series import Series, load_series
from oscsim.turning import Turning, mesh_friction, turnings

#: Half-width of a 90 % interval, in standard uncertainties.
NINETY = 1.6448536269514722
#: A period is not shown by a record in which so large a ripple of the torque, %, could be overlooked.
_OVERLOOKED = {"arbor": 4.0, "hand": 4.0, "mesh": 12.0}
_SURE = 3.0
#: What is clearly a fault, % of torque, and the least swing that can be seen, deg: an instrument reads over seconds.
_CLEAR, _LEAST_DEG = {"arbor": 3.0, "hand": 3.0, "mesh": 12.0}, 0.5
#: What no wheel explains is named from so much on, deg: an instrument shows whole degrees, and without noise what the
#: teeth are foretold otherwise than they are stands out (common practice without source).
_STRANGE_DEG = 0.2
#: Chance of a false alarm up to which a hand, or an unusual wheel, is named.
_ALARM = 1e-3
#: Rise of the amplitude, deg an hour, from which a watch must be winding itself.
_WINDS = 1.0


@dataclass(frozen=True)
class Period:
    """One period that the record shows: name, kind (arbor, mesh, hand), period s, half of peak to peak of the amplitude
    deg and of the torque % (low and high: 90 % interval), chance that noise alone makes as much, whether it was taken
    into the fit, whether it is out of the usual, and names that would explain it nearly as well."""

    name: str
    kind: str
    period_s: float
    swing_deg: float
    low_percent: float
    middle_percent: float
    high_percent: float
    chance_of_false_alarm: float
    taken: bool
    unusual: bool
    usual_percent: float
    instead: tuple[str, ...]


@dataclass(frozen=True, repr=False, kw_only=True)
class Ripple(InSetting):
    """What a series shows of the train. periods: the shortest first; unseen: name and why the record cannot show it;
    unexplained: periods s that nothing in the train has, with half of peak to peak of 0.2 deg or more; follows: the
    response of the design where it swings as read; noise_deg: of one reading, with its correlation from one to the
    next; slope: of the trend; model, trend: deg, each (readings,); frequency_hz and line_deg: the periodogram."""

    series: Series
    periods: tuple[Period, ...]
    unseen: dict[str, str]
    unexplained: tuple[tuple[float, float], ...]
    follows: Follows
    mean_deg: float
    noise_deg: float
    memory: float
    slope_deg_per_hour: float
    trend_deg: Array
    model_deg: Array
    frequency_hz: Array
    line_deg: Array

    @property
    def found(self) -> tuple[str, ...]:
        """Names of what is out of the usual."""
        return tuple(one.name for one in self.periods if one.unusual)

    @property
    def spacing_s(self) -> float:
        """Usual time from one reading to the next."""
        return spacing(self.series.time_s)

    @property
    def duration_s(self) -> float:
        """From the first reading to the last."""
        return float(self.series.time_s[-1] - self.series.time_s[0])

    @property
    def winds_itself(self) -> bool:
        """Whether the amplitude rises: without winding it only falls."""
        return self.slope_deg_per_hour > _WINDS

    def settings(self) -> dict[str, Any]:
        return super().settings() | {
            "series": self.series.source,
            "readings": len(self.series.time_s),
            "duration_s": self.duration_s,
            "spacing_s": self.spacing_s,
        }

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "name": one.name, "kind": one.kind, "period_s": one.period_s, "swing_deg": one.swing_deg,
                "torque_low_percent": one.low_percent, "torque_middle_percent": one.middle_percent,
                "torque_high_percent": one.high_percent, "chance_of_false_alarm": one.chance_of_false_alarm,
                "unusual": one.unusual,
            }
            for one in self.periods
        ]  # fmt: skip

    def body(self) -> dict[str, Any]:
        return {
            "found": list(self.found),
            "periods": [
                {
                    "name": one.name,
                    "period_s": one.period_s,
                    "swing_deg": one.swing_deg,
                    "torque_percent": {
                        "low": one.low_percent,
                        "middle": one.middle_percent,
                        "high": one.high_percent,
                    },
                    "chance_of_false_alarm": one.chance_of_false_alarm,
                    "unusual": one.unusual,
                    "usual_percent": one.usual_percent,
                    "or_instead": list(one.instead),
                }
                for one in self.periods
            ],
            "unseen": self.unseen,
            "unexplained": [period for period, _ in self.unexplained],
            "unexplained_swing_deg": [swing for _, swing in self.unexplained],
            "mean_amplitude_deg": self.mean_deg,
            "noise_deg": self.noise_deg,
            "noise_correlation": self.memory,
            "slope_deg_per_hour": self.slope_deg_per_hour,
            "winds_itself": self.winds_itself,
            "state": self.follows.state,
            "residual_rad": self.follows.residual_rad,
            "sensitivity": self.follows.sensitivity,
            "relaxation_s": self.follows.relaxation_s,
        }


@takes_design
def ripple(
    movement: Movement, series: Series | str | os.PathLike[str], setting: Setting | None = None
) -> Ripple:
    """What in the train of ``movement`` makes the amplitudes of ``series`` swing, and what the record cannot show;
    the series, its file, or the name of a bundled one.

    Periods follow from the teeth (``turning``); a swing becomes a ripple of the torque by (R3) of docs/physics.md §3
    with the design's response, driven so that it swings as read, in the setting's one position (default: dial up).
    Swing and ripple are half of peak to peak of the fundamental. Raises
    InputError for a design without teeth and for a record that shows no period at all.
    """
    setting = setting or Setting()
    series = series if isinstance(series, Series) else load_series(series)
    known = turnings(movement)
    time, amplitude = series.time_s, series.amplitude_deg
    mean = float(amplitude.mean())
    follows = follows_drive(movement, setting, mean)
    step, whole = spacing(time), float(time[-1] - time[0])
    unseen = {one.name: why for one in known if (why := _out_of_reach(one, known, step, whole, follows))}
    shown = [one for one in known if one.name not in unseen]
    if not shown:
        raise _too_little(series)
    periods_s, hands = [one.period_s for one in shown], [one.kind == "hand" for one in shown]
    usual = [_there_anyway(one) * mean * follows.sensitivity * follows.share(one.period_s) for one in shown]
    fit = periodic(time, amplitude, periods_s, hands, usual)
    teeth = _teeth(movement, shown, fit, mean, follows)
    beyond = sum((wave for _, _, wave in teeth), np.zeros_like(time))
    if teeth:  # what the shape of the teeth foretells is taken off, and the rest looked at again
        fit = periodic(time, amplitude - beyond, periods_s, hands, usual)
    share = fit.taken | fit.rest
    periods = []
    for i, one in enumerate(shown):
        term = share[i]
        percent = 100.0 / (mean * follows.sensitivity * follows.share(one.period_s))
        if _SURE * term.sigma * percent > _OVERLOOKED[one.kind] and i not in fit.taken:
            unseen[one.name] = _too_faint(one, term.sigma, percent)
            continue
        beside = _DOUBTED * percent * _at(one, teeth, whole)
        periods.append(
            _period(one, term, percent, i in fit.taken, beside, [shown[j].name for j in fit.near.get(i, [])])
        )
    if not periods:
        raise _too_little(series)
    return Ripple(
        movement=movement,
        setting=setting,
        series=series,
        periods=tuple(sorted(periods, key=lambda one: one.period_s)),
        unseen={one.name: unseen[one.name] for one in known if one.name in unseen},
        unexplained=tuple((term.period, term.swing) for term in fit.unnamed if term.swing >= _STRANGE_DEG),
        follows=follows,
        mean_deg=mean,
        noise_deg=fit.noise,
        memory=fit.memory,
        slope_deg_per_hour=3600.0 * fit.slope,
        trend_deg=fit.trend,
        model_deg=fit.model + beyond,
        frequency_hz=fit.scan[0],
        line_deg=fit.scan[1],
    )


def _there_anyway(one: Turning) -> float:
    """Standard deviation of the cosine's part of the torque's ripple in sound trains: anything up to what is usual, at
    any phase."""
    return one.usual / math.sqrt(6.0)


def _too_little(series: Series) -> InputError:
    step, whole = spacing(series.time_s), float(series.time_s[-1] - series.time_s[0])
    return InputError(
        f"{series.source}: {len(series.time_s)} readings, one every {duration(step)} for {duration(whole)}: too few "
        "for any period of the train; read every 10 s or oftener for 30 min"
    )


def _period(one: Turning, term: Term, percent: float, taken: bool, beside: float, near: list[str]) -> Period:
    # what the teeth may be otherwise than drawn counts beside the noise
    half = math.hypot(NINETY * term.sigma * percent, beside)
    low = max(term.swing * percent - half, 0.0)
    sure = taken and term.chance < _ALARM
    return Period(
        name=one.name,
        kind=one.kind,
        period_s=one.period_s,
        swing_deg=term.swing,
        low_percent=low,
        middle_percent=term.swing * percent,
        high_percent=term.swing * percent + half,
        chance_of_false_alarm=term.chance,
        taken=taken,
        unusual=sure and low > 100.0 * one.usual,
        usual_percent=100.0 * one.usual,
        instead=tuple(near),
    )


def _out_of_reach(
    one: Turning, known: tuple[Turning, ...], step: float, whole: float, follows: Follows
) -> str:
    """Why the record cannot show a period at all; empty where it may."""
    if one.period_s < SAMPLES * step:
        return f"{_round(one)} {duration(one.period_s)}, too fast for a reading every {duration(step)}"
    if whole < TURNS * one.period_s:
        return f"{_round(one)} {duration(one.period_s)}: read for {duration(TURNS * one.period_s)} or longer"
    clear = 0.01 * _CLEAR[one.kind]
    swing = follows.swing_deg(clear, one.period_s)
    if swing < _LEAST_DEG:
        follow = f"the balance follows {100 * clear:g} % of torque by {swing:.1f} deg alone"
        return f"{_round(one)} {duration(one.period_s)}: {follow}"
    for other in known:
        if other.name == one.name:
            break
        if abs(other.period_s / one.period_s - 1.0) < 1e-4:
            return f"has the period of {other.name}"
    return ""


def _too_faint(one: Turning, sigma: float, percent: float) -> str:
    lost = f"a ripple under {_SURE * sigma * percent:.0f} % of torque would be lost in the noise"
    return f"{_round(one)} {duration(one.period_s)}: {lost}, read longer"


def _round(one: Turning) -> str:
    return "comes round every" if one.kind == "hand" else "turns in"


def duration(seconds: float) -> str:
    """A time as a watchmaker says it."""
    for most, unit, name in ((120.0, 1.0, "s"), (7200.0, 60.0, "min"), (math.inf, 3600.0, "h")):
        if seconds < most:
            return f"{seconds / unit:.3g} {name}"
    raise AssertionError


def _teeth(
    movement: Movement, shown: list[Turning], fit: Periodic, mean: float, follows: Follows
) -> list[tuple[float, float, Array]]:
    """Higher harmonics of the meshes found, as the shape of their teeth (R2) has them: period s, half of peak to peak
    deg, and the wave, deg. Four or five teeth of the barrel's wheel may pass in one turn of the fourth."""
    found = []
    time = fit.time
    for i, one in enumerate(shown):
        if one.mesh is None or i not in fit.taken:
            continue
        shape = np.fft.rfft(tooth_ripple(one.mesh, mesh_friction(movement, one.mesh), _LEAF))
        shape *= np.exp(-2j * np.pi * _LEAF[0] * np.arange(len(shape)))
        if not abs(shape[1]) > 0.0:
            continue

        def passed(number: int, period: float = one.period_s) -> complex:
            share, lag = followed(follows.relaxation_s, period / number)
            return mean * follows.sensitivity * complex(share * np.exp(-1j * lag))

        a, b = fit.taken[i].parts
        first = complex(a, -b) / (passed(1) * shape[1])
        for number in range(2, _HARMONICS + 1):
            size = passed(number) * shape[number] * abs(first) * (first / abs(first)) ** number
            wave = np.real(size * np.exp(2j * np.pi * number * time / one.period_s))
            found.append((one.period_s / number, abs(size), wave))
    return found


def _at(one: Turning, teeth: list[tuple[float, float, Array]], whole: float) -> float:
    """Half of peak to peak, deg, of what teeth make at an arbor's period, as foretold."""
    if one.kind != "arbor":
        return 0.0
    return sum(swing for period, swing, _ in teeth if abs(1.0 / period - 1.0 / one.period_s) * whole < 1.0)


#: One leaf, sampled; harmonics of a tooth that are foretold; share of them that may be otherwise.
_LEAF = (np.arange(256) + 0.5) / 256.0
_HARMONICS = 8
_DOUBTED = 0.4
