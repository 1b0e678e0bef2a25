"""Symbols of ISO 3158, limits of ISO 3159, standard gravity; checks 23, 24 and 35."""

from __future__ import annotations

import math

import pytest

import oscsim
from oscsim import POSITIONS, units
from oscsim.operating import operating_points

from .book import Ledger
from .designs import DESIGNS
from .sources import CGPM, ISO_3158, ISO_3159

#: Symbol: words, tilt of the dial from horizontal, deg, and the dial hour that is up, deg from 12.
ISO = {
    "CH": ("dial up", 0.0, None),
    "FH": ("dial down", 180.0, None),
    "12H": ("12 up", 90.0, 0.0),
    "3H": ("3 up", 90.0, 90.0),
    "6H": ("6 up", 90.0, 180.0),
    "9H": ("9 up", 90.0, 270.0),
}


@pytest.mark.check(24)
@pytest.mark.parametrize("symbol", ISO)
def test_symbols(ledger: Ledger, symbol: str) -> None:
    words, tilt, up = ISO[symbol]
    place = POSITIONS[symbol]
    same = (place.words, round(math.degrees(place.tilt), 9)) == (words, tilt)
    hour = math.degrees(place.hour_up)
    ledger.says(
        f"{symbol}",
        same and (math.isnan(hour) if up is None else abs(hour - up) < 1e-9),
        words,
        f"{place.words}, dial tilted by {math.degrees(place.tilt):g}°",
        source=ISO_3158,
    )


@pytest.mark.check(24)
@pytest.mark.parametrize("symbol", [s for s in ISO if s.endswith("H") and s[0].isdigit()])
def test_where_the_heavy_point_hangs(ledger: Ledger, symbol: str) -> None:
    # A heavy point on the hour opposite the one that is up hangs straight down: φ = 0.
    opposite = (math.degrees(POSITIONS[symbol].hour_up) + 180.0) % 360.0
    movement = DESIGNS["fast"].with_({"balance.unbalance_ug_cm": 1.0, "balance.heavy_point_deg": opposite})
    phi = operating_points(movement, oscsim.Setting(positions=symbol)).oscillators.heavy[0]
    ledger.value(
        f"{symbol}: direction of a heavy point on the opposite hour, from straight down",
        math.degrees(math.remainder(phi, 2 * math.pi)),
        0.0,
        "deg",
        source=ISO_3158,
        within=1e-12,
        why="the hour named is up: rounding",
    )
    quarter = movement.with_({"balance.heavy_point_deg": (opposite + 90.0) % 360.0})
    phi = operating_points(quarter, oscsim.Setting(positions=symbol)).oscillators.heavy[0]
    ledger.value(
        f"{symbol}: direction of a heavy point a quarter clockwise of it",
        math.degrees(math.remainder(phi, 2 * math.pi)),
        90.0,
        "deg",
        source=ISO_3158,
        within=1e-12,
        why="clockwise seen from the dial: rounding",
    )


@pytest.mark.check(23)
def test_chronometer_limits(ledger: Ledger) -> None:
    for what, limits, why in (
        (
            "mean daily rate, over and under 20 mm",
            "−4 to +6 and −5 to +8 s/day",
            "rates and their mean are computed, but there is no verdict on what was not tested for 15 days",
        ),
        (
            "mean and greatest variation",
            "2 and 5; 3.4 and 7 s/day",
            "the model's days repeat exactly: there is no variation",
        ),
        (
            "horizontal less vertical",
            "−6 to +8 and −8 to +10 s/day",
            "computed as a number (check 31), not judged",
        ),
        ("greatest deviation", "10 and 15 s/day", "needs the variation from day to day"),
        (
            "thermal coefficient, resumption",
            "±0.6, ±5 and ±0.7, ±6 s/day",
            "the coefficient is an input (check 26)",
        ),
    ):
        ledger.not_reached(what, limits, source=ISO_3159, why=why)


@pytest.mark.check(35)
def test_standard_gravity(ledger: Ledger) -> None:
    ledger.value("g₀", units.G0, 9.80665, "m/s²", source=CGPM, relative=1e-15, why="a definition")
    movement = DESIGNS["fast"].with_({"balance.unbalance_ug_cm": 1.0})
    points = operating_points(movement, oscsim.Setting(positions="12H"))
    ledger.value(
        "torque of 1 µg·cm across the vertical",
        1e11 * float(points.oscillators.gravity[0] * points.stiffness[0]),
        9.80665,
        "1e-11 N·m",
        source=CGPM,
        relative=1e-12,
        why="a definition: rounding",
    )
