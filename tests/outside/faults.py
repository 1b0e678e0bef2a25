"""Deliberate faults in the library, and which outside checks must fail under each.

A fault replaces a function of the library by one that errs as people err: a sign, a factor of two, a swapped position,
degrees for radians. It is put in place wherever the function is known by name, in the library and in these tests.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from scipy.special import j0, j1

from oscsim import operating, units
from oscsim.answers import points, rates
from oscsim.condition import Condition
from oscsim.motion import arcs, contact, response, sustain
from oscsim.motion.balance import Balance
from oscsim.parts import balance, coil, escapement, hairspring_table, mainspring, teeth, train
from oscsim.parts import hairspring as hair
from oscsim.theory import generated as theory
from oscsim.use import trial

Patch = pytest.MonkeyPatch


@dataclass(frozen=True)
class Fault:
    """What is wrong, how it is put in place, and the checks that must fail."""

    what: str
    put: Callable[[Patch], None]
    fails: tuple[int, ...]


def everywhere(patch: Patch, original: Any, wrong: Any) -> None:
    """Replace ``original`` in every module of the library and of the tests that knows it."""
    for name, module in list(sys.modules.items()):
        if name.split(".")[0] in ("oscsim", "tests") and name != __name__:
            for key, value in list(vars(module).items()):
                if value is original:
                    patch.setattr(module, key, wrong)


def changed(original: Callable[..., Any], change: Callable[[Any], Any]) -> Callable[[Patch], None]:
    """The function's result, changed."""
    return lambda patch: everywhere(patch, original, lambda *a, **k: change(original(*a, **k)))


def wrong(original: Callable[..., Any], instead: Callable[..., Any]) -> Callable[[Patch], None]:
    """Another function in place of the right one."""
    return lambda patch: everywhere(patch, original, instead)


def fields_of(original: Callable[..., Any], **change: Callable[[Any], Any]) -> Callable[[Patch], None]:
    """Fields of the dataclass that a function returns, changed."""
    return changed(
        original, lambda found: replace(found, **{n: f(getattr(found, n)) for n, f in change.items()})
    )


def oscillator(**change: Callable[[Any], Any]) -> Callable[[Patch], None]:
    """Coefficients of the motion, changed where parts become coefficients."""

    def with_oscillators(found: Any) -> Any:
        osc = found.oscillators
        for n, f in change.items():
            if hasattr(osc, n):
                osc = replace(osc, **{n: f(getattr(osc, n))})
            else:
                osc = osc.with_escapement(lambda lever, n=n, f=f: replace(lever, **{n: f(getattr(lever, n))}))
        return replace(found, oscillators=osc)

    return changed(operating.points_of, with_oscillators)


def arc(**change: Callable[[Any], Any]) -> Callable[[Patch], None]:
    """Coefficients of the motion, changed along the free arcs alone."""
    right = arcs.free_arc

    def free_arc(osc: Balance, *a: Any, **k: Any) -> Any:
        return right(replace(osc, **{n: f(getattr(osc, n)) for n, f in change.items()}), *a, **k)

    return wrong(right, free_arc)


def twice(value: Any) -> Any:
    return 2.0 * value


def half(value: Any) -> Any:
    return 0.5 * value


def minus(value: Any) -> Any:
    return -value


def nought(value: Any) -> Any:
    return 0.0 * value


def _swap_3_and_9(patch: Patch) -> None:
    three, nine = units.POSITIONS["3H"], units.POSITIONS["9H"]
    patch.setitem(units.POSITIONS, "3H", replace(three, hour_up=nine.hour_up))
    patch.setitem(units.POSITIONS, "9H", replace(nine, hour_up=three.hour_up))


def _heavy(direction: Callable[[Any, Any], Any]) -> Callable[[Patch], None]:
    """Another direction of the heavy point, where an hour is up."""

    def from_below(b: Any, hour_up: Any) -> Any:
        return np.where(np.isnan(hour_up), 0.0, direction(b.heavy_point_deg, hour_up))

    return wrong(balance.heavy_point_from_below, from_below)


def _pivots_across(b: Any, tilt: Any) -> Any:
    return right_pivot_torque(b, tilt + math.pi / 2)


def _pinned_anticlockwise(patch: Patch) -> None:
    right = hair.response
    wrong(right, lambda spring: right(replace(spring, pinning_deg=-spring.pinning_deg)))(patch)


def _without_side_force(patch: Patch) -> None:
    right = coil.bent

    def bent(still: Any, theta: Any, *a: Any) -> Any:
        found, place = right(still, theta, *a)
        return found._replace(torque=0.0 * found.torque - theta, force=0.0 * found.force), place

    patch.setattr(hair, "_response", hair._response.__wrapped__)  # what was solved before is forgotten
    wrong(right, bent)(patch)


