"""Designs for the outside checks: the reference ones, and one with almost nothing but what a check needs."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

import oscsim
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.free import free_period
from oscsim.operating import operating_points
from oscsim.parts.escapement import Escapement

REFERENCE = Path(__file__).parent / "reference"
DESIGNS = {name: oscsim.load(REFERENCE / f"{name}.toml") for name in ("fast", "heavy", "slow")}

#: The lever escapement that Playtner drew: 15 teeth, 2½ spaces embraced; 12 deg of wheel a beat = stone 6 + tooth 4.5
#: + drop 1.5; lever: lock 1.5, run ¼, lift stone 5.5 + tooth 3; draw 12; wheel 7.5 mm, centres 4.33 mm.
DRAWING = Escapement(
    teeth=15,
    teeth_embraced=2.5,
    fork_ratio=0.21,
    lock_deg=1.5,
    run_deg=0.25,
    pallet_lift_deg=5.5 + 3.0,
    drop_deg=1.5,
    draw_deg=12.0,
    pallet_friction=0.0,
    fork_efficiency=1.0,
    notch_shake_deg=0.3,
    lever_inertia_mg_cm2=0.1,
    wheel_inertia_mg_cm2=0.1,
)
#: A balance of 10 mg·cm² at 4 Hz with hardly any loss; lift 52° across the dead point, lever and wheel without mass.
_BARE = {
    "balance.beats_per_hour": 28800,
    "balance.inertia_mg_cm2": 10.0,
    "balance.viscous_q": 10000.0,
    "balance.quadratic_drag": 0.0,
    "balance.pivot_friction": 0.0,
    "balance.unbalance_ug_cm": 0.0,
    "balance.out_of_beat_deg": 0.0,
    "balance.cubic_stiffness": 0.0,
    "escapement.lift_angle_deg": 52.0,
    "escapement.run_deg": 0.0,
    "escapement.notch_shake_deg": 0.0,
    "escapement.lever_inertia_mg_cm2": 1e-5,
    "escapement.wheel_inertia_mg_cm2": 1e-5,
}


def bare(**changes: float) -> oscsim.Movement:
    """The bare design; ``changes`` by name of the quantity, with two underscores for the dot."""
    named = {name.replace("__", "."): value for name, value in changes.items()}
    return DESIGNS["fast"].with_(_BARE | named)


def free(**coefficients: float) -> Oscillators:
    """One balance with its hairspring and nothing else but the ``coefficients`` given (reduced units, rad)."""
    kept = (
        dict.fromkeys(("viscous", "quadratic", "dry", "gravity", "cubic", "pins_share"), 0.0) | coefficients
    )
    osc = operating_points(bare(), oscsim.Setting()).oscillators
    return replace(osc, **{name: np.array([float(value)]) for name, value in kept.items()})


def free_rate(amplitude_deg: float, **coefficients: float) -> float:
    """Rate in s/day of ``free`` at an amplitude, kept going by an ideal impulse at the dead point."""
    period = free_period(free(**coefficients), np.radians([amplitude_deg]))
    return float(86400.0 * (2.0 * np.pi / period[0] - 1.0))
