"""The setting a movement runs in: everything an answer depends on beside the design."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from oscsim.arrays import Array
from oscsim.condition import Condition
from oscsim.errors import InputError
from oscsim.fields import Quantity
from oscsim.parts.balance import REFERENCE_C
from oscsim.units import POSITIONS, Position, positions_of

HOURS = Quantity("h", "t", "hours since full wind", 0, 10000)
TURNS = Quantity("turns", "n", "turns wound", 0, 1000)
TILT = Quantity("deg", "ι", "tilt of the dial from horizontal", 0, 180)
TEMPERATURE = Quantity("°C", "T", "temperature of the movement", -20, 70)
LIFT_ANGLE = Quantity("deg", "λ", "lift angle the instrument is told", 10, 120)


def _numbers(info: Quantity, name: str, values: float | Sequence[float] | Array) -> tuple[float, ...]:
    """One number or several, checked."""
    if isinstance(values, np.ndarray):
        values = values.tolist()
    several = values if isinstance(values, Sequence) and not isinstance(values, str) else (values,)
    if len(several) == 0:
        raise InputError(f"{name}: empty, give at least one value, {info.allowed}")
    for value in several:
        info.check(name, value)
    return tuple(float(value) for value in several)


@dataclass(frozen=True, init=False)
class Setting:
    """Positions, state of wind, tilt, and the lift angle an instrument is told.

    positions: ISO 3158 symbols or plain words, one or several; hours: since full wind, one or several;
    turns: in place of hours, turns wound; tilt_deg: replaces the positions' tilt of the dial (0 dial up,
    90 vertical, 180 dial down) and keeps the hour that is up; lift_angle_deg: default the design's own;
    temperature_c: the design's numbers hold at 23 °C; condition: wear, oil and faults, default as designed.
    Answers come for every position at every hour. Raises InputError.
    """

    positions: tuple[str, ...]
    hours: tuple[float, ...]
    turns: tuple[float, ...] | None
    tilt_deg: float | None
    lift_angle_deg: float | None
    temperature_c: float
    condition: Condition

    def __init__(
        self,
        *,
        positions: str | Iterable[str] = ("CH",),
        hours: float | Sequence[float] | Array = (0.0,),
        turns: float | Sequence[float] | Array | None = None,
        tilt_deg: float | None = None,
        lift_angle_deg: float | None = None,
        temperature_c: float = REFERENCE_C,
        condition: Condition | None = None,
    ) -> None:
        one = isinstance(positions, str) or not isinstance(positions, Iterable)
        names = (positions,) if one else tuple(positions)
        if not names:
            raise InputError(f"positions: empty, give at least one of {', '.join(POSITIONS)}")
        stored: dict[str, Any] = {
            "positions": tuple(place.symbol for place in positions_of(names)),
            "hours": _numbers(HOURS, "hours", hours),
            "turns": None,
            "tilt_deg": tilt_deg,
            "lift_angle_deg": lift_angle_deg,
            "temperature_c": temperature_c,
            "condition": Condition() if condition is None else condition,
        }
        if turns is not None:
            if stored["hours"] != (0.0,):
                raise InputError("hours, turns: give one of the two, not both")
            stored["turns"] = _numbers(TURNS, "turns", turns)
        TEMPERATURE.check("temperature_c", temperature_c)
        stored["temperature_c"] = float(temperature_c)
        for info, name in ((TILT, "tilt_deg"), (LIFT_ANGLE, "lift_angle_deg")):
            if (value := stored[name]) is not None:
                info.check(name, value)
                stored[name] = float(value)
        for name, value in stored.items():
            object.__setattr__(self, name, value)

    def refuse(self, why: str, *names: str) -> None:
        """Raise InputError when one of these fields is set, where the answer has its own or makes no use of it."""
        for name in names:
            if (value := getattr(self, name)) != getattr(_USUAL, name):
                several = value if isinstance(value, tuple) else (value,)
                told = " ".join(f"{one:g}" if isinstance(one, float) else str(one) for one in several)
                raise InputError(f"{name} = {told}: {why}, leave it out")

    def to_dict(self) -> dict[str, Any]:
        """Everything in the setting, plain, the unit in every key: ``hours`` or ``turns`` is None, and a tilt or lift
        angle that is not given."""
        wound = self.turns is not None
        return {
            "positions": list(self.positions),
            "hours": None if wound else list(self.hours),
            "turns": list(self.turns) if self.turns is not None else None,
            "tilt_deg": self.tilt_deg,
            "lift_angle_deg": self.lift_angle_deg,
            "temperature_c": self.temperature_c,
            "condition": asdict(self.condition),
        }

    @property
    def places(self) -> tuple[Position, ...]:
        """The positions asked for, with their words and angles."""
        return tuple(POSITIONS[symbol] for symbol in self.positions)

    @property
    def tilts(self) -> Array:
        """Tilt of the dial ι, rad, shape (positions,)."""
        if self.tilt_deg is not None:
            return np.full(len(self.positions), math.radians(self.tilt_deg))
        return np.array([place.tilt for place in self.places])

    @property
    def hours_up(self) -> Array:
        """Direction of the hour that is up, η, rad, shape (positions,)."""
        return np.array([place.hour_up for place in self.places])


_USUAL = Setting()