right_pivot_torque = balance.pivot_torque
right_lag = balance.viscous_loss
right_omega = balance.angular_frequency
right_sustain = sustain.sustain
right_push = contact.push
right_holes = train.jewelled_holes
right_packed = mainspring.turns_packed
right_points_from = points.points_from
right_applied = Condition.applied_to
right_passes, right_mean, right_followed = teeth.passes, teeth.mean_efficiency, response.followed
right_knock = escapement.Escapement.knock_angle
right_arc_rate = theory.arc_torque_rate
right_next_swing = theory.next_swing


def _rates(change: Callable[[Any], Any]) -> Callable[[Patch], None]:
    """Every rate that is told, changed."""
    return fields_of(right_points_from, rate_s_per_day=change, shown_rate_s_per_day=change)


def _shallow(geometry: Any) -> Any:
    return replace(geometry, unlocking=geometry.recoil)


def _upside_down(geometry: Any) -> Any:
    return replace(geometry, impulse=geometry.arm**2 / geometry.impulse)


def _from_diameters(spring: Any, barrel: Any) -> Any:
    wide = replace(
        barrel, inner_diameter_mm=2 * barrel.inner_diameter_mm, arbor_diameter_mm=2 * barrel.arbor_diameter_mm
    )
    return right_packed(spring, wide)


def _oil_the_wrong_way(self: Condition, movement: Any) -> Any:
    found = right_applied(self, movement)
    before, after = movement.train, found.movement.train
    back = {
        name: getattr(before, name) ** 2 / getattr(after, name)
        for name in ("jewel_friction", "brass_friction")
    }
    return replace(found, movement=replace(found.movement, train=replace(after, **back)))


def _square_law(patch: Patch) -> None:
    right = arcs.free_arc

    def free_arc(osc: Balance, *a: Any, **k: Any) -> Any:
        return right(replace(osc, viscous=nought(osc.viscous), quadratic=0.3 * osc.viscous), *a, **k)

    everywhere(patch, right, free_arc)


def _mean_of_extremes(found: rates.Rates) -> Any:
    rate = found.points.rate_s_per_day
    return 0.5 * (rate.max(axis=0) + rate.min(axis=0))


def _pushed(osc: Any, start: Any, length: Any, w: Any, inertia: Any, torque: Any, *a: Any, **k: Any) -> Any:
    return right_push(osc, start, length, w, inertia, minus(torque), *a, **k)


