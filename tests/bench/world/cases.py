"""Cases of this world: a movement in a condition whose amplitude lost is stated, read by an instrument with errors."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from oscsim.condition import Condition
from oscsim.slips.readings import Reading, Readings
from oscsim.stack import put_unchecked, unchecked

from .movements import amplitudes, examples

POSITIONS = ("CH", "FH", "12H", "3H", "6H", "9H")
PLACES = ((0.0, 0.0), (math.pi, 0.0), *((math.pi / 2, k * math.pi / 2) for k in range(4)))
HOURS = (0.0, 24.0)
LEVEL = ("drive", "mainspring", "drag", "lock", "oil")
PIVOTS = ("pivot_vertical", "pivot_flat_upper", "pivot_flat_lower")
#: Largest sizes tried: logarithms of factors, deg of lock, share of the way to dry oil.
MOST = {"drive": 1.2, "mainspring": 1.2, "drag": 1.5, "lock": 4.0, "oil": 1.0, "pivot_vertical": 2.6,
        "pivot_flat_upper": 4.0, "pivot_flat_lower": 4.0}  # fmt: skip
#: Where a fault is measured: dial up, dial down, vertical.
WHERE = {"pivot_vertical": 2, "pivot_flat_lower": 1}


@dataclass(frozen=True, kw_only=True)
class World:
    """What is other than usual: one standard deviation of noise of an amplitude, deg, of a rate, s/day; offset of
    all, of a position through the hours, lift angle told, deg; its mistake; dial down lower by; ripple; °C; share of
    bad rows; width of the examples' spread and of the faults' ranges; hours that 24 h are."""

    noise: float = 5.0
    rate_noise: float = 2.0
    offset: float = 3.0
    by_position: float = 4.0
    lift_sd: float = 0.7
    lift_wrong: float = 0.0
    offset_wrong: float = 0.0
    dial_down: float = 0.0
    ripple: float = 0.0
    warmth: float = 23.0
    bad: float = 0.05
    width: float = 1.0
    faults: float = 1.0
    day: float = 24.0


USUAL = World()
#: What is told wrong stands in place of the ordinary error of its kind.
SETTINGS = {
    "in model": USUAL,
    "lift told 2° more": World(lift_wrong=2.0, lift_sd=0.0),
    "lift told 2° less": World(lift_wrong=-2.0, lift_sd=0.0),
    "offset 5°": World(offset_wrong=-5.0, offset=0.0), "dial down −12°": World(dial_down=12.0),
    "ripple": World(ripple=5.0), "15 °C": World(warmth=15.0), "bad rows": World(bad=1 / 6),
    "examples twice as wide": World(width=2.0), "24 h were 27": World(day=27.0),
    "positions alike": World(by_position=0.0),
}  # fmt: skip
#: An instrument without errors.
EXACT = World(noise=0.0, rate_noise=0.0, offset=0.0, by_position=0.0, lift_sd=0.0, bad=0.0)


@dataclass
class Case:
    """Readings and the truth: faults by name with their sizes, loss flat and vertical, gain of mending each alone."""

    readings: Readings
    faults: dict[str, float]
    loss: tuple[float, float]
    gain: dict[str, tuple[float, float]] = field(default_factory=dict)
    lock: float = math.nan
    torque: float = math.nan


def condition(sizes):
    """A condition with arrays of sizes (movements,) by fault, for the six positions."""
    s = {name: np.asarray(value, float)[:, None, None] for name, value in sizes.items()}
    one = np.zeros_like(s["drive"])
    mask = np.arange(6)[:, None]
    ends = np.exp(s["pivot_flat_upper"] * (mask == 0) + s["pivot_flat_lower"] * (mask == 1))
    return unchecked(Condition(), {
        "drive": np.exp(-s["drive"]), "mainspring": np.exp(-s["mainspring"]), "drag": np.exp(s["drag"]),
        "pivot_vertical": np.exp(s["pivot_vertical"]), "pivot_flat": ends, "lock_deg": s["lock"] + one,
        "oil_age_years": 10.0 * s["oil"],
    })  # fmt: skip


def shown_full(stack, sizes):
    """Amplitude dial up, dial down, vertical, fully wound (movements, 3), as an instrument told the lift angle of
    the sound movement shows it."""
    own = np.degrees(np.ravel(stack.escapement.lift_angle()))
    points = amplitudes(condition(sizes).applied_to(stack), PLACES, (0.0,), lift=math.degrees(1.0))
    a = np.nan_to_num(np.radians(points.apparent_amplitude_deg[..., 0])) * own[:, None]
    return np.column_stack([a[:, 0], a[:, 1], a[:, 2]])


def sized(stack, names, wanted):
    """Sizes by fault, (movements,), so that each of ``names`` (a list per movement) takes its wanted loss, deg,
    alone."""
    n = len(names)
    sizes = {key: np.zeros(n) for key in MOST}
    sound = shown_full(stack, sizes)
    rows = [(i, name, loss) for i in range(n) for name, loss in zip(names[i], wanted[i], strict=True)]
    if not rows:
        return sizes
    index = np.array([i for i, _, _ in rows])
    where = np.array([WHERE.get(name, 0) for _, name, _ in rows])
    loss = np.array([w for *_, w in rows])
    own = taken(stack, index)
    low, high = np.zeros(len(rows)), np.array([MOST[name] for _, name, _ in rows])
    for _ in range(9):
        middle = 0.5 * (low + high)
        tried = {key: np.where([name == key for _, name, _ in rows], middle, 0.0) for key in MOST}
        lost = sound[index, where] - shown_full(own, tried)[np.arange(len(rows)), where]
        low, high = np.where(lost < loss, middle, low), np.where(lost < loss, high, middle)
    for (i, name, _), value in zip(rows, 0.5 * (low + high), strict=True):
        sizes[name][i] = value
    return sizes


def taken(stack, index):
    """Some movements of a stack."""
    from dataclasses import fields, is_dataclass

    changes = {}
    for f in fields(stack):
        value = getattr(stack, f.name)
        if is_dataclass(value):
            changes[f.name] = taken(value, index)
        elif isinstance(value, np.ndarray) and value.ndim == 3 and len(value) > 1:
            changes[f.name] = value[index]
    return unchecked(stack, changes)


def cases(movement, names, losses, rng, world=USUAL, *, hours=HOURS, positions=POSITIONS, told=None):
    """A case for each list of faults and losses: examples of the design, each in its condition, read.

    ``told``: lift angle that the readings state; default none, the design's own. Where a fault at its largest does not
    take the wanted loss (dry oil takes 40 deg and no more in some designs), there is no case.
    """
    stack = examples(movement, len(names), rng, world.width)
    sizes = sized(stack, names, losses)
    able = np.flatnonzero(np.all([sizes[key] < 0.99 * most for key, most in MOST.items()], axis=0))
    if not len(able):
        return []
    if len(able) < len(names):
        stack, sizes = taken(stack, able), {key: one[able] for key, one in sizes.items()}
    return read_cases(movement, stack, sizes, rng, world, hours=hours, positions=positions, told=told)


def met_cases(movement, sizes, rng, world=USUAL, **how):
    """A case for each movement whose faults have sizes by fault, (movements,)."""
    stack = examples(movement, len(sizes["drive"]), rng, world.width)
    return read_cases(movement, stack, sizes, rng, world, **how)


def read_cases(movement, stack, sizes, rng, world, *, hours=HOURS, positions=POSITIONS, told=None):
    """Examples with faults of given sizes, read by this world's instrument."""
    n = len(sizes["drive"])
    now = shown_full(stack, sizes)
    healthy = shown_full(stack, {key: np.zeros(n) for key in MOST})
    gains = {}
    for key in MOST:
        if sizes[key].any():
            mended = shown_full(stack, sizes | {key: np.zeros(n)})
            gains[key] = full(mended) - full(now)
    loss = full(healthy) - full(now)
    own = math.degrees(float(movement.escapement.lift_angle()))
    heavy = rng.uniform(0.0, 2 * math.pi, n)
    poise = np.abs(rng.standard_normal(n)) * 6e-4
    stiffness = (
        value(movement, "balance.inertia_mg_cm2")
        * 1e-10
        * (math.pi * movement.balance.beats_per_hour / 3600.0) ** 2
    )
    worn = condition(sizes).applied_to(stack).movement
    worn = put_unchecked(
        worn, "balance.unbalance_ug_cm", (poise * stiffness / 9.80665 / 1e-11)[:, None, None]
    )
    worn = put_unchecked(worn, "balance.heavy_point_deg", np.degrees(heavy)[:, None, None])
    worn = put_unchecked(worn, "balance.out_of_beat_deg", 0.5 * rng.standard_normal((n, 1, 1)))
    at = [world.day if h == 24.0 else h for h in hours]
    points = amplitudes(worn, PLACES, at, world.warmth, own)
    lift = (own + world.lift_wrong + world.lift_sd * rng.standard_normal(n)) / own
    shown = points.apparent_amplitude_deg * lift[:, None, None]
    shown = shown + (world.offset_wrong + world.offset * rng.standard_normal(n))[:, None, None]
    shown = shown + world.by_position * rng.standard_normal((n, 6, 1))
    shown = shown + world.noise * rng.standard_normal(shown.shape)
    shown[:, 1] -= world.dial_down
    shown = shown + world.ripple * rng.standard_normal(shown.shape)
    bad = rng.random(shown.shape) < world.bad
    shown = np.where(bad, shown + 40.0 * rng.standard_normal(shown.shape), shown)
    rate = points.rate_s_per_day + 8.0 * rng.standard_normal((n, 1, 1)) + 2.5 * rng.standard_normal((n, 6, 1))
    rate = rate + world.rate_noise * rng.standard_normal(rate.shape)
    rate = np.where(rng.random(rate.shape) < world.bad, rate + 30.0 * rng.standard_normal(rate.shape), rate)
    beat = np.abs(points.signed_beat_error_ms + 0.1 * rng.standard_normal(rate.shape))
    lock = np.ravel(np.broadcast_to(worn.escapement.lock_deg, (n, 1, 1))) + 0.3 * rng.standard_normal(n)
    torque = points.barrel_torque_n_mm[:, 0, 0] * np.exp(0.04 * rng.standard_normal(n))
    found = []
    for i in range(n):
        rows = []
        for j, position in enumerate(POSITIONS):
            for k, hour in enumerate(hours):
                a = float(shown[i, j, k])
                if position in positions and math.isfinite(a) and 30.0 < a < 400.0:
                    rows.append(
                        Reading(position, hour, a, float(rate[i, j, k]), min(float(beat[i, j, k]), 50.0))
                    )
        if len(rows) < 2:
            continue
        truth = {key: float(sizes[key][i]) for key in MOST if sizes[key][i] > 0.0}
        gain = {key: tuple(gains[key][i]) for key in truth}
        found.append(
            Case(Readings(tuple(rows), told), truth, tuple(loss[i]), gain, float(lock[i]), float(torque[i]))
        )
    return found


