"""The chronometer's detent escapement: (D1) to (D4) of docs/physics.md."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from oscsim.arrays import Number
from oscsim.errors import InputError, shown
from oscsim.fields import check_quantities, quantity, words

#: Angles in the lists, deg: what may stand there.
_UNLOCKING = "three rising angles from -60 to 0 deg"
_PASSING = "two falling angles from 60 to -60 deg"


@dataclass(frozen=True, kw_only=True)
class DetentEscapement:
    """Escape wheel, detent and rollers of a chronometer (docs/physics.md §2); angles of the balance from the line of
    centres."""

    kind: str = words("the escapement", '"detent"', "detent")
    teeth: int = quantity("", "teeth", "teeth of the escape wheel", 8, 60, whole=True)
    centre_distance: float = quantity("", "D", "distance of the centres over the wheel's radius", 1.05, 3)
    half_advance_deg: float = quantity("deg", "w₀", "half of the wheel's angle in the impulse", 1, 25)
    drop_deg: float = quantity("deg", "drop", "free fall of the escape wheel, as a wheel angle", 0, 20)
    impulse_friction: float = quantity("", "μ", "friction coefficient of tooth on impulse pallet", 0, 1)
    wheel_inertia_mg_cm2: float = quantity(
        "mg·cm²", "J_w", "moment of inertia of the escape wheel", 1e-5, 500
    )
    detent_ratio: float = quantity("", "g_d", "detent angle over balance angle while unlocking", 0.01, 1)
    detent_inertia_mg_cm2: float = quantity("mg·cm²", "J_d", "moment of inertia of the detent", 1e-5, 500)
    detent_arm: float = quantity("", "r_d", "arm of the locking stone over the wheel's radius", 0.1, 10)
    draw_deg: float = quantity("deg", "δ", "draw: angle of the locking face", 0, 30)
    detent_friction: float = quantity("", "μ_d", "friction coefficient of tooth on locking stone", 0, 1)
    detent_spring_un_m: float = quantity("µN·m", "M_s", "torque of the detent's spring on the detent", 0, 100)
    unlocking_deg: Any = words("where the detent is met, the tooth freed, the detent let go", _UNLOCKING)
    passing_spring_un_m: float = quantity("µN·m", "M_p", "torque of the passing spring on the balance", 0, 10)
    passing_deg: Any = words("over which the passing spring is bent, coming back", _PASSING)

    def __post_init__(self) -> None:
        check_quantities(self, "escapement")
        _check_together(self)

    def knock_angle(self) -> Number:
        """The swing, rad, at which the balance comes round to unlock a second time: it trips."""
        return np.asarray(2.0 * math.pi + np.radians(self.unlocking_deg[0]))

    def restitution(self) -> Number:
        """Nothing strikes, so nothing comes back: NaN."""
        return math.nan

    def lift_angle(self) -> Number:
        """From the first touch of the detent to the end of the impulse, rad."""
        return np.asarray(end_of_impulse(self) - np.radians(self.unlocking_deg[0]))

    def check_beat(self, out_of_beat_deg: float) -> None:
        """Raise InputError unless the dead point lies within the impulse."""
        within = math.degrees(float(end_of_impulse(self)))
        if abs(out_of_beat_deg) >= within:
            raise InputError(
                f"balance.out_of_beat_deg = {out_of_beat_deg:g} deg: the dead point must lie within the impulse, less "
                f"than ±{within:.2f} deg with this wheel"
            )


def end_of_impulse(e: DetentEscapement) -> Number:
    """X, rad: the balance angle at which the wheel has turned w₀ past the line of centres."""
    w0 = np.radians(e.half_advance_deg)
    return np.asarray(np.arctan2(np.sin(w0), e.centre_distance - np.cos(w0)))


def impulse_radius(e: DetentEscapement) -> Number:
    """Radius of the impulse pallet over the wheel's."""
    d = e.centre_distance
    return np.asarray(np.sqrt(d * d + 1.0 - 2.0 * d * np.cos(np.radians(e.half_advance_deg))))


def face_angle(e: DetentEscapement, x: Number) -> Number:
    """w, rad: the wheel's angle with a tooth on the impulse face and the balance at ``x``, rad."""
    return np.asarray(np.arcsin(e.centre_distance * np.sin(x)) - x)


def unlocking_torque(e: DetentEscapement) -> Number:
    """g_d r_d tan(δ + ρ_d): what the locked tooth takes of the balance, over M_e (D2)."""
    rho = np.arctan(e.detent_friction)
    return np.asarray(e.detent_ratio * e.detent_arm * np.tan(np.radians(e.draw_deg) + rho))


def drawn_from(e: DetentEscapement) -> dict[str, float]:
    """What a drawing needs: angles in deg, lengths over the wheel's radius; ``lock``: how deep the locking stone
    stands in the way of the tooth."""
    met, freed, _ = e.unlocking_deg
    return {
        "teeth": e.teeth,
        "distance": e.centre_distance,
        "half_advance_deg": e.half_advance_deg,
        "drop_deg": e.drop_deg,
        "impulse_radius": float(impulse_radius(e)),
        "detent_ratio": e.detent_ratio,
        "detent_arm": e.detent_arm,
        "lock": e.detent_arm * e.detent_ratio * math.radians(freed - met),
        "draw_deg": e.draw_deg,
        "met_deg": met,
    }


def _check_together(e: DetentEscapement) -> None:
    """What no single number shows."""
    if e.kind != "detent":
        raise InputError(f'escapement.kind = {shown(e.kind)}: must be "detent" with these keys')
    _angles(e, "unlocking_deg", 3, _UNLOCKING, +1.0)
    _angles(e, "passing_deg", 2, _PASSING, -1.0)
    pitch = 360.0 / e.teeth
    if abs(2.0 * e.half_advance_deg + e.drop_deg - pitch) > 0.05:
        raise InputError(
            f"escapement.drop_deg = {e.drop_deg:g} deg: twice half_advance_deg and drop make a tooth space, so it must "
            f"be {pitch - 2.0 * e.half_advance_deg:.4g} deg with escapement.teeth = {e.teeth}"
        )
    end = math.degrees(float(end_of_impulse(e)))
    _, freed, let_go = e.unlocking_deg
    if let_go >= end:
        raise InputError(
            f"escapement.unlocking_deg = {list(e.unlocking_deg)} deg: the detent must be let go before the impulse "
            f"ends at {end:.2f} deg"
        )
    sine = e.centre_distance * math.sin(math.radians(freed))
    behind = math.radians(e.half_advance_deg + e.drop_deg)
    if sine <= -1.0 or float(face_angle(e, math.radians(freed))) < -behind:
        raise InputError(
            f"escapement.unlocking_deg = {list(e.unlocking_deg)} deg: the tooth is free at {freed:g} deg, before the "
            "impulse pallet is there; free it later"
        )


def _angles(e: DetentEscapement, name: str, count: int, allowed: str, sense: float) -> None:
    """Check a list of angles, deg, and keep it as a tuple of floats."""
    given = getattr(e, name)
    try:
        found = tuple(float(value) for value in given if not isinstance(value, bool | str))
    except (TypeError, ValueError):
        found = ()
    rising = all(sense * (b - a) > 0.0 for a, b in pairwise(found))
    top = 0.0 if sense > 0.0 else 60.0
    whole = isinstance(given, list | tuple) and len(found) == len(given) == count
    if not whole or not rising or not all(-60.0 <= value <= top for value in found):
        raise InputError(f"escapement.{name} = {shown(given)}: must be {allowed}")
    object.__setattr__(e, name, found)
