"""Want of poise in the full engine, escapement and all, at settled states; checks 1 to 4.

"By derivation": first-order theory, 86400 (G/k)(J₁(A)/A) cos φ, with scipy's Bessel functions. The escapement's own
part of the rate is taken off as the rate of the same watch without unbalance, kept at the same amplitude.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import minimize_scalar
from scipy.special import j1, jn_zeros

import oscsim
from oscsim.answers.isochronism import isochronism
from oscsim.answers.ratemap import ratemap

from .designs import DESIGNS, bare

VERTICAL = ("12H", "3H", "6H", "9H")
UNBALANCE, HEAVY = "balance.unbalance_ug_cm", "balance.heavy_point_deg"


def stiffness_of_unbalance(movement: oscsim.Movement) -> float:
    """G/k of 1 µg·cm, rad, in SI from the design's numbers."""
    b = movement.balance
    return 1e-11 * 9.80665 / (b.inertia_mg_cm2 * 1e-10 * (math.pi * b.beats_per_hour / 3600.0) ** 2)


def effect(movement, amplitudes_deg, unbalance=0.01, heavy_point_deg=180.0, positions=("12H",)):
    """Rate with unbalance less the rate poised, settled at the same amplitudes: (positions, amplitudes)."""
    setting = oscsim.Setting(positions=positions)
    rates = []
    for size in (unbalance, 0.0):
        changed = movement.with_({UNBALANCE: size, HEAVY: heavy_point_deg})
        curve = isochronism(changed, setting, amplitudes_deg, torque_ceiling=100.0)
        assert np.isin(curve.state, ("running", "knocks")).all()
        rates.append(curve.rate_s_per_day)
    return rates[0] - rates[1]


@pytest.mark.parametrize(("degrees", "rate"), [(150, 2.386), (180, 1.215), (270, -0.802), (300, -0.883)])
def test_published_values(degrees, rate):
    # By derivation (check 1): 10 mg·cm², 4 Hz, 1 µg·cm, heavy point below. A whole escapement, Q 300.
    movement = DESIGNS["fast"].with_({"balance.inertia_mg_cm2": 10.0, "balance.viscous_q": 300.0})
    assert effect(movement, [degrees], unbalance=1.0)[0, 0] == pytest.approx(rate, abs=1.5e-3)


@pytest.mark.parametrize("name", DESIGNS)
@pytest.mark.parametrize("heavy", [180.0, 0.0, 250.0, 90.0])
def test_first_order(name, heavy):
    # By derivation: to 1e-3 of the greatest rate over all directions, away from the node.
    degrees = np.array([120.0, 150.0, 180.0, 250.0, 270.0, 294.25, 310.0])
    radians = np.radians(degrees)
    greatest = 86400 * 0.01 * stiffness_of_unbalance(DESIGNS[name]) * j1(radians) / radians
    got = effect(DESIGNS[name], degrees, heavy_point_deg=heavy)[0]
    # docs/physics.md §1: with 12 up the heavy point stands at heavy - 180 degrees from straight down
    np.testing.assert_allclose(got / greatest, math.cos(math.radians(heavy - 180.0)), rtol=0, atol=1e-3)


@pytest.mark.parametrize("name", DESIGNS)
def test_settled_from_above(name):
    # By derivation, with the amplitude found by the drive itself instead of given; 12H, heavy point below.
    movement = DESIGNS[name].with_({UNBALANCE: 0.05, HEAVY: 180.0})
    settled = oscsim.settle(movement, oscsim.Setting(positions="12H", hours=[0.0, 30.0])).points
    poised, upright = movement.with_({UNBALANCE: 0.0}), oscsim.Setting(positions="12H")
    own = isochronism(poised, upright, settled.amplitude_deg[0])
    radians = np.radians(settled.amplitude_deg[0])
    expected = 86400 * 0.05 * stiffness_of_unbalance(movement) * j1(radians) / radians
    np.testing.assert_allclose((settled.rate_s_per_day - own.rate_s_per_day)[0], expected, rtol=2e-3)


def node_deg(movement, unbalance=1.0):
    node = ratemap(
        movement, amplitudes_deg=[200.0], heavy_points_deg=[0.0], unbalance_ug_cm=unbalance
    ).node_deg
    # the effect really turns from gain to loss there
    around = effect(movement, [node - 0.01, node + 0.01], unbalance=0.1)[0]
    assert around[0] > 0.0 > around[1]
    return node


