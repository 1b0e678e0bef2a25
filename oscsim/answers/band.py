"""How low is still sound? The working band of amplitude, from where the positions scatter up to the knock."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from oscsim.answers.crossing import root, section
from oscsim.answers.regulate import regulated_word
from oscsim.answers.result import InSetting
from oscsim.answers.rundown import hours_to_amplitude
from oscsim.arrays import Array
from oscsim.errors import InputError
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.settle import settle
from oscsim.motion.states import CODE, State, too_far
from oscsim.motion.sustain import sustain
from oscsim.movement import Movement
from oscsim.operating import operating_points
from oscsim.parts.balance import stiffness
from oscsim.setting import Setting
from oscsim.typical.poise import usual_unbalance_ug_cm

TOLERANCE = Quantity("s/day", "", "tolerated spread of the vertical rates", 0.01, 1000)
#: Flat amplitudes of the curve, deg, and the precision of the band's ends.
_FROM, _STEP = 90.0, 2.5
_PRECISION = 1e-4
_VERTICAL = ("12H", "3H", "6H", "9H")
#: Directions of the heavy point tried when its place is not given; a multiple of four, for the four positions.
_DIRECTIONS = 24
#: Directions that are settled for them: the rate has hardly more than two terms in the heavy point's angle.
_SETTLED = 12


@dataclass(frozen=True, repr=False, kw_only=True)
class Band(InSetting):
    """Working band of flat amplitude (dial up) for a tolerated spread of the vertical rates.

    flat_amplitude_deg, vertical_amplitude_deg, vertical_spread_s_per_day: the curve, (n,); floor_deg, ceiling_deg:
    between them the spread keeps within the tolerance, NaN when it never does; floor_is_least: the curve's lowest
    amplitude is still inside; full_wind_deg, full_wind_state: dial up at full wind; ceiling_hours, floor_hours: when
    the run-down comes down to the ceiling (0 if it starts below it) and to the floor (NaN if it starts below it).
    """

    tolerance_s_per_day: float
    unbalance_ug_cm: float
    heavy_point_deg: float | None
    flat_amplitude_deg: Array
    vertical_amplitude_deg: Array
    vertical_spread_s_per_day: Array
    unbalance_is_usual: bool
    floor_deg: float
    ceiling_deg: float
    floor_is_least: bool
    ceiling_is_knock: bool
    knock_deg: float
    full_wind_deg: float
    full_wind_state: str
    ceiling_hours: float
    floor_hours: float

    @property
    def regulated(self) -> bool:
        """Whether the hairspring was set away from its nominal stiffness."""
        return regulated_word(self.movement) == "regulated"

    @property
    def met(self) -> bool:
        """Whether the tolerance is met anywhere."""
        return math.isfinite(self.floor_deg)

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "flat_amplitude_deg": flat,
                "vertical_amplitude_deg": vertical,
                "vertical_spread_s_per_day": spread,
                "within_tolerance": bool(spread <= self.tolerance_s_per_day),
            }
            for flat, vertical, spread in zip(
                self.flat_amplitude_deg,
                self.vertical_amplitude_deg,
                self.vertical_spread_s_per_day,
                strict=True,
            )
        ]

    def settings(self) -> dict[str, Any]:
        """Setting (of all positions, no hours), tolerance, and the want of poise it is for."""
        asked = {
            "tolerance_s_per_day": self.tolerance_s_per_day,
            "unbalance_ug_cm": self.unbalance_ug_cm,
            "unbalance_is_usual": self.unbalance_is_usual,
            "heavy_point_deg": self.heavy_point_deg,
        }
        return super().settings() | {"hours": None, **asked}

    def body(self) -> dict[str, Any]:
        return {
            "regulated": self.regulated,
            "met": self.met,
            "floor_deg": self.floor_deg,
            "ceiling_deg": self.ceiling_deg,
            "floor_is_least": self.floor_is_least,
            "ceiling_is_knock": self.ceiling_is_knock,
            "knock_deg": self.knock_deg,
            "full_wind_deg": self.full_wind_deg,
            "full_wind_state": self.full_wind_state,
            "ceiling_hours": self.ceiling_hours,
            "floor_hours": self.floor_hours,
            "curve": self.rows(),
        }


@takes_design
def band(
    movement: Movement,
    tolerance_s_per_day: float,
    setting: Setting | None = None,
    *,
    unbalance_ug_cm: float | None = None,
    heavy_point_deg: float | None = None,
) -> Band:
    """The flat amplitudes at which the vertical positions' rates stay within ``tolerance_s_per_day`` of one another.

    ``unbalance_ug_cm`` replaces the design's. A design without want of poise is given a usual one, since no movement is
    without and the verticals would never part (``unbalance_is_usual`` of the answer says so). Without
    ``heavy_point_deg`` the heavy point stands where the spread is greatest. ``setting`` gives temperature and
    condition; positions and hours are the band's own. Raises InputError for values out of range.
    """
    TOLERANCE.check("tolerance_s_per_day", tolerance_s_per_day)
    setting = setting or Setting()
    poised = setting.condition.applied_to(movement).movement.balance.unbalance_ug_cm == 0.0
    usual = unbalance_ug_cm is None and poised
    if usual:
        unbalance_ug_cm = float(f"{usual_unbalance_ug_cm(float(stiffness(movement.balance))):.2g}")
    changes = {"balance.unbalance_ug_cm": unbalance_ug_cm, "balance.heavy_point_deg": heavy_point_deg}
    given = {name: value for name, value in changes.items() if value is not None}
    movement = movement.with_(given) if given else movement
    if unbalance_ug_cm == 0.0 and movement.hairspring is None:
        raise InputError(
            "balance.unbalance_ug_cm = 0 µg·cm: no band to find, the verticals keep together at every amplitude; "
            "give an unbalance above 0 µg·cm, or none for a usual one"
        )
    setting.refuse("a band is one of amplitude, whatever the wind", "hours", "turns", "lift_angle_deg")
    setting.refuse("a band compares dial up with the four vertical positions", "positions", "tilt_deg")
    # what is given here goes before the condition
    none: dict[str, Any] = {name.removeprefix("balance."): None for name in given}
    condition = replace(setting.condition, **none)
    setting = replace(setting, positions=("CH", *_VERTICAL), condition=condition)
    flat_up = replace(setting, positions=("CH",))
    spreads = _Spreads(movement, setting, turned=heavy_point_deg is None)
    knock = math.degrees(spreads.knock)
    grid = np.append(np.arange(_FROM, knock, _STEP), knock)
    spread, vertical = spreads.at(grid)
    if np.isfinite(spread).any() and not (spread <= tolerance_s_per_day).any():
        # the node may lie between two points of the curve
        grid, spread, vertical = spreads.with_least(grid, spread, vertical)
    inside = spread <= tolerance_s_per_day
    floor = ceiling = math.nan
    if inside.any():
        # the stretch that holds the smallest spread: around the node
        best = int(np.nanargmin(np.where(inside, spread, np.nan)))
        outside = np.flatnonzero(~inside)
        first = int(max(outside[outside < best], default=-1)) + 1
        last = int(min(outside[outside > best], default=len(grid))) - 1
        floor, ceiling = grid[0], knock
        met = spreads.cross(tolerance_s_per_day, *_sides(grid, first, last))
        if first > 0:
            floor = met[0]
        if last < len(grid) - 1:
            ceiling = met[-1]
    full = settle(spreads.flat, np.array([spreads.knock]))
    full_wind = math.degrees(float(full.cycle.amplitude[0]))
    # where it knocks above 400 deg there is no number
    beyond = too_far(full.state)[0] and not math.isfinite(full_wind)
    return Band(
        movement=movement,
        setting=setting,
        tolerance_s_per_day=tolerance_s_per_day,
        unbalance_ug_cm=float(condition.applied_to(movement).movement.balance.unbalance_ug_cm),
        heavy_point_deg=heavy_point_deg,
        unbalance_is_usual=usual,
        flat_amplitude_deg=grid,
        vertical_amplitude_deg=vertical,
        vertical_spread_s_per_day=spread,
        floor_deg=floor,
        ceiling_deg=ceiling,
        floor_is_least=bool(floor == grid[0]),
        ceiling_is_knock=bool(ceiling == knock),
        knock_deg=knock,
        full_wind_deg=full_wind,
        full_wind_state=list(State)[full.state[0]].label,
        ceiling_hours=hours_to_amplitude(movement, ceiling, flat_up)
        if full_wind > ceiling or beyond
        else 0.0 * ceiling,
        floor_hours=hours_to_amplitude(movement, floor, flat_up) if full_wind > floor or beyond else math.nan,
    )


def _sides(grid: Array, first: int, last: int) -> tuple[Array, Array]:
    """Neighbours outside and inside the stretch from ``first`` to ``last``, at those of its ends that have both."""
    pairs = [(first - 1, first)] if first > 0 else []
    pairs += [(last + 1, last)] if last < len(grid) - 1 else []
    index = np.array(pairs, int).reshape(-1, 2)
    return grid[index[:, 0]], grid[index[:, 1]]


class _Spreads:
    """Spread of the vertical rates as a function of flat amplitude."""

    def __init__(self, movement: Movement, setting: Setting, *, turned: bool) -> None:
        points = operating_points(movement, replace(setting, positions=_VERTICAL))
        flat = operating_points(movement, replace(setting, positions=("CH",)))
        self.flat, self.knock = flat.oscillators, float(flat.knock_angle[0])
        self.one = points.take(np.array([0]))
        self.verticals: Oscillators = points.oscillators
        if turned:
            # one position stands for all, unless a hairspring's weight parts them
            several = points.oscillators.take(slice(0, len(_VERTICAL) if points.weight_series.any() else 1))
            round_once = 2.0 * math.pi * np.arange(_SETTLED) / _SETTLED
            self.verticals = replace(
                several.repeated(_SETTLED), heavy=np.tile(round_once, len(several.heavy))
            )
        self.turned = turned

    def at(self, flat_deg: Array) -> tuple[Array, Array]:
        """Spread in s/day and mean vertical amplitude in deg at each flat amplitude in deg; both (n,).

        The spread is infinite where a vertical position stops or the flat amplitude cannot be kept up.
        """
        n, m = len(flat_deg), self.verticals.size
        held = sustain(self.flat.repeated(n), np.radians(flat_deg))
        kept = np.flatnonzero(held.sound)
        osc = self.verticals.tiled(len(kept))
        batch = settle(osc.driven(np.repeat(held.factor[kept], m)), np.full(osc.size, math.inf))
        rate = self.one.rate(batch.cycle.period)
        runs = (batch.state == CODE[State.RUNNING]).reshape(-1, m).all(axis=1)
        spread, vertical = np.full(n, math.inf), np.full(n, math.nan)
        amplitude = np.degrees(batch.cycle.amplitude).reshape(-1, m).mean(axis=1)
        spread[kept] = np.where(runs, self._greatest(rate.reshape(-1, m)), math.inf)
        vertical[kept] = np.where(runs, amplitude, math.nan)
        return spread, vertical

    def _greatest(self, rate: Array) -> Array:
        """Greatest difference between two of four positions a quarter turn apart, over all turns of the heavy point."""
        count = len(_VERTICAL)
        if not self.turned:
            return np.asarray(np.ptp(rate, axis=1))
        # between the directions that are settled the rate is drawn on by its Fourier sum
        terms = np.fft.rfft(
            np.nan_to_num(rate).reshape(len(rate), rate.shape[1] // _SETTLED, _SETTLED), axis=-1
        )
        whole = np.fft.irfft(terms, _DIRECTIONS, axis=-1) * (_DIRECTIONS / _SETTLED)
        whole = np.broadcast_to(whole, (len(rate), count, _DIRECTIONS))
        turns = [np.roll(whole[:, k], k * _DIRECTIONS // count, axis=-1) for k in range(count)]
        return np.asarray((np.max(turns, axis=0) - np.min(turns, axis=0)).max(axis=1))

    def with_least(self, grid: Array, spread: Array, vertical: Array) -> tuple[Array, Array, Array]:
        """The curve with its least spread put in, found between its neighbours on the grid."""
        from scipy.optimize import minimize_scalar  # slow to load, and seldom needed

        best = int(np.argmin(spread))
        ends = grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)]
        with np.errstate(invalid="ignore"):  # the spread is infinite where a position stops
            least = minimize_scalar(lambda a: self.at(np.array([a]))[0][0], bounds=ends, method="bounded")
        found = np.array([least.x])
        place = int(np.searchsorted(grid, found[0]))
        pairs = zip((grid, spread, vertical), (found, *self.at(found)), strict=True)
        curve = [np.insert(values, place, value) for values, value in pairs]
        return curve[0], curve[1], curve[2]

    def cross(self, tolerance: float, outside: Array, inside: Array) -> Array:
        """Where the tolerance is just met, between flat amplitudes outside it and others inside, deg; all (ends,)."""
        excess = [self.at(ends)[0] - tolerance for ends in (outside, inside)]
        if np.isfinite(excess).all():
            return root(
                lambda a: self.at(a)[0] - tolerance, outside, inside, _PRECISION, (excess[0], excess[1])
            )
        # where a position stops the spread is infinite, so that only yes and no can be asked
        kept = section(
            lambda a: (self.at(a.ravel())[0] <= tolerance).reshape(a.shape), inside, outside, _PRECISION
        )
        return kept[0]
