"""What does this piece of work change? The movement before and after, side by side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, is_dataclass, replace
from typing import Any

from oscsim.answers.points import SettledPoints, settled_points
from oscsim.answers.result import InSetting
from oscsim.arrays import Array
from oscsim.condition import Condition
from oscsim.errors import InputError
from oscsim.files import takes_design
from oscsim.movement import Movement, parameter_names
from oscsim.operating import operating_points
from oscsim.parts.train import jewelled_holes
from oscsim.setting import Setting
from oscsim.tables import unit_of, value_at


@dataclass(frozen=True, repr=False, kw_only=True)
class Change(InSetting):
    """Before and after a piece of work; ``before`` and ``after`` points (positions, hours)."""

    changed: Movement
    condition_after: Condition
    before: SettledPoints
    after: SettledPoints

    @property
    def work(self) -> list[dict[str, Any]]:
        """What was done: name, unit, and value before and after; None where there is none."""
        by_hole = any(is_dataclass(movement.train.jewels) for movement in (self.movement, self.changed))
        done = [
            {"name": name, "unit": unit_of(Movement, name), "before": old, "after": new}
            for name in parameter_names()
            if (old := _told(self.movement, name, by_hole)) != (new := _told(self.changed, name, by_hole))
        ]
        for f in fields(Condition):
            old, new = getattr(self.setting.condition, f.name), getattr(self.condition_after, f.name)
            if old != new:
                unit = unit_of(Condition, f.name)
                done.append({"name": f"condition.{f.name}", "unit": unit, "before": old, "after": new})
        return done

    @property
    def gained_deg(self) -> Array:
        """Amplitude after less before, (positions, hours); NaN where either has none."""
        return self.after.amplitude_deg - self.before.amplitude_deg

    def rows(self) -> list[dict[str, Any]]:
        b, a = self.before, self.after
        return [
            {
                "position": row["position"],
                "hours": row["hours"],
                "state_before": row["state"],
                "state_after": str(a.state[at]),
                "amplitude_before_deg": b.amplitude_deg[at],
                "amplitude_after_deg": a.amplitude_deg[at],
                "gained_deg": self.gained_deg[at],
                "rate_before_s_per_day": b.rate_s_per_day[at],
                "rate_after_s_per_day": a.rate_s_per_day[at],
                "residual_rad": a.residual_rad[at],
            }
            for at, row in b.rows((), position=self.setting.positions)
        ]

    def settings(self) -> dict[str, Any]:
        return super().settings() | {"condition_after": asdict(self.condition_after)}

    def body(self) -> dict[str, Any]:
        changed = {"changed_design_hash": self.changed.design_hash}
        return {**changed, "changes": self.work, "points": self.rows()}


def _told(movement: Movement, name: str, by_hole: bool) -> Any:
    """The value at a dotted name; jewels as a count or ``by_hole``."""
    *table, key = name.split(".")
    if table == ["train", "jewels"]:
        return int(jewelled_holes(movement.train, key)) if by_hole else None
    return None if name == "train.jewels" and by_hole else value_at(movement, name)


@takes_design
def change(
    movement: Movement,
    changes: Mapping[str, Any] | None = None,
    setting: Setting | None = None,
    *,
    condition: Condition | None = None,
) -> Change:
    """Settle the movement as it is in ``setting`` and after ``changes`` (dotted names) or in another ``condition``.

    Jewelling a hole: ``{"train.jewels.barrel": 2}``; fresh oil: a setting whose condition has oil_age_years, and
    ``condition=Condition()``. ``setting`` default: CH and 12H, wound and 24 h later. Raises InputError as ``with_``
    does, and when nothing is changed.
    """
    setting = setting or Setting(positions=("CH", "12H"), hours=(0.0, 24.0))
    changed = movement.with_(changes) if changes else movement
    after = setting if condition is None else replace(setting, condition=condition)
    if changed == movement and after.condition == setting.condition:
        raise InputError("changes: nothing is changed, name at least one number or another condition")
    return Change(
        movement=movement,
        setting=setting,
        changed=changed,
        condition_after=after.condition,
        before=settled_points(operating_points(movement, setting), setting.lift_angle_deg),
        after=settled_points(operating_points(changed, after), setting.lift_angle_deg),
    )
