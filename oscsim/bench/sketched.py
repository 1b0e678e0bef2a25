"""What a sketch is: the design, where each number comes from, what to expect of it and how surely."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from oscsim.answers.result import OneMovement
from oscsim.movement import Movement
from oscsim.slips.slip import Slip
from oscsim.tables import quantity_of
from oscsim.typical.bands import FOLLOWS
from oscsim.typical.families import Family
from oscsim.typical.numbers import usual_of


def unusual(slip: Slip) -> list[str]:
    """Numbers of the slip outside the bands of ``oscsim.typical.numbers``: 'name value unit, usual low to high'."""
    found = []
    for name, value in slip.given.items():
        band, info = usual_of(name), quantity_of(Movement, name)
        if band is not None and info is not None and not band.holds(value):
            found.append(f"{name} {value:g} {info.unit}, usual {band.low:g} to {band.high:g}")
    hours, band = slip.facts.get("reserve_hours"), FOLLOWS["hours_wound"]
    if hours is not None and not band.holds(hours):
        found.append(f"a reserve of {hours:g} h, usual {band.low:g} to {band.high:g}")
    return found


@dataclass(frozen=True)
class Number:
    """One number of a sketch, or a word or a list of counts: source 'given' or 'filled', the range of 95 of 100 such
    movements (NaN for counts and words), what it was before an amplitude moved it, and by how many degrees half its
    range moves the amplitude fully wound, dial up and 12 up (NaN where it moves the rates alone)."""

    name: str
    unit: str
    value: Any
    source: str
    low: float
    high: float
    before: float | None
    moves_flat_deg: float
    moves_vertical_deg: float
    reason: str


@dataclass(frozen=True)
class Expected:
    """Amplitude to be expected at a position and hour: the sketch's own, 90 % of such movements, and the same band
    before any reading was used. NaN where the sketch has no number; an end of a band is -inf where it stops and inf
    where it knocks beyond 400 deg, both null in JSON."""

    position: str
    hours: float
    state: str
    amplitude_deg: float
    low_deg: float
    high_deg: float
    family_low_deg: float
    family_high_deg: float
    residual_rad: float


@dataclass(frozen=True)
class Held:
    """An amplitude read, what 90 % of the family would have shown (as read), and what the sketch shows, all deg."""

    position: str
    hours: float
    read_deg: float
    family_low_deg: float
    family_high_deg: float
    sketch_deg: float

    @property
    def outside(self) -> bool:
        """Whether the reading lies outside what nine in ten of the family would show."""
        return self.read_deg < self.family_low_deg or self.read_deg > self.family_high_deg


@dataclass(frozen=True, repr=False, kw_only=True)
class Sketch(OneMovement):
    """``movement`` is the complete design with its ``[tolerance]`` and the slip that made it; families: how probable
    each is; lift_said: which lift angle was taken for which, '' where both were given; usual_deg: the family's usual
    amplitude where it stood in for a strip that was not measured."""

    slip: Slip
    family: Family
    families: Mapping[str, float]
    why: str
    lift_said: str
    numbers: tuple[Number, ...]
    usual_deg: float | None
    expected: tuple[Expected, ...]
    held: tuple[Held, ...]

    @property
    def filled(self) -> tuple[Number, ...]:
        """The filled numbers, those that move the amplitude most first."""
        return tuple(n for n in self.numbers if n.source == "filled")

    @property
    def unusual(self) -> list[str]:
        """What was given and lies outside its usual band, in words."""
        return unusual(self.slip)

    def rows(self) -> list[dict[str, Any]]:
        return [dict(vars(n)) for n in self.numbers]

    def settings(self) -> dict[str, Any]:
        """What the bench knew: numbers and facts given, family and winding if told, own spreads, readings."""
        slip = self.slip
        return {
            "given": dict(slip.given),
            "facts": dict(slip.facts),
            "family": slip.family,
            "winding": slip.winding,
            "own_spreads": {spread.name: spread.to_table() for spread in slip.own},
            **(slip.readings.settings() if slip.readings is not None else {"readings": None}),
        }

    def body(self) -> dict[str, Any]:
        return {
            "family": self.family.name,
            "family_why": self.why,
            "families": dict(self.families),
            "lift_angle_said": self.lift_said,
            "usual_amplitude_deg": self.usual_deg,
            "amplitude": [dict(vars(one)) for one in self.expected],
            "readings": [dict(vars(one)) | {"outside": one.outside} for one in self.held],
            "unusual": self.unusual,
            "numbers": self.rows(),
            "file": self.file_text(),
        }
