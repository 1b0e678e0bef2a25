"""The hairspring from its shape: equations (H1) to (H9) of docs/hairspring.md, in the watch and on its dial.

``coil`` solves the strip in the spring's own sense. Here it gets its place on the dial: complex numbers are (towards
12) + i (towards 3), so that e^{iα} turns clockwise, the positive sense of θ. Torque, force and centroid are carried
as Chebyshev series in θ over ±400°, ceiling of every amplitude.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from oscsim.arrays import Array, Complex, Number
from oscsim.errors import InputError, nearest, shown
from oscsim.fields import check_quantities, quantity, words
from oscsim.parts import coil
from oscsim.units import DAY, G0, MG, MM, UM

#: The series hold up to this angle of the balance, rad; above it no amplitude has a number.
SPAN = math.radians(400.0)
#: Terms of the series.
TERMS = 33
#: In the watch the shape counts less what it does to the rate here: so far the spring is regulated.
REGULATED_AT = math.radians(270.0)
#: E. Phillips' outer curve, two arcs in radii of the outer coil (docs/hairspring.md).
PHILLIPS = ((0.8321360927497, 180.0), (0.67, 81.80349233340))
#: Points on a swing for the averages over its phase.
_PHASES = 64
#: Angles at which the side thrust is taken: it has a corner where the force passes zero.
_ANGLES = 128
#: Steps to the angle of rest; each gains some decimals, the departure being small.
_RESTING = 12
#: Sine of the tilt below which the watch lies flat.
_FLAT = 1e-9
#: Angles of the balance at which coils and closing are looked at.
_LOOKED_AT = np.linspace(-1.0, 1.0, 9)
#: The sweeps must have come to rest to this, rad.
_CLOSED = 1e-6


@dataclass(frozen=True, kw_only=True)
class Hairspring:
    """The hairspring's shape (docs/hairspring.md)."""

    collet_radius_mm: float = quantity("mm", "r₀", "radius at which the strip leaves the collet", 0.1, 5)
    outer_radius_mm: float = quantity(
        "mm", "r₁", "radius of the last coil, at the stud or where the outer curve begins", 0.2, 20
    )
    turns: float = quantity("turns", "β/2π", "from collet to outer radius, evenly spaced", 4, 30)
    winds: str = words("outward, seen from the dial", '"clockwise" or "anticlockwise"')
    pinning_deg: float = quantity(
        "deg", "–", "direction of the inner end at rest, clockwise from 12 o'clock", -360, 360, default=0.0
    )
    strip_mass_mg: float | None = quantity("mg", "m_s", "mass of the strip", 0.001, 1000, default=None)
    strip_height_mm: float | None = quantity("mm", "w", "height of the strip", 0.01, 5, default=None)
    strip_thickness_mm: float | None = quantity("mm", "h", "thickness of the strip", 0.001, 1, default=None)
    strip_density_g_cm3: float = quantity("g/cm³", "ρ", "density of the strip", 1, 25, default=8.0)
    outer_curve: Any = words(
        "curve from the last coil to the stud",
        '"none", "phillips" or two arcs [[radius_mm, angle_deg], [radius_mm, angle_deg]]',
        default="none",
    )
    stud_offset_um: Any = words(
        "how far the stud is off its place",
        "[towards 12, towards 3] in µm, -1000 to 1000",
        default=(0.0, 0.0),
    )
    stud_turn_deg: float = quantity("deg", "ε", "how far the stud is turned, clockwise", -30, 30, default=0.0)

    def __post_init__(self) -> None:
        check_quantities(self, "hairspring")
        for name in ("outer_curve", "stud_offset_um"):  # lists of a file as tuples: a part is a value
            object.__setattr__(self, name, _as_tuple(getattr(self, name)))
        if self.winds not in SENSES:
            raise InputError(f"hairspring.winds = {shown(self.winds)}: {nearest(str(self.winds), SENSES)}")
        if not self.outer_radius_mm > self.collet_radius_mm:
            raise InputError(
                f"hairspring.outer_radius_mm = {self.outer_radius_mm:g} mm: must be larger than "
                f"hairspring.collet_radius_mm = {self.collet_radius_mm:g} mm"
            )
        self._check_strip()
        offset = self.stud_offset_um
        if not _are_numbers(offset, 2, -1000.0, 1000.0):
            raise InputError(
                f"hairspring.stud_offset_um = {shown(offset)} µm: must be [towards 12, towards 3], each from -1000 "
                "to 1000 µm"
            )
        self._check_outer_curve()

    def _check_strip(self) -> None:
        """Raise InputError where the strip's mass is said twice or by half."""
        if self.strip_height_mm is None:
            return
        if self.strip_mass_mg is not None:
            raise InputError(
                "hairspring.strip_mass_mg, hairspring.strip_height_mm: one of the two gives the mass, both are given"
            )
        if self.strip_thickness_mm is None:
            raise InputError("hairspring.strip_thickness_mm: missing beside hairspring.strip_height_mm")

    def _check_outer_curve(self) -> None:
        """Raise InputError where the outer curve is none or leaves its room."""
        curve = self.outer_curve
        key = f"hairspring.outer_curve = {shown(curve)}"
        if isinstance(curve, str):
            if curve not in CURVES:
                raise InputError(f"{key}: {nearest(curve, CURVES)}, or two arcs [[radius_mm, angle_deg], …]")
            return
        pair: Any = curve if isinstance(curve, tuple) and len(curve) == 2 else ((), ())
        if not all(_are_numbers(arc, 2, 0.01, 360.0) and arc[0] <= 20.0 for arc in pair):
            raise InputError(
                f'{key}: must be "none", "phillips" or two arcs [[radius_mm, angle_deg], [radius_mm, angle_deg]], '
                "radii from 0.01 to 20 mm, angles from 0.01 to 360 deg"
            )
        still = coil.rest(coils_of(self))
        path = coil.fine(still.place[-2:], 90)[..., 0] * still.length
        radius = np.abs(path)
        if radius.max() > self.outer_radius_mm * (1.0 + 1e-6):
            raise InputError(
                f"{key}: leaves the barrel of the coil, {radius.max():.2f} mm from the axis, must stay within "
                f"hairspring.outer_radius_mm = {self.outer_radius_mm:g} mm"
            )
        if radius.min() < self.collet_radius_mm:
            raise InputError(
                f"{key}: comes within {radius.min():.2f} mm of the axis, must stay outside "
                f"hairspring.collet_radius_mm = {self.collet_radius_mm:g} mm"
            )
        if _crosses_itself(path):
            raise InputError(f"{key}: crosses itself, the two arcs must turn less or differ more")


