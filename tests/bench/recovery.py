"""Movements whose condition is known, and what the diagnosis makes of them.

Everything is simulated by the engine itself, so this holds the inference, not the physics. The noise is that of a bench
reading: 5 deg, 2 s/day and 0.1 ms (one standard deviation), six positions, fully wound and a day later; the five
bundled designs in turn, half of the movements the design itself, half other sound examples of it.

``python -m tests.bench.recovery [--count 240] [--workers 2]`` runs the study at full size and prints what
docs/diagnosis.md quotes; the tests run it small.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import sys
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

import oscsim
from oscsim.bench.diagnose import CAUSES, diagnose
from oscsim.condition import Condition
from oscsim.errors import InputError

from .simulated import FAULTS, drawn_from_priors, own_lift, read, single_fault, sound_example, truths_of

DESIGNS = ("dockhand", "packet", "ferryman", "tidewaiter", "dinghy")


def _movement(number):
    """The design of a movement, and whether the movement is another example of it."""
    return oscsim.load(DESIGNS[number % len(DESIGNS)]), bool(number // len(DESIGNS) % 2)


def interval(number):
    """Each cause's truth and interval, for a movement whose faults are drawn from the priors."""
    movement, another = _movement(number)
    rng = np.random.default_rng([5, 1, number])
    readings = None
    while readings is None or not all(30.0 <= row.amplitude_deg <= 400.0 for row in readings.rows):
        z, condition = drawn_from_priors(movement, rng)
        example = sound_example(movement, rng) if another else movement
        with contextlib.suppress(InputError):  # a lock too shallow for this example: there is no such watch
            readings = read(example, condition, rng, lift_angle_deg=own_lift(movement))
    truth = truths_of(movement, z)
    found = {cause.name: cause for cause in diagnose(movement, readings).causes}
    causes = {name: [truth[name], found[name].low, found[name].estimate, found[name].high] for name in CAUSES}
    return {"design": movement.name, "another": another, "causes": causes}


def single(number):
    """What comes out on top for a movement with one fault, each in turn."""
    name = list(FAULTS)[number % len(FAULTS)]
    movement, another = _movement(number // len(FAULTS))
    rng = np.random.default_rng([5, 2, number])
    readings = None
    while readings is None:
        condition = single_fault(name, movement, rng)
        example = sound_example(movement, rng) if another else movement
        readings = read(example, condition, rng, lift_angle_deg=own_lift(movement))
    found = diagnose(movement, readings)
    first = found.causes[0]
    right = first.name == name
    alike = right or name in first.indistinguishable_from
    return {"design": movement.name, "fault": name, "first": first.name, "right": right, "alike": alike,
            "healthy": found.healthy, "deficit_deg": found.deficit_deg}  # fmt: skip


def sound(number):
    """Whether a sound example is called healthy."""
    movement, _ = _movement(number)
    rng = np.random.default_rng([5, 3, number])
    example = sound_example(movement, rng)
    found = diagnose(movement, read(example, Condition(), rng, lift_angle_deg=own_lift(movement)))
    agrees = found.healthy == found.verdict.startswith(("Healthy", "Amplitudes are healthy"))
    return {"design": movement.name, "healthy": found.healthy, "agrees": agrees}


def held(rows):
    """By cause, in how many of the rows of ``interval`` the interval holds the truth."""
    return {
        name: float(
            np.mean([r["causes"][name][1] <= r["causes"][name][0] <= r["causes"][name][3] for r in rows])
        )
        for name in CAUSES
    }


def report(what, rows):
    """The rows of one study in a few lines."""
    if what == "interval":
        share = held(rows)
        lines = [f"90 % intervals hold the truth, {len(rows)} movements, faults drawn from the priors"]
        lines += [f"  {name:15s} {value:4.0%}" for name, value in share.items()]
        return [*lines, f"  {'all':15s} {np.mean(list(share.values())):4.0%}"]
    if what == "single":
        lines = [f"the cause of a single fault, {len(rows)} movements: on top / on top or named as alike"]
        for name in FAULTS:
            own = [r for r in rows if r["fault"] == name]
            tops = {top: sum(r["first"] == top for r in own) for top in sorted({r["first"] for r in own})}
            lines.append(
                f"  {name:15s} {np.mean([r['right'] for r in own]):4.0%} {np.mean([r['alike'] for r in own]):4.0%}"
                f"   {', '.join(f'{top} {count}' for top, count in tops.items())}"
            )
        right, alike = (np.mean([r[key] for r in rows]) for key in ("right", "alike"))
        low = [r for r in rows if r["deficit_deg"] < -40.0]
        return [
            *lines,
            f"  {'all':15s} {right:4.0%} {alike:4.0%}",
            f"  called healthy with 40 deg or more too little: {sum(r['healthy'] for r in low)} of {len(low)}",
        ]
    sick = sum(not r["healthy"] for r in rows)
    return [f"sound examples called not healthy: {sick} of {len(rows)} ({sick / len(rows):.0%})"]


STUDIES: dict[str, Callable[[int], dict]] = {"interval": interval, "single": single, "sound": sound}


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=240, help="movements in each study")
    parser.add_argument("--first", type=int, default=0, help="number of the first, to go on with a study")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--only", choices=STUDIES, action="append")
    parser.add_argument("--rows", type=Path, help="a file for one line of JSON a movement")
    options = parser.parse_args()
    with ProcessPoolExecutor(options.workers) as pool:
        for what in options.only or STUDIES:
            rows = []
            for row in pool.map(STUDIES[what], range(options.first, options.first + options.count)):
                rows.append(row)
                if options.rows is not None:
                    with options.rows.open("a", encoding="utf-8") as file:
                        file.write(json.dumps({"study": what, **row}) + "\n")
                if sys.stderr.isatty():
                    print(f"\r{what} {len(rows)}/{options.count}", end="", file=sys.stderr, flush=True)
            print(*report(what, rows), sep="\n", flush=True)


if __name__ == "__main__":
    main()
