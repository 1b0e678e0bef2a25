"""What amplitude should this movement show? Settled amplitude, rate and beat error by position and hour."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oscsim.answers.failures import failures
from oscsim.answers.points import SettledPoints, settled_points
from oscsim.answers.result import InSetting
from oscsim.files import takes_design
from oscsim.movement import Movement
from oscsim.operating import operating_points
from oscsim.setting import Setting


@dataclass(frozen=True, repr=False, kw_only=True)
class Settle(InSetting):
    """Settled amplitudes of one movement; ``points`` holds arrays of shape (positions, hours)."""

    points: SettledPoints

    @cached_property
    def failure(self) -> NDArray[np.object_]:
        """Where it stops or wanders the word for why, None elsewhere, (positions, hours); found when first asked
        for."""
        return failures(operating_points(self.movement, self.setting), self.points.code)

    def rows(self) -> list[dict[str, Any]]:
        numbers = (
            "amplitude_deg",
            "rate_s_per_day",
            "beat_error_ms",
            "apparent_amplitude_deg",
            "barrel_torque_n_mm",
            "escape_torque_n_m",
            "residual_rad",
            "stability",
            "amplitude_low_deg",
            "amplitude_high_deg",
            "turns",
            "shown_amplitude_deg",
            "shown_rate_s_per_day",
            "excess_drive_percent",
        )
        rows = self.points.rows(numbers, position=self.setting.positions)
        return [row | {"failure": self.failure[at]} for at, row in rows]

    def body(self) -> dict[str, Any]:
        return {"points": self.rows()}


@takes_design
def settle(movement: Movement, setting: Setting | None = None) -> Settle:
    """Settled states of ``movement`` in ``setting`` (default: dial up, fully wound).

    Raises InputError when the setting asks for what the movement cannot have (more turns than fit).
    """
    setting = setting or Setting()
    points = operating_points(movement, setting)
    return Settle(movement=movement, setting=setting, points=settled_points(points, setting.lift_angle_deg))