#: Which way the strip winds outward: +1 is the positive sense of θ; a stack has 0 where there is no spring.
SENSES = {"clockwise": 1.0, "anticlockwise": -1.0}
CURVES = ("none", "phillips")


def _as_tuple(value: Any) -> Any:
    return tuple(_as_tuple(inner) for inner in value) if isinstance(value, list | tuple) else value


def _are_numbers(values: Any, count: int, low: float, high: float) -> bool:
    """Whether these are so many finite numbers of this range."""
    return (
        isinstance(values, tuple)
        and len(values) == count
        and all(isinstance(v, int | float) and not isinstance(v, bool) and low <= v <= high for v in values)
    )


def _crosses_itself(path: Complex) -> bool:
    """Whether a path of straight pieces meets itself."""
    start, piece = path[:-1], np.diff(path)
    apart = start[None] - start[:, None]

    def cross(a: Complex, b: Complex) -> Array:
        return np.asarray(a.real * b.imag - a.imag * b.real)

    with np.errstate(divide="ignore", invalid="ignore"):
        turned = cross(piece[:, None], piece[None])
        one, other = cross(apart, piece[None]) / turned, cross(apart, piece[:, None]) / turned
    met = (one >= 0.0) & (one <= 1.0) & (other >= 0.0) & (other <= 1.0)
    return bool(np.triu(met, 2).any())


def sense(spring: Hairspring) -> Number:
    """+1 where the strip winds outward clockwise, -1 anticlockwise; a stack's 0: no spring."""
    return SENSES[spring.winds] if isinstance(spring.winds, str) else spring.winds


