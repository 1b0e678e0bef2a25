"""First-order theory (oscsim/theory) against integration, quadrature and published signs; want of poise, checks 1 to 3.

"By derivation": the source is the mathematics of equation (1); scipy and mpmath supply the outside numbers.
"""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar
from scipy.special import jn_zeros

from oscsim.theory import generated as g
from tests.theory.swing import period

from .designs import free_rate
from .sources import BESSEL, DERIVED, KLEINLEIN

DEGREE = math.pi / 180
# 1 ug cm on a balance of 10 mg cm^2 at 4 Hz (SI): G/k.
GAMMA = 1e-11 * 9.80665 / (1e-9 * (8 * math.pi) ** 2)


@pytest.mark.check(1)
@pytest.mark.parametrize(("degrees", "rate"), [(150, 2.386), (180, 1.215), (270, -0.802), (300, -0.883)])
def test_poise_values(ledger, degrees, rate):
    ledger.value(
        f"formula, 10 mg·cm², 4 Hz, 1 µg·cm, heavy point below, {degrees}°",
        g.poise_rate(degrees * DEGREE, GAMMA, 0.0),
        rate,
        "s/day",
        source=DERIVED,
        within=6e-4,
        why="the last digit given",
    )


@pytest.mark.check(1)
@pytest.mark.parametrize(
    ("amplitude", "j1"), [(2, 0.5767248078), (3, 0.3390589585), (4, -0.0660433280), (5, -0.3275791376)]
)
def test_tabulated_bessel_function(ledger, amplitude, j1):
    # Rate over 86400 G/k, times the amplitude; the engine with G/k = 1e-6.
    source = BESSEL.at("Table 9.1")
    ledger.value(
        f"formula at {amplitude} rad, reduced to J₁({amplitude})",
        amplitude * g.poise_rate(amplitude, 1.0, 0.0) / 86400,
        j1,
        source=source,
        within=1e-10,
        why="the last digit given",
    )
    ledger.value(
        f"engine, free balance at {amplitude} rad, reduced to J₁({amplitude})",
        amplitude * free_rate(math.degrees(amplitude), gravity=1e-6, heavy=0.0) / 86400e-6,
        j1,
        source=source,
        within=3e-6,
        why="second order in G/k, which is 1e-6",
    )


@pytest.mark.check(1)
def test_tabulated_bessel_function_of_the_dead_point(ledger):
    ledger.value(
        "formula of the dead point's shift at 3 rad, reduced to J₀(3)",
        -g.poise_dead_point_shift(3.0, 1.0, math.pi / 2),
        -0.2600519549,
        source=BESSEL.at("Table 9.1"),
        within=1e-10,
        why="the last digit given",
    )


@pytest.mark.check(1)
@pytest.mark.parametrize("degrees", [100, 150, 180, 270, 300])
@pytest.mark.parametrize("phi", [0.0, 2.0])
def test_poise_against_integration(ledger, degrees, phi):
    gamma, amplitude = 1e-4, degrees * DEGREE
    up, down = period(lambda x, v, _: -x - gamma * math.sin(x + phi), -amplitude)
    rate = 86400 * (2 * math.pi / (up.time + down.time) - 1)
    ledger.value(
        f"formula against the free balance integrated (DOP853), G/k = 1e-4, φ = {phi:g}, 100° to 300°",
        g.poise_rate((up.end + amplitude) / 2, gamma, phi),
        rate,
        "s/day",
        source=DERIVED,
        relative=1e-3,
        why="second order in G/k, larger where the first order is small",
    )


@pytest.mark.check(1)
@pytest.mark.parametrize("degrees", [60, 180, 300])
def test_poise_dead_point_against_integration(ledger, degrees):
    gamma, phi, amplitude = 1e-4, 1.1, degrees * DEGREE
    up, down = period(lambda x, v, _: -x - gamma * math.sin(x + phi), -amplitude)
    middle = (up.integral - down.integral) / (up.time + down.time)
    ledger.value(
        "formula of the dead point's shift against the mean angle integrated (DOP853), G/k = 1e-4",
        g.poise_dead_point_shift((up.end + amplitude) / 2, gamma, phi),
        middle,
        "rad",
        source=DERIVED,
        relative=1e-3,
        why="second order in G/k",
    )


