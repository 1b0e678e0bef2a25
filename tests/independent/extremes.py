"""Extreme watches (tests/extremes.py) by the engine and by the independent integrator, point by point.

    python -m tests.independent.extremes               # 60 points; prints where the two disagree
    python -m tests.independent.extremes --count 20

Half of the points are ones that Newton's method leaves open, which the engine decides from above; the others are any
that run, wander, or stop although the wheel could pay for the dry friction.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

import oscsim
from oscsim.motion.from_above import _work_of_the_wheel as work_of_the_wheel
from oscsim.motion.newton import up_the_ladder
from oscsim.motion.start import first_guess
from oscsim.operating import hours_of_wind, operating_points
from oscsim.parts.mainspring import full_turns

from ..extremes.draw import extreme
from . import integrator as it


class Point(NamedTuple):
    """One watch in one place: what the engine says, and the coefficients for the integrator."""

    number: int
    got: oscsim.SettledPoints
    open: bool
    op: it.Coefficients


def points(first: int, last: int) -> Iterator[Point]:
    """One point a watch, without what the integrator does not know: index pins, temperature, regulation."""
    for number in range(first, last):
        watch = extreme(number)
        movement = watch.movement
        if movement.index_pins is not None:
            continue
        movement = movement.with_({"balance.regulation_s_per_day": 0.0})
        rng = np.random.default_rng([1, number])
        place = str(rng.choice(watch.setting.positions))
        turns = float(full_turns(movement.mainspring, movement.barrel)) * (1.0 - rng.random() ** 2)
        hours = float(hours_of_wind(movement, full_turns(movement.mainspring, movement.barrel) - turns))
        if hours > 10_000.0:
            hours = 0.0
        setting = oscsim.Setting(positions=place, hours=hours)
        osc = operating_points(movement, setting).oscillators
        with np.errstate(all="ignore"):
            if not work_of_the_wheel(osc)[0] > 2.0 * osc.dry[0] * osc.contact[0]:
                continue  # stops beyond doubt
            guess = np.maximum(first_guess(osc), 1.05 * (osc.contact + np.abs(osc.centre)))
            _, sound = up_the_ladder(osc, guess, guess)
        tables = tomllib.loads(oscsim.dumps(movement))
        yield Point(
            number, oscsim.settle(movement, setting).points, not sound[0], it.operating(tables, place, hours)
        )
