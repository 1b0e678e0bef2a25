"""Speed of the core, against scipy's DOP853 with located events, in one run, as ratios at equal achieved error.

Run from the top of the repository: ``python -m tests.benchmarks.core``. The job is 6 positions × 43 hours = 258 settled
points of one design, warm, one thread. scipy is measured on a sample of the points and scaled. Achieved error is
the worst departure in amplitude from the reference integration (tests/outside/reference/heavy.json).
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import json
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

import oscsim
from oscsim.motion.settle import settle
from oscsim.operating import OperatingPoints, operating_points
from tests.independent import integrator

REFERENCE = Path(__file__).parent.parent / "outside" / "reference"
POSITIONS = ("CH", "FH", "12H", "3H", "6H", "9H")


def best(call: Callable[[], object], repeats: int, clock: Callable[[], float] = time.perf_counter) -> float:
    """Shortest of some runs by ``clock``, s: the machine's other work only ever adds."""
    times = []
    for _ in range(repeats):
        start = clock()
        call()
        times.append(clock() - start)
    return min(times)


def job(movement: oscsim.Movement, hours: int) -> OperatingPoints:
    """The operating points of the reference job, 43 hours, or of a finer one over the same time."""
    setting = oscsim.Setting(positions=POSITIONS, hours=list(np.linspace(0.0, 42.0, hours)))
    return operating_points(movement, setting)


def import_time(module: str) -> float:
    """Seconds to import a module in a fresh interpreter."""
    code = f"import time; t = time.perf_counter(); import {module}; print(time.perf_counter() - t)"
    runs = [
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        for _ in range(5)
    ]
    return min(float(run.stdout) for run in runs)


def main() -> None:
    design = integrator.load(REFERENCE / "heavy.toml")
    movement = oscsim.load(REFERENCE / "heavy.toml")
    points = job(movement, 43)
    batch = settle(points.oscillators, points.knock_angle)
    amplitude = np.degrees(batch.cycle.amplitude.reshape(points.shape))
    with open(REFERENCE / "heavy.json") as file:
        truth = {(p["position"], p["hours"]): p["amplitude_deg"] for p in json.load(file)["points"]}
    error = max(abs(amplitude[POSITIONS.index(p), h] - exact) for (p, h), exact in truth.items())
    engine = best(lambda: settle(points.oscillators, points.knock_angle), 30)

    sample = [(p, h) for p in ("CH", "12H") for h in (0, 12, 24, 36)]
    spent = {"secant on the period map": 0.0, "marching period by period": 0.0}
    worst = dict.fromkeys(spent, 0.0)
    counts = dict.fromkeys(spent, 0)
    for position, hours in sample:
        op = integrator.operating(design, position, float(hours))
        exact = truth[position, hours]
        routes = [("secant on the period map", False)]
        if hours == 24:
            routes.append(("marching period by period", True))
        for name, marching in routes:
            start = time.perf_counter()
            found = integrator.settled(op, by_marching=marching)
            spent[name] += time.perf_counter() - start
            worst[name] = max(worst[name], abs(found["amplitude_deg"] - exact))
            counts[name] += 1

    rows = [("oscsim, one batch", engine, error, 1.0)]
    for name in spent:
        scaled = spent[name] / counts[name] * points.oscillators.size
        rows.append((f"scipy DOP853, {name}", scaled, worst[name], scaled / engine))
    print(f"{'258 settled points':<46}{'time, s':>10}{'error, deg':>12}{'ratio':>10}")
    for name, seconds, error, ratio in rows:
        print(f"{name:<46}{seconds:>10.4g}{error:>12.1e}{ratio:>10.0f}")

    print(f"\n{'batch size':<46}{'time, s':>10}{'us a point':>12}")
    for hours in (1, 2, 8, 43, 167, 1667, 6667):
        several = job(movement, hours)
        seconds = best(
            lambda some=several: settle(some.oscillators, some.knock_angle), 3 if hours > 200 else 20
        )
        size = several.oscillators.size
        print(f"{size:<46}{seconds:>10.4g}{seconds / size * 1e6:>12.1f}")
    one = operating_points(movement, oscsim.Setting(positions="12H"))
    single = best(lambda: settle(one.oscillators, one.knock_angle), 50)
    print(f"\nsingle settled point, 12H: {single * 1e3:.2f} ms")
    base = import_time("numpy, scipy.special")
    print(f"import oscsim beyond numpy and scipy: {import_time('oscsim') - base:.3f} s (theirs {base:.3f} s)")


if __name__ == "__main__":
    main()