@pytest.mark.check(1)
def test_poise_against_quadrature(ledger):
    # No Bessel function in it.
    amplitude, gamma, phi = 3.3, 0.7, 0.4

    def torque(psi):
        return -gamma * math.sin(amplitude * math.sin(psi) + phi)

    shift = quad(lambda psi: -torque(psi) * math.sin(psi), 0, 2 * math.pi)[0] / (2 * math.pi * amplitude)
    mean = quad(torque, 0, 2 * math.pi)[0] / (2 * math.pi)
    for what, ours, outside, unit in (
        ("rate", g.poise_rate(amplitude, gamma, phi), 86400 * shift, "s/day"),
        ("shift of the dead point", g.poise_dead_point_shift(amplitude, gamma, phi), mean, "rad"),
    ):
        ledger.value(
            f"formula of the {what} against quadrature of the averages",
            ours,
            outside,
            unit,
            source=DERIVED,
            relative=1e-10,
            why="rounding, and the quadrature's 1e-10",
        )


@pytest.mark.check(1)
def test_poise_node_and_greatest_loss(ledger):
    # First zeros of J1 and J2 (scipy jn_zeros).
    node = brentq(lambda a: g.poise_rate(a, 1.0, 0.0), 3.0, 5.0, xtol=1e-13)
    lowest = minimize_scalar(
        lambda a: g.poise_rate(a, 1.0, 0.0), bounds=(4.0, 6.0), options={"xatol": 1e-9}
    ).x
    assert node == pytest.approx(jn_zeros(1, 1)[0], abs=1e-12)
    assert lowest == pytest.approx(jn_zeros(2, 1)[0], abs=1e-6)
    for what, ours, outside in (
        ("node", node, 219.5406),
        ("amplitude of the greatest loss", lowest, 294.2495),
    ):
        ledger.value(
            f"{what} of the formula",
            ours / DEGREE,
            outside,
            "deg",
            source=DERIVED,
            within=1e-4,
            why="the last digit given",
        )


@pytest.mark.check(2)
def test_four_positions(ledger):
    gamma, amplitude, heavy = 1e-4, 200 * DEGREE, 0.3
    theory, integrated = [], []
    for hour_up in (0.0, 90.0, 180.0, 270.0):
        phi = heavy - hour_up * DEGREE - math.pi
        up, down = period(lambda x, v, _, phi=phi: -x - gamma * math.sin(x + phi), -amplitude)
        integrated.append(86400 * (2 * math.pi / (up.time + down.time) - 1))
        theory.append(g.poise_rate(amplitude, gamma, phi))
    most = max(np.abs(theory))
    for rates, left in ((theory, 1e-12), (integrated, 1e-3)):
        assert min(np.abs(rates)) > 0.1 * most
        assert max(abs(rates[0] + rates[2]), abs(rates[1] + rates[3]), abs(sum(rates)) / 4) < left * most
    ledger.value(
        "formula in four verticals against the free balance integrated (DOP853), G/k = 1e-4, 200°",
        theory,
        integrated,
        "s/day",
        source=DERIVED,
        relative=4e-3,
        why="second order in G/k over a small first order",
    )
    ledger.value(
        "formula: sums of opposite verticals and mean of four, over the greatest rate",
        np.array([theory[0] + theory[2], theory[1] + theory[3], sum(theory) / 4]) / most,
        0.0,
        source=DERIVED,
        within=1e-12,
        why="exact at first order: rounding",
    )


@pytest.mark.check(3)
def test_poise_signs_as_the_adjuster_finds_them(ledger):
    at_180, at_225, at_270 = g.poise_rate(np.array([180, 225, 270]) * DEGREE, GAMMA, 0.0)
    ledger.says(
        "formula, heavy side down at 180° and 270°",
        at_180 > 0 > at_270,
        "gains at one turn of total motion, loses above a turn and a quarter",
        source=KLEINLEIN.at("§28"),
    )
    assert abs(at_225) < 0.15 * at_180
