"""What does the hairspring's shape do? Torque, side force, centroid and rate over the swing, and what a change does."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Any

import numpy as np

from oscsim.answers.isochronism import CEILING, isochronism
from oscsim.answers.result import OneMovement
from oscsim.arrays import Array
from oscsim.designs import bundled, bundled_text
from oscsim.errors import InputError
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.movement import Movement
from oscsim.parts import coil
from oscsim.parts import hairspring as hair
from oscsim.parts.balance import pivot_torque, stiffness
from oscsim.parts.hairspring_table import (
    Hairspring,
    check_coils,
    coil_on_dial,
    coils_of,
    on_dial,
    sense,
    strip_mass,
)
from oscsim.units import DAY, G0, MG, MM, POSITIONS

ANGLE = Quantity("deg", "θ", "angle of the balance", -400, 400)
AMPLITUDE = Quantity("deg", "A", "amplitude", 5, 400)
#: Asked for when none are given, deg.
ANGLES = (-330.0, -270.0, -180.0, -90.0, 0.0, 90.0, 180.0, 270.0, 330.0)
AMPLITUDES = (120.0, 150.0, 180.0, 200.0, 220.0, 240.0, 270.0, 300.0, 320.0)
#: Angles at which the coil is drawn, deg.
DRAWN = (0.0, 270.0, -270.0)
#: Amplitudes at which changes are compared, deg: low, where want of poise is silent, and high.
COMPARED = (180.0, 220.0, 300.0)
VERTICAL = ("12H", "3H", "6H", "9H")
#: Stud out of its place, to show what that does: µm outward, and degrees.
_STUD_UM, _STUD_DEG = 50.0, 1.0
#: Halves of a swing along which the side force is averaged, and nodes on each.
_NODES = 24


@dataclass(frozen=True, repr=False, kw_only=True)
class SpringChange:
    """A hairspring changed in one way: ``watch_rate_s_per_day`` of its shape, less at 270°, (COMPARED,);
    ``weight_rate_s_per_day`` of its weight by vertical position at 220°; where it lets the balance rest, deg; the
    greatest ``side_force_percent`` of the balance's weight within ±270°."""

    words: str
    spring: Hairspring
    watch_rate_s_per_day: Array
    weight_rate_s_per_day: Mapping[str, float]
    rest_deg: float
    side_force_percent: float


@dataclass(frozen=True, repr=False, kw_only=True)
class HairspringShape(OneMovement):
    """A hairspring by its shape, on the dial: [towards 12, towards 3].

    At ``angle_deg`` (a,): torque_over_k_rad T/k (a,), force_over_ei_l2 of the strip on the collet (a, 2), centroid_mm
    (a, 2). At ``amplitude_deg`` (m,): rate_s_per_day, the shape's raw (H8), watch_rate_s_per_day, less that at 270°,
    weight_mm Γ (m, 2), weight_rate_by_position and rate_by_position (shape in the watch and weight) by symbol (m,),
    friction_added_percent, what side thrust adds to dry friction at the pivots, by symbol (m,).
    length_mm, stiffness_n_m_per_rad, strip_mass_mg (0: not told), rest_deg; coil_mm (drawn, points, 2) at DRAWN;
    """

    angle_deg: Array
    torque_over_k_rad: Array
    force_over_ei_l2: Array
    centroid_mm: Array
    amplitude_deg: Array
    rate_s_per_day: Array
    watch_rate_s_per_day: Array
    weight_mm: Array
    weight_rate_by_position: Mapping[str, Array]
    rate_by_position: Mapping[str, Array]
    friction_added_percent: Mapping[str, Array]
    length_mm: float
    stiffness_n_m_per_rad: float
    strip_mass_mg: float
    rest_deg: float
    coil_mm: Array

    @cached_property
    def _tried(self) -> tuple[dict[str, Hairspring], dict[str, str]]:
        return _variants(shape_of(self.movement), float(self.movement.escapement.knock_angle()))

    @cached_property
    def changes(self) -> tuple[SpringChange, ...]:
        """The spring as drawn and changed in one way each; computed when first asked for."""
        k = self.stiffness_n_m_per_rad
        return tuple(_changed(self.movement, words, spring, k) for words, spring in self._tried[0].items())

    @cached_property
    def escapement_s_per_day(self) -> Array:
        """What the escapement does of itself dial up at COMPARED, less at 270 deg, s/day (COMPARED,): the rate's share
        to first order. NaN where no torque keeps such a swing up. Computed when first asked for."""
        swings = (*COMPARED, math.degrees(hair.REGULATED_AT))
        found = isochronism(self.movement, amplitudes_deg=swings, torque_ceiling=CEILING.high)
        share = found.shares["escapement"][0]
        return np.asarray(share[:-1] - share[-1])

    @property
    def refused(self) -> Mapping[str, str]:
        """Changes that cannot be, and why: coils would touch, too few turns would be left."""
        return self._tried[1]

    def settings(self) -> dict[str, Any]:
        """The angles and amplitudes asked for."""
        return {"angles_deg": self.angle_deg, "amplitudes_deg": self.amplitude_deg}

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "amplitude_deg": swing,
                "rate_s_per_day": self.rate_s_per_day[j],
                "watch_rate_s_per_day": self.watch_rate_s_per_day[j],
                "weight_towards_12_mm": self.weight_mm[j, 0],
                "weight_towards_3_mm": self.weight_mm[j, 1],
            }
            | {f"{symbol}_s_per_day": rate[j] for symbol, rate in self.rate_by_position.items()}
            for j, swing in enumerate(self.amplitude_deg)
        ]

    def body(self) -> dict[str, Any]:
        names = (
            "torque_over_k_rad",
            "force_over_ei_l2",
            "centroid_mm",
            "rate_s_per_day",
            "watch_rate_s_per_day",
            "weight_mm",
            "weight_rate_by_position",
            "rate_by_position",
            "friction_added_percent",
            "length_mm",
            "stiffness_n_m_per_rad",
            "strip_mass_mg",
            "rest_deg",
        )
        told = {name: getattr(self, name) for name in names}
        changed = [
            {
                "change": change.words,
                "amplitudes_deg": list(COMPARED),
                "watch_rate_s_per_day": change.watch_rate_s_per_day,
                "weight_rate_s_per_day_at_220_deg": dict(change.weight_rate_s_per_day),
                "rest_deg": change.rest_deg,
                "side_force_percent": change.side_force_percent,
            }
            for change in self.changes
        ]
        asked = {"angles_deg": self.angle_deg, "amplitudes_deg": self.amplitude_deg}
        alone = {
            "amplitudes_deg": list(COMPARED),
            "rate_less_at_270_deg_s_per_day": self.escapement_s_per_day,
        }
        return asked | told | {"changes": changed, "refused": dict(self.refused), "escapement": alone}


