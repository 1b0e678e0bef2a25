"""What a design gets and what it gives up: one row a measure, with unit, better way, formula and source.

Every measure is a function of a stack of movements as they are, (movements,) in and out, so that two designs and the
twenty thousand of a front are computed alike. NaN where there is none: the watch stops, or it never comes to that.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from oscsim.answers.budget import drive_of
from oscsim.answers.crossing import root
from oscsim.answers.points import SettledPoints, points_from
from oscsim.arrays import Array, Number
from oscsim.condition import AsItIs, Condition
from oscsim.motion.beat import period
from oscsim.motion.energy import account
from oscsim.motion.rules import LADDER
from oscsim.motion.settle import SettledBatch, settle
from oscsim.motion.states import steady, too_far
from oscsim.movement import Movement
from oscsim.oil import MIDDLE, OIL_LIFE_YEARS, Dry, aged
from oscsim.operating import Moments, OperatingPoints, points_in, points_of, reserve, turns_left
from oscsim.parts.escapement import geometry
from oscsim.setting import Setting
from oscsim.units import DAY, G0, GPA, MG, MG_CM2, MM, MPA, N_MM, UM, position

#: The vertical position of every measure, the hour of the evening after winding, and the four that are compared.
UPRIGHT, LATER = "12H", 24.0
VERTICALS = ("12H", "3H", "6H", "9H")
#: The amplitude below which a watch is taken to need service, deg (common practice without source).
LIMIT_DEG = 180.0
YEAR_S = 365.25 * DAY
_YEARS_PRECISION = 0.01
#: Above every swing that is told, deg.
_MOST_DEG = 1000.0
#: A drive this much weaker, a balance so much slower after a jolt, and periods until that is forgotten.
_LESS, _JOLT, _PERIODS = 0.9, 0.8, 400
#: Share of the swing that is still missing when the rest is summed at once.
_FORGOTTEN = 4e-3
_COLD, _WARM = 8.0, 38.0
_RUBBING = ("lock_friction", "pallet_friction", "fork", "dry")


class Stack:
    """A stack of movements in a condition, and what several measures need of it, each computed once."""

    def __init__(
        self, movement: Movement, temperature_c: float, condition: Condition, *, thorough: bool = True
    ) -> None:
        """``movement``: a stack, (movements, 1, 1) in its numbers; ``thorough`` as in ``motion.settle.settle``."""
        self.as_is = condition.applied_to(movement)
        self.temperature_c, self.thorough = temperature_c, thorough
        self.size = int(np.size(self.as_is.movement.balance.beats_per_hour))
        self._settled: dict[tuple[str, float], SettledPoints] = {}

    def flat(self, values: Number) -> Array:
        """One value a movement."""
        return np.array(np.broadcast_to(np.ravel(values), (self.size,)), float)

    def points(
        self, *positions: str, hours: tuple[float, ...] = (0.0,), warmth: float | None = None
    ) -> OperatingPoints:
        """The stack in positions at hours."""
        degrees = self.temperature_c if warmth is None else warmth
        return points_in(self.as_is, Setting(positions=positions, hours=hours, temperature_c=degrees))

    def settled(self, place: str, hours: float) -> SettledPoints:
        """The stack in one position and hour, (movements,); settled when it is first asked for."""
        if (place, hours) not in self._settled:
            wound = (place, hours) == ("CH", 0.0)
            points, batch = self.wound if wound else self._batch(self.points(place, hours=(hours,)))
            self._settled[place, hours] = points_from(points, batch, at_the_horn=False).at(place, hours)
        return self._settled[place, hours]

    @cached_property
    def full(self) -> OperatingPoints:
        """Dial up, fully wound, not settled."""
        return self.points("CH")

    @cached_property
    def wound(self) -> tuple[OperatingPoints, SettledBatch]:
        """Dial up, fully wound."""
        return self._batch(self.full)

    def _batch(self, points: OperatingPoints) -> tuple[OperatingPoints, SettledBatch]:
        return points, settle(points.oscillators, points.knock_angle, thorough=self.thorough)

    def rate(self, points: OperatingPoints) -> Array:
        """Settled rate, s/day, (movements,)."""
        return np.ravel(points_from(*self._batch(points), at_the_horn=False).rate_s_per_day)

    @cached_property
    def taken_j(self) -> dict[str, Array]:
        """Where the energy of a beat goes dial up, fully wound, J, as in the budget."""
        points, batch = self.wound
        _, taken = account(points.oscillators, batch.cycle, drive_of(self.as_is, points))
        there = steady(batch.state)
        return {name: np.where(there, values * points.stiffness, math.nan) for name, values in taken.items()}

    def amplitude(self, place: str, hours: float) -> Array:
        """Settled amplitude, deg."""
        return np.ravel(self.settled(place, hours).amplitude_deg)

    def years_to(self, limit_deg: float, dry: Dry = MIDDLE) -> Array:
        """Years without service until the amplitude 12 up a day after winding is below a limit, deg; 0: stops. NaN:
        never, the oil being gone."""

        def spare(years: Array) -> Array:
            swing = aged_amplitude(self.as_is, years, UPRIGHT, LATER, self.temperature_c, dry)
            return np.minimum(swing, _MOST_DEG) - limit_deg

        ends = np.array([np.zeros(self.size), np.full(self.size, OIL_LIFE_YEARS)])
        first, last = spare(ends.T).T
        open_ = (first > 0.0) & (last <= 0.0)
        found = root(
            lambda years: spare(np.nan_to_num(years)[:, None])[:, 0],
            ends[0],
            ends[1],
            _YEARS_PRECISION,
            (np.where(open_, first, math.nan), last),
        )
        return np.where(first > 0.0, found, 0.0)

    @cached_property
    def unlocking_torque(self) -> tuple[Array, Array]:
        """Torques on the lever fully wound, N·m: against unlocking, (2), and the draw's return."""
        e, points = self.as_is.movement.escapement, self.full
        g = geometry(e)
        back = g.arm * np.tan(np.radians(e.draw_deg) - np.arctan(e.pallet_friction))
        return points.escape_torque * self.flat(g.unlocking), points.escape_torque * self.flat(back)

    @cached_property
    def lock_energy(self) -> Array:
        """J that a jolt must give the lever to unlock, fully wound."""
        e = self.as_is.movement.escapement
        return self.unlocking_torque[0] * self.flat(np.radians(e.lock_deg + e.run_deg))


