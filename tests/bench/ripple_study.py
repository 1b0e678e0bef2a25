"""How well a record names the wheel: ``python -m tests.bench.ripple_study`` prints the table of docs/ripple.md.

The worlds are made here by (R3) alone, with a response and periods typed in and not asked of the library: A 282.711
deg, n_A 0.46531, τ 8.992 s (computed elsewhere, beat by beat, for a design of 4 Hz) and the train 78:15 80:10 75:10
84:7 with 20 teeth at 28,800. Every train has its ordinary ripple: arbors out of round by up to 1.5 % of the torque,
drawn evenly, teeth of 1.5 to 4 % (first harmonic), none quite of the shape of (R2), all at any phase. A reading has a
noise of 1.5 deg, in half of the trains remembered from one reading to the next (0.4 after 5 s), and is rounded to a
degree; one in twenty is missing; the spring runs down by up to 3 deg an hour, not quite evenly.
"""

from __future__ import annotations

import math
import sys
import time
from dataclasses import dataclass

import numpy as np

import oscsim
from oscsim.slips.series import Series

AMPLITUDE, SENSITIVITY, RELAXATION = 282.711, 0.46531, 8.992
ARBORS = {"barrel": 18720.0, "centre": 3600.0, "third": 450.0, "fourth": 60.0, "escape": 5.0}
#: Period of a tooth, teeth and leaves.
TEETH = {
    "barrel-centre": (240.0, 78, 15),
    "centre-third": (45.0, 80, 10),
    "third-fourth": (6.0, 75, 10),
    "fourth-escape": (60.0 / 84.0, 84, 7),
}
HANDS = {"second hand": 3600.0 / 59.0, "hour hand": 43200.0 / 11.0}
#: Fault at 3 % of the torque, min of readings, s between them.
CASES = (
    ("third", 30, 5.0),
    ("fourth", 30, 5.0),
    ("second hand", 30, 5.0),
    ("fourth", 30, 10.0),
    ("centre", 90, 5.0),
    ("fourth", 90, 5.0),
    ("second hand", 90, 5.0),
    ("", 30, 5.0),
    ("", 90, 5.0),
    ("", 90, 10.0),
)


def tooth(
    rng: np.random.Generator, t: np.ndarray, period: float, wheel: int, leaves: int, size: float
) -> np.ndarray:
    """One mesh: past the line of centres 1/(1 + a tan β), before it straight, cut to harmonics; each harmonic is off by
    a third of itself, since no tooth is as drawn. size: half of peak to peak of the first."""
    turn = 2.0 * math.pi / leaves
    angle = (np.arange(512) + 0.5) / 512 * turn - (0.0 if leaves >= 10 else math.radians(15.0))
    a = rng.uniform(0.08, 0.2) * (1.0 + leaves / wheel)
    shape = np.where(
        angle > 0.0, 1.0 / (1.0 + a * np.tan(np.maximum(angle, 0.0))), 1.0 + 0.9 * a * np.minimum(angle, 0.0)
    )
    waves = np.fft.rfft(shape)[1:9]
    waves = waves / abs(waves[0]) * size
    waves[1:] *= 1.0 + rng.normal(0.0, 0.33, 7) * np.exp(2j * np.pi * rng.random(7))
    start, found = rng.uniform(0.0, 1.0), np.zeros_like(t)
    for number, wave in enumerate(waves, start=1):
        late = 1.0 / (1.0 + 2j * math.pi * RELAXATION * number / period)
        found += np.real(SENSITIVITY * wave * late * np.exp(2j * math.pi * number * (t / period + start)))
    return found


