"""Movements whose condition is known, read with noise: what a diagnosis is held against."""

from __future__ import annotations

import math

import numpy as np

import oscsim
from oscsim.answers.tolerance import draw, spreads_of
from oscsim.bench.model import PARAMETERS, condition_of, own_unbalance, prior_sd, search_box
from oscsim.condition import Condition
from oscsim.slips.readings import Reading, Readings

POSITIONS = ("CH", "FH", "12H", "3H", "6H", "9H")
HOURS = (0.0, 24.0)
#: Standard deviations of a reading: deg, s/day, ms (the issue's "realistic noise").
NOISE = (5.0, 2.0, 0.1)

#: Single faults as a bench meets them: (least, most) of each condition; signs and directions are drawn.
FAULTS = {
    "drive": (0.70, 0.85),
    "mainspring": (0.65, 0.80),
    "pivot_vertical": (1.8, 3.0),
    "pivot_flat": (3.0, 6.0),
    "drag": (1.3, 1.8),
    "lock": (1.0, 2.5),
    "unbalance": (12.0, 30.0),
    "out_of_beat": (2.0, 4.0),
    "regulation": (20.0, 60.0),
    "isochronism": (3e-5, 6e-5),
}


def sound_example(movement, rng):
    """Another sound example of the design: every number with a tolerance drawn anew, but for what a cause sets."""
    spreads = [s for s in spreads_of(movement) if s.name != "balance.out_of_beat_deg"]
    return movement.with_({name: float(v[0]) for name, v in draw(movement, spreads, 1, rng).items()})


def single_fault(name, movement, rng):
    """A condition with this fault alone, its size uniform over the range in FAULTS."""
    size = float(rng.uniform(*FAULTS[name]))
    sign = float(rng.choice([-1.0, 1.0]))
    match name:
        case "lock":
            return Condition(lock_deg=size)
        case "unbalance":
            return Condition(unbalance_ug_cm=size, heavy_point_deg=float(rng.uniform(0.0, 360.0)))
        case "out_of_beat":
            return Condition(out_of_beat_deg=sign * size)
        case "regulation":
            return Condition(regulation_s_per_day=sign * size)
        case "isochronism":
            return Condition(cubic_stiffness=size)
    return Condition(**{name: size})


def truths_of(movement, z):
    """What a diagnosis should find for the departures z: each cause's true estimate."""
    values = dict(zip(PARAMETERS, z, strict=True))
    own_12, own_3 = own_unbalance(movement)
    found = {name: math.exp(values[name]) for name in list(FAULTS)[:5]}
    found |= {name: values[name] for name in ("lock", "regulation", "isochronism")}
    found["unbalance"] = math.hypot(own_12 + values["unbalance_12"], own_3 + values["unbalance_3"])
    # the instrument shows no sign of the beat error
    found["out_of_beat"] = abs(movement.balance.out_of_beat_deg + values["out_of_beat"])
    return found


def drawn_from_priors(movement, rng):
    """Departures z from the design drawn from the priors, where the search is allowed to look."""
    low, high = search_box(movement)
    while True:
        z = prior_sd(movement) * rng.standard_normal(len(PARAMETERS))
        if ((low < z) & (z < high)).all():
            return z, condition_of(movement, z)


def read(example, condition, rng, *, lift_angle_deg, noise=1.0, positions=POSITIONS, hours=HOURS, told=None):
    """Readings of an example in a condition, by an instrument told ``lift_angle_deg``; None where it stops.

    ``told``: the lift angle that the readings state.
    """
    setting = oscsim.Setting(
        positions=positions, hours=hours, condition=condition, lift_angle_deg=lift_angle_deg
    )
    points = oscsim.settle(example, setting).points
    shown = np.stack([points.apparent_amplitude_deg, points.rate_s_per_day, points.beat_error_ms], axis=-1)
    if not np.isfinite(shown).all():
        return None
    shown = shown + noise * np.array(NOISE) * rng.standard_normal(shown.shape)
    shown[..., 2] = np.abs(shown[..., 2])
    rows = [
        Reading(position, hour, *(float(v) for v in shown[i, j]))
        for i, position in enumerate(setting.symbols)
        for j, hour in enumerate(hours)
    ]
    return Readings(tuple(rows), told)


def own_lift(movement):
    """The design's own lift angle, deg."""
    return math.degrees(float(movement.escapement.lift_angle()))