def arcs(spring: Hairspring) -> tuple[tuple[Number, Number], ...]:
    """The two arcs of the outer curve, radius in mm and angle in degrees; zeros where there is none."""
    if isinstance(spring.outer_curve, str):
        if spring.outer_curve == "none":
            return ((0.0, 0.0), (0.0, 0.0))
        return tuple((radius * spring.outer_radius_mm, angle) for radius, angle in PHILLIPS)
    return spring.outer_curve  # type: ignore[no-any-return]


#: Fields that hold lists of numbers in a stack.
NESTED = ("outer_curve", "stud_offset_um")


def in_numbers(spring: Hairspring | None) -> Hairspring:
    """The spring as a stack holds it: the way it winds as +1 or -1, its outer curve as two arcs, its mass in mg, and
    nothing absent. None becomes a spring that winds neither way: one whose shape does nothing."""
    shape = spring or Hairspring(collet_radius_mm=0.6, outer_radius_mm=2.6, turns=12.0, winds="clockwise")
    told = {f.name: getattr(shape, f.name) for f in fields(shape)}
    length = coil.rest(coils_of(shape)).length[0]
    told |= {
        "winds": sense(shape) if spring else 0.0,
        "outer_curve": arcs(shape),
        "strip_mass_mg": float(strip_mass(shape, length)) / MG,
        "strip_height_mm": 0.0,
        "strip_thickness_mm": 0.0,
    }
    plain = object.__new__(Hairspring)
    for name, value in told.items():
        object.__setattr__(plain, name, value)
    return plain


def _placed(spring: Hairspring) -> Array:
    """e^{i pinning}: turns the spring's own plane onto the dial."""
    return np.asarray(np.exp(1j * np.radians(spring.pinning_deg)))


def _onto_dial(spring: Hairspring, values: Complex) -> Complex:
    """What the spring's own plane shows, on the dial: mirrored where it winds anticlockwise, turned to its pinning."""
    mirrored = np.where(np.asarray(sense(spring)) < 0.0, np.conj(values), values)
    return np.asarray(mirrored * _placed(spring))


def coils_of(spring: Hairspring) -> coil.Coils:
    """What the strip's equations need, in the spring's own sense, flat arrays (springs,): one, or a stack's."""
    return coil.Coils(*(np.ravel(values) for values in np.broadcast_arrays(*_numbers(spring))))


def _numbers(spring: Hairspring) -> tuple[Number, ...]:
    """The columns of ``Coils``; together they have the shape of the stack."""
    way = np.asarray(sense(spring))
    off = (spring.stud_offset_um[0] + 1j * np.asarray(spring.stud_offset_um[1])) * UM / MM
    off = off * np.conj(_placed(spring))
    (first, first_angle), (second, second_angle) = arcs(spring)
    return (
        spring.collet_radius_mm,
        spring.outer_radius_mm,
        2.0 * math.pi * np.asarray(spring.turns),
        first,
        np.radians(first_angle),
        second,
        np.radians(second_angle),
        off.real + 0.0,  # no zero with a minus sign
        np.where(way < 0.0, -off.imag, off.imag) + 0.0,
        np.radians(spring.stud_turn_deg) * np.where(way < 0.0, -1.0, 1.0),
    )


class Response(NamedTuple):
    """What the spring does to the balance, Chebyshev coefficients in θ/SPAN, (TERMS, springs), on the dial:
    departure (T + kθ)/k rad, force in EI/L², centroid z̄ mm; length mm (springs,)."""

    departure: Array
    force: Complex
    centroid: Complex
    length: Array


def response(spring: Hairspring) -> Response:
    """(H1) to (H6) at the angles of the series, for one spring or a stack of them."""
    own = _response(np.array(coils_of(spring)).tobytes())
    way, turned = (np.ravel(v) for v in np.broadcast_arrays(sense(spring), spring.pinning_deg))
    alternating = np.where(
        way < 0.0, (-1.0) ** np.arange(TERMS)[:, None], 1.0
    )  # θ → -θ, where it is mirrored
    dial = np.abs(way) * np.exp(1j * np.radians(turned))

    def placed(series: Complex) -> Complex:
        return np.asarray(np.where(way < 0.0, np.conj(series), series) * alternating * dial)

    departure = own.departure * alternating * way
    return Response(departure, placed(own.force), placed(own.centroid), own.length)


