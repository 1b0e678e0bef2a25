"""How does the rate follow the amplitude? The isochronism curve, whole and cause by cause."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oscsim.answers.regulate import regulated_word
from oscsim.answers.result import InSetting
from oscsim.answers.shares import shares_at
from oscsim.arrays import Array
from oscsim.errors import InputError
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.movement import Movement
from oscsim.operating import operating_points
from oscsim.setting import Setting
from oscsim.units import N_MM

AMPLITUDE = Quantity("deg", "A", "amplitude", 5, 400)
CEILING = Quantity("", "", "greatest torque allowed, as a multiple of that at full wind", 0.01, 100)
#: Amplitudes asked for when none are given, deg.
AMPLITUDES = tuple(float(a) for a in range(120, 331, 5))


@dataclass(frozen=True, repr=False, kw_only=True)
class Isochronism(InSetting):
    """Rate against amplitude by position; rate, torque, state and every share (positions, amplitudes)."""

    amplitude_deg: Array
    ceiling: float
    state: NDArray[np.str_]
    rate_s_per_day: Array
    barrel_torque_n_mm: Array
    residual_rad: Array
    shares: dict[str, Array]

    @property
    def regulated(self) -> bool:
        """Whether the hairspring was set away from its nominal stiffness."""
        return regulated_word(self.movement) == "regulated"

    @property
    def knock_deg(self) -> float:
        """The amplitude above which the impulse pin strikes the fork's horn, deg."""
        return math.degrees(float(self.movement.escapement.knock_angle()))

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "position": symbol,
                "amplitude_deg": amplitude,
                "state": str(self.state[i, j]),
                "rate_s_per_day": self.rate_s_per_day[i, j],
                "barrel_torque_n_mm": self.barrel_torque_n_mm[i, j],
                "residual_rad": self.residual_rad[i, j],
            }
            | {f"{cause}_s_per_day": share[i, j] for cause, share in self.shares.items()}
            for i, symbol in enumerate(self.setting.positions)
            for j, amplitude in enumerate(self.amplitude_deg)
        ]

    def settings(self) -> dict[str, Any]:
        """Setting and ceiling of the torque; there are no hours, the torque being what keeps the amplitude up."""
        asked = {"amplitudes_deg": self.amplitude_deg, "torque_ceiling": self.ceiling}
        return super().settings() | {"hours": None, **asked}

    def body(self) -> dict[str, Any]:
        return {
            "regulated": self.regulated,
            "points": self.rows(),
        }


@takes_design
def isochronism(
    movement: Movement,
    setting: Setting | None = None,
    amplitudes_deg: Sequence[float] | None = None,
    *,
    torque_ceiling: float = 2.0,
) -> Isochronism:
    """Rate at each amplitude (default: 120 to 330 deg by 5), the torque being what keeps it up, in the positions of
    ``setting`` (default: dial up).

    Amplitudes that no torque up to ``torque_ceiling`` times that at full wind keeps up have the state unreached and
    no number. Raises InputError for an amplitude or ceiling out of range, and for hours or turns in the setting.
    """
    amplitudes_deg = AMPLITUDES if amplitudes_deg is None else amplitudes_deg
    for amplitude in amplitudes_deg:
        AMPLITUDE.check("amplitudes_deg", amplitude)
    if not len(amplitudes_deg):
        raise InputError(f"amplitudes_deg: empty, give at least one value, {AMPLITUDE.allowed}")
    CEILING.check("torque_ceiling", torque_ceiling)
    setting = setting or Setting()
    setting.refuse("the torque is what keeps the amplitude up", "hours", "turns")
    setting.refuse("amplitudes are the balance's own", "lift_angle_deg")
    grid = np.array(amplitudes_deg, float)
    shape = (len(setting.positions), len(grid))
    # every position at full wind, once for each amplitude
    points = operating_points(movement, replace(setting, hours=(0.0,) * len(grid)))
    swing = np.tile(np.radians(grid), shape[0])
    shares, rate, whole = shares_at(points, swing)
    reached = whole.reached(torque_ceiling)
    state = whole.states(points.knock_angle, points.oscillators.right.beyond, torque_ceiling)

    def shaped(values: Array) -> Array:
        return np.where(reached, values, np.nan).reshape(shape)

    return Isochronism(
        movement=movement,
        setting=setting,
        amplitude_deg=grid,
        ceiling=torque_ceiling,
        state=state.reshape(shape),
        rate_s_per_day=shaped(rate),
        barrel_torque_n_mm=shaped(points.barrel_torque * whole.factor / N_MM),
        residual_rad=shaped(whole.cycle.residual),
        shares={cause: shaped(share) for cause, share in shares.items()},
    )
