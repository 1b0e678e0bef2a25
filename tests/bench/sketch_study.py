"""How far a sketch lies from the design it was taken from: ``python -m tests.bench.sketch_study`` prints the tables of
docs/sketch.md.

Designs: the bundled ones, which the laws' author knew, and the three reference ones of the contract, which he did not
write. What a bench has is taken out of each; the diameter of the balance is made from inertia and mass for three places
at which the mass may act. Readings carry noise of 5 deg and come from an instrument told 52 deg, whatever the design.
"""

import math
import sys

import numpy as np

import oscsim
from oscsim.bench.sketch import sketch
from oscsim.slips.readings import Reading, Readings
from oscsim.slips.slip import Slip
from oscsim.tables import value_at
from tests.levers import LEVERS
from tests.movements import REFERENCE

PLACES = oscsim.Setting(positions=["CH", "12H"], hours=[0, 24], lift_angle_deg=52.0)
STRIP = (
    "mainspring.height_mm", "mainspring.thickness_mm", "mainspring.length_mm",
    "barrel.inner_diameter_mm", "barrel.arbor_diameter_mm",
)  # fmt: skip
COUNTED = ("escapement.teeth", "train.ratio")
GYRATIONS = (0.80, 0.85, 0.90)
#: What was told beside beat and sizes: traits a bench can see.
TOLD = {"bollard": "pin-pallet", "dockhand": "sturdy", "heavy": "sturdy", "tidewaiter": "fine"}
KNOWN = {"beat, jewels, diameter": (), "and strip, barrel": STRIP, "and teeth, train": (*STRIP, *COUNTED)}
READ = {"no reading": (), "CH 0 h": ((0, 0),), "CH 0 h, 12H 24 h": ((0, 0), (1, 1))}


def designs():
    """Name and movement of all nine."""
    found = {name: oscsim.load(name) for name in LEVERS}
    return found | {name: oscsim.load(REFERENCE / f"{name}.toml") for name in ("fast", "heavy", "slow")}


def slip_of(name, movement, keys, gyration):
    """What a bench has."""
    jewels = movement.train.jewels if isinstance(movement.train.jewels, int) else 17
    given = {"balance.beats_per_hour": movement.balance.beats_per_hour, "train.jewels": jewels}
    given |= {key: value_at(movement, key) for key in keys}
    across = 20.0 * math.sqrt(movement.balance.inertia_mg_cm2 / movement.balance.mass_mg) / gyration
    winding = "hand" if movement.mainspring.slip_torque_n_mm is None else "self"
    return Slip(given=given, facts={"balance_diameter_mm": across}, family=TOLD.get(name), winding=winding)


def study(rng):
    """(what is known, what was read) to rows (design, places): off by, and whether the band holds it."""
    found = {}
    for name, movement in designs().items():
        points = oscsim.settle(movement, PLACES).points
        true, shown = points.amplitude_deg.ravel(), points.apparent_amplitude_deg
        for gyration in GYRATIONS:
            noise = 5.0 * rng.standard_normal(shown.shape)
            for known, keys in KNOWN.items():
                for read, places in READ.items():
                    rows = tuple(
                        Reading(("CH", "12H")[i], (0.0, 24.0)[j], float(shown[i, j] + noise[i, j]))
                        for i, j in places
                    )
                    slip = slip_of(name, movement, keys, gyration)
                    if rows:
                        slip = slip.with_(readings=Readings(rows, 52.0))
                    expected = sketch(slip).expected
                    off = [e.amplitude_deg - a for e, a in zip(expected, true, strict=True)]
                    low, high = [e.low_deg for e in expected], [e.high_deg for e in expected]
                    inside = [lo <= a <= hi for lo, a, hi in zip(low, true, high, strict=True)]
                    width = [hi - lo for lo, hi in zip(low, high, strict=True)]
                    found.setdefault((known, read), []).append((name, gyration, off, inside, width))
                    print(name, gyration, known, read, np.round(off), inside, file=sys.stderr)
    return found


def main():
    found = study(np.random.default_rng(1))
    print("| known | read | off by, mean | off by, most | band wide | inside the 90 % band |")
    print("| --- | --- | --- | --- | --- | --- |")
    for (known, read), rows in found.items():
        off = np.abs([row[2] for row in rows])
        width = np.median([row[4] for row in rows])
        inside = 100.0 * np.mean([row[3] for row in rows])
        print(f"| {known} | {read} | {off.mean():.0f}° | {off.max():.0f}° | {width:.0f}° | {inside:.0f} % |")
    print("\n| design | CH 0 h | CH 24 h | 12H 0 h | 12H 24 h |\n| --- | --- | --- | --- | --- |")
    for name, gyration, off, _, _ in found["and strip, barrel", "no reading"]:
        if gyration == 0.85:
            print(f"| {name} | " + " | ".join(f"{x:+.0f}°" for x in off) + " |")


if __name__ == "__main__":
    main()