@lru_cache(maxsize=64)
def _response(numbers: bytes) -> Response:
    """Response in the spring's own sense of the springs of a table of ``Coils``; equal ones are solved once."""
    table = np.frombuffer(numbers).reshape(len(coil.Coils._fields), -1)
    different, back = np.unique(table, axis=1, return_inverse=True)
    some, back = coil.Coils(*different), np.ravel(back)
    theta = SPAN * np.cos(math.pi * (np.arange(TERMS) + 0.5) / TERMS)
    bent = coil.bend(some, theta)
    wave = np.cos(np.outer(np.arange(TERMS), np.arccos(theta / SPAN))) * (2.0 / TERMS)
    wave[0] *= 0.5

    def series(values: Any) -> Any:
        return (wave @ values.T)[:, back]

    departure, force, centroid = series(bent.torque + theta), series(bent.force), series(bent.centroid)
    return Response(departure, force, centroid, coil.rest(some).length[back])


def strip_mass(spring: Hairspring, length_mm: Number) -> Number:
    """m_s, kg, of the strip of this length; 0 where the design does not say."""
    if spring.strip_mass_mg is not None:
        return spring.strip_mass_mg * MG
    if spring.strip_height_mm is None or spring.strip_thickness_mm is None:
        return 0.0
    return spring.strip_density_g_cm3 * MG * spring.strip_height_mm * spring.strip_thickness_mm * length_mm


def at_angles(series: Any, theta: Array) -> Any:
    """A series of ``response`` at angles of the balance, rad (angles,): (angles, springs)."""
    return np.polynomial.chebyshev.chebvander(theta / SPAN, len(series) - 1) @ series


def slope_of(series: Any) -> Any:
    """The series' derivative with θ, per rad."""
    return np.polynomial.chebyshev.chebder(series) / SPAN


def _first_harmonic(series: Any, amplitude: Array) -> Any:
    """(1/2π) ∮ f(A sin φ) sin φ dφ at each amplitude, rad (amplitudes,): (amplitudes, springs)."""
    phase = 2.0 * math.pi * (np.arange(_PHASES) + 0.5) / _PHASES
    values = at_angles(series, np.outer(amplitude, np.sin(phase)).ravel())
    return np.mean(values.reshape(len(amplitude), _PHASES, -1) * np.sin(phase)[:, None], axis=1)


def shape_rate(departure: Array, amplitude: Array) -> Array:
    """(H8): first-order rate of the shape, s/day, at each amplitude, rad: (amplitudes, springs)."""
    return np.asarray(-DAY * _first_harmonic(departure, amplitude) / amplitude[:, None])


def weight_lever(centroid: Complex, amplitude: Array) -> Complex:
    """Γ(A) of (H7), mm on the dial, at each amplitude, rad: (amplitudes, springs)."""
    return np.asarray(-_first_harmonic(slope_of(centroid), amplitude) / amplitude[:, None])


def in_the_watch(departure: Array) -> Array:
    """The departure with the stiffness that regulating takes away: none is left of its rate at 270°, to first order."""
    kept = departure.copy()
    kept[1] += SPAN * 2.0 * shape_rate(departure, np.array([REGULATED_AT]))[0] / DAY
    return kept


def rest_angle(departure: Array) -> Array:
    """Where the balance comes to rest by the spring alone, rad (springs,): T(θ) = 0; 0 for a stud in its place."""
    found = np.zeros(departure.shape[1])
    for _ in range(_RESTING):
        found = np.sum(np.polynomial.chebyshev.chebvander(found / SPAN, TERMS - 1).T * departure, axis=0)
    return found


class AtBalance(NamedTuple):
    """What the spring adds to the motion, over k, Chebyshev coefficients in θ/SPAN (TERMS, …), … being the shape of
    stack and places: torque of its shape and of its weight beside -θ, friction by its side thrust; the angle at which
    its shape lets the balance rest, rad (…)."""

    shape: Array
    weight: Array
    friction: Array
    rest: Array


