"""Readings taken at the bench, and what was found beside them; reading_files.py reads and writes their files."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any

from oscsim.errors import InputError
from oscsim.fields import Quantity
from oscsim.parts.balance import REFERENCE_C
from oscsim.setting import LIFT_ANGLE
from oscsim.units import POSITIONS

#: What may be read, with its range; a value outside is more likely a wrong unit than a watch.
READ = {
    "amplitude_deg": Quantity("deg", "", "amplitude shown by the instrument", 30, 400),
    "rate_s_per_day": Quantity("s/day", "", "rate", -3600, 3600),
    "beat_error_ms": Quantity("ms", "", "beat error", 0, 50),
}
#: Standard uncertainties (one sigma) of a bench reading when the file gives none (common practice without source).
UNCERTAINTY = {"amplitude_deg": 5.0, "rate_s_per_day": 2.0, "beat_error_ms": 0.1}
#: How surely an instrument knows the lift angle it was told, deg, and one whose lift angle nobody knows.
LIFT_TOLD, LIFT_UNKNOWN = 1.0, 4.0


@dataclass(frozen=True)
class Reading:
    """One row: position (ISO 3158 symbol), hours since full wind, what was read (NaN where blank) and how surely.

    stops: it stood there (amplitude, rate and beat error NaN); turns_let_down: turns of the barrel let down before it
    was read; times: how often the place was read, of which the values are the means. Uncertainties are those of one
    reading.
    """

    position: str
    hours: float
    amplitude_deg: float = math.nan
    rate_s_per_day: float = math.nan
    beat_error_ms: float = math.nan
    amplitude_deg_uncertainty: float = UNCERTAINTY["amplitude_deg"]
    rate_s_per_day_uncertainty: float = UNCERTAINTY["rate_s_per_day"]
    beat_error_ms_uncertainty: float = UNCERTAINTY["beat_error_ms"]
    temperature_c: float = REFERENCE_C
    stops: bool = False
    turns_let_down: float = 0.0
    times: int = 1


@dataclass(frozen=True)
class Looked:
    """A number that can be seen or measured beside the readings: its range and the usual standard uncertainty, a share
    of the value or in its unit."""

    info: Quantity
    share: float = 0.0
    own: float = 0.0

    def uncertainty_of(self, value: float) -> float:
        """The usual standard uncertainty of a value, in its unit."""
        return self.own or self.share * abs(value)


#: What may be looked at, by key of the table [looked] (uncertainties common practice without source).
LOOKED = {
    "lock_deg": Looked(Quantity("deg", "", "whole lock by eye, as a lever angle", 0.1, 10), own=0.3),
    "barrel_torque_n_mm": Looked(
        Quantity("N·mm", "", "torque at the barrel's arbor, fully wound", 0.01, 2000), share=0.05
    ),
    "escape_torque_un_m": Looked(
        Quantity("µN·m", "", "torque at the escape wheel, fully wound", 0.01, 1000), share=0.10
    ),
    "balance_mass_mg": Looked(
        Quantity("mg", "", "balance with staff and roller, weighed", 0.1, 10000), share=0.02
    ),
    "usual_amplitude_deg": Looked(
        Quantity("deg", "", "what such movements usually show dial up, wound", 120, 345), own=10.0
    ),
}
#: Pivots that may be seen worn or not.
WORN = ("pivot_sides_worn", "pivot_upper_worn", "pivot_lower_worn")


@dataclass(frozen=True)
class Seen:
    """A value with its standard uncertainty, both in the unit of its name."""

    value: float
    uncertainty: float


@dataclass(frozen=True)
class RimWeights:
    """Two equal weights put on the rim opposite each other: mass of each, radius, and by how much the rate changed."""

    mass_mg: float
    radius_mm: float
    rate_change_s_per_day: float
    uncertainty_s_per_day: float = 2.0


@dataclass(frozen=True)
class Swing:
    """The balance swinging out by itself, lever removed: swing (deg) after counted periods."""

    position: str
    periods: tuple[float, ...]
    amplitude_deg: tuple[float, ...]
    amplitude_deg_uncertainty: float = 5.0


@dataclass(frozen=True)
class Sister:
    """Readings of another movement of the kind that is known to be in order."""

    readings: Readings
    name: str = ""
    beats_per_hour: float | None = None


@dataclass(frozen=True)
class Findings:
    """What was found beside the readings of a movement: numbers looked at or measured by key of ``LOOKED``, pivots seen
    worn (True) or good (False) by key of ``WORN``, weights on the rim, free swings, sound sisters."""

    looked: Mapping[str, Seen] = field(default_factory=dict)
    worn: Mapping[str, bool] = field(default_factory=dict)
    rim_weights: tuple[RimWeights, ...] = ()
    swings: tuple[Swing, ...] = ()
    sisters: tuple[Sister, ...] = ()

    def __bool__(self) -> bool:
        return any(getattr(self, f.name) for f in fields(self))

    def settings(self) -> dict[str, Any]:
        """Everything found, plain, the unit in every key."""
        return {
            "looked": {name: asdict(seen) for name, seen in self.looked.items()} | dict(self.worn),
            "rim_weights": [asdict(one) for one in self.rim_weights],
            "swings": [asdict(one) for one in self.swings],
            "sisters": [
                {"name": one.name, "beats_per_hour": one.beats_per_hour, **one.readings.settings()}
                for one in self.sisters
            ],
        }


@dataclass(frozen=True)
class About:
    """What the workshop's report says of the job: text, empty where not given."""

    date: str = ""
    job: str = ""
    name: str = ""
    remarks: str = ""

    def __bool__(self) -> bool:
        return any(getattr(self, f.name) for f in fields(self))


@dataclass(frozen=True)
class Readings:
    """Readings of one movement. lift_angle_deg: what the instrument was told, None the design's own, and how surely;
    findings: what else was found on this movement; about: the job.

    Raises InputError without readings, and for a place that is given twice.
    """

    rows: tuple[Reading, ...]
    lift_angle_deg: float | None = None
    source: str = "readings"
    lift_angle_uncertainty_deg: float = LIFT_TOLD
    findings: Findings = Findings()
    about: About = About()

    def settings(self) -> dict[str, Any]:
        """What an answer says of the readings it was given, plain: every row, the lift angle told, what was found."""
        told = {
            "readings_source": self.source,
            "lift_angle_deg": self.lift_angle_deg,
            "lift_angle_uncertainty_deg": self.lift_angle_uncertainty_deg,
            "readings": [asdict(row) for row in self.rows],
        }
        more = {"findings": self.findings.settings()} if self.findings else {}
        return told | more | ({"about": asdict(self.about)} if self.about else {})

    def __post_init__(self) -> None:
        if not self.rows:
            raise InputError(f"{self.source}: no readings")
        seen: set[tuple[str, float, float]] = set()
        for row in self.rows:
            place = (row.position, row.hours, row.turns_let_down)
            if place in seen:
                raise InputError(f"{self.source}: {row.position} at {row.hours:g} h is given twice")
            seen.add(place)
        if self.lift_angle_deg is not None:
            LIFT_ANGLE.check("lift_angle_deg", self.lift_angle_deg)


def missing_places(readings: Readings) -> list[str]:
    """Positions in which nothing was read."""
    return [symbol for symbol in POSITIONS if symbol not in {row.position for row in readings.rows}]
