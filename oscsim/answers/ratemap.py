"""Where does a poise fault show, and where does it hide? Rate over amplitude and direction of the heavy point."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oscsim.answers.heavy_point import Turned
from oscsim.answers.isochronism import AMPLITUDE, CEILING
from oscsim.answers.regulate import regulated_word
from oscsim.answers.result import InSetting
from oscsim.arrays import Array
from oscsim.errors import InputError
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.movement import Movement
from oscsim.operating import points_in
from oscsim.parts.balance import heavy_point_from_below
from oscsim.setting import Setting
from oscsim.theory.generated import poise_rate

AMPLITUDES = tuple(np.linspace(120.0, 330.0, 60))
DIRECTIONS = tuple(float(d) for d in range(0, 360, 5))
DIRECTION = Quantity("deg", "", "direction of the heavy point, clockwise from 12 o'clock", -360, 360)
#: Where first-order theory has no effect of the heavy point: the first zero of the Bessel function J₁.
FIRST_ORDER_NODE_DEG = math.degrees(3.8317059702075125)
#: Sine of the tilt below which a position is flat.
_FLAT = 1e-9
#: Amplitudes of the short table, deg, and the heavy point's places in it, clockwise from below, deg.
ROUND = tuple(float(a) for a in range(150, 301, 30))
PLACES = {"below": 0.0, "right": 270.0, "above": 180.0, "left": 90.0}


@dataclass(frozen=True, repr=False, kw_only=True)
class RateMap(InSetting):
    """Rate over amplitude (rows) and direction of the heavy point (columns), in one vertical position.

    amplitude_deg (a,), heavy_point_deg (d,), state, rate_s_per_day, residual_rad, theory_s_per_day (a, d): the
    last is the first-order rate with the same mean at each amplitude; poised_s_per_day (a,): without want of poise;
    quarters_s_per_day: at the amplitudes of ROUND for the heavy point at the PLACES as seen from the dial, and then
    poised, (6, 5); node_deg: where the part of the rate that goes with the heavy point standing below or above
    vanishes; node_line_deg (d,): where each direction has the rate of a poised balance, NaN where there is no such
    amplitude.
    """

    unbalance_ug_cm: float
    ceiling: float
    amplitude_deg: Array
    heavy_point_deg: Array
    state: NDArray[np.str_]
    rate_s_per_day: Array
    theory_s_per_day: Array
    residual_rad: Array
    poised_s_per_day: Array
    quarters_s_per_day: Array
    node_deg: float
    node_line_deg: Array

    @property
    def regulated(self) -> bool:
        """Whether the hairspring was set away from its nominal stiffness."""
        return regulated_word(self.movement) == "regulated"

    @property
    def below_deg(self) -> float:
        """The direction that points straight down in this position, deg clockwise from 12 o'clock."""
        balance = self.movement.balance
        from_below = heavy_point_from_below(balance, self.setting.hours_up)[0]
        return float((balance.heavy_point_deg - math.degrees(from_below)) % 360.0)

    @property
    def knock_deg(self) -> float:
        """The amplitude above which the impulse pin strikes the fork's horn, deg."""
        return math.degrees(float(self.movement.escapement.knock_angle()))

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "amplitude_deg": amplitude,
                "heavy_point_deg": direction,
                "state": str(self.state[i, j]),
                "rate_s_per_day": self.rate_s_per_day[i, j],
                "theory_s_per_day": self.theory_s_per_day[i, j],
                "residual_rad": self.residual_rad[i, j],
            }
            for i, amplitude in enumerate(self.amplitude_deg)
            for j, direction in enumerate(self.heavy_point_deg)
        ]

    def settings(self) -> dict[str, Any]:
        """Setting, unbalance and ceiling of the torque; no hours, the torque being what keeps the amplitude up."""
        asked = {
            "unbalance_ug_cm": self.unbalance_ug_cm,
            "amplitudes_deg": self.amplitude_deg,
            "heavy_points_deg": self.heavy_point_deg,
            "torque_ceiling": self.ceiling,
        }
        return super().settings() | {"hours": None, **asked}

    def body(self) -> dict[str, Any]:
        return {
            "regulated": self.regulated,
            "amplitude_deg": self.amplitude_deg,
            "heavy_point_deg": self.heavy_point_deg,
            "state": self.state,
            "rate_s_per_day": self.rate_s_per_day,
            "theory_s_per_day": self.theory_s_per_day,
            "poised_s_per_day": self.poised_s_per_day,
            "residual_rad": np.nanmax(self.residual_rad)
            if np.isfinite(self.residual_rad).any()
            else math.nan,
            "node_deg": self.node_deg,
            "node_line_deg": self.node_line_deg,
            "first_order_node_deg": FIRST_ORDER_NODE_DEG,
        }


