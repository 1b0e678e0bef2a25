"""First-order theory (oscsim/theory) against integration, quadrature and published signs; checks 1 to 8, 10 and 14.

"By derivation": the source is the mathematics of equation (1); scipy and mpmath supply the outside numbers.
"""

import math

import mpmath
import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar
from scipy.special import jn_zeros

from oscsim.theory import generated as g
from tests.theory.swing import half_swing, period

from .sources import AIRY, BOUASSE, DERIVED, KLEINLEIN, SINGH

DEGREE = math.pi / 180
# 1 ug cm on a balance of 10 mg cm^2 at 4 Hz (SI): G/k.
GAMMA = 1e-11 * 9.80665 / (1e-9 * (8 * math.pi) ** 2)


# Poise


@pytest.mark.check(1)
@pytest.mark.parametrize(("degrees", "rate"), [(150, 2.386), (180, 1.215), (270, -0.802), (300, -0.883)])
def test_poise_values(ledger, degrees, rate):
    ledger.value(f"formula, 10 mg·cm², 4 Hz, 1 µg·cm, heavy point below, {degrees}°",
                 g.poise_rate(degrees * DEGREE, GAMMA, 0.0), rate, "s/day", source=DERIVED, within=6e-4,
                 why="the last digit given")  # fmt: skip


@pytest.mark.check(1)
@pytest.mark.parametrize("degrees", [100, 150, 180, 270, 300])
@pytest.mark.parametrize("phi", [0.0, 2.0])
def test_poise_against_integration(ledger, degrees, phi):
    gamma, amplitude = 1e-4, degrees * DEGREE
    up, down = period(lambda x, v, _: -x - gamma * math.sin(x + phi), -amplitude)
    rate = 86400 * (2 * math.pi / (up.time + down.time) - 1)
    ledger.value(f"formula against the free balance integrated (DOP853), G/k = 1e-4, φ = {phi:g}, 100° to 300°",
                 g.poise_rate((up.end + amplitude) / 2, gamma, phi), rate, "s/day", source=DERIVED, relative=1e-3,
                 why="second order in G/k, larger where the first order is small")  # fmt: skip


@pytest.mark.check(1)
@pytest.mark.parametrize("degrees", [60, 180, 300])
def test_poise_dead_point_against_integration(ledger, degrees):
    gamma, phi, amplitude = 1e-4, 1.1, degrees * DEGREE
    up, down = period(lambda x, v, _: -x - gamma * math.sin(x + phi), -amplitude)
    middle = (up.integral - down.integral) / (up.time + down.time)
    ledger.value("formula of the dead point's shift against the mean angle integrated (DOP853), G/k = 1e-4",
                 g.poise_dead_point_shift((up.end + amplitude) / 2, gamma, phi), middle, "rad", source=DERIVED,
                 relative=1e-3, why="second order in G/k")  # fmt: skip


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
        ledger.value(f"formula of the {what} against quadrature of the averages", ours, outside, unit, source=DERIVED,
                     relative=1e-10, why="rounding, and the quadrature's 1e-10")  # fmt: skip


@pytest.mark.check(1)
def test_poise_node_and_greatest_loss(ledger):
    # First zeros of J1 and J2 (scipy jn_zeros).
    node = brentq(lambda a: g.poise_rate(a, 1.0, 0.0), 3.0, 5.0, xtol=1e-13)
    lowest = minimize_scalar(
        lambda a: g.poise_rate(a, 1.0, 0.0), bounds=(4.0, 6.0), options={"xatol": 1e-9}
    ).x
    assert node == pytest.approx(jn_zeros(1, 1)[0], abs=1e-12)
    assert lowest == pytest.approx(jn_zeros(2, 1)[0], abs=1e-6)
    for what, ours, outside in (("node", node, 219.5406), ("amplitude of the greatest loss", lowest, 294.2495)):
        ledger.value(f"{what} of the formula", ours / DEGREE, outside, "deg", source=DERIVED, within=1e-4,
                     why="the last digit given")  # fmt: skip


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
    ledger.value("formula in four verticals against the free balance integrated (DOP853), G/k = 1e-4, 200°", theory,
                 integrated, "s/day", source=DERIVED, relative=4e-3,
                 why="second order in G/k over a small first order")  # fmt: skip
    ledger.value("formula: sums of opposite verticals and mean of four, over the greatest rate",
                 np.array([theory[0] + theory[2], theory[1] + theory[3], sum(theory) / 4]) / most, 0.0, source=DERIVED,
                 within=1e-12, why="exact at first order: rounding")  # fmt: skip