def full(a):
    """Flat, the worse of dial up and down, and vertical, of (movements, 3)."""
    return np.column_stack([a[:, :2].min(axis=1), a[:, 2]])


def value(movement, name):
    from oscsim.tables import value_at

    return float(value_at(movement, name))


#: Faults as a bench meets them, in its own words: percent lost or added, deg of lock, percent of the way to dry oil;
#: all sizes between are as likely.
MET = {
    "drive": (5, 45), "mainspring": (5, 45), "drag": (10, 150), "lock": (0.3, 3.0), "oil": (20, 100),
    "pivot_vertical": (20, 400), "pivot_flat_upper": (50, 1500), "pivot_flat_lower": (50, 1500),
}  # fmt: skip


def met(count, rng, width=1.0):
    """Sizes by fault, (movements,), drawn from ``MET``, whose upper ends are ``width`` times as far: half of all are
    sound, 38 of 100 have one fault, 12 two."""
    sizes = {name: np.zeros(count) for name in MET}
    for i in range(count):
        u = rng.random()
        for name in rng.choice(list(MET), 0 if u < 0.5 else 1 if u < 0.88 else 2, replace=False):
            low, high = MET[name]
            size = rng.uniform(low, min(high * width, 70.0 if name in ("drive", "mainspring") else 1e9))
            if name in ("drive", "mainspring"):
                size = -math.log1p(-size / 100.0)
            elif name == "oil":
                size = min(size, 100.0) / 100.0
            elif name != "lock":
                size = math.log1p(size / 100.0)
            sizes[name][i] = size
    return sizes


def mixed(count, rng):
    """Faults and losses as a bench meets them: 45 of 100 sound, 40 with one fault, 15 with two."""
    names, losses = [], []
    for _ in range(count):
        u = rng.random()
        number = 0 if u < 0.45 else 1 if u < 0.85 else 2
        own = [str(name) for name in rng.choice(LEVEL + PIVOTS, number, replace=False)]
        names.append(own)
        losses.append([float(rng.uniform(8.0, 60.0 if name in LEVEL else 35.0)) for name in own])
    return names, losses