@takes_design
def ratemap(
    movement: Movement,
    setting: Setting | None = None,
    *,
    amplitudes_deg: Sequence[float] | None = None,
    heavy_points_deg: Sequence[float] | None = None,
    unbalance_ug_cm: float | None = None,
    torque_ceiling: float = 2.0,
) -> RateMap:
    """Rate at each amplitude (default: 60 from 120 to 330 deg) for each direction of the heavy point (default: every
    5 deg round), in the (one) position of ``setting``, default 12H.

    Settled states throughout, the torque being what keeps the amplitude up, at most ``torque_ceiling`` times that at
    full wind. ``unbalance_ug_cm`` replaces the design's. Raises InputError for values out of range, more than one
    position, a flat one, hours or turns, or no unbalance at all.
    """
    amplitudes_deg = AMPLITUDES if amplitudes_deg is None else amplitudes_deg
    heavy_points_deg = DIRECTIONS if heavy_points_deg is None else heavy_points_deg
    setting = setting or Setting(positions="12H")
    setting.refuse("the torque is what keeps the amplitude up", "hours", "turns")
    setting.refuse("amplitudes are the balance's own", "lift_angle_deg")
    if len(setting.positions) != 1:
        raise InputError(f"positions = {', '.join(setting.positions)}: a map is of one position")
    CEILING.check("torque_ceiling", torque_ceiling)
    for name, values in (("amplitudes_deg", amplitudes_deg), ("heavy_points_deg", heavy_points_deg)):
        if not len(values):
            raise InputError(f"{name}: empty, give at least one value")
    for info, name, values in (
        (AMPLITUDE, "amplitudes_deg", amplitudes_deg),
        (DIRECTION, "heavy_points_deg", heavy_points_deg),
    ):
        for value in values:
            info.check(name, value)
    if unbalance_ug_cm is not None:
        movement = movement.with_({"balance.unbalance_ug_cm": unbalance_ug_cm})
        setting = replace(setting, condition=replace(setting.condition, unbalance_ug_cm=None))
    as_is = setting.condition.applied_to(movement)
    points, balance = points_in(as_is, setting), as_is.movement.balance
    if balance.unbalance_ug_cm == 0.0:
        raise InputError("balance.unbalance_ug_cm = 0 µg·cm: nothing to map, give an unbalance above 0 µg·cm")
    if not np.sin(setting.tilts[0]) > _FLAT:
        raise InputError(
            f"position {setting.positions[0]}: the balance lies flat, where the heavy point has no torque; choose a "
            "vertical or tilted position"
        )
    engine = Turned(points)
    # from the direction on the balance to the angle from straight below
    hang = points.oscillators.heavy[0] - math.radians(balance.heavy_point_deg)
    amplitudes, directions = np.array(amplitudes_deg, float), np.array(heavy_points_deg, float)
    swing, heavy = np.meshgrid(np.radians(amplitudes), np.radians(directions), indexing="ij")
    heavy = heavy + hang
    found, rate = engine.rate(swing.ravel(), heavy.ravel())
    reached = found.reached(torque_ceiling)
    state = found.states(points.knock_angle[0], points.oscillators.right.beyond, torque_ceiling)
    shown = np.where(reached, rate, np.nan).reshape(swing.shape)
    first_order = poise_rate(swing, points.oscillators.gravity[0], heavy)
    middle = shown.mean(axis=1, keepdims=True) - first_order.mean(axis=1, keepdims=True)
    poised, quarters = _poised_and_quarters(engine, np.radians(amplitudes), torque_ceiling)
    return RateMap(
        movement=movement,
        setting=setting,
        unbalance_ug_cm=balance.unbalance_ug_cm,
        ceiling=torque_ceiling,
        amplitude_deg=amplitudes,
        heavy_point_deg=directions,
        state=state.reshape(swing.shape),
        rate_s_per_day=shown,
        theory_s_per_day=first_order + middle,
        residual_rad=np.where(reached, found.cycle.residual, np.nan).reshape(swing.shape),
        poised_s_per_day=poised,
        quarters_s_per_day=quarters,
        node_deg=math.degrees(engine.node(torque_ceiling)),
        node_line_deg=np.degrees(engine.node_line(np.radians(directions) + hang, torque_ceiling)),
    )


def _poised_and_quarters(engine: Turned, amplitude: Array, torque_ceiling: float) -> tuple[Array, Array]:
    """Rates of a poised balance at each amplitude, rad, and the short table: amplitudes of ROUND by PLACES and poised,
    (6, 5)."""
    places = np.append(np.radians(list(PLACES.values())), math.nan)
    swing, place = np.meshgrid(np.radians(ROUND), places, indexing="ij")
    none = np.full(len(amplitude), math.nan)
    both = np.concatenate([amplitude, swing.ravel()]), np.concatenate([none, place.ravel()])
    rate = engine.shown(*both, torque_ceiling)
    return rate[: len(amplitude)], rate[len(amplitude) :].reshape(swing.shape)
