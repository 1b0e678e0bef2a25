"""The mainspring in its barrel: equations (5)-(7) of docs/physics.md."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array, Number
from oscsim.errors import InputError
from oscsim.fields import check_quantities, quantity
from oscsim.units import GPA, MM, MPA, N_MM

#: Steps of the search for the turns at which the bridle slips; halving alone would be done by then.
_MOST_STEPS = 80


@dataclass(frozen=True, kw_only=True)
class Mainspring:
    """The mainspring strip (docs/physics.md §4)."""

    height_mm: float = quantity("mm", "w", "height of the strip", 0.01, 30)
    thickness_mm: float = quantity("mm", "h", "thickness of the strip", 0.01, 2)
    length_mm: float = quantity("mm", "ℓ_s", "length of the strip", 10, 20000)
    modulus_gpa: float = quantity("GPa", "E", "Young's modulus of the strip", 50, 400)
    elastic_limit_mpa: float = quantity("MPa", "σ_y", "elastic limit of the strip", 200, 10000)
    free_curvature_per_m: float = quantity(
        "1/m",
        "κ_free",
        "curvature before first winding, negative if reverse-curved",
        -1000,
        1000,
        default=0.0,
    )
    coil_efficiency: float = quantity("", "η_c", "what friction between the coils leaves", 0.1, 1)
    tail_turns: float = quantity(
        "turns", "n_t", "turns over which the torque fades before the spring is down", 0.01, 5
    )
    slip_torque_n_mm: float | None = quantity(
        "N·mm", "–", "torque at which the bridle slips", 0.01, 2000, default=None
    )

    def __post_init__(self) -> None:
        check_quantities(self, "mainspring")


@dataclass(frozen=True, kw_only=True)
class Barrel:
    """The barrel (docs/physics.md §4)."""

    inner_diameter_mm: float = quantity("mm", "2R", "inner diameter of the barrel", 2, 200)
    arbor_diameter_mm: float = quantity("mm", "2r_a", "diameter of the barrel arbor", 0.2, 100)

    def __post_init__(self) -> None:
        check_quantities(self, "barrel")
        if self.arbor_diameter_mm >= self.inner_diameter_mm:
            raise InputError(
                f"barrel.arbor_diameter_mm = {self.arbor_diameter_mm:g} mm: must be less than "
                f"barrel.inner_diameter_mm = {self.inner_diameter_mm:g} mm"
            )


def turns_packed(spring: Mainspring, barrel: Barrel) -> tuple[Number, Number]:
    """n_arbor, n_wall of (5): turns of the strip packed on the arbor and against the wall.

    NaN where the strip is larger than the barrel.
    """
    h, area = spring.thickness_mm, np.asarray(spring.length_mm * spring.thickness_mm / math.pi)
    wall, arbor = barrel.inner_diameter_mm / 2.0, barrel.arbor_diameter_mm / 2.0
    with np.errstate(invalid="ignore"):
        return (np.sqrt(arbor**2 + area) - arbor) / h, (wall - np.sqrt(wall**2 - area)) / h


def turns_of_development(spring: Mainspring, barrel: Barrel) -> Number:
    """N of (5): turns the arbor makes from let down to packed; NaN or negative: the strip does not fit."""
    n_arbor, n_wall = turns_packed(spring, barrel)
    return n_arbor - n_wall


def check_fit(spring: Mainspring, barrel: Barrel) -> None:
    """Raise InputError when the strip does not go into the barrel or leaves no turns."""
    turns = float(turns_of_development(spring, barrel))
    if not turns > 0.0:
        area = spring.length_mm * spring.thickness_mm
        free = math.pi / 4.0 * (barrel.inner_diameter_mm**2 - barrel.arbor_diameter_mm**2)
        raise InputError(
            f"mainspring.length_mm = {spring.length_mm:g} mm, mainspring.thickness_mm = {spring.thickness_mm:g} mm: "
            f"the strip does not fit the barrel; it fills {area:.1f} of the {free:.1f} mm² between "
            f"barrel.arbor_diameter_mm = {barrel.arbor_diameter_mm:g} mm and barrel.inner_diameter_mm = "
            f"{barrel.inner_diameter_mm:g} mm, and no turns are left"
        )


def turns_of_set(spring: Mainspring, barrel: Barrel) -> Number:
    """n_free of (7): turns the strip keeps when free, after the first full winding has set it.

    The integrand falls along the strip, so the part that was bent beyond its elastic limit is the inner one,
    up to the length s; the integral is elementary on both sides of it.
    """
    h, length = spring.thickness_mm * MM, spring.length_mm * MM
    arbor = barrel.arbor_diameter_mm * MM / 2.0
    elastic = 2.0 * spring.elastic_limit_mpa * MPA / (spring.modulus_gpa * GPA * h)
    free = np.asarray(spring.free_curvature_per_m, float)
    with np.errstate(divide="ignore"):
        limit = np.where(free + elastic > 0.0, 1.0 / np.maximum(free + elastic, 0.0), np.inf)
    s = np.clip((limit**2 - arbor**2) * math.pi / h, 0.0, length)
    bent = 2.0 * math.pi / h * (np.sqrt(arbor**2 + s * h / math.pi) - arbor) - elastic * s
    return (bent + free * (length - s)) / (2.0 * math.pi)


def barrel_torque(spring: Mainspring, barrel: Barrel, turns: Number) -> Array:
    """M(n) of (6), N·m, at ``turns`` wound; zero where the strip no longer pulls."""
    return _torque(spring, np.asarray(turns, float), _bent_let_down(spring, barrel), _scale(spring))[0]


def _bent_let_down(spring: Mainspring, barrel: Barrel) -> Number:
    """n_wall - n_free of (6): turns by which the strip is bent when let down."""
    return turns_packed(spring, barrel)[1] - turns_of_set(spring, barrel)


def _torque(spring: Mainspring, turns: Array, let_down: Number, scale: Number) -> tuple[Array, Array]:
    """M(n) of (6), N·m, and its slope, N·m per turn."""
    n = np.maximum(turns, 0.0)
    bent = np.maximum(let_down + n, 0.0)
    fading = -np.expm1(-n / spring.tail_turns)
    slope = scale * ((bent > 0.0) * fading + bent * (1.0 - fading) / spring.tail_turns)
    return np.asarray(scale * bent * fading), np.asarray(slope)


def full_turns(spring: Mainspring, barrel: Barrel) -> Array:
    """N at full wind: the turns of development, or fewer where the bridle slips first."""
    packed = np.asarray(turns_of_development(spring, barrel), float)
    if spring.slip_torque_n_mm is None:
        return packed
    return turns_at_torque(spring, barrel, np.asarray(spring.slip_torque_n_mm * N_MM, float))


def turns_at_torque(spring: Mainspring, barrel: Barrel, torque: Number) -> Array:
    """Turns wound at which (6) gives ``torque``, N·m; the turns of development where the strip never pulls so hard."""
    packed, wanted = np.broadcast_arrays(
        np.asarray(turns_of_development(spring, barrel), float), np.asarray(torque, float)
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        # Newton from above: the torque rises with the turns and its curve bends down, apart from the very tail
        let_down, scale = _bent_let_down(spring, barrel), _scale(spring)
        torque, slope = _torque(spring, packed, let_down, scale)
        pulls = torque > wanted
        low, high, turns, rounding = np.where(pulls, 0.0, packed), packed, packed, 4e-15 * packed
        for _ in range(_MOST_STEPS):
            excess = torque - wanted
            low, high = np.where(excess < 0.0, turns, low), np.where(excess >= 0.0, turns, high)
            step = turns - excess / slope
            inside = (step > low) & (step < high)
            following = np.where(inside, step, 0.5 * (low + high))
            # a step within the rounding may lead out of the bracket, whose other end is still far
            done = (np.abs(step - turns) <= rounding) | (np.abs(following - turns) <= rounding)
            turns = np.where(done, turns, following)
            if (done | (high <= low)).all():
                break
            torque, slope = _torque(spring, turns, let_down, scale)
    return np.where(pulls, turns, packed)


def _scale(spring: Mainspring) -> Number:
    """N·m per turn of bending, coil friction included."""
    h, w, length = spring.thickness_mm * MM, spring.height_mm * MM, spring.length_mm * MM
    bending = spring.modulus_gpa * GPA * w * h**3 / 12.0
    return spring.coil_efficiency * bending / length * 2.0 * math.pi