def aged_amplitude(
    as_is: AsItIs, years: Array, place: str, hours: float, temperature_c: float, dry: Dry = MIDDLE
) -> Array:
    """Settled amplitude, deg, after ``years`` (movements, n) without service; zero where it stops."""
    at = position(place)
    older = AsItIs(aged(as_is.movement, years[:, None, :], dry))
    turns = turns_left(as_is, hours)
    points = points_of(older, Moments(np.array(at.tilt), np.array(at.hour_up), turns, temperature_c))
    batch = settle(points.oscillators, points.knock_angle)
    swing = np.degrees(batch.cycle.amplitude)
    swing = np.where(too_far(batch.state) & np.isnan(swing), math.inf, swing)
    return np.nan_to_num(swing, nan=0.0, posinf=math.inf).reshape(years.shape)


def _lever_speed(s: Stack) -> Array:
    e = s.as_is.movement.escapement
    inertia = (e.lever_inertia_mg_cm2 + geometry(e).recoil ** 2 * e.wheel_inertia_mg_cm2) * MG_CM2
    return np.sqrt(2.0 * s.lock_energy / s.flat(inertia))


def _strip_stress(s: Stack) -> Array:
    strip, barrel = s.as_is.movement.mainspring, s.as_is.movement.barrel
    bent = 1.0 / (0.5 * barrel.arbor_diameter_mm * MM) - strip.free_curvature_per_m
    stress = 0.5 * strip.modulus_gpa * GPA * strip.thickness_mm * MM * bent
    return s.flat(stress / (strip.elastic_limit_mpa * MPA))


def _friction_work(s: Stack) -> Array:
    beats = s.flat(s.as_is.movement.balance.beats_per_hour) * YEAR_S / 3600.0
    return np.asarray(sum(s.taken_j[place] for place in _RUBBING) * beats)


def _pivot_pressure(s: Stack) -> Array:
    b = s.as_is.movement.balance
    radius = 16.0 / (3.0 * math.pi) * s.flat(b.end_friction_radius_um) * UM
    with np.errstate(divide="ignore"):
        return np.asarray(1.5 * s.flat(b.mass_mg) * MG * G0 / (math.pi * radius**2) / MPA)


