"""What if this were different? Amplitude against any number of the design, alone or two together, and sensitivities."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from oscsim.answers.points import SettledPoints, settled_points
from oscsim.answers.result import InSetting
from oscsim.arrays import Array
from oscsim.errors import InputError, nearest, shown
from oscsim.files import takes_design
from oscsim.movement import Movement, parameter_names
from oscsim.operating import operating_points
from oscsim.setting import Setting
from oscsim.stack import stack_of
from oscsim.tables import quantity_of, value_at

_MOST = 20000
#: Amplitudes that differ by less are as good as the same, deg; a rate that moves by more has moved, s/day.
_AS_GOOD_DEG, _MOVED_S_PER_DAY = 0.5, 0.5
#: Relative step of a sensitivity's central difference; of the whole range where the value is zero.
_STEP = 1e-4


def _number(movement: Movement, name: str) -> tuple[float, str]:
    """A design's value at a dotted name and its unit; raises InputError when it is not a number of the design."""
    info = quantity_of(Movement, name)
    value = value_at(movement, name) if info is not None else None
    if info is None or isinstance(value, bool) or not isinstance(value, int | float):
        numbers = [known for known in parameter_names() if quantity_of(Movement, known)]
        hint = "this design does not give it" if info is not None else nearest(name, numbers)
        raise InputError(f"{shown(name)}: not a number of {shown(movement.name)}; {hint}")
    return float(value), info.unit


def _changed(movement: Movement, changes: Mapping[str, float]) -> Movement:
    """The design with numbers replaced; whole numbers stay whole."""
    wanted = {}
    for name, value in changes.items():
        info = quantity_of(Movement, name)
        wanted[name] = int(value) if info is not None and info.whole and float(value).is_integer() else value
    return movement.with_(wanted)


@dataclass(frozen=True, repr=False, kw_only=True)
class WhatIf(InSetting):
    """Amplitude against one number, or over two: ``values`` by dotted name, ``points`` arrays (values of the first, …
    of the second, positions, hours); one name gives (values, positions, hours)."""

    values: dict[str, Array]
    units: dict[str, str]
    as_designed: dict[str, float]
    points: SettledPoints

    @property
    def moves_rate_alone(self) -> bool:
        """Whether these values leave every amplitude as good as alone and move the rate."""
        p = self.points.shaped((*map(len, self.values.values()), -1))
        every = tuple(range(len(self.values)))
        swing, rate = (np.ptp(v, axis=every) for v in (p.amplitude_deg, p.rate_s_per_day))
        return bool((swing < _AS_GOOD_DEG).all() and (rate > _MOVED_S_PER_DAY).any())

    def movement_at(self, changes: Mapping[str, float]) -> Movement:
        """The design with its numbers at some of the values; raises InputError."""
        return _changed(self.movement, changes)

    def rows(self) -> list[dict[str, Any]]:
        numbers = ("amplitude_deg", "rate_s_per_day", "residual_rad")
        axes: dict[str, Any] = {**self.values, "position": self.setting.positions}
        return [row for _, row in self.points.rows(numbers, **axes)]

    def body(self) -> dict[str, Any]:
        p = self.points
        return {
            "parameters": [
                {
                    "name": name,
                    "unit": self.units[name],
                    "as_designed": self.as_designed[name],
                    "values": values,
                }
                for name, values in self.values.items()
            ],
            "positions": self.setting.positions,
            "hours": self.points.hours.reshape(-1, self.points.hours.shape[-1])[0],
            "state": p.state,
            "amplitude_deg": p.amplitude_deg,
            "rate_s_per_day": p.rate_s_per_day,
            "residual_rad": p.residual_rad,
        }


