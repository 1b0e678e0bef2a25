"""How do the positions rate? Rates, amplitudes and beat errors by position, their mean and their spread."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from oscsim.answers.points import SettledPoints, settled_points
from oscsim.answers.regulate import regulated_word
from oscsim.answers.result import InSetting
from oscsim.answers.shares import shares_at
from oscsim.arrays import Array
from oscsim.files import takes_design
from oscsim.movement import Movement
from oscsim.operating import operating_points
from oscsim.setting import Setting
from oscsim.units import POSITIONS


@dataclass(frozen=True, repr=False, kw_only=True)
class Rates(InSetting):
    """Rates of one movement by position and hour; ``points`` arrays and each of ``shares`` (positions, hours)."""

    points: SettledPoints
    shares: dict[str, Array]

    @property
    def regulated(self) -> bool:
        """Whether the hairspring was set away from its nominal stiffness."""
        return regulated_word(self.movement) == "regulated"

    @property
    def mean_rate_s_per_day(self) -> Array:
        """Mean over the positions, (hours,); NaN where one of them has no rate."""
        return np.asarray(self.points.shown_rate_s_per_day.mean(axis=0))

    @property
    def position_spread_s_per_day(self) -> Array:
        """Position spread: the fastest position less the slowest, (hours,)."""
        return np.asarray(np.ptp(self.points.shown_rate_s_per_day, axis=0))

    @property
    def horizontal_less_vertical_s_per_day(self) -> Array:
        """Mean of dial up and dial down less mean of the vertical positions, (hours,); NaN without both kinds."""
        flat = np.array([symbol in ("CH", "FH") for symbol in self.setting.positions])
        if self.setting.tilt_deg is not None or flat.all() or not flat.any():
            return np.full(self.points.shown_rate_s_per_day.shape[1], math.nan)
        rate = self.points.shown_rate_s_per_day
        return np.asarray(rate[flat].mean(axis=0) - rate[~flat].mean(axis=0))

    def rows(self) -> list[dict[str, Any]]:
        names = (
            "rate_s_per_day",
            "amplitude_deg",
            "apparent_amplitude_deg",
            "beat_error_ms",
            "residual_rad",
            "shown_rate_s_per_day",
            "shown_amplitude_deg",
        )
        return [
            row | {f"{cause}_s_per_day": share[index] for cause, share in self.shares.items()}
            for index, row in self.points.rows(names, position=self.setting.positions)
        ]

    def body(self) -> dict[str, Any]:
        summary = [
            {
                "hours": hours,
                "mean_rate_s_per_day": self.mean_rate_s_per_day[j],
                "position_spread_s_per_day": self.position_spread_s_per_day[j],
                "horizontal_less_vertical_s_per_day": self.horizontal_less_vertical_s_per_day[j],
            }
            for j, hours in enumerate(self.points.hours[0])
        ]
        return {
            "regulated": self.regulated,
            "regulation_s_per_day": self.movement.balance.regulation_s_per_day,
            "points": self.rows(),
            "summary": summary,
        }


@takes_design
def rates(movement: Movement, setting: Setting | None = None, *, shares: bool = False) -> Rates:
    """Rates in ``setting`` (default: all six positions, fully wound and 24 h later); ``shares``: also each
    cause's share of every rate (see ``oscsim.answers.shares.CAUSES``).

    Raises InputError when the setting asks for what the movement cannot have.
    """
    setting = setting or Setting(positions=tuple(POSITIONS), hours=(0.0, 24.0))
    points = operating_points(movement, setting)
    settled = settled_points(points, setting.lift_angle_deg)
    found: dict[str, Array] = {}
    if shares:
        at = shares_at(points, np.radians(settled.amplitude_deg).reshape(-1))
        for cause, share in at.by_cause.items():
            found[cause] = np.where(at.whole.sound, share, math.nan).reshape(points.shape)
    return Rates(movement=movement, setting=setting, points=settled, shares=found)