def _rate_for_less_drive(s: Stack) -> Array:
    less = replace(s.full, oscillators=s.full.oscillators.driven(np.full(s.size, _LESS)))
    return s.rate(less) - np.ravel(s.settled("CH", 0.0).rate_s_per_day)


def _spread(s: Stack, hours: float) -> Array:
    rates = np.stack([np.ravel(s.settled(place, hours).rate_s_per_day) for place in VERTICALS])
    return np.asarray(rates.max(axis=0) - rates.min(axis=0))


def _rate_for_temperature(s: Stack) -> Array:
    return s.rate(s.points("CH", warmth=_WARM)) - s.rate(s.points("CH", warmth=_COLD))


def _jolt_loss(s: Stack) -> Array:
    """Followed period by period from the smaller swing until it is the settled one again."""
    points, batch = s.wound
    settled = batch.cycle.left
    now, lost = _JOLT * settled, np.zeros(s.size)
    with np.errstate(all="ignore"):
        for _ in range(_PERIODS):
            passed = period(points.oscillators, now, LADDER[1])
            lost += passed.first.time + passed.second.time - batch.cycle.period
            now = passed.amplitude
            if not (np.abs(now - settled) > _FORGOTTEN * settled).any():
                break
        # from here on what is left dies away in even ratio
        left = passed.first.time + passed.second.time - batch.cycle.period
        lost += left * batch.cycle.slope / (1.0 - batch.cycle.slope)
    steady = np.abs(now - settled) <= 2.0 * _FORGOTTEN * settled
    return np.where(steady, 1e3 * lost / points.omega, math.nan)


@dataclass(frozen=True)
class Measure:
    """One row: unit; ``better`` "higher", "lower" or "nearer 0"; words; formula; source; and how it is computed from a
    stack. Without ``of`` it is made of a band, of sound
    examples or of the winding of one design, and is no aim of a front; ``slow``: takes a time simulation
    or roots in years."""

    name: str
    unit: str
    better: str
    words: str
    formula: str
    source: str
    of: Callable[[Stack], Array] | None
    slow: bool = False

    def gain(self, values: Array) -> Array:
        """The values so that more is better; minus infinity where there is none."""
        good = {"higher": values, "lower": -values, "nearer 0": -np.abs(values)}[self.better]
        none = math.inf if self.name in _NEVER else -math.inf
        return np.where(np.isfinite(good), good, none)

    def worth(self, limit: float) -> float:
        """A limit on the same scale."""
        return float(self.gain(np.array([limit]))[0])


#: Measures that have no number because it never comes to that, which is best.
_NEVER = ("years_to_180", "years_to_stop")
_SETTLED = "settled states, docs/physics.md §2"