@pytest.mark.check(3)
def test_poise_signs_as_the_adjuster_finds_them(ledger):
    at_180, at_225, at_270 = g.poise_rate(np.array([180, 225, 270]) * DEGREE, GAMMA, 0.0)
    ledger.says("formula, heavy side down at 180° and 270°", at_180 > 0 > at_270,
                "gains at one turn of total motion, loses above a turn and a quarter", source=KLEINLEIN.at("§28"))  # fmt: skip
    assert abs(at_225) < 0.15 * at_180


# Escapement


@pytest.mark.check(5)
@pytest.mark.parametrize("arc", [(-25.0, -5.0), (5.0, 30.0), (-10.0, 30.0)])
@pytest.mark.parametrize("torque", [1e-4, -1e-4])
def test_arc_torque_against_integration(ledger, arc, torque):
    a, b = (edge * DEGREE for edge in arc)
    amplitude = 270 * DEGREE
    swing = half_swing(lambda x, v, piece: -x + (torque if piece == 1 else 0.0), -amplitude, (a, b))
    theory = g.arc_torque_rate((amplitude + swing.end) / 2, a, b, torque)
    ledger.value("formula against integration (DOP853), torque of 1e-4 k over three arcs, 270°", theory, swing.rate,
                 "s/day", source=DERIVED, relative=1e-4, why="second order in M/k")  # fmt: skip
    ledger.says("formula, push and drag before and after the dead point",
                np.sign(theory) == -np.sign(a + b) * np.sign(torque),
                "a push before the dead point gains, after it loses; a drag the other way round", source=AIRY)  # fmt: skip


@pytest.mark.check(5)
def test_detached_lever_loses_less_as_amplitude_grows(ledger):
    # The lever's impulse, mostly after the dead point.
    amplitude = np.linspace(150, 320, 35) * DEGREE
    rate = g.arc_torque_rate(amplitude, -15 * DEGREE, 22 * DEGREE, 5e-3)
    ledger.says("formula, impulse from -15° to 22°, 150° to 320°", [np.all(rate < 0), np.all(np.diff(rate) > 0)],
                "the detached lever loses, less as the amplitude grows", source=BOUASSE.at("17-25"))  # fmt: skip


def _power(amplitude, rate):
    return np.diff(np.log(np.abs(rate))) / np.diff(np.log(amplitude))


@pytest.mark.check(6)
def test_power_of_the_escapement_loss(ledger):
    # With the torque held, and with Q held (torque from the energy balance).
    a, b, quality = -0.2, 0.35, 250.0
    for amplitude, near in ((np.array([40.0, 41.0]), 1e-3), (np.array([4.0, 4.1]), 0.02)):
        held = g.arc_torque_rate(amplitude, a, b, 1e-3)
        drive = g.energy_lost_viscous(amplitude, 1 / quality) / 2 / (b - a)
        why = f"the arc's (b/A)² at {amplitude[0]:g} rad"
        ledger.value(f"formula, exponent of the amplitude near {amplitude[0]:g} rad, torques held",
                     _power(amplitude, held), -3.0, source=DERIVED, within=near, why=why)  # fmt: skip
        ledger.value(f"formula, exponent of the amplitude near {amplitude[0]:g} rad, Q held",
                     _power(amplitude, g.arc_torque_rate(amplitude, a, b, drive)), -1.0, source=DERIVED, within=near,
                     why=why)  # fmt: skip


@pytest.mark.check(5)
@pytest.mark.parametrize("where", [-0.4, 0.25])
@pytest.mark.parametrize("kick", [1e-6, -1e-6])
def test_impulse_against_the_phase_plane(ledger, where, kick):
    # The turn of the phase point (x, v) by the kick, mpmath atan2 at 40 digits.
    with mpmath.workdps(40):
        amplitude, x = mpmath.mpf(4), mpmath.mpf(where)
        speed = mpmath.sqrt(amplitude**2 - x**2)
        time = mpmath.pi + mpmath.atan2(x, speed) - mpmath.atan2(x, speed + mpmath.mpf(kick))
        mean = (amplitude + mpmath.hypot(x, speed + mpmath.mpf(kick))) / 2
        exact = float(86400 * (mpmath.pi / time - 1))
    ledger.value("formula of a short impulse against the turn of the phase point (mpmath)",
                 g.impulse_rate(float(mean), where, kick), exact, "s/day", source=DERIVED, relative=1e-5,
                 why="second order in the impulse, which is 1e-6")  # fmt: skip
    assert np.sign(exact) == -np.sign(where * kick)  # Airy's signs


