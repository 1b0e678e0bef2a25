"""What would another mainspring do? Candidate strips in the present barrel, judged and ranked."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from oscsim.answers.band import band
from oscsim.answers.candidates import (
    AMPLITUDE,
    REQUIRED,
    Candidate,
    held,
    read_candidates,
    share_of_slip,
    usual_sizes,
    with_own_bridle,
)
from oscsim.answers.points import settled_points
from oscsim.answers.result import InSetting
from oscsim.answers.rundown import hours_to_amplitude
from oscsim.arrays import Array
from oscsim.errors import InputError
from oscsim.files import takes_design
from oscsim.motion.states import State
from oscsim.motion.sustain import sustain
from oscsim.movement import Movement
from oscsim.operating import operating_points, points_in, reserve
from oscsim.parts import mainspring as spr
from oscsim.setting import Setting
from oscsim.stack import varied
from oscsim.units import GPA, MM, MPA

#: Shown with every answer about mainsprings.
CAUTION = (
    "A wound mainspring stores energy: let it down before you open the barrel, wear eye protection, and follow your "
    "workshop's rules and local law."
)
#: Elastic limits tried for a strip of unknown alloy, MPa, and how many.
_CALIBRATED = "mainspring.elastic_limit_mpa"
_LIMITS, _TRIED = (500.0, 6000.0), 111
#: At full wind the swing should stay this far below the knock, deg (common practice without source).
KNOCK_MARGIN = 10.0
#: Amplitudes so near to the wanted one, deg, are as good: no better is one read. So many times as high as the present
#: strip another may not go under the barrel's cover.
AS_NEAR, HIGHER = 5.0, 1.02


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """One candidate in the movement. ``state``: of the watch dial up at full wind, or 'does not fit' with the reason in
    ``remark``; other numbers NaN and other states empty then. floor_hours: when the flat amplitude comes down to the
    floor of the working band, NaN where it never is above; fill: area of the strip over half the free area of the
    barrel; stress: greatest elastic stress on the arbor over the elastic limit (above 1 the strip takes a set);
    held_torque_n_mm and held_turns: what the strip would reach if the bridle held to the end; own_slip_torque_n_mm:
    where a bridle of its own would slip, at the same share of held_torque_n_mm as the present one (NaN without)."""

    candidate: Candidate
    state: str
    remark: str
    turns: float = math.nan
    reserve_hours: float = math.nan
    full_torque_n_mm: float = math.nan
    flat_wound_deg: float = math.nan
    vertical_wound_deg: float = math.nan
    flat_24h_deg: float = math.nan
    vertical_24h_deg: float = math.nan
    vertical_wound_state: str = ""
    flat_24h_state: str = ""
    vertical_24h_state: str = ""
    floor_hours: float = math.nan
    knock_margin_deg: float = math.nan
    fill: float = math.nan
    stress: float = math.nan
    slip_torque_n_mm: float = math.nan
    held_torque_n_mm: float = math.nan
    held_turns: float = math.nan
    own_slip_torque_n_mm: float = math.nan
    residual_rad: float = math.nan


@dataclass(frozen=True, repr=False, kw_only=True)
class Swap(InSetting):
    """Candidates in order: those that run first, of these within 5 deg of the wanted amplitude the one that shows most
    a day later, then the others by nearness.

    present: the spring in the design; floor_deg: flat amplitude below which the positions scatter more than tolerated,
    of a usual want of poise where the design has none (``unbalance_is_usual``).
    """

    present: Fitted
    candidates: tuple[Fitted, ...]
    wanted_deg: float | None
    tolerance_s_per_day: float
    floor_deg: float
    unbalance_is_usual: bool
    calibrated_elastic_limit_mpa: float | None
    own_bridle: bool

    def rows(self) -> list[dict[str, Any]]:
        rows = []
        for place, fitted in enumerate((self.present, *self.candidates)):
            numbers = {key: value for key, value in fitted.__dict__.items() if key != "candidate"}
            strip = fitted.candidate
            size = {key: getattr(strip, key) for key in REQUIRED}
            rows.append({"rank": place} | size | numbers)
        return rows

    def settings(self) -> dict[str, Any]:
        return super().settings() | {
            "wanted_deg": self.wanted_deg,
            "tolerance_s_per_day": self.tolerance_s_per_day,
            "own_bridle": self.own_bridle,
        }

    def body(self) -> dict[str, Any]:
        return {
            "floor_deg": self.floor_deg,
            "unbalance_is_usual": self.unbalance_is_usual,
            "calibrated_elastic_limit_mpa": self.calibrated_elastic_limit_mpa,
            "present": self.rows()[0],
            "candidates": self.rows()[1:],
            "caution": CAUTION,
        }


@takes_design
def calibrate(movement: Movement, amplitude_deg: float, at: Setting | None = None) -> Movement:
    """The movement with the strip's elastic limit set so that it shows a known amplitude at ``at`` (dial up, wound).

    For a strip of unknown alloy; everything else in the design is taken as right. The elastic limit it is, because a
    strip that has taken its set bears σ_y w h²/6 whatever its modulus. Raises InputError when no limit gives that
    amplitude, and where many do: while the bridle slips.
    """
    from scipy.optimize import brentq  # slow to load

    AMPLITUDE.check("amplitude_deg", amplitude_deg)
    at = at or Setting()
    points = operating_points(movement, at)
    if points.oscillators.size != 1:
        raise InputError("at: give the one position and hour at which the amplitude was read")
    kept = sustain(points.oscillators, np.array([math.radians(amplitude_deg)]))
    wanted = float(points.escape_torque[0] * kept.factor[0])

    def excess(limit: Array) -> Array:
        tried = varied(movement, {_CALIBRATED: np.atleast_1d(limit)})
        return operating_points(tried, at).escape_torque - wanted

    low, high = _LIMITS
    grid = np.linspace(low, high, _TRIED)
    over = excess(grid)
    level = np.abs(over) < 1e-6 * wanted
    if (level[1:] & level[:-1]).any():
        raise InputError(
            f"amplitude_deg = {amplitude_deg:g} deg: the torque there is the same for many elastic limits, since the "
            "bridle slips or the strip stays within its limit; give an amplitude read some hours later"
        )
    crossings = np.flatnonzero(np.diff(over > 0.0) & kept.sound[0])
    found = [float(brentq(lambda e: excess(e)[0], *grid[i : i + 2], xtol=1e-9)) for i in crossings]
    if not found:
        raise InputError(
            f"amplitude_deg = {amplitude_deg:g} deg: no elastic limit of the mainspring from {low:g} to {high:g} MPa "
            "gives it; look for the difference elsewhere in the design"
        )
    present = movement.mainspring.elastic_limit_mpa
    return movement.with_({_CALIBRATED: min(found, key=lambda e: abs(e - present))})


@takes_design
def swap(
    movement: Movement,
    candidates: Sequence[Candidate] | str | os.PathLike[str] | None,
    setting: Setting | None = None,
    *,
    wanted_deg: float | None = None,
    known_deg: float | None = None,
    known_at: Setting | None = None,
    tolerance_s_per_day: float = 10.0,
    own_bridle: bool = False,
) -> Swap:
    """Put each candidate into the barrel and settle the watch, wound and a day later.

    ``candidates`` are a list, or its CSV file (``read_candidates``); None: eight usual sizes that come near
    (``usual_sizes``), each with a bridle of its own.
    ``own_bridle``: a strip without a slip torque has one that slips at the same share of what the strip could pull as
    the present one does, in place of the present one's torque.

    ``wanted_deg``: flat amplitude at full wind to rank by (default: the present spring's, or 10 deg below the knock
    where that is less); ``known_deg``: an amplitude that the present movement shows at ``known_at``, from which the
    alloy's elastic limit is calibrated; the floor is
    that of ``band`` for ``tolerance_s_per_day``. ``setting`` gives temperature and condition (of which the wear
    of the mainspring goes with the strip put in). A candidate that does not fit is answered with that state.
    Raises InputError for values out of range.
    """
    if wanted_deg is not None:
        AMPLITUDE.check("wanted_deg", wanted_deg)
    if isinstance(candidates, str | os.PathLike):
        candidates = read_candidates(candidates)
    limit = None
    if known_deg is not None:
        movement = calibrate(movement, known_deg, known_at)
        limit = movement.mainspring.elastic_limit_mpa
    setting = setting or Setting()
    setting.refuse("springs are judged fully wound and a day later", "hours", "turns")
    setting.refuse("springs are judged dial up and 12 up", "positions", "tilt_deg", "lift_angle_deg")
    keeps = band(movement, tolerance_s_per_day, setting)
    floor = keeps.floor_deg
    setting = replace(setting, positions=("CH", "12H"), hours=(0.0, 24.0))
    strip = movement.mainspring
    own_bridle = own_bridle or candidates is None
    now = Candidate(
        name="present spring",
        height_mm=strip.height_mm,
        thickness_mm=strip.thickness_mm,
        length_mm=strip.length_mm,
    )
    present = _judge(movement, now, setting, floor)
    knock = math.degrees(float(setting.condition.applied_to(movement).movement.escapement.knock_angle()))
    # where it knocks, or nearly, the present spring is no aim
    if wanted_deg is None and not present.flat_wound_deg < knock - KNOCK_MARGIN:
        wanted_deg = float(math.floor(knock - KNOCK_MARGIN))
    aim = present.flat_wound_deg if wanted_deg is None else wanted_deg
    if candidates is None:
        candidates = usual_sizes(movement, aim, setting)
    if own_bridle:
        candidates = [with_own_bridle(movement, candidate) for candidate in candidates]
    judged = [_judge(movement, candidate, setting, floor) for candidate in candidates]
    judged.sort(key=lambda fitted: _rank(fitted, aim, strip.height_mm))
    return Swap(
        movement=movement,
        setting=setting,
        present=present,
        candidates=tuple(judged),
        wanted_deg=wanted_deg,
        tolerance_s_per_day=tolerance_s_per_day,
        floor_deg=floor,
        unbalance_is_usual=keeps.unbalance_is_usual,
        calibrated_elastic_limit_mpa=limit,
        own_bridle=own_bridle,
    )


def _rank(fitted: Fitted, aim: float, high_mm: float) -> tuple[int, bool, bool, float, bool, float]:
    """Runs before knocks before stops before does not fit; those that stop before 24 h after the others, and those near
    the knock; then by how far the amplitude is off, where within 5 deg counts as on it; among those the ones no higher
    than the present strip first, and by the amplitude dial up that is left a day later, which is reserve too."""
    order = {"running": 0, "unsettled": 1, "knocks": 2, "trips": 2, "stops": 3}
    off = abs(fitted.flat_wound_deg - aim)
    later = fitted.flat_24h_deg
    return (
        order.get(fitted.state, 4),
        fitted.flat_24h_state == State.STOPS.label,
        fitted.knock_margin_deg < KNOCK_MARGIN,
        max(off - AS_NEAR, 0.0) if math.isfinite(off) else math.inf,
        fitted.candidate.height_mm > HIGHER * high_mm,
        -later if math.isfinite(later) else 0.0,
    )


def _judge(movement: Movement, candidate: Candidate, setting: Setting, floor: float) -> Fitted:
    try:
        fitted = candidate.fitted(movement)
    except InputError as error:
        return Fitted(candidate=candidate, state="does not fit", remark=str(error))
    as_is = setting.condition.applied_to(fitted)
    strip, barrel = as_is.movement.mainspring, as_is.movement.barrel
    points = settled_points(points_in(as_is, setting))
    turns = float(as_is.full_wind)
    free = math.pi / 4.0 * (barrel.inner_diameter_mm**2 - barrel.arbor_diameter_mm**2)
    bent = 1.0 / (barrel.arbor_diameter_mm * MM / 2.0) - strip.free_curvature_per_m
    stress = 0.5 * strip.modulus_gpa * GPA * strip.thickness_mm * MM * abs(bent)
    flat_up = replace(setting, positions=("CH",), hours=(0.0,))
    wound, later = points.at("CH"), points.at("CH", 24)
    upright, upright_later = points.at("12H"), points.at("12H", 24)
    flat, state = float(wound.amplitude_deg), str(wound.state)
    knock = math.degrees(float(as_is.movement.escapement.knock_angle()))
    # where it knocks above 400 deg there is no number
    above = flat > floor or (bool(wound.too_far) and not math.isfinite(flat))
    remark = ""
    if state == "running" and knock - flat < KNOCK_MARGIN:
        remark = f"within {KNOCK_MARGIN:g} deg of the knock at full wind"
    held_torque, held_turns = held(as_is.movement)
    share = share_of_slip(movement)
    slip = strip.slip_torque_n_mm
    return Fitted(
        candidate=candidate,
        state=state,
        remark=remark,
        slip_torque_n_mm=math.nan if slip is None else slip,
        held_torque_n_mm=held_torque,
        held_turns=held_turns,
        own_slip_torque_n_mm=share * held(fitted)[0],
        turns=turns,
        reserve_hours=float(reserve(as_is)),
        full_torque_n_mm=float(spr.barrel_torque(strip, barrel, turns)) * 1e3,
        flat_wound_deg=flat,
        vertical_wound_deg=float(upright.amplitude_deg),
        flat_24h_deg=float(later.amplitude_deg),
        vertical_24h_deg=float(upright_later.amplitude_deg),
        vertical_wound_state=str(upright.state),
        flat_24h_state=str(later.state),
        vertical_24h_state=str(upright_later.state),
        floor_hours=hours_to_amplitude(fitted, floor, flat_up) if above else math.nan,
        knock_margin_deg=knock - flat,
        fill=strip.length_mm * strip.thickness_mm / (free / 2.0),
        stress=stress / (strip.elastic_limit_mpa * MPA),
        residual_rad=float(wound.residual_rad),
    )