def test_node_and_what_moves_it():
    # By derivation: the first zero of J₁, 219.5406 degrees (scipy jn_zeros); what is left is the escapement's doing,
    # in proportion to the torques it needs, so to the losses it makes good.
    theory = math.degrees(jn_zeros(1, 1)[0])
    assert theory == pytest.approx(219.5406, abs=5e-5)
    left = {q: node_deg(bare(balance__viscous_q=q)) - theory for q in (300.0, 3000.0, 10000.0)}
    assert 1e-3 < left[300.0] < 0.05
    assert left[3000.0] == pytest.approx(left[300.0] / 10.0, rel=0.1)
    assert left[10000.0] == pytest.approx(left[300.0] * 0.03, rel=0.1)
    # whole watches: off by some hundredths of a degree, the deeper lock by more
    whole = {name: node_deg(movement) - theory for name, movement in DESIGNS.items()}
    assert all(1e-3 < departure < 0.05 for departure in whole.values())
    assert whole["heavy"] == max(whole.values())


def test_node_does_not_depend_on_the_unbalance():
    # By derivation: to first order the unbalance is a factor only.
    nodes = [node_deg(DESIGNS["fast"], unbalance) for unbalance in (0.1, 1.5, 15.0)]
    assert nodes == pytest.approx([nodes[0]] * 3, abs=1e-4)


@pytest.mark.parametrize("name", DESIGNS)
def test_greatest_loss(name):
    # By derivation: the first zero of J₂, 294.2495 degrees (scipy jn_zeros).
    theory = math.degrees(jn_zeros(2, 1)[0])
    assert theory == pytest.approx(294.2495, abs=5e-5)
    worst = minimize_scalar(
        lambda degrees: effect(DESIGNS[name], [degrees], unbalance=1.0)[0, 0],
        bounds=(270, 320),
        method="bounded",
    )
    assert worst.x == pytest.approx(theory, abs=0.05)
    assert worst.fun < 0.0


@pytest.mark.parametrize("name", DESIGNS)
def test_four_verticals(name):
    # By derivation (check 2), to first order at equal amplitude: opposite positions opposite, the mean of four 0.
    # What is left is second order: a hundredth of the share when the unbalance is a hundredth.
    degrees = [150.0, 190.0, 270.0, 300.0]

    def left(unbalance):
        twelve, three, six, nine = rates = effect(DESIGNS[name], degrees, unbalance, 75.0, VERTICAL)
        greatest = np.abs(rates).max(axis=0)
        assert (np.abs(rates) > 0.05 * greatest).all()
        sums = np.abs([twelve + six, three + nine, rates.mean(axis=0)]) / greatest
        return sums.max()

    assert left(0.01) < 1e-5
    assert left(1.0) == pytest.approx(100.0 * left(0.01), rel=0.05)


@pytest.mark.parametrize("name", DESIGNS)
def test_signs_as_the_adjuster_finds_them(name):
    # W. J. Kleinlein, Rules and Practice for Adjusting Watches (1920), section 28: neutral at a turn and a quarter of
    # total motion (225 degrees); heavy side down gains at one turn (180) and loses above; only verticals move.
    below = effect(DESIGNS[name], [180.0, 225.0, 270.0], unbalance=2.0)[0]
    above = effect(DESIGNS[name], [180.0, 225.0, 270.0], unbalance=2.0, heavy_point_deg=0.0)[0]
    assert below[0] > 0.0 > below[2]
    assert above[0] < 0.0 < above[2]
    assert np.abs([below[1], above[1]]).max() < 0.15 * abs(below[0])
    flat = effect(DESIGNS[name], [180.0, 225.0, 270.0], unbalance=2.0, positions=("CH", "FH"))
    assert np.all(flat == 0.0)


@pytest.mark.parametrize("name", DESIGNS)
def test_what_practitioners_quote(name):
    # Common practice (check 4): about 220 degrees, and near 180 low amplitude and poise faults add up.
    assert node_deg(DESIGNS[name]) == pytest.approx(220.0, abs=1.0)
    near_180, near_220, near_280 = np.abs(effect(DESIGNS[name], [180.0, 220.0, 280.0])[0])
    assert near_180 > near_280 > 20.0 * near_220
