"""Random but plausible watches: changes to a reference design, with a position and an hour, from a seed.

One `Case` describes the same watch to the library (`movement`, `setting`) and to the independent integrator
(`coefficients`); only the numbers of the design file are shared. Ranges are common practice, stretched.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

import oscsim

from . import integrator as it

REFERENCE = Path(__file__).parents[1] / "outside" / "reference"
NAMES = ("fast", "heavy", "slow")
TABLES = {name: it.load(REFERENCE / f"{name}.toml") for name in NAMES}
MOVEMENTS = {name: oscsim.load(REFERENCE / f"{name}.toml") for name in NAMES}
POSITIONS = ("CH", "FH", "3H", "6H", "9H", "12H")

#: Set to a value drawn evenly between the two.
EVEN = {
    "balance.heavy_point_deg": (0.0, 360.0),
    "balance.out_of_beat_deg": (-4.0, 4.0),
    "balance.quadratic_drag": (0.0, 1.5e-3),
    "escapement.lock_deg": (0.8, 3.5),
    "escapement.run_deg": (0.05, 0.6),
    "escapement.drop_deg": (0.5, 2.5),
    "escapement.draw_deg": (8.0, 15.0),
    "escapement.pallet_friction": (0.03, 0.2),
    "escapement.fork_efficiency": (0.85, 1.0),
    "escapement.notch_shake_deg": (0.0, 1.2),
}
#: Drawn evenly in the logarithm.
SPREAD = {"balance.viscous_q": (100.0, 600.0), "balance.pivot_friction": (0.03, 0.25)}
#: The design's own value times a factor drawn evenly in its logarithm.
SCALED = {
    "balance.inertia_mg_cm2": (0.6, 1.7),
    "balance.beats_per_hour": (0.8, 1.25),
    "balance.unbalance_ug_cm": (0.1, 5.0),
    "escapement.lever_inertia_mg_cm2": (0.3, 3.0),
    "escapement.wheel_inertia_mg_cm2": (0.3, 10.0),
    "mainspring.height_mm": (0.15, 2.2),
}


@dataclass(frozen=True)
class Case:
    """One watch in one place at one hour."""

    name: str
    changes: dict[str, float]
    position: str
    hours: float
    tilt_deg: float | None

    @property
    def movement(self) -> oscsim.Movement:
        return MOVEMENTS[self.name].with_(self.changes)

    @property
    def setting(self) -> oscsim.Setting:
        return oscsim.Setting(positions=self.position, hours=self.hours, tilt_deg=self.tilt_deg)

    @property
    def coefficients(self) -> it.Coefficients:
        design = it.changed(TABLES[self.name], dict(self.changes))
        return it.operating(design, self.position, self.hours, self.tilt_deg)


def plausible(rng: np.random.Generator) -> Case:
    """One random watch."""
    name = NAMES[rng.integers(3)]
    table = TABLES[name]
    changes = {key: rng.uniform(*ends) for key, ends in EVEN.items()}
    changes |= {key: _spread(rng, *ends) for key, ends in SPREAD.items()}
    for key, ends in SCALED.items():
        part, field = key.split(".")
        changes[key] = table[part][field] * _spread(rng, *ends)
    if rng.random() < 0.5:  # the hairspring's own cubic term
        changes["balance.cubic_stiffness"] = rng.uniform(-1e-4, 1e-4)
    if rng.random() < 0.25:  # wheels so heavy that the catch is late or fails
        changes["escapement.wheel_inertia_mg_cm2"] *= 5.0
    tilt = rng.uniform(0.0, 180.0) if rng.random() < 0.25 else None
    share = rng.uniform(0.97, 1.0) if rng.random() < 0.15 else rng.uniform(0.0, 0.97)  # some almost let down
    hours = share * it.operating(it.changed(table, dict(changes)))["hours_of_spring"]
    return Case(name, changes, POSITIONS[rng.integers(6)], hours, tilt)


def _spread(rng: np.random.Generator, low: float, high: float) -> float:
    return math.exp(rng.uniform(math.log(low), math.log(high)))


def plausible_designs(count: int, seed: int) -> list[Case]:
    """``count`` random watches; the same seed gives the same ones."""
    rng = np.random.default_rng(seed)
    return [plausible(rng) for _ in range(count)]


# ------------------------------------------------------------------------------------ beats that go wrong

WHEEL, SHAKE = "escapement.wheel_inertia_mg_cm2", "escapement.notch_shake_deg"
TORQUE, BEAT, DRAW = "mainspring.height_mm", "balance.out_of_beat_deg", "escapement.draw_deg"
#: What happens in the first beat: design, changes, amplitude in deg, the integrator's word for it, impulse lost.
BEATS = {
    "whole": ("heavy", {BEAT: 1.5}, 230.0, "", False),
    "no play": ("fast", {SHAKE: 0.0}, 150.0, "", False),
    "late catch": ("fast", {WHEEL: 0.9}, 380.0, "", False),
    "wheel never catches up": ("fast", {WHEEL: 8.0}, 250.0, "", True),
    "tooth drops in the shake": ("heavy", {WHEEL: 2.0, SHAKE: 1.5, TORQUE: 0.02, BEAT: 0.5}, 33.8, "", True),
    "drops in the shake, far swing": ("fast", {WHEEL: 2.0, SHAKE: 3.0, TORQUE: 0.6}, 190.0, "", True),
    "contact not reached": ("fast", {SHAKE: 0.0}, 25.0, "the swing does not reach the pin contact", False),
    "stops unlocking": (
        "heavy",
        {BEAT: 13.0, SHAKE: 1.5, WHEEL: 2.0, TORQUE: 3.0, DRAW: 20.0},
        18.0,
        "the balance stops while unlocking",
        False,
    ),
    "stops before the catch": (
        "heavy",
        {BEAT: 4.5, SHAKE: 0.0, WHEEL: 6.0, TORQUE: 0.02, DRAW: 20.0},
        24.8,
        "the balance stops before the wheel has caught up",
        False,
    ),
    "stops in the shake": (
        "heavy",
        {BEAT: 12.6, SHAKE: 3.0, WHEEL: 6.0, TORQUE: 0.02},
        16.5,
        "the balance stops before the fork meets the pin",
        False,
    ),
    "stops in the impulse": (
        "slow",
        {BEAT: 11.3, SHAKE: 3.0, WHEEL: 0.5, TORQUE: 0.4, DRAW: 20.0},
        14.1,
        "the balance stops during the impulse",
        False,
    ),
    "next contact not reached": (
        "fast",
        {BEAT: 4.4, SHAKE: 3.0, TORQUE: 0.02},
        25.3,
        "the swing out does not reach the next pin contact",
        False,
    ),
}
