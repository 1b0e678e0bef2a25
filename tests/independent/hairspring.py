"""The hairspring from its shape once more: shooting along the strip, as docs/hairspring.md (H1) to (H3) say it.

Nothing is shared with the library but the keys of a design file. The strip is followed from the collet in the dial's
own plane by DOP853 for many angles of the balance at once, and Newton's method finds T0 and F that bring its end to
the stud.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.polynomial.chebyshev import chebder, chebval
from scipy.integrate import solve_ivp

from .operating import G0, ByAngle, Coefficients, Design

REACH = math.radians(400.0)
#: Terms of torque and weight, and of the side thrust, which has a corner where the force passes zero.
SMOOTH, RUBBING = 29, 81


class Coil(NamedTuple):
    """Pieces of the strip at rest: (length in the running angle, slope dz0/du as a function of it)."""

    pieces: list[tuple[float, Any]]
    start: complex
    end: complex
    length: float


def coil(table: dict[str, Any]) -> Coil:
    """The strip at rest in the dial's plane, mm: (towards 12) + i (towards 3), clockwise positive."""
    inner, outer, turns = table["collet_radius_mm"], table["outer_radius_mm"], table["turns"]
    way = 1.0 if table["winds"] == "clockwise" else -1.0
    turned = np.exp(1j * math.radians(table.get("pinning_deg", 0.0)))
    beta = 2.0 * math.pi * turns
    climb = (outer - inner) / beta

    def spiral(u: Any) -> Any:
        return turned * (climb + 1j * way * (inner + climb * u)) * np.exp(1j * way * u)

    pieces, at, length = [(beta, spiral)], outer * turned * np.exp(1j * way * beta), 0.0
    root = lambda r: 0.5 * (r * math.hypot(r, climb) / climb + climb * math.asinh(r / climb))  # noqa: E731
    length += root(outer) - root(inner)
    curve = table.get("outer_curve", "none")
    arcs = [] if curve == "none" else curve
    if curve == "phillips":
        arcs = [[0.8321360927497 * outer, 180.0], [0.67 * outer, 81.8034923334]]
    heading = beta
    for radius, degrees in arcs:
        angle = math.radians(degrees)

        def arc(u: Any, radius: float = radius, heading: float = heading) -> Any:
            return turned * 1j * way * radius * np.exp(1j * way * (heading + u))

        pieces.append((angle, arc))
        at += turned * radius * (np.exp(1j * way * (heading + angle)) - np.exp(1j * way * heading))
        heading, length = heading + angle, length + radius * angle
    return Coil(pieces, inner * turned, at, length)


