"""What a diagnosis says: the verdict, every value read against its band, the causes and the next reading."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from oscsim.answers.result import OneMovement
from oscsim.bench.fitting import Fit
from oscsim.bench.next_reading import Next
from oscsim.slips.readings import Readings

#: Evidence, in nats, above which a cause counts as found, and by which two must differ to be told apart: 10 to 1,
#: strong after H. Jeffreys, Theory of Probability, 1961.
FOUND = math.log(10.0)


@dataclass(frozen=True)
class Cause:
    """One cause: estimate with its 90 % interval in ``unit`` beside all the others, the evidence for it in nats, and
    the causes that these readings cannot tell from it; direction_deg: of the heavy point; predicts: what it says of the
    next reading; alone: the estimate with its 90 % interval should it be this cause and no other fault; less: of want
    of poise and out of beat there is less than in the design, which is no fault."""

    name: str
    estimate: float
    low: float
    high: float
    unit: str
    evidence: float
    indistinguishable_from: tuple[str, ...]
    unlearnt: bool
    direction_deg: float | None
    predicts: dict[str, float]
    alone: float
    alone_low: float
    alone_high: float
    less: bool = False

    @property
    def found(self) -> bool:
        """Whether the evidence is strong, and it is for a fault."""
        return self.evidence > FOUND and not self.less

    def to_dict(self) -> dict[str, Any]:
        """Everything, for JSON."""
        found = {key: getattr(self, key) for key in self.__dataclass_fields__}
        if self.direction_deg is None:
            del found["direction_deg"]
        return found


@dataclass(frozen=True)
class Judged:
    """One value read: the band (low, high) in which 90 % of sound examples would be read, its middle ``expected``,
    what the fit of all causes predicts, the residual against that, and the weight of a doubted reading."""

    position: str
    hours: float
    kind: str
    value: float
    low: float
    high: float
    expected: float
    predicted: float
    residual: float
    weight: float

    @property
    def judgement(self) -> str:
        """inside, low or high."""
        return "low" if self.value < self.low else "high" if self.value > self.high else "inside"

    @property
    def outside_by(self) -> float:
        """How far outside the band, in the value's unit; 0 inside."""
        return max(self.low - self.value, self.value - self.high, 0.0)


@dataclass(frozen=True, repr=False)
class Diagnose(OneMovement):
    """Verdict on one movement, ``healthy`` None where the design is a sketch, which judges none; ``causes`` in order of
    evidence, ``following`` the most telling reading.

    deficit_deg: mean departure of the amplitudes from the design's, and its standard deviation; floor_deg: least flat
    amplitude, true not apparent, at which the positions keep together; floor_is_least: it is only the lowest computed;
    margin_deg, margin_hours: what is left above it dial up, fully wound and in hours of running.
    """

    readings: Readings
    healthy: bool | None
    verdict: str
    judged: tuple[Judged, ...]
    causes: tuple[Cause, ...]
    following: Next
    deficit_deg: float
    deficit_sd_deg: float
    floor_deg: float
    floor_is_least: bool
    margin_deg: float
    margin_hours: float
    fit: Fit
    robust: bool
    tolerance_s_per_day: float

    @property
    def next_measurement(self) -> dict[str, Any]:
        """The most telling reading: position, hours, what to read, and why."""
        return self.following.to_dict()

    @property
    def found(self) -> Cause | None:
        """The cause with most evidence, regulation apart, if any has enough."""
        told = [cause for cause in self.causes if cause.found and cause.name != "regulation"]
        return told[0] if told else None

    @property
    def converged(self) -> bool:
        """Whether the fit of all causes converged."""
        return self.fit.converged

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "position": j.position,
                "hours": j.hours,
                "read": j.kind,
                "value": j.value,
                "low": j.low,
                "high": j.high,
                "expected": j.expected,
                "judgement": j.judgement,
                "outside_by": j.outside_by,
                "predicted": j.predicted,
                "residual": j.residual,
                "weight": j.weight,
            }
            for j in self.judged
        ]

    def settings(self) -> dict[str, Any]:
        asked = {"robust": self.robust, "tolerance_s_per_day": self.tolerance_s_per_day}
        return self.readings.settings() | asked

    def body(self) -> dict[str, Any]:
        return {
            "healthy": self.healthy,
            "verdict": self.verdict,
            "readings": self.rows(),
            "causes": [cause.to_dict() for cause in self.causes],
            "next_measurement": self.next_measurement,
            "deficit_deg": self.deficit_deg,
            "deficit_sd_deg": self.deficit_sd_deg,
            "floor_deg": self.floor_deg,
            "floor_is_least": self.floor_is_least,
            "margin_deg": self.margin_deg,
            "margin_hours": self.margin_hours,
            "converged": self.converged,
        }
