"""From a design file to coefficients: independent integration of docs/physics.md, sections 1 to 4.

Bench units come in (tables and keys of the design file); SI units and rad go out.
"""

from __future__ import annotations

import copy
import math
import tomllib
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

from numpy.polynomial.chebyshev import chebint, chebval
from scipy.integrate import quad
from scipy.optimize import brentq

G0 = 9.80665  # m/s2, standard gravity
MG_CM2 = 1e-10  # kg m2
ARBORS = ("barrel", "centre", "third", "fourth", "escape")
# Radii in mm: pivot, pinion, wheel (section 3).
RADII: dict[str, dict[str, float]] = {
    "barrel": {"pivot_radius_mm": 0.60, "wheel_radius_mm": 5.3},
    "centre": {"pivot_radius_mm": 0.35, "pinion_radius_mm": 1.0, "wheel_radius_mm": 3.9},
    "third": {"pivot_radius_mm": 0.14, "pinion_radius_mm": 0.50, "wheel_radius_mm": 2.9},
    "fourth": {"pivot_radius_mm": 0.11, "pinion_radius_mm": 0.45, "wheel_radius_mm": 2.6},
    "escape": {"pivot_radius_mm": 0.09, "pinion_radius_mm": 0.40},
}
# Holes in the order in which jewels beyond the seventh fill them, two each.
JEWEL_ORDER = ("escape", "pallet", "fourth", "third", "centre", "barrel")

Design = dict[str, Any]
#: By name; floats, but for ``by_angle``, which may be absent.
Coefficients = dict[str, Any]


class ByAngle(NamedTuple):
    """What more acts by the angle alone, N m: a torque, positive with theta, and a friction, against the motion, each a
    Chebyshev series over -400 to 400 degrees (numpy's own evaluation)."""

    torque: Any
    friction: Any

    def forward(self, s: int, x: float) -> float:
        """In the frame of the beat to the side s, where the balance moves upwards."""
        at = s * x / math.radians(400.0)
        return float(s * chebval(at, self.torque) - chebval(at, self.friction))

    def work_of_torque(self, start: float, end: float) -> float:
        """J given to the balance from the angle ``start`` to ``end``, rad."""
        reach = math.radians(400.0)
        whole = chebint(self.torque)
        return float(reach * (chebval(end / reach, whole) - chebval(start / reach, whole)))

    def rubbed(self, start: float, end: float) -> float:
        """J taken by the friction on the way from ``start`` to ``end``, rad."""
        reach = math.radians(400.0)
        whole = chebint(self.friction)
        return abs(float(reach * (chebval(end / reach, whole) - chebval(start / reach, whole))))


# ----------------------------------------------------------------------------------------------- design file


def load(path: str | Path) -> Design:
    """Read a design file (TOML) as nested tables, in bench units."""
    with open(path, "rb") as file:
        return tomllib.load(file)


def changed(design: Design, changes: dict[str, object]) -> Design:
    """A copy of the design with dotted keys set; the value None removes the key."""
    new = copy.deepcopy(design)
    for dotted, value in changes.items():
        *tables, key = dotted.split(".")
        table = new
        for name in tables:
            table = table.setdefault(name, {})
        if value is None:
            table.pop(key, None)
        else:
            table[key] = value
    return new


# ------------------------------------------------------------------------- section 4: mainspring, (5) to (7)


class Spring(NamedTuple):
    """Going barrel: turns at full wind, torque (N m) at n turns, turns between the two packed coils."""

    full_turns: float
    torque: Callable[[float], float]
    packed_turns: float


def spring(design: Design) -> Spring:
    """Mainspring of a design. Raises ValueError when the strip does not fit the barrel."""
    m, barrel = design["mainspring"], design["barrel"]
    h, w, length = m["thickness_mm"] * 1e-3, m["height_mm"] * 1e-3, m["length_mm"] * 1e-3
    modulus, limit = m["modulus_gpa"] * 1e9, m["elastic_limit_mpa"] * 1e6
    big, small = barrel["inner_diameter_mm"] * 0.5e-3, barrel["arbor_diameter_mm"] * 0.5e-3
    area = length * h / math.pi
    fits = big * big > area
    n_arbor = (math.sqrt(small**2 + area) - small) / h
    n_wall = (big - math.sqrt(big**2 - area)) / h if fits else math.inf
    packed = n_arbor - n_wall
    if packed <= 0.0:
        raise ValueError(
            "mainspring.length_mm, thickness_mm and the barrel's diameters: the strip does not fit"
        )

    free = float(m.get("free_curvature_per_m", 0.0))
    given_back = float(2.0 * limit / (modulus * h))

    def curvature(s: float) -> float:
        return max(free, 1.0 / math.sqrt(small**2 + s * h / math.pi) - given_back)

    ends = [0.0, length]
    if free + given_back > 0.0:  # the corner of the max, so that each piece is smooth
        corner = (1.0 / (free + given_back) ** 2 - small**2) * math.pi / h
        if 0.0 < corner < length:
            ends.insert(1, corner)
    n_free = sum(quad(curvature, a, b, epsabs=0.0, epsrel=1e-13)[0] for a, b in pairwise(ends))
    n_free /= 2.0 * math.pi
    per_turn = m["coil_efficiency"] * modulus * w * h**3 / (12.0 * length) * 2.0 * math.pi

    def torque(n: float) -> float:
        return max(0.0, float(per_turn * (n_wall + n - n_free) * -math.expm1(-n / m["tail_turns"])))

    full = packed
    if "slip_torque_n_mm" in m:
        slip = m["slip_torque_n_mm"] * 1e-3
        if torque(packed) > slip:
            full = brentq(lambda n: torque(n) - slip, 0.0, packed, xtol=1e-14, rtol=1e-15)
    return Spring(full, torque, packed)