# Damping


@pytest.mark.check(7)
def test_viscous_rate(ledger):
    # The exact time by scipy DOP853, to the next order, 1/(4 Q)^2.
    for q, rate in ((100, -1.080), (200, -0.270), (300, -0.120)):
        ledger.value(f"formula, Q {q}", g.viscous_rate(q), rate, "s/day", source=DERIVED, within=5e-4,
                     why="the last digit given")  # fmt: skip
    swing = half_swing(lambda x, v, _: -x - v / 100, -3.0)
    assert swing.rate == pytest.approx(g.viscous_rate(100), rel=1 / 400**2 * 1.1)
    assert swing.end / 3.0 == pytest.approx(g.swing_ratio_viscous(100), rel=1e-6)


@pytest.mark.check(14)
def test_dry_friction_leaves_the_period(ledger):
    start, friction = 5.0, 0.01
    for expected in (4.98, 4.96):
        swing = half_swing(lambda x, v, _: -x - friction, -start)
        assert swing.time == pytest.approx(math.pi, abs=1e-11)
        assert swing.end == pytest.approx(expected, abs=1e-10)  # a linear decay
        ledger.value(f"formula of the next swing, dry friction 0.01 k, from {start:.2f}", g.next_swing(start, 0.0, friction),
                     expected, "rad", source=SINGH, within=1e-10,
                     why="exact, from a start that DOP853 has found")  # fmt: skip
        start = swing.end


@pytest.mark.check(14)
def test_dry_and_viscous_together(ledger):
    # A_n = (A0 + c) q^n - c with zeta = 0.002; and scipy DOP853.
    theory = integrated = 5.0
    for n, expected in enumerate((4.948745135684, 4.897811306204, 4.847196500757), 1):
        theory = float(g.next_swing(theory, 0.004, 0.01))
        integrated = half_swing(lambda x, v, _: -x - 0.004 * v - 0.01, -integrated).end
        ledger.value(f"formula, swing {n} with ζ = 0.002 and F/k = 0.01 from 5", theory, expected, "rad", source=DERIVED,
                     within=1e-12, why="the last digit given")  # fmt: skip
        assert integrated == pytest.approx(expected, abs=1e-9)


DRAGS = {
    "viscous": (g.energy_lost_viscous, lambda v, size: size * v, 1.0),
    "quadratic": (g.energy_lost_quadratic, lambda v, size: size * v * abs(v), 1.5),
    "dry": (g.energy_lost_dry, lambda v, size: size, 0.5),
}


@pytest.mark.check(14)
@pytest.mark.parametrize("name", DRAGS)
def test_energy_lost(ledger, name):
    # The energy A^2/2 that scipy DOP853 finds missing after a half-swing, to the next order.
    lost, drag, power = DRAGS[name]
    start, size = 4.0, 1e-4
    end = half_swing(lambda x, v, _: -x - drag(v, size), -start).end
    ledger.value(f"formula of the energy lost to {name} drag against integration (DOP853), over k", lost((start + end) / 2, size) / 2,
                 (start**2 - end**2) / 2, "rad²", source=DERIVED, relative=1e-6, why="the next order")  # fmt: skip
    amplitude = np.array([2.0, 5.0])
    ledger.value(f"formula, exponent of the energy in the loss to {name} drag",
                 _power(amplitude**2 / 2, lost(amplitude, size)), power, source=SINGH, within=1e-12,
                 why="exact: rounding")  # fmt: skip


@pytest.mark.check(14)
def test_quadratic_drag_decays_as_a_hyperbola(ledger):
    # 1/A grows by the same step.
    drag, amplitude, steps = 1e-4, 5.0, []
    for _ in range(3):
        end = half_swing(lambda x, v, _: -x - drag * v * v, -amplitude).end
        steps.append(1 / end - 1 / amplitude)
        amplitude = end
    ledger.value("quadratic drag decays as a hyperbola: step of 1/A by our formula, against DOP853",
                 g.energy_lost_quadratic(1.0, drag) / 2, steps, "1/rad", source=SINGH, relative=1e-3,
                 why="second order in the drag")  # fmt: skip


# Lift angle


