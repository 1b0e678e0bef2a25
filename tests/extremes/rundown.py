"""Run-downs of the designs over the whole range, their foretold stops against a search from above.

    python -m tests.extremes.rundown                      # 10,000 designs
    python -m tests.extremes.rundown --first 300 --last 600

Where the least drive that keeps up a swing foretells the stop (answers/rundown.py), Newton's method finds each
point before it, and none is looked for after it. Here these points, others up to the end of the spring, and the
foretold stop less and more 0.002 h are decided from above (motion/from_above.py), which knows nothing of that drive:
a watch must run just before its stop and stop just after it, and be in the state that the run-down says at its own
hours. Where a stop is not foretold the run-down is that search itself, or no swing gains even fully wound; those are
counted and left.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import NamedTuple
from unittest.mock import patch

import numpy as np

import oscsim
from oscsim.answers import rundown as room
from oscsim.arrays import Array, Flags
from oscsim.errors import InputError
from oscsim.motion.coefficients import joined
from oscsim.motion.settle import settle
from oscsim.motion.states import CODE, State
from oscsim.operating import OperatingPoints, points_in, reserve

from .draw import SEED, extreme

COUNT = 10_000
#: Watches whose hours are decided together.
BLOCK = 48
#: Steps of a run-down to its last hour, and shares of the rest of the spring at which it is asked after the stop.
STEPS, AFTER = 8, (0.03, 0.3, 1.0)
#: How near the foretold stop must be, h.
NEAR = 0.002
#: Only the state is asked: those that wander are followed for so many periods.
FOLLOWED = (60, 2)


class Foretold(NamedTuple):
    """A position whose stop was foretold; ``hours`` and what the run-down says, ``runs``, are (hours,)."""

    number: int
    position: str
    stop: float
    hours: Array
    runs: Flags
    points: OperatingPoints


def foretold(number: int, seed: int, told: Counter[str]) -> Iterator[Foretold]:
    """The positions of one watch whose stops are foretold; the others are counted in ``told``."""
    watch = extreme(number, seed)
    places = watch.setting.positions
    setting = oscsim.Setting(
        positions=places, tilt_deg=watch.setting.tilt_deg, temperature_c=watch.setting.temperature_c
    )
    as_is = setting.condition.applied_to(watch.movement)
    last = float(reserve(as_is))
    try:
        found = _unsearched(watch.movement, setting, min(max(last / STEPS, 0.01), 100.0))
    except InputError:
        told["too long for a run-down"] += len(places)
        return
    for row, stop in enumerate(found.stop_hours):
        if stop == 0.0:
            told["not foretold: the search itself"] += 1
            continue
        told["foretold"] += 1
        close = np.array([stop - NEAR, stop + NEAR])
        after = stop + NEAR + (max(last, stop) - stop) * np.array(AFTER)
        hours = np.concatenate([close[close >= 0.0], after, found.hours])
        own = found.points.code[row] != CODE[State.STOPS]
        runs = np.concatenate([(close < stop)[close >= 0.0], np.zeros(len(AFTER), bool), own])
        one = replace(setting, positions=(places[row],))
        yield Foretold(number, places[row], float(stop), hours, runs, points_in(as_is, one, hours))


def _unsearched(movement: oscsim.Movement, setting: oscsim.Setting, step: float) -> oscsim.RunDown:
    """A run-down whose stop is at 0 h where it would have been searched."""
    quick = partial(settle, thorough=False)
    with (
        patch.object(room, "settle", lambda osc, knock, **_: quick(osc, knock)),
        patch.object(room, "_decided_stop", lambda *_: 0.0),
    ):
        return room.rundown(movement, setting, step_h=step)


def wrong(block: list[Foretold]) -> list[str]:
    """Where a search from above says otherwise."""
    osc = joined([one.points.oscillators for one in block])
    knock = np.concatenate([one.points.knock_angle for one in block])
    runs = settle(osc, knock, followed=FOLLOWED).state != CODE[State.STOPS]
    ends = np.cumsum([len(one.hours) for one in block])[:-1]
    found = []
    for one, decided in zip(block, np.split(runs, ends), strict=True):
        for hour, here, there in zip(one.hours, one.runs, decided, strict=True):
            if here != there:
                found.append(
                    f"watch {one.number} {one.position}, foretold to stop at {one.stop:.4f} h: decided from above it "
                    f"{'runs' if there else 'stops'} at {hour:.4f} h"
                )
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--last", type=int, default=COUNT, help="watches (default: up to %(default)s)")
    parser.add_argument("--seed", type=int, default=SEED)
    options = parser.parse_args()
    told: Counter[str] = Counter()
    complaints: list[str] = []
    points, begun = 0, time.process_time()
    for first in range(options.first, options.last, BLOCK):
        numbers = range(first, min(first + BLOCK, options.last))
        block = [one for number in numbers for one in foretold(number, options.seed, told)]
        if block:
            points += sum(len(one.hours) for one in block)
            complaints += wrong(block)
        if sys.stderr.isatty():
            print(f"\r{numbers.stop} watches", end="", file=sys.stderr, flush=True)
    print(f"run-downs of {options.last - options.first} designs, positions: {dict(told)}")
    print(f"{points} hours decided from above, {time.process_time() - begun:.0f} s of processor time")
    print("\n".join(complaints) if complaints else "every state the same, every stop within 0.002 h")
    sys.exit(bool(complaints))


if __name__ == "__main__":
    main()
