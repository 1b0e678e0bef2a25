"""Why does this design settle lower than that one? Movements side by side, and the difference shared out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oscsim.answers.attribution import Attribution, attribution, checked
from oscsim.answers.band import Band, band
from oscsim.answers.budget import Budget, budget
from oscsim.answers.points import SettledPoints, joined_points, settled_points
from oscsim.answers.result import Result
from oscsim.arrays import Array
from oscsim.errors import InputError
from oscsim.files import Design, movements_of
from oscsim.movement import Movement
from oscsim.operating import points_in, reserve
from oscsim.setting import Setting
from oscsim.stack import by_kind, stack_of


@dataclass(frozen=True, repr=False, kw_only=True)
class Compare(Result):
    """Movements side by side: ``points`` arrays (designs, positions, hours), ``reserve_hours`` (designs,), budget at
    the same points and working band for each design, and with two designs the attribution of the difference at the
    first position and hour, second less first; where it cannot be shared out ``attribution_remark`` says why."""

    movements: tuple[Movement, ...]
    setting: Setting
    points: SettledPoints
    reserve_hours: Array
    budgets: tuple[Budget, ...]
    bands: tuple[Band, ...]
    attribution: Attribution | None
    attribution_remark: str = ""

    @property
    def designs(self) -> tuple[Movement, ...]:
        return self.movements

    def settings(self) -> dict[str, Any]:
        return self.setting.to_dict() | {"tolerance_s_per_day": self.bands[0].tolerance_s_per_day}

    def rows(self) -> list[dict[str, Any]]:
        names = [movement.name for movement in self.movements]
        numbers = ("amplitude_deg", "rate_s_per_day", "residual_rad")
        return [row for _, row in self.points.rows(numbers, design=names, position=self.setting.positions)]

    def body(self) -> dict[str, Any]:
        p = self.points

        def by_place(values: NDArray[Any]) -> dict[str, Any]:
            return {
                movement.name: dict(zip(self.setting.positions, values[d], strict=True))
                for d, movement in enumerate(self.movements)
            }

        found: dict[str, Any] = {
            "designs": [movement.name for movement in self.movements],
            "design_hashes": [movement.design_hash for movement in self.movements],
            "hours": p.hours[0, 0],
            "amplitude_deg": by_place(p.amplitude_deg),
            "rate_s_per_day": by_place(p.rate_s_per_day),
            "state": by_place(p.state),
            "residual_rad": by_place(p.residual_rad),
            "reserve_hours": dict(zip([m.name for m in self.movements], self.reserve_hours, strict=True)),
            "working_band": {
                band.design: {
                    "tolerance_s_per_day": band.tolerance_s_per_day,
                    "floor_deg": band.floor_deg,
                    "ceiling_deg": band.ceiling_deg,
                    "floor_hours": band.floor_hours,
                }
                for band in self.bands
            },
            "budget": {budget.design: budget.body() for budget in self.budgets},
        }
        if self.attribution is not None:
            found["attribution"] = [share.to_dict() for share in self.attribution.shares]
            found["difference_deg"] = self.attribution.difference_deg
            if self.attribution.remarks:
                found["attribution_remarks"] = list(self.attribution.remarks)
            if self.attribution.within:
                found["attribution_remarks_within"] = list(self.attribution.within)
        elif self.attribution_remark:
            found |= {"attribution": None, "attribution_remark": self.attribution_remark}
        return found


def compare(
    designs: Design | Sequence[Design],
    setting: Setting | None = None,
    groups: Mapping[str, Sequence[str]] | None = None,
    *,
    tolerance_s_per_day: float = 10.0,
) -> Compare:
    """Settled amplitudes and rates of two or more movements in ``setting`` (default: CH and 12H, wound and 24 h later),
    their reserves, budgets, and working bands for ``tolerance_s_per_day`` (see ``band``).

    With two movements their difference is shared out as in ``attribution``; where it cannot be, the rest is answered
    and a remark says why. Raises InputError for fewer than two, for two of one name, and
    for groups that overlap, name nothing, or leave a difference out.
    """
    movements = movements_of(designs)
    names = [movement.name for movement in movements]
    if len(names) < 2:
        raise InputError(f"designs = {', '.join(names) or 'none'}: at least two are needed to compare")
    if len(set(names)) < len(names):
        raise InputError(f"designs = {', '.join(names)}: two have the same name, give one another")
    setting = setting or Setting(positions=("CH", "12H"), hours=(0.0, 24.0))
    parts, kinds = [], by_kind(movements)
    for index in kinds:
        as_is = setting.condition.applied_to(stack_of([movements[i] for i in index]))
        lasts = np.broadcast_to(np.ravel(reserve(as_is)), len(index))
        parts.append((settled_points(points_in(as_is, setting), setting.lift_angle_deg), lasts))
    order = np.argsort(np.concatenate(kinds))
    points = joined_points([found for found, _ in parts]).taken(order)
    hours = np.concatenate([lasts for _, lasts in parts])[order]
    shared, remark = None, ""
    if len(movements) == 2:
        checked(movements[0], movements[1], groups)
        try:
            shared = attribution(movements[0], movements[1], setting, groups)
        except InputError as error:
            remark = str(error)
    own = replace(setting, lift_angle_deg=None)  # a budget is of the balance's own amplitudes
    around = Setting(temperature_c=setting.temperature_c, condition=setting.condition)
    bands = tuple(band(movement, tolerance_s_per_day, around) for movement in movements)
    budgets = tuple(budget(movement, own) for movement in movements)
    return Compare(
        movements=tuple(movements),
        setting=setting,
        points=points,
        reserve_hours=hours,
        budgets=budgets,
        bands=bands,
        attribution=shared,
        attribution_remark=remark,
    )
