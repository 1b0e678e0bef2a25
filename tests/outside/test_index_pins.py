"""Index pins with play: the piecewise-linear hairspring against quadrature and integration in time; check 10.

"By derivation": the potential is two or three parabolas; scipy's quad integrates over its energy, and DOP853 follows
the motion piece by piece (tests/theory/swing.py), with the pins' contact angles as located events.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

import oscsim
from oscsim.answers.isochronism import isochronism
from oscsim.answers.rates import rates
from oscsim.motion.arcs import free_arc
from oscsim.motion.contact import push
from oscsim.motion.free import free_period
from oscsim.motion.rules import LADDER, collocation
from tests.theory.swing import half_swing

from .designs import DESIGNS, free, free_rate
from .sources import DERIVED, KLEINLEIN

pytestmark = pytest.mark.check(10)

RULE = LADDER[3]
#: Rates in s/day of check 10: stiffness loss 1 %, play 20 degrees to either side.
EXACT = {90: -121.31, 150: -73.16, 220: -49.95, 300: -36.65}
#: Contact angles, deg: one pin, either side; off-centre; both on one side of the dead point; hardly any play.
PINS = [(-math.inf, 15), (-15, math.inf), (-10, 30), (-45, 5), (8, 30), (-40, -12), (-0.5, 0.7)]
SHARE = 0.01


def pins(low_deg, high_deg):
    return {"pins_share": SHARE, "pins_low": math.radians(low_deg), "pins_high": math.radians(high_deg)}


def pull(x, low, high):
    """Torque of the hairspring towards the dead point over k; linear from corner to corner."""
    return x - SHARE * (min(max(x, low), high) - min(max(0.0, low), high))


def quarter(turn, low, high):
    """Time in 1/ω between a turning point at ``turn`` > 0 and the dead point, by scipy's quad: x = turn cos χ."""
    corners = [edge for edge in (low, high) if 0.0 < edge < turn]

    def slowness(chi):
        x = turn * math.cos(chi)
        edges = [x, *(edge for edge in corners if edge > x), turn]
        gained = sum(pull((a + b) / 2, low, high) * (b - a) for a, b in pairwise(edges))
        if len(edges) == 2:  # turn - x without its rounding
            gained = pull((x + turn) / 2, low, high) * 2 * turn * math.sin(chi / 2) ** 2
        return turn * math.sin(chi) / math.sqrt(2 * gained)

    ends = [0.0, *sorted(math.acos(edge / turn) for edge in corners), math.pi / 2]
    return sum(quad(slowness, a, b, epsabs=1e-12, epsrel=1e-12)[0] for a, b in pairwise(ends))


@pytest.mark.parametrize(("degrees", "rate"), EXACT.items())
def test_exact_values(ledger, degrees, rate):
    ledger.value(
        f"index pins, 1 % of the stiffness, play of 20° each way, free balance, {degrees}°",
        free_rate(degrees, **pins(-20, 20)),
        rate,
        "s/day",
        source=DERIVED,
        within=5e-3,
        why="the last digit given",
    )


@pytest.mark.parametrize("edges", [(-20, 20), *PINS])
@pytest.mark.parametrize("degrees", [12.0, 90.0, 220.0, 330.0])
def test_against_quadrature(ledger, edges, degrees):
    low, high = np.radians(edges)
    turn = math.radians(degrees)
    time = quarter(turn, low, high) + quarter(turn, -high, -low)
    ledger.worst(
        "index pins, eight settings, 12° to 330°, rate of the free balance against quadrature of the energy",
        free_rate(degrees, **pins(*edges)) - 86400 * (math.pi / time - 1),
        1e-6,
        "s/day",
        source=DERIVED,
        why="both in closed form or to rounding; a period's rounding is some 1e-11 s/day",
    )


def acceleration(low, high, damping=0.0, dry=0.0, torque=0.0, between=()):
    """x'' for half_swing, whose piece counts the corners passed; ``torque`` acts within ``between``."""
    cuts = sorted({edge for edge in (low, high, *between) if math.isfinite(edge)})
    rest = min(max(0.0, low), high)

    def at(x, v, piece):
        middle = ([-9.0, *cuts][piece] + [*cuts, 9.0][piece]) / 2
        leaning = low if middle < low else high if middle > high else x
        pushed = torque if between and between[0] < middle < between[1] else 0.0
        return -x + SHARE * (leaning - rest) - damping * v - dry + pushed

    return at, tuple(cuts)


@pytest.mark.parametrize("edges", PINS)
def test_swing_with_drag_against_integration(ledger, edges):
    # One half-swing with both drags from its two turning points: engine and DOP853 must meet at the same angle.
    low, high = np.radians(edges)
    start, damping, dry = 3.9, 1 / 150, 0.004
    flow, cuts = acceleration(low, high, damping, dry)
    swing = half_swing(flow, -start, cuts)
    osc = free(viscous=damping, dry=dry, **pins(*edges))
    for meeting in np.radians([-31.0, 0.0, 22.0]):
        coming = free_arc(osc, np.array([start]), np.array([meeting]), RULE)
        going = free_arc(osc, np.array([swing.end]), np.array([meeting]), RULE, backwards=True)
        assert coming.speed_squared == pytest.approx(going.speed_squared, rel=1e-10)
        ledger.worst(
            "index pins with drag and dry friction, time of a half-swing against DOP853, relative",
            (coming.time + going.time)[0] / swing.time - 1,
            1e-10,
            source=DERIVED,
            why="DOP853 at a relative tolerance of 1e-13",
        )


