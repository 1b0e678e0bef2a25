"""What is required of settled extremes, and whether other ways of settling the same points give the same.

Every point has one state; a number with a residual where the state has one, and none where it has not; no warning on
the way (``complaints``). Batches of another size or order, and other threads, give the same (``difference``).
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields

import numpy as np

from oscsim.arrays import Indices
from oscsim.motion.cycle import Cycle
from oscsim.motion.settle import SettledBatch, settle
from oscsim.motion.states import CODE, STATES, State
from oscsim.motion.sweep import sweep

from .draw import SEED, Points

#: Batch sizes that must give the same numbers.
SIZES = (1, 7, 384)


def settled(points: Points) -> SettledBatch:
    """As the library settles them; every warning is an error."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return settle(points.oscillators, points.knock_angle)


def complaints(batch: SettledBatch) -> list[str]:
    """What is wrong with a settled batch: nothing, it is hoped."""
    state = np.array([STATES[code].label for code in batch.state])
    cycle, found = batch.cycle, []
    numbers = np.array([cycle.amplitude, cycle.period, cycle.residual, batch.low, batch.high])
    known = np.isfinite(numbers)
    rules = {
        "a state that settling has not": ~np.isin(state, ("running", "unsettled", "knocks", "stops")),
        "running without a number": (state == "running") & ~known.all(axis=0),
        "running, not closed": (state == "running") & ~(cycle.residual <= 1e-10),
        "running, not stable": (state == "running") & ~(np.abs(cycle.slope) < 1.0),
        "unsettled without a number": (state == "unsettled") & ~known.all(axis=0),
        "unsettled outside its range": (state == "unsettled")
        & ~((batch.low <= cycle.amplitude) & (cycle.amplitude <= batch.high)),
        "knocks with half a number": (state == "knocks") & known.any(axis=0) & ~known.all(axis=0),
        "stops with a number": (state == "stops") & known.any(axis=0),
    }
    for what, wrong in rules.items():
        if wrong.any():
            found.append(f"{what}: {wrong.sum()} points, the first {np.flatnonzero(wrong)[0]}")
    return found


def in_batches(points: Points, size: int, order: Indices | None = None) -> SettledBatch:
    """Settled ``size`` at a time, in another order if one is given; returned in their own order."""
    order = np.arange(points.size) if order is None else order
    parts = [settled(points.take(order[start : start + size])) for start in range(0, points.size, size)]
    back = np.argsort(order)
    cycles = [part.cycle for part in parts]
    joined = {
        f.name: np.concatenate([getattr(c, f.name) for c in cycles], -1)[..., back] for f in fields(Cycle)
    }
    return SettledBatch(
        state=np.concatenate([part.state for part in parts])[back],
        low=np.concatenate([part.low for part in parts])[back],
        high=np.concatenate([part.high for part in parts])[back],
        cycle=Cycle(**joined),
    )


@dataclass(frozen=True)
class Difference:
    """How far two ways of settling the same points are apart: points with another state, points whose numbers
    differ at all, and the greatest relative difference of amplitude and period, settled points and unsettled."""

    states: int
    bits: int
    settled: float
    unsettled: float


def difference(one: SettledBatch, other: SettledBatch) -> Difference:
    same = one.state == other.state
    wander = one.state == CODE[State.UNSETTLED]
    apart = np.zeros(len(same))
    for get in (lambda b: b.cycle.amplitude, lambda b: b.cycle.period, lambda b: b.low, lambda b: b.high):
        a, b = get(one), get(other)
        with np.errstate(invalid="ignore"):
            relative = np.abs(a - b) / np.abs(a)
        apart = np.maximum(apart, np.where(np.isnan(a) & np.isnan(b), 0.0, relative))
    apart[~same] = 0.0
    return Difference(
        int((~same).sum()),
        int((apart != 0.0).sum()),
        float(np.max(apart[~wander], initial=0.0)),
        float(np.max(apart[wander], initial=0.0)),
    )


def sample(points: Points, batch: SettledBatch, size: int, seed: int = SEED) -> Indices:
    """Some points of every state: up to a quarter of ``size`` each, the rest filled with any."""
    rng = np.random.default_rng(seed)
    chosen: list[int] = []
    for code in np.unique(batch.state):
        of_state = rng.permutation(np.flatnonzero(batch.state == code))
        chosen += of_state[: size // 4].tolist()
    others = rng.permutation(np.setdiff1d(np.arange(points.size), chosen))
    return np.sort(np.array(chosen + others[: max(size - len(chosen), 0)].tolist()))


def other_ways(points: Points) -> Iterator[tuple[str, SettledBatch]]:
    """The same points settled in other batches, in another order, and by ``sweep`` on threads."""
    for size in SIZES:
        yield f"batches of {size}", in_batches(points, size)
    yield "backwards, batches of 100", in_batches(points, 100, np.arange(points.size)[::-1])
    with ThreadPoolExecutor(2) as pool:
        yield "sweep on threads", sweep(points.oscillators, points.knock_angle, executor=pool)
