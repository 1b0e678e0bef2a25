"""What do years without service do? Amplitudes over the years, when limits are crossed, what a cleaning gives back."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from oscsim.answers.measures import LATER, LIMIT_DEG, UPRIGHT, Stack, aged_amplitude, narrowed
from oscsim.answers.result import Result
from oscsim.arrays import Array
from oscsim.errors import InputError
from oscsim.fields import Quantity
from oscsim.files import Design, movements_of
from oscsim.movement import Movement
from oscsim.oil import LEAST, MIDDLE, MOST
from oscsim.setting import Setting
from oscsim.stack import by_kind, stack_of

YEARS = Quantity("years", "", "years since the movement was oiled", 0, 100)
LIMIT = Quantity("deg", "", "amplitude below which it needs service", 30, 400)
#: Years shown when none are asked for.
USUAL_YEARS = (0.0, 1.0, 2.0, 5.0, 10.0)
#: What is shown over the years: name, position and hours since full wind.
CURVES = (
    ("amplitude_flat", "CH", 0.0),
    ("amplitude_vertical", UPRIGHT, 0.0),
    ("amplitude_flat_24h", "CH", LATER),
    ("amplitude_vertical_24h", UPRIGHT, LATER),
)


@dataclass(frozen=True, repr=False, kw_only=True)
class Ageing(Result):
    """Amplitudes over years without service, deg, 0 where it stops: ``amplitude_deg`` by name of ``CURVES``, (designs,
    years); ``least_deg`` and ``most_deg`` likewise, with most and least friction of the sources. years_to_limit,
    years_to_stop (designs, 3): with least, usual and most ageing, NaN for never. An amplitude above ``knock_deg``
    (designs,) is one that its drive would carry it to: it knocks, or trips, there."""

    movements: tuple[Movement, ...]
    setting: Setting
    years: Array
    limit_deg: float
    amplitude_deg: dict[str, Array]
    least_deg: dict[str, Array]
    most_deg: dict[str, Array]
    years_to_limit: Array
    years_to_stop: Array
    knock_deg: Array

    @property
    def designs(self) -> tuple[Movement, ...]:
        return self.movements

    def settings(self) -> dict[str, Any]:
        return self.setting.to_dict() | {"years": self.years, "limit_deg": self.limit_deg}

    def rows(self) -> list[dict[str, Any]]:
        return [
            {"design": movement.name, "years": year}
            | {f"{name}_deg": values[n, y] for name, values in self.amplitude_deg.items()}
            | {"amplitude_vertical_24h_least_deg": self.least_deg["amplitude_vertical_24h"][n, y],
               "amplitude_vertical_24h_most_deg": self.most_deg["amplitude_vertical_24h"][n, y],
               "cleaning_gives_back_deg": self.given_back_deg[n, y]}
            for n, movement in enumerate(self.movements)
            for y, year in enumerate(self.years)
        ]  # fmt: skip

    @property
    def given_back_deg(self) -> Array:
        """What a cleaning and fresh oil would give back 12 up a day after winding, deg, (designs, years)."""
        names, fresh = "amplitude_vertical_24h", self._fresh
        return np.asarray(fresh[:, None] - self.amplitude_deg[names])

    @property
    def _fresh(self) -> Array:
        return _each_kind(
            self.movements, self.setting, lambda stack: [np.nan_to_num(stack.amplitude(UPRIGHT, LATER))]
        )[0]

    def body(self) -> dict[str, Any]:
        return {
            "designs": [
                {
                    "name": movement.name,
                    "knock_deg": self.knock_deg[n],
                    "years_to_limit": self._between(self.years_to_limit[n]),
                    "years_to_stop": self._between(self.years_to_stop[n]),
                }
                for n, movement in enumerate(self.movements)
            ],
            "points": self.rows(),
        }

    def _between(self, years: Array) -> dict[str, float]:
        return dict(zip(("latest", "usual", "earliest"), years.tolist(), strict=True))


def ageing(
    designs: Design | Sequence[Design],
    setting: Setting | None = None,
    *,
    years: Sequence[float] = USUAL_YEARS,
    limit_deg: float = LIMIT_DEG,
) -> Ageing:
    """Amplitude dial up and 12 up, wound and a day later, over ``years`` without service, and the years until it falls
    below ``limit_deg`` 12 up after a day, or stops.

    The model and its range are in oil.py. ``setting`` gives temperature and condition, which must not be aged itself.
    Raises InputError.
    """
    movements = movements_of(designs)
    if not movements:
        raise InputError("designs: none given, give at least one")
    if not len(years):
        raise InputError(f"years: empty, give at least one value, {YEARS.allowed}")
    for year in years:
        YEARS.check("years", year)
    LIMIT.check("limit_deg", limit_deg)
    setting = narrowed(setting)
    if setting.condition.oil_age_years:
        raise InputError(
            f"condition.oil_age_years = {setting.condition.oil_age_years:g} years: ageing counts from fresh oil, leave "
            "it out"
        )
    grid = np.unique(np.array(years, float))

    def found(stack: Stack) -> list[Array]:
        wide = np.broadcast_to(grid, (stack.size, len(grid)))
        swings = [
            aged_amplitude(stack.as_is, wide, place, hours, setting.temperature_c, dry)
            for dry in (MIDDLE, MOST, LEAST)
            for _, place, hours in CURVES
        ]
        ends = [
            np.stack([stack.years_to(limit, dry) for dry in (LEAST, MIDDLE, MOST)], axis=1)
            for limit in (limit_deg, 0.0)
        ]
        return [*swings, *ends, np.degrees(stack.full.knock_angle)]

    *swings, to_limit, to_stop, knock = _each_kind(movements, setting, found)
    names = [name for name, _, _ in CURVES]
    curves = [
        dict(zip(names, swings[n : n + len(names)], strict=True)) for n in range(0, len(swings), len(names))
    ]
    return Ageing(
        movements=movements,
        setting=setting,
        years=grid,
        limit_deg=float(limit_deg),
        amplitude_deg=curves[0],
        least_deg=curves[1],
        most_deg=curves[2],
        years_to_limit=to_limit,
        years_to_stop=to_stop,
        knock_deg=knock,
    )


def _each_kind(
    movements: Sequence[Movement], setting: Setting, ask: Callable[[Stack], list[Array]]
) -> list[Array]:
    """What ``ask`` finds, (designs, ...), in the designs' order: escapements of one kind make one stack."""
    kinds = by_kind(movements)
    parts = [
        ask(Stack(stack_of([movements[i] for i in kind]), setting.temperature_c, setting.condition))
        for kind in kinds
    ]
    order = np.argsort(np.concatenate(kinds))
    return [np.concatenate(of_each)[order] for of_each in zip(*parts, strict=True)]


def never(years: float) -> str:
    """Years as they are told; the oil being gone, nothing more happens."""
    return "never" if math.isnan(years) else "from the start" if years == 0.0 else f"{years:.1f}"
