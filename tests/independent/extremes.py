"""Extreme watches (tests/extremes) by the engine and by the independent integrator, point by point.

    python -m tests.independent.extremes               # the first 120 watches; prints where the two disagree
    python -m tests.independent.extremes --first 120 --last 400

Of the points left out here nobody doubts the state: those whose wheel cannot pay for the dry friction of the least
swing. The integrator knows neither index pins nor temperature nor regulation, and the shapes of hairsprings are held in
test_hairspring.py, so the watches go without.
"""

from __future__ import annotations

import argparse
import tomllib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

import oscsim
from oscsim.motion.from_above import least_loss, most_gain
from oscsim.motion.newton import up_the_ladder
from oscsim.motion.start import first_guess
from oscsim.operating import hours_of_wind, operating_points
from oscsim.parts.mainspring import full_turns

from ..extremes.draw import POSITIONS, extreme
from . import integrator as it

KEPT = Path(__file__).parents[1] / "extremes" / "kept"


class Point(NamedTuple):
    """One watch in one place: what the engine says, whether Newton's method had left it open, and the coefficients
    for the integrator."""

    number: int
    got: oscsim.SettledPoints
    open: bool
    op: it.Coefficients

    def wanted(self) -> dict[str, Any] | None:
        """What the integrator says; None where it cannot integrate a beat."""
        try:
            return it.settled(self.op)
        except RuntimeError:
            return None


def kept(number: int) -> oscsim.Movement:
    """A watch that was drawn once and is kept as a file, since it is worth looking at: a draw changes with every new
    number of a design file."""
    return oscsim.load(KEPT / f"{number}.toml")


def points(
    numbers: Iterable[int], drawn: Callable[[int], oscsim.Movement] = lambda number: extreme(number).movement
) -> Iterator[Point]:
    """One point of each of these watches, at a position and a wind of its own; not those that stop beyond doubt."""
    for number in numbers:
        movement = drawn(number)
        if movement.index_pins is not None:
            continue
        movement = replace(movement, hairspring=None).with_({"balance.regulation_s_per_day": 0.0})
        rng = np.random.default_rng([1, number])
        place = str(rng.choice(POSITIONS))
        hours = float(
            hours_of_wind(movement, full_turns(movement.mainspring, movement.barrel)) * rng.random() ** 2
        )
        setting = oscsim.Setting(positions=place, hours=min(hours, 10_000.0))
        osc = operating_points(movement, setting).oscillators
        with np.errstate(all="ignore"):
            if not most_gain(osc)[0] > least_loss(osc)[0]:
                continue
            guess = np.maximum(first_guess(osc), 1.05 * osc.reach)
            _, sound = up_the_ladder(osc, guess, guess)
        tables = tomllib.loads(oscsim.dumps(movement))
        op = it.operating(tables, place, setting.hours[0])  # type: ignore[index]
        yield Point(number, oscsim.settle(movement, setting).points, not sound[0], op)


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--last", type=int, default=120, help="watches (default: up to %(default)s)")
    options = parser.parse_args()
    agreed: Counter[str] = Counter()
    worst = {"running": 0.0, "knocks": 0.0, "unsettled": 0.0}
    for point in points(range(options.first, options.last)):
        state, amplitude = str(point.got.state[0, 0]), point.got.amplitude_deg[0, 0]
        want = point.wanted()
        if want is None:
            agreed["not integrated"] += 1
            continue
        if want["state"] != state:
            agreed["disagree"] += 1
            print(f"watch {point.number}: {state} {amplitude:.4f} deg, the integrator {want['state']} "
                  f"{want['amplitude_deg']} deg, open {point.open}", flush=True)  # fmt: skip
            continue
        agreed[f"{state}, {'open' if point.open else 'by Newton'}"] += 1
        if want["amplitude_deg"] is not None:
            worst[state] = max(worst[state], abs(amplitude - want["amplitude_deg"]))
    print(dict(agreed), "amplitudes apart, deg:", {state: f"{apart:.1e}" for state, apart in worst.items()})


if __name__ == "__main__":
    main()
