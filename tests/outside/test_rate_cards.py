"""Rate cards of 1920 as outside data: W. J. Kleinlein, Rules and Practice for Adjusting Watches, 1920 (public domain).

Check 31. Rates in s/day by dial up and down and pendant up, right, left and down; a pocket watch has its pendant at 12.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import j1

import oscsim
from oscsim.answers.points import SettledPoints
from oscsim.answers.rates import Rates
from oscsim.bench.poise import poise
from oscsim.condition import Condition
from oscsim.slips.readings import Reading, Readings

from .sources import KLEINLEIN, PRACTICE

pytestmark = pytest.mark.check(31)

#: Pendant right: 12 points to the right, so 9 is up.
PLACES = {"DU": "CH", "DD": "FH", "PU": "12H", "PR": "9H", "PL": "3H", "PD": "6H"}
#: Card: rates before and after the work, spread before and after by hand: the fastest less the slowest.
CARDS = {
    "Fig. 17": ({"DU": 2, "DD": 0, "PU": 35}, {"DU": 7, "DD": 7, "PU": 15}, 35.0, 8.0),
    "Fig. 20": (
        {"DU": 1, "DD": 1, "PU": 2, "PR": 18, "PL": -2},
        {"DU": 3, "DD": 4, "PU": 1, "PR": 4, "PL": -4},
        20.0,
        8.0,
    ),
    "p. 69": (
        {"DU": -3, "DD": -5, "PU": 12, "PR": -4, "PL": -6, "PD": -4},
        {"DU": -1, "DD": -1, "PU": -4, "PR": 2, "PL": -3, "PD": 11},
        18.0,
        15.0,
    ),
}
POCKET = oscsim.load("ferryman")
VERTICAL_DEG = 202.0  # section 63


def as_result(card):
    """The card as if our own answer had given it."""
    setting = oscsim.Setting(positions=[PLACES[place] for place in card])
    points = oscsim.settle(POCKET, setting).points
    values = {name: getattr(points, name) for name in SettledPoints.__dataclass_fields__}
    rate = np.array([[float(rate)] for rate in card.values()])
    return Rates(
        movement=POCKET,
        setting=setting,
        points=SettledPoints(**(values | {"rate_s_per_day": rate, "shown_rate_s_per_day": rate})),
        shares={},
    )


def as_readings(card, amplitude_deg):
    return Readings(tuple(Reading(PLACES[p], 0.0, amplitude_deg, float(r)) for p, r in card.items()))


@pytest.mark.parametrize("name", CARDS)
def test_position_spread_is_the_fastest_less_the_slowest(ledger, name):
    before, after, spread_before, spread_after = CARDS[name]
    for word, card, spread in (("before", before, spread_before), ("after", after, spread_after)):
        ledger.value(
            f"{name}, position spread {word} the work: fastest less slowest",
            as_result(card).position_spread_s_per_day[0],
            spread,
            "s/day",
            source=KLEINLEIN.at(name),
            within=1e-9,
            why="his readings: rounding",
        )
    # the work was worth doing
    assert spread_after < spread_before


def test_horizontal_less_vertical_of_a_card(ledger):
    # by hand: (-3 - 5)/2 less (12 - 4 - 6 - 4)/4
    card = CARDS["p. 69"][0]
    ledger.value(
        "p. 69, horizontal less vertical, by hand",
        as_result(card).horizontal_less_vertical_s_per_day[0],
        -3.5,
        "s/day",
        source=KLEINLEIN.at("p. 69"),
        within=1e-9,
        why="his readings: rounding",
    )


def test_figure_17_has_too_few_verticals_for_a_direction():
    with pytest.raises(oscsim.InputError, match="missing are 3H, 6H, 9H"):
        poise(POCKET, as_readings(CARDS["Fig. 17"][0], VERTICAL_DEG))


def test_figure_20_is_a_heavy_point_and_was_taken_away(ledger):
    before, after = (poise(POCKET, as_readings(card, 180.0)) for card in CARDS["Fig. 20"][:2])
    # below the node what hangs low gains: most with 9 up, when 3 hangs low, some with 12 up: 6 hangs low
    vector = before.vector_ug_cm
    assert before.told
    assert vector[1] > 0.0
    # by hand, three rates and no other: half of right less left along 3-9, the mean of both less up along 12-6
    unit = 86400.0 * 1e-11 * 9.80665 / (100e-10 * (math.pi * 5.0) ** 2) * j1(math.pi) / math.pi
    by_hand = np.array([0.5 * (18.0 - 2.0) - 2.0, 0.5 * (18.0 + 2.0)]) / unit
    for axis, ours, outside in zip(("12", "3"), vector, by_hand, strict=True):
        ledger.value(
            f"Fig. 20 before poising, 180°: moment towards {axis}, against three rates by hand",
            ours,
            outside,
            "µg·cm",
            source=KLEINLEIN.at("Fig. 20"),
            relative=0.03,
            why="by hand without the escapement's part, and at 180° exactly",
        )
    left = np.hypot(*after.vector_ug_cm) / np.hypot(*vector)
    ledger.says(
        "Fig. 20 after poising, what is left of the moment",
        left < 0.5,
        "the work took the fault away",
        f"{100 * left:.0f} %",
        source=KLEINLEIN.at("Fig. 20"),
    )


def test_page_69_is_none(ledger):
    # cured by moving the hairspring's pinning point: no heavy point has opposite positions on the same side
    found = poise(POCKET, as_readings(CARDS["p. 69"][0], VERTICAL_DEG))
    ledger.says(
        "p. 69, is it a heavy point?",
        not found.fits and "hairspring" in " ".join(found.cautions),
        "cured by moving the hairspring's pinning point",
        "no: the aid says to look at the hairspring",
        source=KLEINLEIN.at("p. 69"),
    )


def test_kleinlein_63_by_the_engine(ledger):
    # Section 63: a vertical amplitude of about 202 deg, the heavy point low with the pendant up: +35 s/day there
    # against dial up, +8 after poising. The engine's pocket watch, let down until it swings so far.
    def swing(hours):
        setting = oscsim.Setting(positions="12H", hours=hours, condition=Condition(unbalance_ug_cm=0.0))
        return oscsim.settle(POCKET, setting).points.amplitude_deg[0, 0] - VERTICAL_DEG

    hours = brentq(swing, 5.0, 24.0)

    def against_dial_up(unbalance, position="12H"):
        condition = Condition(unbalance_ug_cm=unbalance, heavy_point_deg=180.0)
        setting = oscsim.Setting(positions=("CH", position), hours=hours, condition=condition)
        flat, up = oscsim.settle(POCKET, setting).points.rate_s_per_day[:, 0]
        return up - flat

    before = brentq(lambda unbalance: against_dial_up(unbalance) - 35.0, 0.0, 1000.0)
    after = brentq(lambda unbalance: against_dial_up(unbalance) - 8.0, 0.0, 1000.0)
    # the sign: low with the pendant up it gains there, and loses as much with the pendant down
    poised = against_dial_up(0.0)
    ledger.value(
        "§63, the same heavy point with the pendant down, against poised",
        against_dial_up(before, "6H") - poised,
        poised - 35.0,
        "s/day",
        source=KLEINLEIN.at("§63"),
        relative=0.02,
        why="opposite positions are opposite to first order in the unbalance",
    )
    # the size: 27 s/day by derivation, 86400 (G/k)(J₁(A)/A), k from 100 mg·cm² and 18,000 beats an hour
    stiffness, swung = 100e-10 * (math.pi * 5.0) ** 2, math.radians(VERTICAL_DEG)
    by_hand = 27.0 / (86400.0 * j1(swung) / swung) * stiffness / (1e-11 * 9.80665)
    ledger.value(
        "§63, +35 s/day at 202°, +8 after poising: moment taken away, against 86400 (G/k)(J₁(A)/A) by hand",
        before - after,
        by_hand,
        "µg·cm",
        source=KLEINLEIN.at("§63"),
        relative=0.01,
        why="the unbalance changes the amplitude a little",
    )
    # plausible: what was taken away is some tenths of a milligram at the rim of a balance of 320 mg, part of a screw
    # (common practice: screws of such balances weigh a few milligrams)
    balance = POCKET.balance
    gyration_cm = math.sqrt(balance.inertia_mg_cm2 / balance.mass_mg)
    ledger.band(
        "§63, that moment as a mass at the balance's radius of gyration",
        (before - after) * 1e-3 / gyration_cm,
        0.1,
        1.0,
        "mg",
        source=PRACTICE,
        why="part of a screw of some milligrams",
    )
