"""The lever escapement's geometry and torques: equations (2) and (3) of docs/physics.md."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Number
from oscsim.errors import InputError, shown
from oscsim.fields import check_quantities, quantity, words


@dataclass(frozen=True, kw_only=True)
class Escapement:
    """Escape wheel, pallets, lever and fork (docs/physics.md §2), with stones or with pins for pallets.

    With pins the lift lies on the teeth; the work done is the same, so (2) and (3) hold as they are.
    """

    kind: str = words("the escapement: pallets with stones, or pins", '"lever" or "pin-pallet"', "lever")
    teeth: int = quantity("", "teeth", "teeth of the escape wheel", 8, 60, whole=True)
    teeth_embraced: float = quantity("", "teeth embraced", "tooth spaces between the working corners", 1, 10)
    fork_ratio: float | None = quantity(
        "", "g", "lever angle over balance angle while engaged", 0.05, 1, default=None
    )
    lift_angle_deg: float | None = quantity(
        "deg", "Λ", "balance angle from first to last sound; in place of fork_ratio", 10, 120, default=None
    )
    lock_deg: float = quantity("deg", "ℓ", "lock, as a lever angle", 0.1, 10)
    run_deg: float = quantity("deg", "ϱ", "run to banking, as a lever angle", 0, 5)
    pallet_lift_deg: float = quantity("deg", "L", "impulse, as a lever angle", 1, 25)
    drop_deg: float = quantity("deg", "drop", "free fall of the escape wheel, as a wheel angle", 0, 20)
    draw_deg: float = quantity("deg", "δ", "draw: angle of the locking face", 0, 30)
    pallet_friction: float = quantity("", "μ_p", "friction coefficient of tooth on stone", 0, 1)
    fork_efficiency: float = quantity("", "η_f", "what the fork passes on", 0.1, 1)
    notch_shake_deg: float = quantity(
        "deg", "σ", "play of the impulse pin in the notch, as a lever angle", 0, 5
    )
    lever_inertia_mg_cm2: float = quantity(
        "mg·cm²", "J_l", "moment of inertia of lever and pallets", 1e-5, 500
    )
    wheel_inertia_mg_cm2: float = quantity(
        "mg·cm²", "J_w", "moment of inertia of the escape wheel", 1e-5, 500
    )
    horn_clearance_deg: float = quantity(
        "deg", "–", "balance angle left between the pin and the horn's outside", 0, 90, default=8.0
    )
    knock_restitution: float = quantity(
        "", "–", "speed kept when the pin rebounds from the horn", 0, 1, default=0.5
    )

    def __post_init__(self) -> None:
        check_quantities(self, "escapement")
        _check_together(self)

    def knock_angle(self) -> Number:
        """A_k, rad: the swing at which the pin meets the fork's horn from outside."""
        g = geometry(self)
        horn = np.radians(self.horn_clearance_deg)
        return np.asarray(2.0 * math.pi - g.bank_to_bank / (2.0 * g.fork_ratio) - horn)

    def restitution(self) -> Number:
        """Share of the speed that the rebound from the horn leaves."""
        return self.knock_restitution

    def lift_angle(self) -> Number:
        """The design's own lift angle Λ when the whole lead is used, rad."""
        own = np.radians(self.lock_deg + self.run_deg + self.pallet_lift_deg - self.notch_shake_deg)
        return np.asarray(own / fork_ratio(self))

    def check_beat(self, out_of_beat_deg: float) -> None:
        """Raise InputError unless the dead point lies within the lift."""
        g = geometry(self)
        within = math.degrees(float(g.bank_to_bank / (2.0 * g.fork_ratio))) - self.run_deg / g.fork_ratio
        if abs(out_of_beat_deg) >= within:
            raise InputError(
                f"balance.out_of_beat_deg = {out_of_beat_deg:g} deg: the dead point must lie within "
                f"the lift, less than ±{within:.2f} deg with this fork"
            )