# ------------------------------------------------------------------------------- section 3: train and jewels


def jewelled_holes(jewels: int | dict[str, int]) -> dict[str, int]:
    """Jewelled holes (0, 1 or 2) of each arbor, from a count or from the table itself."""
    if isinstance(jewels, dict):
        wrong = [name for name, n in jewels.items() if name not in JEWEL_ORDER or n not in (0, 1, 2)]
        if wrong:
            raise ValueError(f"train.jewels.{wrong[0]}: 0 to 2 holes of {', '.join(JEWEL_ORDER)}")
        return {name: jewels.get(name, 0) for name in JEWEL_ORDER}
    left = max(0, jewels - 7)
    holes = {}
    for name in JEWEL_ORDER:
        holes[name] = min(2, left)
        left -= holes[name]
    return holes


def train_ratio(train: Design) -> float:
    """Turns of the escape wheel to one of the barrel: as the file has it, or by its teeth."""
    if "wheel_teeth" not in train:
        return float(train["ratio"])
    result = 1.0
    for wheel, pinion in zip(train["wheel_teeth"], train["pinion_leaves"], strict=True):
        result *= wheel / pinion
    return result


def _meshes(train: Design) -> int:
    return len(train["wheel_teeth"]) if "wheel_teeth" in train else int(train["meshes"])


def train_efficiency(design: Design) -> float:
    """Efficiency of (4): meshes and ten pivot holes. The file's own radii replace the listed ones by key."""
    train = design["train"]
    unknown = set(train.get("arbors", {})) - set(ARBORS)
    if unknown:
        raise ValueError(f"train.arbors.{min(unknown)}: one of {', '.join(ARBORS)}")
    holes = jewelled_holes(train["jewels"])
    result = float(train["mesh_efficiency"] ** _meshes(train))
    for name in ARBORS:
        radii = RADII[name] | train.get("arbors", {}).get(name, {})
        if (
            "wheel_teeth" in train and name != "escape"
        ):  # pitch circles of wheel and pinion are as their teeth
            at = ARBORS.index(name)
            driven = RADII[ARBORS[at + 1]] | train.get("arbors", {}).get(ARBORS[at + 1], {})
            radii["wheel_radius_mm"] = driven["pinion_radius_mm"] * (
                train["wheel_teeth"][at] / train["pinion_leaves"][at]
            )
        lever = sum(1.0 / radii[k] for k in ("pinion_radius_mm", "wheel_radius_mm") if k in radii)
        for hole in range(2):
            mu = train["jewel_friction"] if hole < holes[name] else train["brass_friction"]
            result *= 1.0 - 0.5 * mu * radii["pivot_radius_mm"] * lever
    return result


# -------------------------------------------------------------- sections 1 and 2: coefficients of the motion


def _attitude(position: str, tilt_deg: float | None) -> tuple[float, float, float | None]:
    """|cos| and sin of the dial's tilt (exact when flat or upright), and the hour that is up, rad, if any."""
    hour = None
    if position in ("CH", "FH"):
        tilt = 0.0 if position == "CH" else 180.0
    elif position.endswith("H") and position[:-1].isdigit() and 1 <= int(position[:-1]) <= 12:
        tilt, hour = 90.0, math.radians(30.0 * int(position[:-1]) % 360.0)
    else:
        raise ValueError(f"position {position!r}: CH, FH or 1H to 12H")
    if tilt_deg is not None:
        tilt = float(tilt_deg)
    if tilt in (0.0, 180.0):
        return 1.0, 0.0, hour
    if tilt == 90.0:
        return 0.0, 1.0, hour
    return abs(math.cos(math.radians(tilt))), math.sin(math.radians(tilt)), hour


