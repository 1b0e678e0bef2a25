"""Symbols of ISO 3158, limits of ISO 3159, standard gravity; checks 23, 24 and 35."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

import oscsim
from oscsim import POSITIONS, units
from oscsim.answers.rates import Rates, rates
from oscsim.operating import operating_points
from oscsim.use.judging import CATEGORIES, CRITERIA
from oscsim.use.trial import criteria_of

from .book import Ledger
from .designs import DESIGNS
from .sources import CGPM, DERIVED, ISO_3158, ISO_3159, LABORATORY, TEN_DAYS

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


#: Ten daily rates of a test under ISO 3159, two days in each of its five positions, s/day; their mean is given as +5.5.
DAYS = {"6H": (0.3, 1.3), "3H": (-0.7, -1.7), "9H": (8.2, 6.1), "FH": (11.0, 10.9), "CH": (9.9, 9.5)}


@pytest.mark.check(23)
def test_mean_daily_rate(ledger: Ledger) -> None:
    setting = oscsim.Setting(positions=tuple(DAYS), hours=(0.0, 24.0))
    points = oscsim.settle(DESIGNS["fast"], setting).points
    read = Rates(
        movement=DESIGNS["fast"],
        setting=setting,
        points=replace(
            points,
            rate_s_per_day=np.array(list(DAYS.values())),
            shown_rate_s_per_day=np.array(list(DAYS.values())),
        ),
        shares={},
    )
    ledger.value(
        "mean daily rate: mean over the five positions, two days of a published test",
        float(read.mean_rate_s_per_day.mean()),
        5.5,
        "s/day",
        source=TEN_DAYS,
        within=0.05,
        why="the last digit given",
    )


@pytest.mark.check(23)
@pytest.mark.parametrize("name", DESIGNS)
def test_thermal_variation(ledger: Ledger, name: str) -> None:
    movement = DESIGNS[name].with_({"balance.temperature_s_per_day_c": 0.6, "balance.oil_share": 0.0})
    cold, warm = (
        rates(movement, oscsim.Setting(positions="CH", temperature_c=t)).points.rate_s_per_day[0, 0]
        for t in (8.0, 38.0)
    )
    ledger.value(
        "thermal variation C, dial up: rate at 38 °C less that at 8 °C over 30 °C, design with 0.6 s/day per °C",
        (warm - cold) / 30.0,
        0.6,
        "s/day per °C",
        source=ISO_3159,
        relative=1e-3,
        why="the escapement's part changes with the stiffness; 0.6 is the limit of category 1",
    )


#: Criterion: its limits in category 1 (over 20 mm) and 2, s/day, C s/day per °C; a single number is the most.
LIMITS: dict[str, tuple[tuple[float, ...], tuple[float, ...]]] = {
    "M": ((-4.0, 6.0), (-5.0, 8.0)),
    "V": ((2.0,), (3.4,)),
    "Vmax": ((5.0,), (7.0,)),
    "D": ((-6.0, 8.0), (-8.0, 10.0)),
    "P": ((10.0,), (15.0,)),
    "C": ((-0.6, 0.6), (-0.7, 0.7)),
    "R": ((-5.0, 5.0), (-6.0, 6.0)),
}


@pytest.mark.check(23)
@pytest.mark.parametrize("name", LIMITS)
def test_chronometer_limits(ledger: Ledger, name: str) -> None:
    words, unit = CRITERIA[name]
    for category, limits in enumerate(LIMITS[name], start=1):
        ours = CATEGORIES[category][name]
        ledger.value(
            f"{words}, {name}, category {category}: limits",
            [side for side in ours if side is not None],
            list(limits),
            unit,
            source=LABORATORY,
            within=1e-12,
            why="a definition",
        )


@pytest.mark.check(23)
def test_which_way_d_is_taken(ledger: Ledger) -> None:
    # Two days each in 6H, 3H, 9H, FH, CH: 6H gains 8.5 more than CH. One print passes it, the other fails it.
    days = np.zeros(15)
    days[:2] = 8.5
    found = criteria_of(days)
    ledger.says(
        "the sign of D, on which print disagrees: 6H less CH is judged, CH less 6H is told beside it",
        (found["D"] == 8.5) & (found["D_other"] == -8.5),
        "6H less CH in one print, CH less 6H in the other; a watch between the two limits passes by one alone",
        "both are given",
        source=LABORATORY,
    )


@pytest.mark.check(23)
def test_variation_that_noise_alone_makes(ledger: Ledger) -> None:
    # E|x - y| of two normal days is 2σ/√π
    noise = np.random.default_rng(23).normal(0.0, 1.0, (40_000, 15))
    ledger.value(
        "mean variation V of a watch whose days differ by noise alone, over the noise",
        float(criteria_of(noise)["V"].mean()),
        2.0 / math.sqrt(math.pi),
        source=DERIVED,
        within=0.01,
        why="40,000 trials drawn: four standard errors are 0.008",
    )
    (told,) = (one for one in oscsim.trial(DESIGNS["fast"]).criteria if one.name == "V")
    ledger.value(
        "the same as a trial tells it for noise of 1 s/day, a whole watch",
        told.value,
        1.128,
        "s/day",
        source=DERIVED,
        within=6e-4,
        why="the last digit given; the model's own days repeat",
    )


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