@takes_design
def hairspring(
    movement: Movement,
    angles_deg: Sequence[float] | None = None,
    amplitudes_deg: Sequence[float] | None = None,
) -> HairspringShape:
    """What the shape of the movement's hairspring does (docs/hairspring.md), at angles of the balance and amplitudes.

    Rates to first order, of the spring alone at 23 °C. Raises InputError for a design without the table
    [hairspring], and for angles or amplitudes beyond the series of ±400°.
    """
    spring = shape_of(movement)
    angles_deg = ANGLES if angles_deg is None else angles_deg
    amplitudes_deg = AMPLITUDES if amplitudes_deg is None else amplitudes_deg
    for info, name, values in (
        (ANGLE, "angles_deg", angles_deg),
        (AMPLITUDE, "amplitudes_deg", amplitudes_deg),
    ):
        if not len(values):
            raise InputError(f"{name}: empty, give at least one value, {info.allowed}")
        for value in values:
            info.check(name, value)
    angle, swing = np.array(angles_deg, float), np.array(amplitudes_deg, float)
    k = float(stiffness(movement.balance))
    way = float(sense(spring))
    bent = coil.bend(coils_of(spring), way * np.radians(angle))  # not the series: its last digit counts here
    found = hair.response(spring)
    raw = hair.shape_rate(found.departure, np.radians(swing))[:, 0]
    kept = hair.shape_rate(hair.in_the_watch(found.departure), np.radians(swing))[:, 0]
    lever = hair.weight_lever(found.centroid, np.radians(swing))[:, 0]
    by_weight = _weight_rates(spring, found, lever, k)
    return HairspringShape(
        movement=movement,
        angle_deg=angle,
        torque_over_k_rad=way * bent.torque[0],
        force_over_ei_l2=_pairs(on_dial(spring, bent.force[0])),
        centroid_mm=_pairs(on_dial(spring, bent.centroid[0])),
        amplitude_deg=swing,
        rate_s_per_day=raw,
        watch_rate_s_per_day=kept,
        weight_mm=_pairs(lever),
        weight_rate_by_position=by_weight,
        rate_by_position={symbol: kept + rate for symbol, rate in by_weight.items()},
        friction_added_percent=_friction(movement, found, k, np.radians(swing)),
        length_mm=float(found.length[0]),
        stiffness_n_m_per_rad=k,
        strip_mass_mg=float(strip_mass(spring, found.length[0])) / MG,
        rest_deg=math.degrees(hair.rest_angle(found.departure)[0]),
        coil_mm=_pairs(coil_on_dial(spring, np.radians(DRAWN)).T),
    )


def shape_of(movement: Movement) -> Hairspring:
    """The movement's hairspring; raises InputError where the design does not give its shape."""
    if movement.hairspring is None:
        drawn = [name for name in bundled() if "\n[hairspring]" in bundled_text(name)]
        raise InputError(
            "hairspring: missing table; the design has no [hairspring], its spring is a torque without a shape; give "
            f"collet_radius_mm, outer_radius_mm, turns and winds; bundled designs that have one: {', '.join(drawn)}"
        )
    return movement.hairspring


