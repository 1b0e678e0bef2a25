"""The engine against a second implementation of docs/physics.md, on watches drawn at random; check 38.

tests/independent integrates the equations in time, beat after beat (DOP853), and shares no code with the library; it
does more watches and single beats than these. Here a few, for the page.
"""

from __future__ import annotations

import pytest

import oscsim
from tests.independent import integrator
from tests.independent.designs import Case, plausible_designs

from .book import Ledger
from .sources import INTEGRATOR

#: Of tests/independent, the first few.
CASES = plausible_designs(6, 10)
WHY = "the integrator's tolerance, 1e-13 a step over some hundred beats"


@pytest.mark.check(38)
@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.name} {case.position}")
def test_random_watches(ledger: Ledger, case: Case) -> None:
    got, want = oscsim.settle(case.movement, case.setting).points, integrator.settled(case.coefficients)
    at = (0, 0)
    ledger.says("random watches: state", got.state[at] == want["state"], "as integrated", source=INTEGRATOR)
    if want["amplitude_deg"] is None or want["state"] == "unsettled":
        return
    for what, apart, limit, unit in (
        ("amplitude, relative", got.amplitude_deg[at] / want["amplitude_deg"] - 1.0, 1e-10, ""),
        ("rate", got.rate_s_per_day[at] - want["rate_s_per_day"], 2e-5, "s/day"),
        ("beat error with its sign", got.signed_beat_error_ms[at] - want["beat_error_signed_ms"], 1e-7, "ms"),
        ("apparent amplitude", got.apparent_amplitude_deg[at] - want["apparent_amplitude_deg"], 1e-7, "deg"),
    ):
        ledger.worst(f"random watches: {what}", apart, limit, unit, source=INTEGRATOR, why=WHY)
