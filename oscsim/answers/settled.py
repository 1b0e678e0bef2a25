"""What amplitude should this movement show? Settled amplitude, rate and beat error by position and hour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from oscsim.answers.points import SettledPoints, settled_points
from oscsim.answers.result import InSetting
from oscsim.movement import Movement
from oscsim.operating import operating_points
from oscsim.setting import Setting

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True, repr=False)
class Settled(InSetting):
    """Settled amplitudes of one movement; ``points`` holds arrays of shape (positions, hours)."""

    points: SettledPoints

    def rows(self) -> list[dict[str, Any]]:
        p = self.points
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
        )
        state = p.state
        return [
            {"position": symbol, "hours": p.hours[i, j], "state": str(state[i, j])}
            | {name: getattr(p, name)[i, j] for name in numbers}
            for i, symbol in enumerate(self.setting.symbols)
            for j in range(p.hours.shape[1])
        ]

    def body(self) -> dict[str, Any]:
        return {"points": self.rows()}

    def page(self) -> str:
        from oscsim.show.tables import settled_table

        return settled_table(self)

    def plot(self, ax: Axes | None = None) -> Axes:
        """Amplitude by position at each hour; draws into ``ax`` or a new figure, returns the axes."""
        from oscsim.show.plots import plot_settled

        return plot_settled(self, ax=ax)


def settle(movement: Movement, setting: Setting | None = None) -> Settled:
    """Settled states of ``movement`` in ``setting`` (default: dial up, fully wound).

    Raises InputError when the setting asks for what the movement cannot have (more turns than fit).
    """
    setting = setting or Setting()
    points = operating_points(movement, setting)
    return Settled(movement, setting, settled_points(points, setting.lift_angle_deg))