def _lever(esc: dict[str, Any]) -> Coefficients:
    """The lever of (2) and (3), on stones or on pins."""
    teeth = esc["teeth"]
    lock, run = math.radians(esc["lock_deg"]), math.radians(esc["run_deg"])
    lift, shake = math.radians(esc["pallet_lift_deg"]), math.radians(esc["notch_shake_deg"])
    bank = lock + 2.0 * run + lift
    if "lift_angle_deg" in esc:
        g = (bank - run - shake) / math.radians(esc["lift_angle_deg"])
    else:
        g = esc["fork_ratio"]
    r = math.tan(math.pi * esc["teeth_embraced"] / teeth)
    p = (math.pi / teeth - math.radians(esc["drop_deg"])) / lift
    draw, rho = math.radians(esc["draw_deg"]), math.atan(esc["pallet_friction"])
    return {
        "g": g,
        "lock": lock,
        "run": run,
        "lift": lift,
        "shake": shake,
        "bank": bank,
        "r": r,
        "p": p,
        "q": r * math.tan(draw),
        "unlock_ratio": r * math.tan(draw + rho),  # M_u / M_e, (2)
        "impulse_ratio": r / math.tan(math.atan(r / p) + rho),  # M_i / M_e, (3)
        "fork_efficiency": esc["fork_efficiency"],
        "J_l": esc["lever_inertia_mg_cm2"] * MG_CM2,
        "J_w": esc["wheel_inertia_mg_cm2"] * MG_CM2,
        "lift_angle": (bank - run - shake) / g,
        "knock": 2.0 * math.pi - bank / (2.0 * g) - math.radians(esc.get("horn_clearance_deg", 8.0)),
    }


def _detent(esc: dict[str, Any]) -> Coefficients:
    """The detent of (D1) to (D4)."""
    freed = dict(zip(("x_u0", "x_u1", "x_u2"), map(math.radians, esc["unlocking_deg"]), strict=True))
    passed = dict(zip(("x_p0", "x_p1"), map(math.radians, esc["passing_deg"]), strict=True))
    return {
        "detent": 1.0,
        "D": esc["centre_distance"],
        "w0": math.radians(esc["half_advance_deg"]),
        "drop": math.radians(esc["drop_deg"]),
        "mu": esc["impulse_friction"],
        "J_w": esc["wheel_inertia_mg_cm2"] * MG_CM2,
        "g_d": esc["detent_ratio"],
        "J_d": esc["detent_inertia_mg_cm2"] * MG_CM2,
        "r_d": esc["detent_arm"],
        "delta": math.radians(esc["draw_deg"]),
        "mu_d": esc["detent_friction"],
        "M_s": esc["detent_spring_un_m"] * 1e-6,
        "M_p": esc["passing_spring_un_m"] * 1e-6,
        **freed,
        **passed,
        "unlock_ratio": 0.0,
        "impulse_ratio": 0.0,
        "knock": 2.0 * math.pi + freed["x_u0"],
    }


def operating(
    design: Design, position: str = "CH", hours: float = 0.0, tilt_deg: float | None = None
) -> Coefficients:
    """SI coefficients of one watch in one position, `hours` after full wind.

    Raises ValueError for negative hours, an unknown position or a spring that does not fit.
    """
    bal, esc, train = design["balance"], design["escapement"], design["train"]
    if hours < 0.0:
        raise ValueError("hours: must not be negative")

    # Section 1.
    inertia = bal["inertia_mg_cm2"] * MG_CM2
    period = 7200.0 / bal["beats_per_hour"]
    omega = 2.0 * math.pi / period
    weight = bal["mass_mg"] * 1e-6 * G0
    cosine, sine, hour = _attitude(position, tilt_deg)
    arm = bal["end_friction_radius_um"] * 1e-6 * cosine + bal["pivot_radius_mm"] * 1e-3 * sine

    # Section 2, geometry.
    detent = esc.get("kind") == "detent"
    teeth = esc["teeth"]
    escapement = _detent(esc) if detent else _lever(esc)

    # Sections 3 and 4.
    source = spring(design)
    hours_per_turn = train_ratio(train) * 2.0 * teeth / bal["beats_per_hour"]
    n = source.full_turns - hours / hours_per_turn
    barrel_torque = source.torque(n) if n > 0.0 else 0.0
    efficiency = train_efficiency(design)

    op = {
        "I": inertia,
        "k": inertia * omega**2,
        "kappa3": bal.get("cubic_stiffness", 0.0),
        "b": inertia * omega / bal["viscous_q"],
        "c": inertia * bal["quadratic_drag"],
        "M_c": bal["pivot_friction"] * weight * arm,
        "G": bal["unbalance_ug_cm"] * 1e-9 * 1e-2 * G0 * sine,
        # CH and FH have no hour up, so the text leaves phi open for a tilt from there. Zero (heavy point
        # below) is what the tilted FH point of outside/reference/edges.json was computed with.
        "phi": 0.0 if hour is None else math.radians(bal["heavy_point_deg"]) - hour - math.pi,
        "T_0": period,
        "omega": omega,
        "epsilon": math.radians(bal.get("out_of_beat_deg", 0.0)),
        **escapement,
        "barrel_torque": barrel_torque,
        "turns": n,
        "full_turns": source.full_turns,
        "hours_of_spring": source.full_turns * hours_per_turn,
        "train_efficiency": efficiency,
    }
    return with_torque(op, barrel_torque * efficiency / train_ratio(train))


def with_torque(op: Coefficients, torque: float) -> Coefficients:
    """The same watch with another torque M_e (N m) on the escape wheel; the barrel's figures stay."""
    return op | {"M_e": torque, "M_u": torque * op["unlock_ratio"], "M_i": torque * op["impulse_ratio"]}
