"""The tables of a hairspring's shape: what it does at each angle and swing, and what a change would do."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from oscsim.answers.hairspring import COMPARED, VERTICAL
from oscsim.show.style import headline
from oscsim.show.tables import grid, signed, wrapped
from oscsim.text.sheet import Sheet, Table, sheet
from oscsim.units import POSITIONS

if TYPE_CHECKING:
    from oscsim.answers.hairspring import HairspringShape

#: Position differences below this are no natural error to speak of, s/day.
_SMALL = 1.0


def hairspring_table(answer: HairspringShape) -> Sheet:
    """Departure, side force and centroid by angle; rate by amplitude and position; changes; what they mean."""
    spring = answer.movement.hairspring
    assert spring is not None
    angles = [f"{angle:+g} deg" if angle else "0 deg" for angle in answer.angle_deg]
    departure = 1e3 * (answer.torque_over_k_rad + np.radians(answer.angle_deg))
    side = np.hypot(*answer.force_over_ei_l2.T) * _newtons(answer)
    at_angles = grid(
        "With the balance at",
        angles,
        [
            "torque beside -kθ, k × mrad",
            "side force on the pivots, mN",
            "centre of mass towards 12, µm",
            "centre of mass towards 3, µm",
        ],
        [
            [signed(v, 2) for v in departure],
            [f"{1e3 * v:.3f}" for v in side],
            [signed(1e3 * v, 0) for v in answer.centroid_mm[:, 0]],
            [signed(1e3 * v, 0) for v in answer.centroid_mm[:, 1]],
        ],
    )
    swings = [f"{swing:g} deg" for swing in answer.amplitude_deg]
    rows = {
        "shape, raw": answer.rate_s_per_day,
        "shape, less at 270 deg": answer.watch_rate_s_per_day,
    }
    if answer.strip_mass_mg:
        rows |= {
            f"with its weight, {symbol} {POSITIONS[symbol].words}": answer.rate_by_position[symbol]
            for symbol in VERTICAL
        }
    body = [[signed(v) for v in values] for values in rows.values()]
    at_swings = grid("Rate of the spring alone, s/day", swings, list(rows), body)
    thrust = {
        f"{symbol} {POSITIONS[symbol].words}": answer.friction_added_percent[symbol]
        for symbol in ("CH", *VERTICAL)
    }
    added = grid(
        "What its side thrust adds to the friction at the pivots, %",
        swings,
        list(thrust),
        [[signed(v) if math.isfinite(v) else "-" for v in values] for values in thrust.values()],
    )
    heading = (
        f"{headline(answer.design)}: the hairspring by its shape, {spring.turns:g} turns from "
        f"{spring.collet_radius_mm:g} to {spring.outer_radius_mm:g} mm, winding outward {spring.winds}, "
        f"{answer.length_mm:.1f} mm long"
        + (f", {answer.strip_mass_mg:.2f} mg" if answer.strip_mass_mg else "")
    )
    return sheet(
        wrapped(heading),
        at_angles,
        at_swings,
        added,
        _changes(answer),
        *map(wrapped, hairspring_sentences(answer)),
    )


def _newtons(answer: HairspringShape) -> float:
    """EI/L² in N: EI = kL."""
    return answer.stiffness_n_m_per_rad / (1e-3 * answer.length_mm)


def _changes(answer: HairspringShape) -> Table:
    columns = [f"shape {swing:g}" for swing in COMPARED]
    if answer.strip_mass_mg:
        columns += [f"weight {symbol}" for symbol in VERTICAL]
    columns += ["rest, deg", "side force, %"]
    body = []
    for change in answer.changes:
        line = [signed(v) for v in change.watch_rate_s_per_day]
        if answer.strip_mass_mg:
            line += [signed(change.weight_rate_s_per_day[symbol]) for symbol in VERTICAL]
        rest = change.rest_deg if abs(change.rest_deg) > 5e-3 else 0.0
        body.append([*line, f"{rest:+.2f}" if rest else "0", f"{change.side_force_percent:.0f}"])
    title = (
        "What a change does, s/day: shape at these amplitudes less at 270 deg, weight at 220 deg; rest of the balance; "
        "greatest side force within 270 deg, % of the balance's weight"
    )
    return grid(title, columns, [change.words for change in answer.changes], body)


def hairspring_sentences(answer: HairspringShape) -> list[str]:
    """What the tables mean for the bench."""
    drawn = answer.changes[0]
    low = drawn.watch_rate_s_per_day[1]
    steady = abs(low) < _SMALL
    sign = "gains" if low > 0.0 else "loses"
    said = "What this means: by its shape alone the watch " + (
        f"keeps its rate to {abs(low):.1f} s/day from 270 to 220 deg"
        if steady
        else f"{sign} {abs(low):.1f} s/day when the swing falls from 270 to 220 deg"
    )
    own = float(answer.escapement_s_per_day[1])
    if math.isfinite(own):
        does = "gains" if own > 0.0 else "loses"
        said += f"; its escapement {does} {abs(own):.1f} s/day there of itself"
    told = [f"{said}."]
    if answer.strip_mass_mg:
        by = drawn.weight_rate_s_per_day
        fast, slow = max(by, key=lambda s: by[s]), min(by, key=lambda s: by[s])
        apart = by[fast] - by[slow]
        told.append(
            f"At 220 deg, where want of poise is silent, its weight alone makes {fast} {by[fast]:+.1f} and {slow} "
            f"{by[slow]:+.1f} s/day, {apart:.1f} apart. No poising takes that away."
        )
    else:
        told.append(
            "Its weight is not told (strip_mass_mg, or strip_height_mm and strip_thickness_mm), so it has no rate by "
            "position here."
        )
    told += _half_a_coil(answer)
    spring = answer.movement.hairspring
    assert spring is not None
    if abs(answer.rest_deg) > 5e-3:
        told.append(
            f"The stud is not where the coil would be free of stress: the balance rests at {answer.rest_deg:+.2f} deg, "
            "which counts with out_of_beat_deg."
        )
    told += [f"Not shown, {words}: {why}." for words, why in answer.refused.items()]
    if spring.strip_thickness_mm is None:
        told.append("Whether coils touch is judged without the strip's thickness (strip_thickness_mm).")
    told.append(
        "Rates are of the spring alone, to first order; in the watch the spring is regulated, so its shape counts less "
        "what it does at 270 deg. Left out: the strip's own inertia (under 1 s/day) and index pins that grip it."
    )
    return told


def _half_a_coil(answer: HairspringShape) -> list[str]:
    """Pin it half a coil further: what that moves, and what it cannot remove."""
    drawn = answer.changes[0]
    moved = next((change for change in answer.changes if "half a coil" in change.words), None)
    if moved is None:
        return []
    said = (
        f"Pinned half a coil further at the collet, 220 against 270 deg would go from "
        f"{drawn.watch_rate_s_per_day[1]:+.1f} to {moved.watch_rate_s_per_day[1]:+.1f} s/day"
    )
    if answer.strip_mass_mg:
        before, after = drawn.weight_rate_s_per_day, moved.weight_rate_s_per_day
        most = max(VERTICAL, key=lambda symbol: abs(after[symbol] - before[symbol]))
        spread = max(after.values()) - min(after.values())
        said += (
            f", and {most} by the weight from {before[most]:+.1f} to {after[most]:+.1f}; {spread:.1f} s/day between "
            "the positions would be left: it moves and does not go"
        )
    return [f"{said}."]