def world(rng: np.random.Generator, minutes: float, every: float, faults: dict[str, float]) -> Series:
    """One record; ``faults``: half of peak to peak of the torque in %, by name."""
    t = np.arange(0.0, 60.0 * minutes, every)
    t = t[rng.random(len(t)) > 0.05] + rng.uniform(-0.1, 0.1) * every
    relative = np.zeros_like(t)

    def add(percent: float, period: float) -> None:
        lag = math.atan(2.0 * math.pi * RELAXATION / period)
        swing = 0.01 * percent * SENSITIVITY * math.cos(lag)  # 1/sqrt(1 + x²) is cos(atan x)
        relative[:] += swing * np.cos(2.0 * math.pi * t / period + rng.uniform(0.0, 2.0 * math.pi) - lag)

    for name, period in ARBORS.items():
        add(faults.get(name, rng.uniform(0.0, 1.5)), period)
    for name, (period, wheel, leaves) in TEETH.items():
        relative[:] += tooth(rng, t, period, wheel, leaves, 0.01 * faults.get(name, rng.uniform(1.5, 4.0)))
    for name, period in HANDS.items():
        add(faults.get(name, 0.0), period)
    hours = t / 3600.0
    mean = AMPLITUDE - rng.uniform(0.5, 3.0) * hours - rng.uniform(-0.2, 0.2) * hours**2
    noise = rng.normal(0.0, 1.5, len(t))
    if rng.random() < 0.5:
        keep = 0.4 ** (every / 5.0)
        for i in range(1, len(t)):
            noise[i] = keep * noise[i - 1] + math.sqrt(1.0 - keep**2) * noise[i]
    return Series(t, np.round(mean * (1.0 + relative) + noise))


#: Share of faults of 3 % to be named, and of sound trains that may be accused.
LEAST_NAMED, MOST_ACCUSED = 0.85, 0.05


@dataclass(frozen=True)
class Score:
    """Of so many trains: fault named; named and nothing else; anything named; interval holds the truth."""

    trains: int
    named: int
    alone: int
    accused: int
    holds: int


def study(name: str, minutes: float, every: float, trains: int, seed: int = 0) -> Score:
    """Records of ``trains`` trains with a fault of 3 % at ``name``, or none where it is empty."""
    movement, setting = oscsim.load("packet"), oscsim.Setting(hours=12.0)
    rng = np.random.default_rng([seed, int(minutes), int(every), *name.encode()])
    named = alone = accused = holds = 0
    for _ in range(trains):
        record = world(rng, minutes, every, {name: 3.0} if name else {})
        found = oscsim.ripple(movement, record, setting)
        named += name in found.found
        alone += found.found == (name,)
        accused += bool(found.found)
        holds += any(one.name == name and one.low_percent <= 3.0 <= one.high_percent for one in found.periods)
    return Score(trains, named, alone, accused, holds)


def main(trains: int) -> int:
    """Print the table; 1 where a fault is named too seldom or sound trains are accused too often, else 0."""
    poor = 0
    heads = ("min", "every s", "named %", "alone %", "any %", "± %", "90 % holds", "s")
    widths = (5, 9, 9, 9, 8, 6, 12, 7)
    print(f"{'fault, 3 %':<14}" + "".join(f"{h:>{w}}" for h, w in zip(heads, widths, strict=True)))
    for name, minutes, every in CASES:
        start = time.perf_counter()
        s = study(name, minutes, every, trains)
        poor += s.named < LEAST_NAMED * trains if name else s.accused > MOST_ACCUSED * trains
        share = (s.named or s.accused) / s.trains
        error = 100.0 * math.sqrt(max(share * (1.0 - share), 1.0 / s.trains) / s.trains)
        told = [f"{100.0 * n / s.trains:.1f}" for n in (s.named, s.alone, s.accused)]
        each = (time.perf_counter() - start) / s.trains
        print(f"{name or 'none':<14}{minutes:>5}{every:>9g}{told[0]:>9}{told[1]:>9}{told[2]:>8}{error:>6.1f}"
              f"{100.0 * s.holds / s.trains:>12.0f}{each:>7.2f}", flush=True)  # fmt: skip
    return int(poor > 0)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 200))