@dataclass(frozen=True)
class Geometry:
    """What the drawing gives: angles in rad, ratios without unit; each one value or one per point."""

    fork_ratio: Number  # g
    bank_to_bank: Number  # B, lever angle
    arm: Number  # r, pallet arm over wheel radius
    recoil: Number  # q, wheel angle per lever angle while unlocking
    advance: Number  # p, wheel angle per lever angle during impulse
    unlocking: Number  # M_u / M_e
    impulse: Number  # M_i / M_e


def geometry(e: Escapement) -> Geometry:
    """Equations (2) and (3), with tangential locking (r = tan α)."""
    arm = np.tan(math.pi * e.teeth_embraced / e.teeth)
    bank = np.radians(e.lock_deg + 2.0 * e.run_deg + e.pallet_lift_deg)
    advance = (math.pi / e.teeth - np.radians(e.drop_deg)) / np.radians(e.pallet_lift_deg)
    friction = np.arctan(e.pallet_friction)
    draw = np.radians(e.draw_deg)
    return Geometry(
        fork_ratio=fork_ratio(e),
        bank_to_bank=bank,
        arm=arm,
        recoil=arm * np.tan(draw),
        advance=advance,
        unlocking=arm * np.tan(draw + friction),
        impulse=arm / np.tan(np.arctan(arm / advance) + friction),
    )


def fork_ratio(e: Escapement) -> Number:
    """g as given, or from the lift angle: Λ = (B - ϱ - σ)/g."""
    if e.fork_ratio is not None:
        return e.fork_ratio
    assert e.lift_angle_deg is not None
    return (e.lock_deg + e.run_deg + e.pallet_lift_deg - e.notch_shake_deg) / e.lift_angle_deg


def _check_together(e: Escapement) -> None:
    """What no single number shows: pairs and sums that must fit."""
    if e.kind not in ("lever", "pin-pallet"):
        raise InputError(
            f'escapement.kind = {shown(e.kind)}: must be "lever" or "pin-pallet" with these keys'
        )
    if (e.fork_ratio is None) == (e.lift_angle_deg is None):
        found = "neither is given" if e.fork_ratio is None else "both are given"
        raise InputError(f"escapement.fork_ratio, escapement.lift_angle_deg: exactly one is needed, {found}")
    half_pitch = 180.0 / e.teeth
    if e.drop_deg >= half_pitch:
        raise InputError(
            f"escapement.drop_deg = {e.drop_deg:g} deg: must be less than half a tooth space, "
            f"{half_pitch:g} deg with escapement.teeth = {e.teeth}"
        )
    if (embraced := 180.0 * e.teeth_embraced / e.teeth) > 75.0:
        raise InputError(
            f"escapement.teeth_embraced = {e.teeth_embraced:g}: the pallets would span ±{embraced:.1f} deg of the "
            f"wheel, allowed up to {75.0 * e.teeth / 180.0:.2f} spaces with escapement.teeth = {e.teeth}"
        )
    if e.notch_shake_deg >= e.pallet_lift_deg:
        raise InputError(
            f"escapement.notch_shake_deg = {e.notch_shake_deg:g} deg: must be less than "
            f"escapement.pallet_lift_deg = {e.pallet_lift_deg:g} deg"
        )
    g = geometry(e)
    if e.lift_angle_deg is not None and not 0.05 <= g.fork_ratio <= 1.0:
        raise InputError(
            f"escapement.lift_angle_deg = {e.lift_angle_deg:g} deg: with the lever's angles it means a fork ratio "
            f"of {g.fork_ratio:.3f}, allowed 0.05 to 1"
        )
    if (half := math.degrees(float(g.bank_to_bank / g.fork_ratio)) / 2.0) >= 90.0:
        raise InputError(
            f"escapement.fork_ratio = {g.fork_ratio:.4g}: the fork would hold the pin for ±{half:.1f} deg of balance "
            "angle, allowed below ±90 deg"
        )
    if g.impulse <= 0.0:
        raise InputError(
            f"escapement.pallet_friction = {e.pallet_friction:g}: with this impulse plane the tooth gives no impulse, "
            f"must be less than {float(g.advance / g.arm):.3f}"
        )