FAULTS: dict[str, Fault] = {
    "gravity sign": Fault(
        "gravity's torque on the heavy point has the wrong sign",
        changed(balance.poise_torque, minus),
        (1, 2, 3, 31, 35, 37, 38),
    ),
    "gravity twice": Fault(
        "factor of two in the heavy point's torque", changed(balance.poise_torque, twice), (1, 31, 35, 37)
    ),
    "moment in ug mm": Fault(
        "unbalance taken in µg·mm for µg·cm",
        changed(balance.poise_torque, lambda g: 0.1 * g),
        (1, 31, 35, 37),
    ),
    "swapped positions": Fault("positions 3H and 9H swapped", _swap_3_and_9, (2, 24, 37)),
    "heavy point in degrees": Fault(
        "degrees for radians in the heavy point's direction",
        _heavy(lambda degrees, up: degrees - up - math.pi),
        (1, 2, 24, 37),
    ),
    "heavy point anticlockwise": Fault(
        "heavy point counted anticlockwise",
        _heavy(lambda degrees, up: -np.radians(degrees) - up - math.pi),
        (2, 24, 37),
    ),
    "heavy point from above": Fault(
        "heavy point's direction from straight up",
        _heavy(lambda degrees, up: np.radians(degrees) - up),
        (1, 2, 3, 4, 24, 31, 37, 42),
    ),
    "J0 for J1": Fault(
        "J₀ for J₁ in the formula of the poise rate",
        wrong(theory.poise_rate, lambda A, gamma, phi: 86400 * gamma * j0(A) / A * np.cos(phi)),
        (1, 2, 3),
    ),
    "J1 for J0": Fault(
        "J₁ for J₀ in the formula of the dead point's shift",
        wrong(theory.poise_dead_point_shift, lambda A, gamma, phi: -gamma * j1(A) * np.sin(phi)),
        (1,),
    ),
    "total motion": Fault(
        "total motion taken for the amplitude",
        wrong(right_sustain, lambda osc, amplitude: right_sustain(osc, half(amplitude))),
        (1, 3, 4, 5, 8, 10, 25),
    ),
    "pushes drag": Fault(
        "torque during contact has the wrong sign",
        wrong(right_push, _pushed),
        (5, 15, 18, 25, 26, 27, 28, 29, 30, 34, 36, 37, 41),
    ),
    "impulse phase": Fault(
        "the fork meets the pin at the dead point: impulse late by half of bank to bank",
        oscillator(contact=nought),
        (5, 8, 25, 37),
    ),
    "arc formula sign": Fault(
        "sign of the formula for a torque over an arc", changed(theory.arc_torque_rate, minus), (5,)
    ),
    "arc formula power": Fault(
        "one power of the amplitude too few in that formula",
        wrong(theory.arc_torque_rate, lambda A, a, b, tau: A * right_arc_rate(A, a, b, tau)),
        (5, 6),
    ),
    "lock twice": Fault(
        "factor of two in the torque of unlocking",
        fields_of(escapement.geometry, unlocking=twice),
        (9, 28, 29, 37, 38),
    ),
    "no lock friction": Fault(
        "friction on the locking faces forgotten", changed(escapement.geometry, _shallow), (9, 28, 29, 37, 38)
    ),
    "tangent for cotangent": Fault(
        "tangent for cotangent of the impulse plane",
        changed(escapement.geometry, _upside_down),
        (9, 27, 28, 29, 37),
    ),
    "half the lift": Fault(
        "half the lift angle: fork ratio twice what was drawn",
        changed(escapement.fork_ratio, twice),
        (8, 9, 25, 28, 29, 37, 38),
    ),
    "lift angle whole": Fault(
        "apparent amplitude from the whole lift angle instead of half",
        changed(right_points_from, lambda p: replace(p, apparent_amplitude_deg=2 * p.apparent_amplitude_deg)),
        (25, 37),
    ),
    "beat error whole": Fault(
        "beat error as the whole difference of the intervals",
        changed(right_points_from, lambda p: replace(p, beat_error_ms=2 * p.beat_error_ms)),
        (37,),
    ),
    "beat error sign": Fault("out of beat to the wrong side", oscillator(centre=minus), (25, 37, 38)),
    "rate sign": Fault(
        "a gain shown as a loss",
        _rates(minus),
        (26, 31, 36, 37, 38),
    ),
    "knock": Fault(
        "knock angle without halving bank to bank",
        lambda patch: patch.setattr(
            escapement.Escapement, "knock_angle", lambda self: 2 * right_knock(self) - 2 * math.pi
        ),
        (9, 27, 28, 37),
    ),
    "drag twice": Fault(
        "factor of two in the drag by speed", arc(viscous=twice), (7, 14, 16, 27, 28, 29, 37, 41)
    ),
    "Q formula": Fault(
        "Q taken for 2Q in the formula of the rate",
        wrong(theory.viscous_rate, lambda Q: 86400 * -1 / (2 * Q**2)),
        (7,),
    ),
    "missing pi": Fault(
        "π missing in the formula of the energy lost to drag by speed",
        changed(theory.energy_lost_viscous, lambda e: e / math.pi),
        (14,),
    ),
    "square law": Fault(
        "drag by the square of the speed in place of drag by speed",
        _square_law,
        (6, 7, 14, 16, 37),
    ),
    "dry friction sign": Fault(
        "dry friction drives along the free arcs", arc(dry=minus), (7, 14, 15, 28, 29, 30, 37, 38, 41)
    ),
    "dry friction once": Fault(
        "half of dry friction's loss in the formula of the next swing",
        wrong(theory.next_swing, lambda A, beta, d: right_next_swing(A, beta, half(d))),
        (14,),
    ),
    "cubic twice": Fault("factor of two in the cubic term", arc(cubic=twice), (10, 32, 33)),
    "cubic sign": Fault("sign of the formula for the cubic term", changed(theory.cubic_rate, minus), (10,)),
    "pins": Fault("index pins stiffen while the coil is free", arc(pins_share=minus), (10,)),
    "share of time": Fault(
        "share inside the lift of a whole swing, not of a half", changed(theory.share_inside_lift, half), (8,)
    ),
    "flat for vertical": Fault(
        "pivot's side and end exchanged", wrong(right_pivot_torque, _pivots_across), (17, 30, 37, 38, 42)
    ),
    "pivot diameter": Fault(
        "pivot's diameter for its radius", changed(right_pivot_torque, twice), (17, 28, 29, 30, 37)
    ),
    "oil and temperature": Fault(
        "oil thickens in the warm",
        wrong(right_lag, lambda b, t=23.0: right_lag(b, 46.0 - np.asarray(t))),
        (19,),
    ),
    "temperature sign": Fault(
        "temperature counted downwards in the rate",
        wrong(right_omega, lambda b, t=23.0: right_omega(b, 46.0 - np.asarray(t))),
        (23, 26, 36),
    ),
    "oil the wrong way": Fault(
        "dry friction over oiled turned upside down",
        lambda patch: patch.setattr(Condition, "applied_to", _oil_the_wrong_way),
        (18,),
    ),
    "square of the thickness": Fault(
        "mainspring's torque by the square of its thickness",
        lambda patch: patch.setattr(
            mainspring, "_scale", lambda s, right=mainspring._scale: right(s) * 0.12 / s.thickness_mm
        ),
        (21, 27, 29, 30, 37),
    ),
    "modulus twice": Fault(
        "factor of two in the mainspring's torque",
        lambda patch: patch.setattr(mainspring, "_scale", lambda s, right=mainspring._scale: 2 * right(s)),
        (22, 27, 28, 29, 30, 36, 37, 38),
    ),
    "diameters for radii": Fault(
        "turns from diameters for radii", wrong(right_packed, _from_diameters), (20, 22, 27, 28, 29, 37)
    ),
    "teeth once": Fault(
        "one beat a tooth: half the hours to a turn", changed(operating.hours_of_wind, half), (28, 29, 34, 37)
    ),
    "brass for jewels": Fault(
        "jewelled holes and brass holes exchanged",
        wrong(right_holes, lambda t, arbor: 2.0 - np.asarray(right_holes(t, arbor))),
        (28, 29, 30, 37, 38),
    ),
    "jewel order": Fault(
        "jewels counted from the barrel",
        lambda patch: patch.setattr(train, "_ORDER", train._ORDER[::-1]),
        (37,),
    ),
    "torque at the barrel": Fault(
        "train passes the barrel's torque without friction",
        wrong(train.efficiency, lambda t: np.asarray(1.0)),
        (16, 28, 29, 37, 38),
    ),
    "teeth without friction": Fault(
        "half of the friction between tooth and leaf",
        wrong(right_passes, lambda mesh, friction, angle: right_passes(mesh, half(friction), angle)),
        (39,),
    ),
    "closed form of the mesh": Fault(
        "half of the friction in the closed form of what a mesh passes on",
        wrong(right_mean, lambda mesh, friction: right_mean(mesh, half(friction))),
        (39,),
    ),
    "swing without 2 pi": Fault(
        "frequency for angular frequency in how the amplitude follows the torque",
        wrong(right_followed, lambda relaxation, period: right_followed(relaxation / (2 * math.pi), period)),
        (40,),
    ),
    "D the other way": Fault(
        "dial up less 6 up in place of 6 up less dial up",
        changed(trial.criteria_of, lambda c: c | {"D": c["D_other"], "D_other": c["D"]}),
        (23,),
    ),
    "days apart": Fault(
        "mean variation without the absolute value",
        changed(trial.criteria_of, lambda c: c | {"V": 0.0 * c["V"]}),
        (23,),
    ),
    "day of stars": Fault(
        "a sidereal day of 86,164 s in the rate",
        _rates(lambda rate: rate * 86164 / 86400),
        (37, 38),
    ),
    "weight of the hairspring upside down": Fault(
        "the hairspring's weight pulls upward",
        changed(hair.weight_lever, lambda lever: -lever),
        (13, 51, 52),
    ),
    "pinned on the other side": Fault(
        "the point of pinning counted anticlockwise from 12",
        _pinned_anticlockwise,
        (13, 51, 52),
    ),
    "a strip without side force": Fault(
        "a hairspring as a torque in proportion to the angle: no side force bends it",
        _without_side_force,
        (11, 51),
    ),
    "shape the wrong way": Fault(
        "rate of the hairspring's shape with the other sign",
        changed(hair.shape_rate, lambda rate: -rate),
        (11, 51),
    ),
    "side thrust to the other side": Fault(
        "the hairspring's side force lightens the pivots where it should weigh on them",
        changed(hair.at_balance, lambda found: found._replace(friction=-found.friction)),
        (53,),
    ),
    "outer curve by the chord": Fault(
        "second arc of the outer curve of 0.70 in place of 0.67 R",
        lambda patch: patch.setattr(
            hairspring_table, "PHILLIPS", ((0.8321360927497, 180.0), (0.70, 81.80349233340))
        ),
        (12, 51),
    ),
    "mean of extremes": Fault(
        "mean rate from the fastest and the slowest position alone",
        lambda patch: patch.setattr(rates.Rates, "mean_rate_s_per_day", property(_mean_of_extremes)),
        (23,),
    ),
    "horizontal less vertical": Fault(
        "vertical less horizontal",
        lambda patch: patch.setattr(
            rates.Rates,
            "horizontal_less_vertical_s_per_day",
            property(lambda self, right=rates.Rates.horizontal_less_vertical_s_per_day: -right.fget(self)),
        ),
        (10, 31),
    ),
}