_ROWS = (
    Measure("amplitude_flat", "deg", "higher", "amplitude dial up, wound", "A(CH, 0 h)", _SETTLED,
            lambda s: s.amplitude("CH", 0.0)),
    Measure("amplitude_vertical", "deg", "higher", "amplitude 12 up, wound", "A(12H, 0 h)", _SETTLED,
            lambda s: s.amplitude(UPRIGHT, 0.0)),
    Measure("amplitude_flat_24h", "deg", "higher", "amplitude dial up after a day", "A(CH, 24 h)", _SETTLED,
            lambda s: s.amplitude("CH", LATER)),
    Measure("amplitude_vertical_24h", "deg", "higher", "amplitude 12 up after a day", "A(12H, 24 h)", _SETTLED,
            lambda s: s.amplitude(UPRIGHT, LATER)),
    Measure("reserve", "h", "higher", "hours from full wind to none", "N · ratio · 2 teeth/beats an hour",
            "docs/physics.md §4", lambda s: s.flat(reserve(s.as_is))),
    Measure("above_floor", "deg", "higher", "amplitude dial up above the band's floor", "A(CH, 0 h) - floor",
            "oscsim band", None),
    Measure("below_knock", "deg", "higher", "amplitude dial up below the knock", "A_k - A(CH, 0 h)",
            "docs/physics.md §2",
            lambda s: np.degrees(s.full.knock_angle) - s.amplitude("CH", 0.0)),
    Measure("years_to_180", "years", "higher", "years until 180 deg, 12 up after a day",
            "root of A(12H, 24 h, years) = 180 deg", "oscsim ageing", lambda s: s.years_to(LIMIT_DEG), slow=True),
    Measure("years_to_stop", "years", "higher", "years until it stops within a day, 12 up",
            "least years without a settled state", "oscsim ageing", lambda s: s.years_to(0.0), slow=True),
    Measure("lock_energy", "nJ", "higher", "energy of a jolt that unlocks", "M_u (ℓ + ϱ), fully wound",
            "docs/physics.md (2)", lambda s: 1e9 * s.lock_energy),
    Measure("lock_speed", "rad/s", "higher", "lever's speed that unlocks", "√(2 M_u (ℓ + ϱ)/(J_l + q² J_w))",
            "energy balance by derivation", _lever_speed),
    Measure("draw_return", "nN·m", "higher", "torque of the draw's return",
            "M_e r tan(δ - ρ): below 0 the draw fails", "statics, as docs/physics.md (2)",
            lambda s: 1e9 * s.unlocking_torque[1]),
    Measure("lock_short", "", "lower", "sound examples with a lock below 1 deg",
            "P(ℓ < 1 deg) over tolerances", "docs/tolerance.md", None),
    Measure("strip_stress", "", "lower", "strip's stress at the arbor over its limit",
            "(E h/2)(1/r_a - κ_free)/σ_y: above 1 it takes a set", "bending of a beam, docs/physics.md (7)",
            _strip_stress),
    Measure("barrel_torque", "N·mm", "lower", "torque of the barrel, wound", "M(N)", "docs/physics.md (6)",
            lambda s: s.full.barrel_torque / N_MM),
    Measure("escape_torque", "nN·m", "lower", "torque on the escape wheel, wound", "M(N) η/ratio",
            "docs/physics.md (4)", lambda s: 1e9 * s.full.escape_torque),
    Measure("banking_energy", "nJ", "lower", "energy left to banking and stone a drop",
            "½ (J_l + p² J_w) × lever's speed² at the drop", "oscsim budget",
            lambda s: 1e9 * s.taken_j["lever_and_wheel"]),
    Measure("friction_work", "J/year", "lower", "friction at stones, fork, balance pivots",
            "budget × beats a year; wear goes with it",
            "J. F. Archard, J. Appl. Phys. 24, 1953, 981: as a proportion", _friction_work),
    Measure("pivot_pressure", "MPa", "lower", "peak pressure at the balance pivot's end",
            "3 W/(2π a²), a = 16 r_end/(3π)", "H. Hertz, J. reine angew. Math. 92, 1882, 156", _pivot_pressure),
    Measure("rate_for_less_drive", "s/day", "nearer 0", "rate gained with a tenth less drive", "r(0.9) - r(1)",
            _SETTLED, _rate_for_less_drive),
    Measure("vertical_spread", "s/day", "lower", "spread of the vertical rates, wound", "max r - min r", _SETTLED,
            lambda s: _spread(s, 0.0)),
    Measure("vertical_spread_24h", "s/day", "lower", "spread of the vertical rates after a day", "max r - min r",
            _SETTLED, lambda s: _spread(s, LATER)),
    Measure("rate_for_temperature", "s/day", "nearer 0", "rate gained from 8 to 38 °C", "r(38 °C) - r(8 °C)",
            "ISO 3159 temperatures", _rate_for_temperature),
    Measure("jolt_loss", "ms", "nearer 0", "time lost to a jolt slowing it by a fifth",
            "Σ (T_n - T) until the swing is back, from 0.8 A", "motion followed period by period", _jolt_loss,
            slow=True),
    Measure("knock_chance", "", "lower", "sound examples that knock dial up, wound", "over tolerances",
            "oscsim tolerance", None),
    Measure("worn_hours", "h/day", "lower", "hours worn a day to stay wound", "24/w",
            "[winding] of the design", None),
)  # fmt: skip
MEASURES = {measure.name: measure for measure in _ROWS}


def measured(stack: Stack, names: list[str]) -> dict[str, Array]:
    """The measures of these names, (movements,) each; those made of examples or a band are not among them."""
    found = {}
    for name in names:
        of = MEASURES[name].of
        if of is not None:
            found[name] = np.asarray(of(stack), float).reshape(-1)
    return found


def narrowed(setting: Setting | None) -> Setting:
    """The setting of measures: temperature and condition alone. Raises InputError for anything else."""
    setting = setting or Setting()
    setting.refuse("measures have their own", "positions", "hours", "turns", "tilt_deg", "lift_angle_deg")
    return setting