@takes_design
def whatif(
    movement: Movement, values: Mapping[str, Sequence[float]], setting: Setting | None = None
) -> WhatIf:
    """Settle the movement with one number, or every pair of two numbers, replaced by each of ``values``.

    ``values``: dotted name to values in the file's unit; ``setting`` default: CH and 12H, wound and 24 h later. Raises
    InputError for a name that is no number of the design, a value that makes no movement, or too many points.
    """
    if not 1 <= len(values) <= 2:
        raise InputError(f"parameters: {len(values)} given, must be one, or two for a map")
    units, designed = {}, {}
    for name, several in values.items():
        designed[name], units[name] = _number(movement, name)
        if not len(several):
            raise InputError(f"{name}: give at least one value")
    grids = {name: np.array(several, float) for name, several in values.items()}
    shape = tuple(len(grid) for grid in grids.values())
    setting = setting or Setting(positions=("CH", "12H"), hours=(0.0, 24.0))
    if (count := int(np.prod(shape))) > _MOST:
        raise InputError(f"parameters: {count} combinations, at most {_MOST}")
    combinations = [dict(zip(grids, at, strict=True)) for at in np.array(np.meshgrid(*grids.values(), indexing="ij"))
                    .reshape(len(grids), -1).T.tolist()]  # fmt: skip
    stack = stack_of([_changed(movement, at) for at in combinations])
    points = settled_points(operating_points(stack, setting), setting.lift_angle_deg)
    return WhatIf(
        movement=movement,
        setting=setting,
        values=grids,
        units=units,
        as_designed=designed,
        points=points.shaped((*shape, *points.hours.shape[1:])),
    )


@dataclass(frozen=True, repr=False, kw_only=True)
class Sensitivities(InSetting):
    """What one step of each number changes, first order; arrays (numbers, positions, hours). ``points`` are those of
    the design as it is, (positions, hours); a slope is NaN where a neighbouring design has no amplitude."""

    names: tuple[str, ...]
    units: tuple[str, ...]
    as_designed: Array
    points: SettledPoints
    amplitude_deg_per_unit: Array
    rate_s_per_day_per_unit: Array

    def rows(self) -> list[dict[str, Any]]:
        amplitude, rate = self.amplitude_deg_per_unit, self.rate_s_per_day_per_unit
        return [
            {
                "name": name,
                "unit": self.units[n],
                "as_designed": self.as_designed[n],
                **row,
                "amplitude_deg_per_unit": amplitude[n, *at],
                "amplitude_deg_per_percent": amplitude[n, *at] * self.as_designed[n] / 100.0,
                "rate_s_per_day_per_unit": rate[n, *at],
                "residual_rad": self.points.residual_rad[at],
            }
            for n, name in enumerate(self.names)
            for at, row in self.points.rows((), position=self.setting.positions)
        ]

    def body(self) -> dict[str, Any]:
        return {"sensitivities": self.rows()}


@takes_design
def sensitivities(
    movement: Movement, names: Sequence[str] | None = None, setting: Setting | None = None
) -> Sensitivities:
    """Change of amplitude and rate with each number (default: all the design gives), by central differences.

    Whole numbers are left out unless named, and then take steps of 1; numbers that cannot be moved alone, such as a
    radius that follows from teeth, too. ``setting`` default: CH and 12H, fully wound.
    Raises InputError for a name that is no number of the design. NaN where a neighbouring design does not settle.
    """
    setting = setting or Setting(positions=("CH", "12H"))
    given = names is not None
    asked = names if names is not None else [name for name in parameter_names() if _varies(movement, name)]
    pairs, steps, designed, units, kept = [], [], [], [], []
    for name in asked:
        value, unit = _number(movement, name)
        info = quantity_of(Movement, name)
        assert info is not None
        step = 1.0 if info.whole else _STEP * (abs(value) or 0.01 * (info.high - info.low))
        ends = [v for v in (value - step, value + step) if info.low <= v <= info.high]
        ends = [value, *ends] if len(ends) == 1 else ends
        try:
            pairs += [_changed(movement, {name: end}) for end in ends]
        except InputError:
            ends = [value, ends[0]]
            try:
                pairs += [_changed(movement, {name: end}) for end in ends]
            except InputError:
                if given:
                    raise
                continue  # follows from others, or stands for another
        kept.append(name)
        steps.append(ends[1] - ends[0])
        designed.append(value)
        units.append(unit)
    points = settled_points(operating_points(stack_of([*pairs, movement]), setting))
    width = np.array(steps)[:, None, None]

    def slope(values: Array) -> Array:
        return np.asarray((values[1:-1:2] - values[:-1:2]) / width)

    return Sensitivities(
        movement=movement,
        setting=setting,
        names=tuple(kept),
        units=tuple(units),
        as_designed=np.array(designed),
        points=points.taken(-1),
        amplitude_deg_per_unit=slope(points.amplitude_deg),
        rate_s_per_day_per_unit=slope(points.rate_s_per_day),
    )


def _varies(movement: Movement, name: str) -> bool:
    """Whether a dotted name is a continuous number that the design gives."""
    info = quantity_of(Movement, name)
    if info is None or info.whole:
        return False
    value = value_at(movement, name)
    return isinstance(value, int | float)