@pytest.mark.parametrize("edges", PINS)
def test_period_with_drag_against_integration(edges):
    # Kept going at the dead point: of both half-swings the quarter in, and the quarter out as one in against time.
    low, high = np.radians(edges)
    start, damping, dry = 3.9, 1 / 150, 0.004
    quarters = []
    for drags in ((damping, dry), (-damping, -dry)):
        for low_high in ((low, high), (-high, -low)):
            flow, cuts = acceleration(*low_high, *drags, between=(0.0, 0.0))
            quarters.append(half_swing(flow, -start, cuts).crossings[cuts.index(0.0)])
    osc = free(viscous=damping, dry=dry, **pins(*edges))
    assert free_period(osc, np.array([start]))[0] == pytest.approx(sum(quarters), rel=1e-10)


@pytest.mark.parametrize("edges", PINS)
def test_contact_against_integration(edges):
    # A contact phase that crosses the corners: torque 0.02 k from -35 to 33 degrees.
    low, high = np.radians(edges)
    start, a, b = 3.9, *np.radians([-35.0, 33.0])
    flow, cuts = acceleration(low, high, torque=0.02, between=(a, b))
    swing = half_swing(flow, -start, cuts)
    osc, nodes = free(**pins(*edges)), collocation(RULE.contact_nodes)
    coming = free_arc(osc, np.array([start]), np.array([a]), RULE)
    w, angles = coming.speed_squared, (np.array([a]), np.array([b - a]))
    pushed = push(osc, *angles, w, 1.0, 0.02, nodes, RULE.contact_sweeps)
    going = free_arc(osc, np.array([swing.end]), np.array([b]), RULE, backwards=True)
    assert pushed.speed_squared == pytest.approx(going.speed_squared, rel=1e-10)
    assert (coming.time + pushed.time + going.time)[0] == pytest.approx(swing.time, rel=1e-10)


def with_pins(movement, low=-20.0, high=20.0):
    table = {"stiffness_share": SHARE, "low_contact_deg": low, "high_contact_deg": high}
    return movement.with_({f"index_pins.{key}": value for key, value in table.items()})


@pytest.mark.parametrize("name", DESIGNS)
def test_whole_watch(ledger, name):
    # Check 10 as a difference of settled states at the same amplitude: to the next order, some 1e-4 of the escapement's
    # own part, which the play changes as it changes the stiffness.
    plain, played = (
        isochronism(movement, amplitudes_deg=list(EXACT), torque_ceiling=100)
        for movement in (DESIGNS[name], with_pins(DESIGNS[name]))
    )
    change = (played.rate_s_per_day - plain.rate_s_per_day)[0]
    exact = list(EXACT.values())
    ledger.value(
        "index pins, change of three whole watches, 90° to 300°",
        change,
        exact,
        "s/day",
        source=DERIVED,
        relative=4e-4,
        why="the play changes the escapement's own part as it changes the stiffness",
    )
    ledger.value(
        "index pins, their share in three whole watches",
        played.shares["index_pins"][0],
        exact,
        "s/day",
        source=DERIVED,
        relative=1e-4,
        why="the last digit given",
    )


def test_opening_the_pins_slows_the_low_amplitudes(ledger):
    # W. J. Kleinlein, Rules and Practice for Adjusting Watches (1920), sections 37-39: opening the pins slows the
    # positions of lower amplitude; 6 to 8 s is typical (a band: it depends on the opening, here 20 degrees). His
    # are pocket watches: the slow design, six positions at full wind.
    opened, plain = (
        rates(movement, oscsim.Setting(positions=list(oscsim.POSITIONS)))
        for movement in (with_pins(DESIGNS["slow"]), DESIGNS["slow"])
    )
    change = opened.horizontal_less_vertical_s_per_day - plain.horizontal_less_vertical_s_per_day
    section = KLEINLEIN.at("§37-39")
    ledger.band(
        "opening the pins by 20° each way, pocket watch, change of horizontal less vertical",
        change[0],
        4.0,
        10.0,
        "s/day",
        source=section,
        why="6 to 8 s is typical; it depends on the opening, a band",
    )
    slower = (opened.points.rate_s_per_day - plain.points.rate_s_per_day)[:, 0]
    flat = np.array([symbol in ("CH", "FH") for symbol in opened.setting.positions])
    ledger.says(
        "opening the pins, verticals and horizontals",
        slower[~flat].max() < slower[flat].min() < 0.0,
        "slows the positions of lower amplitude more",
        source=section,
    )


@pytest.mark.parametrize("name", DESIGNS)
def test_pins_never_or_always_leant_on(ledger, name):
    # By derivation: within the play the hairspring is linear with stiffness 1 - share, which another beat and Q with
    # the same drag describe as well; beyond one pin it is the plain hairspring.
    movement, setting = DESIGNS[name], oscsim.Setting(positions="9H")
    slower = math.sqrt(1.0 - SHARE)
    b = movement.balance
    softer = movement.with_(
        {
            "balance.beats_per_hour": b.beats_per_hour * slower,
            "balance.viscous_q": b.viscous_q * slower,
            "balance.cubic_stiffness": b.cubic_stiffness / slower**2,
        }
    )
    for pinned, same in (
        (with_pins(movement, -360, 360), softer),
        (with_pins(movement, -360, -350), movement),
    ):
        got, want = (oscsim.settle(one, setting).points for one in (pinned, same))
        np.testing.assert_allclose(got.amplitude_deg, want.amplitude_deg, rtol=1e-11)
        ledger.worst(
            "index pins never or always leant on: period of the watch with one stiffness, relative",
            (got.period_s / want.period_s - 1)[0, 0],
            1e-12,
            source=DERIVED,
            why="the same motion",
        )
        np.testing.assert_allclose(got.beat_error_ms, want.beat_error_ms, atol=1e-9)
