"""The hairspring as it is drawn: its table in a design file, what of it cannot be, and its place on the dial.

Complex numbers on the dial are (towards 12) + i (towards 3), so that e^{iα} turns clockwise, the positive sense of θ;
the strip's equations (``coil``) are in the spring's own sense, in which it winds outward with growing angle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Any

import numpy as np

from oscsim.arrays import Array, Complex, Number
from oscsim.errors import InputError, nearest, shown
from oscsim.fields import check_quantities, quantity, words
from oscsim.parts import coil
from oscsim.units import MG, MM, UM

#: No amplitude has a number above this, rad: the strip must find a shape up to here.
SPAN = math.radians(400.0)
#: E. Phillips' outer curve, two arcs in radii of the outer coil (docs/hairspring.md).
PHILLIPS = ((0.8321360927497, 180.0), (0.67, 81.80349233340))
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
        if not isinstance(self.winds, str) or self.winds not in SENSES:
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
                f"hairspring.stud_offset_um = {shown(_as_list(offset))} µm: must be [towards 12, towards 3], "
                "each from -1000 to 1000 µm"
            )
        self._check_outer_curve()

    @property
    def weighs(self) -> bool:
        """Whether the design tells the strip's weight."""
        return self.strip_mass_mg is not None or self.strip_height_mm is not None

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
        key = f"hairspring.outer_curve = {shown(_as_list(curve))}"
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
                f"{key}: leaves the barrel of the coil, {radius.max():.3f} mm from the axis, must stay within "
                f"hairspring.outer_radius_mm = {self.outer_radius_mm:g} mm"
            )
        if radius.min() < self.collet_radius_mm:
            raise InputError(
                f"{key}: comes within {radius.min():.3f} mm of the axis, must stay outside "
                f"hairspring.collet_radius_mm = {self.collet_radius_mm:g} mm"
            )
        if _crosses_itself(path):
            raise InputError(f"{key}: crosses itself, the two arcs must turn less or differ more")


#: Which way the strip winds outward: +1 is the positive sense of θ; a stack has 0 where there is no spring.
SENSES = {"clockwise": 1.0, "anticlockwise": -1.0}
CURVES = ("none", "phillips")


def _as_tuple(value: Any) -> Any:
    return tuple(_as_tuple(inner) for inner in value) if isinstance(value, list | tuple) else value


def _as_list(value: Any) -> Any:
    """Lists once more as a file has them."""
    return [_as_list(inner) for inner in value] if isinstance(value, tuple) else value


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


def opened(spring: Hairspring, angle: float) -> bool:
    """Whether the balance at this angle unwinds the spring: the collet is turned the way the strip winds outward."""
    return bool(sense(spring) * angle > 0.0)


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


def on_dial(spring: Hairspring, values: Complex) -> Complex:
    """What the spring's own plane shows, on the dial: mirrored where it winds anticlockwise, turned to its pinning."""
    mirrored = np.where(np.asarray(sense(spring)) < 0.0, np.conj(values), values)
    return np.asarray(mirrored * _placed(spring))


def coils_of(spring: Hairspring) -> coil.Coils:
    """What the strip's equations need, in the spring's own sense, flat arrays (springs,): one, or a stack's."""
    return coil.Coils(*(np.ravel(values) for values in np.broadcast_arrays(*numbers_of(spring))))


def numbers_of(spring: Hairspring) -> tuple[Number, ...]:
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


def strip_mass(spring: Hairspring, length_mm: Number) -> Number:
    """m_s, kg, of the strip of this length; 0 where the design does not say."""
    if spring.strip_mass_mg is not None:
        return spring.strip_mass_mg * MG
    if spring.strip_height_mm is None or spring.strip_thickness_mm is None:
        return 0.0
    return spring.strip_density_g_cm3 * MG * spring.strip_height_mm * spring.strip_thickness_mm * length_mm


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
    angles = np.array(sorted(knock_angle * _LOOKED_AT, key=abs))
    for theta, (gap, place, turn) in zip(angles, coil.narrowest(coils, angles), strict=True):
        if gap > thick:
            continue
        turned = math.degrees(theta) * float(sense(spring))
        where = f"at {turned:+.0f} deg of the balance, before " if theta else "at rest, before "
        direction = math.degrees(float(np.angle(on_dial(spring, np.array(place))))) % 360.0
        raise InputError(
            f"hairspring: coils touch {where}the knock at ±{math.degrees(knock_angle):.0f} deg: "
            f"{max(gap, 0.0):.3f} mm between coils {turn} and "
            f"{turn + 1} from the collet, at {direction:.0f} deg clockwise from 12, strip {thick:g} mm thick"
        )


def coil_on_dial(spring: Hairspring, theta: Array, steps: int = 60) -> Complex:
    """Where the strip of one spring lies with the balance at each of ``theta``, rad: (points along it, angles), mm."""
    own = coil.shape(coils_of(spring), theta * float(sense(spring)))
    return on_dial(spring, coil.fine(own[..., 0, :], steps))
