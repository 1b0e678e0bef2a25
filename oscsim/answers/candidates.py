"""Strips that could take the present mainspring's place: as measured, from a list, or of the usual sizes."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass, replace
from numbers import Real
from pathlib import Path

import numpy as np

from oscsim.errors import InputError, shown
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.motion.sustain import sustain
from oscsim.movement import Movement
from oscsim.operating import points_in
from oscsim.parts import mainspring as spr
from oscsim.setting import Setting
from oscsim.spreadsheet import read_rows

AMPLITUDE = Quantity("deg", "A", "amplitude", 30, 400)
REQUIRED = ("name", "height_mm", "thickness_mm", "length_mm")
_OPTIONAL = ("modulus_gpa", "elastic_limit_mpa", "free_curvature_per_m", "slip_torque_n_mm")
#: How many of the usual sizes are tried; torques so near to the wanted one, as a share, are as good: a step of 0.05 mm
#: in a height of 1.3 mm.
_USUAL, _AS_GOOD = 8, 0.04


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A strip as measured: dimensions in mm; what is not known is taken from the present spring.

    A bridle slips where the present one does unless ``slip_torque_n_mm`` is given (or ``own_bridle`` is asked for).
    """

    name: str
    height_mm: float
    thickness_mm: float
    length_mm: float
    modulus_gpa: float | None = None
    elastic_limit_mpa: float | None = None
    free_curvature_per_m: float | None = None
    slip_torque_n_mm: float | None = None

    def __post_init__(self) -> None:
        for key in REQUIRED[1:]:
            if isinstance(value := getattr(self, key), bool) or not isinstance(value, Real):
                raise InputError(
                    f"{key} = {shown(value)}: not a number; sizes of a strip are in mm, such as 1.3"
                )

    @property
    def size(self) -> tuple[float, float, float]:
        """Height, thickness and length, mm."""
        return self.height_mm, self.thickness_mm, self.length_mm

    def fitted(self, movement: Movement) -> Movement:
        """The movement with this strip; raises InputError when a number is out of range or it does not fit."""
        keys = (*REQUIRED[1:], *_OPTIONAL)
        given = {f"mainspring.{key}": getattr(self, key) for key in keys if getattr(self, key) is not None}
        return movement.with_(given)


def read_candidates(path: str | os.PathLike[str]) -> list[Candidate]:
    """Candidates from a CSV file with the headings name, height_mm, thickness_mm, length_mm and, where known,
    modulus_gpa, elastic_limit_mpa, free_curvature_per_m, slip_torque_n_mm.

    Raises InputError in one line for wrong headings (units belong to them) or a cell that is not a number.
    """
    found = []
    for row in read_rows(Path(path), "a list of springs", (*REQUIRED, *_OPTIONAL), REQUIRED):
        values = {key: row.number(key) for key in (*REQUIRED[1:], *_OPTIONAL)}
        for key in REQUIRED[1:]:
            if values[key] is None:
                raise InputError(f"{row.where}: {key} is empty")
        name = row.words("name") or row.where.rpartition(", ")[2]
        found.append(Candidate(name=name, **values))  # type: ignore[arg-type]
    if not found:
        raise InputError(f"{path}: no springs below the headings")
    return found


def share_of_slip(movement: Movement) -> float:
    """At what share of what the strip could pull the design's bridle slips; NaN without a bridle that slips."""
    slip = movement.mainspring.slip_torque_n_mm
    return math.nan if slip is None else slip / held(movement)[0]


def held(movement: Movement) -> tuple[float, float]:
    """Torque, N·mm, and turns that the strip would reach if no bridle slipped."""
    strip, barrel = movement.mainspring, movement.barrel
    turns = float(spr.turns_of_development(strip, barrel))
    return 1e3 * float(spr.barrel_torque(strip, barrel, turns)), turns


def with_own_bridle(movement: Movement, candidate: Candidate) -> Candidate:
    """The candidate with a bridle of its own where it has none told; as it is where it does not fit."""
    share = share_of_slip(movement)
    if candidate.slip_torque_n_mm is not None or math.isnan(share):
        return candidate
    try:
        return replace(candidate, slip_torque_n_mm=share * held(candidate.fitted(movement))[0])
    except InputError:
        return candidate


@takes_design
def usual_sizes(movement: Movement, wanted_deg: float, setting: Setting | None = None) -> list[Candidate]:
    """Sizes to look for in a list of strips: eight whose torque fully wound is what ``wanted_deg`` dial up needs, each
    with a bridle of its own. Of those within 4 % of it the thinnest, which give most turns and are bent least; where
    they are fewer than eight the nearest of the others.

    Heights by 0.05 mm from four fifths of the present one up to it (the barrel's own height is not known), thicknesses
    by 0.005 mm within a fifth of the present one, the length as full as the present barrel is, to 10 mm: common
    practice without source. Raises InputError where no drive keeps up that amplitude.
    """
    AMPLITUDE.check("wanted_deg", wanted_deg)
    setting = setting or Setting()
    at = replace(setting, positions=("CH",), hours=(0.0,))
    as_is = setting.condition.applied_to(movement)
    points = points_in(as_is, at)
    kept = sustain(points.oscillators, np.array([math.radians(wanted_deg)]))
    if not kept.sound[0]:
        raise InputError(f"wanted_deg = {wanted_deg:g} deg: no drive keeps up that amplitude, dial up")
    now, share = movement.mainspring, share_of_slip(movement)
    share = 1.0 if math.isnan(share) else min(share, 1.0)  # a bridle that never slips leaves the strip's own
    worn = as_is.movement.mainspring.coil_efficiency / now.coil_efficiency
    full = float(spr.barrel_torque(as_is.movement.mainspring, as_is.movement.barrel, as_is.full_wind)) * 1e3
    wanted = full * float(kept.factor[0]) / worn
    heights = (
        np.arange(math.ceil(0.8 * now.height_mm / 0.05), math.floor(now.height_mm / 0.05 + 1e-6) + 1) * 0.05
    )
    thick = np.arange(math.ceil(160 * now.thickness_mm), math.floor(240 * now.thickness_mm) + 1) * 0.005
    found = []
    for w in heights.round(3):
        for h in thick.round(4):
            length = max(10.0, 10.0 * round(now.length_mm * now.thickness_mm / float(h) / 10.0))
            size = Candidate(
                name=f"{w:g} × {h:g} × {length:g}",
                height_mm=float(w),
                thickness_mm=float(h),
                length_mm=length,
            )
            try:
                torque = share * held(size.fitted(movement))[0]
            except InputError:
                continue
            off = abs(math.log(torque / wanted)) if torque > 0.0 else math.inf
            found.append((off, with_own_bridle(movement, size)))
    found.sort(key=lambda one: _better(*one))
    return [one for _, one in found[:_USUAL]]


def _better(off: float, size: Candidate) -> tuple[float, float, float, str]:
    """Sizes whose torque is as good by thickness, the others by how far (logarithm) the torque is off."""
    near = round(max(off - _AS_GOOD, 0.0), 9)
    return near, size.thickness_mm, round(off, 9), size.name
