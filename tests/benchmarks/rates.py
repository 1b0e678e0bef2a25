"""Speed of the poise map, against scipy's DOP853 with located events, in one run.

Run from the top of the repository: ``python -m tests.benchmarks.rates``. The job is 60 amplitudes × 72 directions of
the heavy point = 4,320 settled points, warm, one thread. scipy settles a sample at the drive the map found, from a
start within 1 deg, and is scaled; the difference in amplitude and rate is what both achieve together.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import math
import time
from pathlib import Path

import numpy as np

import oscsim
from oscsim.answers.ratemap import AMPLITUDES, DIRECTIONS
from oscsim.motion.sustain import sustain
from oscsim.operating import operating_points
from tests.benchmarks.core import REFERENCE, best
from tests.independent import integrator


def main() -> None:
    movement = oscsim.load(Path(REFERENCE) / "fast.toml")
    whole = best(lambda: oscsim.ratemap(movement), 7)
    points = operating_points(movement, oscsim.Setting(positions="12H"))
    swing, heavy = np.meshgrid(np.radians(AMPLITUDES), np.radians(DIRECTIONS), indexing="ij")
    count = swing.size
    osc = points.oscillators.repeated(count)
    osc.heavy[:] += heavy.ravel() - math.radians(movement.balance.heavy_point_deg)
    settled = best(lambda: sustain(osc, swing.ravel()), 7)
    found = sustain(osc, swing.ravel())

    spent, worst_deg, worst_rate, sample = 0.0, 0.0, 0.0, range(100, count, 700)
    for n in sample:
        design = integrator.changed(
            integrator.load(REFERENCE / "fast.toml"),
            {"balance.heavy_point_deg": float(DIRECTIONS[n % len(DIRECTIONS)])},
        )
        op = integrator.operating(design, "12H", 0.0)
        op = integrator.with_torque(op, op["M_e"] * found.factor[n])
        start = time.perf_counter()
        other = integrator.settled(op, start=float(swing.ravel()[n]) + math.radians(1.0))
        spent += time.perf_counter() - start
        rate = 86400.0 * (2.0 * math.pi / found.cycle.period[n] - 1.0)
        worst_deg = max(worst_deg, abs(other["amplitude_deg"] - math.degrees(swing.ravel()[n])))
        worst_rate = max(worst_rate, abs(other["rate_s_per_day"] - rate))
    scaled = spent / len(sample) * count
    print(f"{'4,320 settled points':<44}{'time, s':>10}{'ratio':>10}")
    print(f"{'oscsim, the map alone':<44}{settled:>10.3f}{1.0:>10.0f}")
    print(f"{'oscsim, with node, node line and theory':<44}{whole:>10.3f}{whole / settled:>10.1f}")
    print(f"{'scipy DOP853, secant on the period map':<44}{scaled:>10.1f}{scaled / settled:>10.0f}")
    print(f"largest difference: {worst_deg:.1e} deg, {worst_rate:.1e} s/day")


if __name__ == "__main__":
    main()