def shot(table: dict[str, Any], theta: Any) -> tuple[Any, Any, Any, float]:
    """T/k rad, F L²/EI (complex), centroid mm (complex) at angles ``theta`` (rad), and the length of the strip, mm."""
    strip = coil(table)
    x, y = table.get("stud_offset_um", [0.0, 0.0])
    stud = strip.end + 1e-3 * (x + 1j * y)
    held = math.radians(table.get("stud_turn_deg", 0.0))
    n = len(theta)

    def follow(unknown: Any) -> tuple[Any, Any, Any]:
        """Direction, place and first moment of the far end for T0, Fx, Fy (3, …) in units of EI and mm."""
        torque, force = unknown[0], unknown[1] + 1j * unknown[2]
        shape = torque.shape
        turn = np.broadcast_to(theta, shape)
        state = np.stack(
            [turn, (strip.start * np.exp(1j * turn)).real, (strip.start * np.exp(1j * turn)).imag]
        )
        state = np.concatenate([state, np.zeros((2, *shape))])
        for span, slope in strip.pieces:

            def rates(u: float, flat: Any, slope: Any = slope) -> Any:
                phi, zx, zy, _, _ = flat.reshape(5, *shape)
                d = slope(u)
                ds = abs(d)
                dz = np.exp(1j * phi) * d
                bent = ds * (torque - (zx * force.imag - zy * force.real))
                return np.stack([bent, dz.real, dz.imag, ds * zx, ds * zy]).ravel()

            state = solve_ivp(rates, (0.0, span), state.ravel(), "DOP853", rtol=1e-11, atol=1e-12).y[:, -1]
            state = state.reshape(5, *shape)
        return state[0] - held, state[1] + 1j * state[2] - stud, state[3] + 1j * state[4]

    unknown = np.stack([(held - theta) / strip.length, np.zeros(n), np.zeros(n)])
    small = np.array([1e-6 / strip.length, 1e-6 / strip.length**2, 1e-6 / strip.length**2])
    for _ in range(8):
        # all three slopes by differences in one run: (unknowns, [as it is and one of each changed], angles)
        tried = np.repeat(unknown[:, None], 4, axis=1)
        for i in range(3):
            tried[i, i + 1] += small[i]
        turn, gap, moment = follow(tried)
        off = np.stack([turn, gap.real, gap.imag])
        jacobian = (off[:, 1:] - off[:, :1]) / small[None, :, None]
        if np.abs(off[:, 0]).max() < 1e-9:
            break
        step = np.linalg.solve(np.moveaxis(jacobian, -1, 0), off[:, 0].T[..., None])[..., 0].T
        unknown = unknown - step
    force = (unknown[1] + 1j * unknown[2]) * strip.length**2
    return unknown[0] * strip.length, force, moment[0] / strip.length, strip.length


def by_angle(design: Design, op: Coefficients, hour_up_deg: float | None) -> ByAngle:
    """(H7) to (H9) of a design's [hairspring] for the integrator, N m; None: the dial lies flat."""
    table, balance = design["hairspring"], design["balance"]
    theta = REACH * np.cos(math.pi * (np.arange(SMOOTH) + 0.5) / SMOOTH)
    torque, force, centroid, length = shot(table, theta)
    departure, pushed, hangs = (_series(theta, v, SMOOTH) for v in (torque + theta, force, centroid))
    # in the watch the shape counts less its rate at 270 degrees: (H8) and a stiffness that undoes it
    phase = 2.0 * math.pi * (np.arange(400) + 0.5) / 400
    swing = math.radians(270.0)
    first = np.mean(chebval(swing * np.sin(phase) / REACH, departure.real) * np.sin(phase))
    departure = departure.real.copy()
    departure[1] += REACH * -2.0 * first / swing
    down = 0.0 if hour_up_deg is None else np.exp(1j * math.radians(hour_up_deg + 180.0))
    mass = table.get("strip_mass_mg", 0.0) * 1e-6
    if "strip_height_mm" in table:
        section = table["strip_height_mm"] * table["strip_thickness_mm"]
        mass = table.get("strip_density_g_cm3", 8.0) * section * length * 1e-6
    sinking = chebder(hangs) / REACH * 1e-3
    weight = np.real(mass * G0 * sinking * np.conj(down))
    whole = op["k"] * departure
    whole[: len(weight)] += weight
    many = REACH * np.cos(math.pi * (np.arange(2000) + 0.5) / 2000)
    heavy = balance["mass_mg"] * 1e-6 * G0
    newtons = chebval(many / REACH, pushed) * op["k"] / (length * 1e-3)
    more = np.abs(heavy * down + newtons) - abs(heavy * down)
    rubbing = balance["pivot_friction"] * balance["pivot_radius_mm"] * 1e-3
    return ByAngle(whole, rubbing * _series(many, more, RUBBING).real)


def _series(theta: Any, values: Any, terms: int) -> Any:
    """Chebyshev coefficients from values at Chebyshev's own nodes."""
    order = np.arange(terms)[:, None]
    wave = np.cos(order * np.arccos(theta / REACH))
    found = wave @ values * (2.0 / len(theta))
    found[0] *= 0.5
    return found