def pinned_further(spring: Hairspring, coils: float) -> Hairspring:
    """The spring pinned further along at the collet by so many coils, the stud and its end staying where they are:
    shorter by them, its inner end turned on. Raises InputError where too few turns are left."""
    turned = spring.pinning_deg + float(sense(spring)) * 360.0 * coils
    return replace(
        spring,
        turns=spring.turns - coils,
        pinning_deg=math.remainder(turned, 360.0),
        stud_turn_deg=spring.stud_turn_deg,
    )


def _pairs(values: Any) -> Array:
    """Complex numbers as [towards 12, towards 3]."""
    return np.stack([values.real, values.imag], axis=-1)


def _weight_rates(spring: Hairspring, found: hair.Response, lever: Any, k: float) -> dict[str, Array]:
    """(H7): rate of the strip's weight by position, s/day, at the amplitudes of Γ = ``lever`` mm."""
    pull = float(strip_mass(spring, found.length[0])) * G0 / k * MM
    rates = {}
    for symbol, place in POSITIONS.items():
        upright = 0.0 if math.isnan(place.hour_up) else math.sin(place.tilt)
        down = np.exp(1j * ((place.hour_up if upright else 0.0) + math.pi))
        rates[symbol] = DAY * pull * upright * np.real(lever * np.conj(down))
    return rates


def _friction(movement: Movement, found: hair.Response, k: float, swing: Array) -> dict[str, Array]:
    """(H9): what the side thrust adds to the pivots' friction by position, in per cent of it; NaN where there is no
    friction to add to."""
    balance = movement.balance
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    half = np.concatenate([0.5 * (nodes - 1.0), 0.5 * (nodes + 1.0)])  # in parts of the swing, on either side
    theta = np.outer(swing, half)
    force = hair.at_angles(found.force, theta.ravel())[:, 0].reshape(theta.shape) * k / (found.length[0] * MM)
    mean = np.concatenate([weights, weights]) * 0.25
    heavy = balance.mass_mg * MG * G0
    rubbing = balance.pivot_friction * balance.pivot_radius_mm * MM
    added = {}
    for symbol, place in POSITIONS.items():
        flat = math.isnan(place.hour_up)
        down = 0.0 if flat else heavy * np.exp(1j * (place.hour_up + math.pi))
        more = rubbing * ((np.abs(down + force) - abs(down)) @ mean)
        usual = float(pivot_torque(balance, np.array(place.tilt)))
        added[symbol] = 100.0 * more / usual if usual else np.full(len(swing), math.nan)
    return added


def _variants(spring: Hairspring, knock_angle: float) -> tuple[dict[str, Hairspring], dict[str, str]]:
    """The spring as drawn and changed in one way each, by words, and the changes that cannot be, with why."""
    outward = np.angle(on_dial(spring, np.array(coil.rest(coils_of(spring)).end[0])))
    off = _STUD_UM * np.array([math.cos(outward), math.sin(outward)])
    other = "none" if spring.outer_curve != "none" else "phillips"
    made: list[tuple[str, dict[str, Any]]] = [
        (
            "without the outer curve" if other == "none" else "with Phillips' outer curve",
            {"outer_curve": other},
        ),
        (
            "the whole spring turned half round",
            {"pinning_deg": math.remainder(spring.pinning_deg + 180.0, 360.0)},
        ),
        (
            f"stud {_STUD_UM:g} µm outward",
            {
                "stud_offset_um": tuple(
                    float(o) + float(d) for o, d in zip(spring.stud_offset_um, off, strict=True)
                )
            },
        ),
        (f"stud turned {_STUD_DEG:g} deg", {"stud_turn_deg": spring.stud_turn_deg + _STUD_DEG}),
    ]
    found: dict[str, Hairspring] = {"as drawn": spring}
    refused: dict[str, str] = {}
    tried: list[tuple[str, Callable[[], Hairspring]]] = [
        (f"pinned {words}", partial(pinned_further, spring, coils))
        for words, coils in (
            ("a quarter coil further", 0.25),
            ("half a coil further", 0.5),
            ("three quarters further", 0.75),
        )
    ]
    tried += [(words, partial(replace, spring, **changes)) for words, changes in made]
    for words, change in tried:
        try:
            made_so = change()
            check_coils(made_so, knock_angle)
        except InputError as error:
            refused[words] = str(error)
        else:
            found[words] = made_so
    return found, refused


def _changed(movement: Movement, words: str, spring: Hairspring, k: float) -> SpringChange:
    found = hair.response(spring)
    lever = hair.weight_lever(found.centroid, np.radians([220.0]))[:, 0]
    theta = np.radians(np.linspace(-270.0, 270.0, 37))
    force = np.abs(hair.at_angles(found.force, theta)[:, 0]) * k / (found.length[0] * MM)
    rates = _weight_rates(spring, found, lever, k)
    return SpringChange(
        words=words,
        spring=spring,
        watch_rate_s_per_day=hair.shape_rate(hair.in_the_watch(found.departure), np.radians(COMPARED))[:, 0],
        weight_rate_s_per_day={symbol: float(rates[symbol][0]) for symbol in VERTICAL},
        rest_deg=math.degrees(hair.rest_angle(found.departure)[0]),
        side_force_percent=100.0 * float(force.max()) / (movement.balance.mass_mg * MG * G0),
    )
