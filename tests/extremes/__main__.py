"""Settles designs drawn over their whole range and prints what became of them.

    python -m tests.extremes                   # 10,000 designs
    python -m tests.extremes --count 300

How they are drawn is in draw.py, what is required of them in checks.py.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter

import numpy as np

from oscsim.motion.coefficients import joined
from oscsim.motion.states import CODE, STATES, State

from .checks import complaints, difference, other_ways, sample, settled
from .draw import KINDS, POINTS, SEED, Points, points_of

COUNT = 10_000
#: Points settled together, and how many of them are settled in other ways too.
BLOCK, SAMPLE = 1536, 64


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--count", type=int, default=COUNT, help="designs (default: %(default)s)")
    parser.add_argument("--seed", type=int, default=SEED)
    options = parser.parse_args()
    counts: Counter[tuple[int, str]] = Counter()
    wrong: list[str] = []
    slowest, spent, total, worst, hardest = (0.0, 0), 0.0, 0, 0.0, []
    watches = BLOCK // POINTS
    for first in range(0, options.count, watches):
        points = points_of(range(first, min(first + watches, options.count)), options.seed)
        start = time.process_time()
        batch = settled(points)
        took = time.process_time() - start
        spent, total = spent + took, total + points.size
        slowest = max(slowest, (took / points.size, first))
        wrong += [f"watches from {first}: {what}" for what in complaints(batch)]
        labels = [STATES[code].label for code in batch.state]
        counts.update(zip(points.kind.tolist(), labels, strict=True))
        running = batch.state == CODE[State.RUNNING]
        worst = max(worst, float(np.max(batch.cycle.residual[running], initial=0.0)))
        chosen = sample(points, batch, SAMPLE)
        hardest.append(points.take(chosen))
        if sys.stderr.isatty():
            print(f"\r{total} points", end="", file=sys.stderr, flush=True)
    print(
        f"{options.count} designs, {total} points, {spent:.0f} s of processor time, "
        f"{1e3 * spent / total:.1f} ms a point"
    )
    print(
        f"slowest block: {1e3 * slowest[0]:.1f} ms a point, watches from {slowest[1]}; worst residual {worst:.1e} rad"
    )
    for number, kind in enumerate(KINDS):
        told = {label: n for (k, label), n in sorted(counts.items()) if k == number}
        print(f"{kind:8}" + "".join(f"{label} {n:6}  " for label, n in told.items()))
    print("\n".join(wrong) if wrong else "nothing to complain of")
    some = Points(
        joined([points.oscillators for points in hardest]),
        np.concatenate([points.knock_angle for points in hardest]),
        np.concatenate([points.kind for points in hardest]),
    )
    one = settled(some)
    for way, other in other_ways(some):
        print(f"{way}, {some.size} points: {difference(one, other)}", flush=True)


if __name__ == "__main__":
    main()