@pytest.mark.check(8)
@pytest.mark.parametrize(("degrees", "percent"), [(200, 8.30), (270, 6.14), (300, 5.52)])
def test_share_inside_the_lift(ledger, degrees, percent):
    # And by the times at which scipy DOP853 crosses the lift's ends.
    amplitude, lift = degrees * DEGREE, 52 * DEGREE
    share = g.share_inside_lift(amplitude, lift)
    swing = half_swing(lambda x, v, _: -x, -amplitude, (-lift / 2, lift / 2))
    ledger.value(f"formula, 52° of lift, {degrees}°", 100 * share, percent, "%", source=DERIVED, within=5e-3,
                 why="the last digit given")  # fmt: skip
    assert share == pytest.approx((swing.crossings[1] - swing.crossings[0]) / math.pi, rel=1e-10)


# Hairspring


@pytest.mark.check(10)
@pytest.mark.parametrize("kappa", [1e-7, -1e-7])
def test_cubic_rate_against_quadrature(ledger, kappa):
    amplitude = 4.5

    def slowness(psi):
        return 1 / mpmath.sqrt(1 + kappa * amplitude**2 / 2 * (1 + mpmath.sin(psi) ** 2))

    exact = float(86400 * (mpmath.pi / 2 / mpmath.quad(slowness, [0, mpmath.pi / 2]) - 1))
    ledger.value("formula of the cubic term against quadrature of the period (mpmath)", g.cubic_rate(amplitude, kappa), exact,
                 "s/day", source=DERIVED, relative=1e-5, why="second order, eA² of some 1e-6")  # fmt: skip


def _pins_exactly(amplitude, gap, fraction):
    """Rate by scipy quad over the energy, x = A sin(psi), the potential's two pieces apart."""

    def slowness(psi):
        # speed^2 = 2 (U(A) - U(x)), with (A - x) taken out of it by hand so that the end is smooth
        x = amplitude * math.sin(psi)
        full = amplitude + x
        if x > gap:
            inner = full - 2 * fraction * gap
        else:
            inner = full - fraction * (2 * gap * (amplitude - gap) + gap**2 - x**2) / (amplitude - x)
        return math.sqrt(full / inner)

    edge = math.asin(gap / amplitude)
    accuracy = {"epsabs": 1e-13, "epsrel": 1e-13}
    quarter = quad(slowness, 0, edge, **accuracy)[0] + quad(slowness, edge, math.pi / 2, **accuracy)[0]
    return 86400 * (math.pi / 2 / quarter - 1)


@pytest.mark.check(10)
@pytest.mark.parametrize(("degrees", "rate"), [(90, -121.31), (150, -73.16), (220, -49.95), (300, -36.65)])
def test_index_pins(ledger, degrees, rate):
    # Gap 20 degrees, 1 % of the stiffness; theory to its next order.
    amplitude, gap = degrees * DEGREE, 20 * DEGREE
    exact = _pins_exactly(amplitude, gap, 0.01)
    assert exact == pytest.approx(rate, abs=5e-3)
    ledger.value(f"first-order formula of the index pins, {degrees}°", g.index_pins_rate(amplitude, gap, 0.01), rate,
                 "s/day", source=DERIVED, relative=5e-3,
                 why="second order in the share, 1 %; at a thousandth of it a thousand times closer")  # fmt: skip
    small = _pins_exactly(amplitude, gap, 1e-5)
    assert g.index_pins_rate(amplitude, gap, 1e-5) == pytest.approx(small, rel=5e-6)


@pytest.mark.check(10)
def test_opening_the_pins_slows_the_lower_amplitude(ledger):
    for wide, narrow in ((12, 8), (20, 15)):
        opened = g.index_pins_rate([2.5, 4.5], wide * DEGREE, 0.01)
        closed = g.index_pins_rate([2.5, 4.5], narrow * DEGREE, 0.01)
        change = opened - closed
        ledger.says("formula, opening the pins", change[0] < change[1] < 0, "slows the lower amplitude more",
                    source=KLEINLEIN.at("§37-39"))  # fmt: skip


@pytest.mark.check(10)
def test_swing_inside_the_gap_lacks_the_whole_fraction(ledger):
    # sqrt(1 - fraction) of the frequency, to first order, at any amplitude below the gap.
    ledger.value("formula, a swing within the play", g.index_pins_rate([0.1, 0.3, 0.5], 0.5, 1e-6),
                 86400 * (math.sqrt(1 - 1e-6) - 1), "s/day", source=DERIVED, relative=1e-5,
                 why="second order in the share, 1e-6")  # fmt: skip