def at_balance(
    spring: Hairspring, stiffness: Number, pivot: tuple[Number, Number], tilt: Array, hour_up: Array
) -> AtBalance:
    """(H7), (H8) and (H9) for one spring or a stack, by place: ``pivot`` is the balance's weight W in N and μ r_pivot
    in m, tilt ι and hour that is up η in rad. Raises InputError where the dial is tilted and no hour is up."""
    if np.any(np.isnan(hour_up) & (np.abs(np.sin(tilt)) > _FLAT)):
        raise InputError(
            f"tilt_deg = {math.degrees(np.max(tilt)):g} deg: no hour is up, so the hairspring's weight and side thrust "
            "have no direction; take a position with an hour up (12H, 3H, 6H, 9H)"
        )
    found = response(spring)
    stack = np.broadcast_shapes(*(np.shape(values) for values in _numbers(spring)))

    ahead = (1,) * (max(len(stack), np.ndim(tilt), np.ndim(stiffness)) - len(stack))

    def shaped(series: Any) -> Any:
        """Terms first, then the stack, in line with the places."""
        return series.reshape(-1, *ahead, *stack)

    length = found.length.reshape(stack) * MM
    down = np.sin(tilt) * np.exp(1j * (np.where(np.isnan(hour_up), 0.0, hour_up) + math.pi))
    sinking = np.zeros_like(found.centroid)
    sinking[:-1] = slope_of(found.centroid) * MM
    weight = strip_mass(spring, length / MM) * G0 / stiffness * np.real(shaped(sinking) * np.conj(down))
    # |W sin ι e^{iδ} + F| at many angles, F in newtons, and its series
    theta = SPAN * np.cos(math.pi * (np.arange(_ANGLES) + 0.5) / _ANGLES)
    force = shaped(at_angles(found.force, theta)) * (stiffness / length)
    heavy, rubbing = pivot
    more = np.abs(heavy * down + force) - np.abs(heavy * down)
    wave = np.polynomial.chebyshev.chebvander(theta / SPAN, TERMS - 1).T * (2.0 / _ANGLES)
    wave[0] *= 0.5
    departure = in_the_watch(found.departure)
    return AtBalance(
        shaped(departure),
        np.asarray(weight),
        np.tensordot(wave, more, axes=1) * rubbing / stiffness,
        rest_angle(departure).reshape(stack),
    )


def check_coils(spring: Hairspring, knock_angle: float) -> None:
    """Raise InputError where coils would touch within the knock, rad, or the strip finds no shape within ±400°."""
    _check_coils(spring, float(knock_angle))


@lru_cache(maxsize=256)
def _check_coils(spring: Hairspring, knock_angle: float) -> None:
    coils = coils_of(spring)
    ends = coil.bend(coils, SPAN * _LOOKED_AT[[0, -1]])
    if not np.max(ends.residual) < _CLOSED:
        raise InputError(
            f"hairspring.turns = {spring.turns:g} turns: so short a strip finds no shape at ±400 deg of the balance; "
            "more turns are needed"
        )
    thick = spring.strip_thickness_mm or 0.0
    for theta in sorted(knock_angle * _LOOKED_AT, key=abs):
        gap, place, turn = coil.narrowest(coils, theta)
        if gap > thick:
            continue
        direction = math.degrees(float(np.angle(_onto_dial(spring, np.array(place))))) % 360.0
        raise InputError(
            f"hairspring: coils touch at {math.degrees(theta) * float(sense(spring)):+.0f} deg of the balance, before "
            f"the knock at ±{math.degrees(knock_angle):.0f} deg: {max(gap, 0.0):.3f} mm between coils {turn} and "
            f"{turn + 1} from the collet, at {direction:.0f} deg clockwise from 12, strip {thick:g} mm thick"
        )


def coil_on_dial(spring: Hairspring, theta: Array, steps: int = 60) -> Complex:
    """Where the strip of one spring lies with the balance at each of ``theta``, rad: (points along it, angles), mm."""
    own = coil.shape(coils_of(spring), theta * float(sense(spring)))
    return _onto_dial(spring, coil.fine(own[..., 0, :], steps))
