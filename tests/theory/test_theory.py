"""First-order theory against integration, quadrature and published signs.

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

DEGREE = math.pi / 180
# 1 ug cm on a balance of 10 mg cm^2 at 4 Hz (SI): G/k.
GAMMA = 1e-11 * 9.80665 / (1e-9 * (8 * math.pi) ** 2)


# Poise


@pytest.mark.parametrize(("degrees", "rate"), [(150, 2.386), (180, 1.215), (270, -0.802), (300, -0.883)])
def test_poise_values(degrees, rate):
    # By derivation, numbers by J1 from tables: 10 mg cm^2, 4 Hz, 1 ug cm, heavy point below.
    assert g.poise_rate(degrees * DEGREE, GAMMA, 0.0) == pytest.approx(rate, abs=6e-4)


@pytest.mark.parametrize("degrees", [100, 150, 180, 270, 300])
@pytest.mark.parametrize("phi", [0.0, 2.0])
def test_poise_against_integration(degrees, phi):
    # By derivation: scipy DOP853 on the free balance at G/k = 1e-4; to 1e-3.
    gamma, amplitude = 1e-4, degrees * DEGREE
    up, down = period(lambda x, v, _: -x - gamma * math.sin(x + phi), -amplitude)
    rate = 86400 * (2 * math.pi / (up.time + down.time) - 1)
    assert rate == pytest.approx(g.poise_rate((up.end + amplitude) / 2, gamma, phi), rel=1e-3)


@pytest.mark.parametrize("degrees", [60, 180, 300])
def test_poise_dead_point_against_integration(degrees):
    # By derivation: the mean angle over a period, scipy DOP853, G/k = 1e-4; to 1e-3.
    gamma, phi, amplitude = 1e-4, 1.1, degrees * DEGREE
    up, down = period(lambda x, v, _: -x - gamma * math.sin(x + phi), -amplitude)
    middle = (up.integral - down.integral) / (up.time + down.time)
    assert middle == pytest.approx(g.poise_dead_point_shift((up.end + amplitude) / 2, gamma, phi), rel=1e-3)


def test_poise_against_quadrature():
    # By derivation: scipy quad of both averages, no Bessel function in it.
    amplitude, gamma, phi = 3.3, 0.7, 0.4

    def torque(psi):
        return -gamma * math.sin(amplitude * math.sin(psi) + phi)

    shift = quad(lambda psi: -torque(psi) * math.sin(psi), 0, 2 * math.pi)[0] / (2 * math.pi * amplitude)
    mean = quad(torque, 0, 2 * math.pi)[0] / (2 * math.pi)
    assert g.poise_rate(amplitude, gamma, phi) == pytest.approx(86400 * shift, rel=1e-10)
    assert g.poise_dead_point_shift(amplitude, gamma, phi) == pytest.approx(mean, rel=1e-10)


def test_poise_node_and_greatest_loss():
    # By derivation: first zeros of J1 and J2 (scipy jn_zeros), 219.5406 and 294.2495 degrees.
    node = brentq(lambda a: g.poise_rate(a, 1.0, 0.0), 3.0, 5.0, xtol=1e-13)
    lowest = minimize_scalar(
        lambda a: g.poise_rate(a, 1.0, 0.0), bounds=(4.0, 6.0), options={"xatol": 1e-9}
    ).x
    assert node == pytest.approx(jn_zeros(1, 1)[0], abs=1e-12)
    assert node / DEGREE == pytest.approx(219.5406, abs=5e-5)
    assert lowest == pytest.approx(jn_zeros(2, 1)[0], abs=1e-6)
    assert lowest / DEGREE == pytest.approx(294.2495, abs=1e-4)


def test_four_positions():
    # By derivation, to first order at equal amplitude: opposite positions opposite, the four a mean of 0.
    # Scipy DOP853 at G/k = 1e-4: what is left is second order.
    gamma, amplitude, heavy = 1e-4, 200 * DEGREE, 0.3
    theory, integrated = [], []
    for hour_up in (0.0, 90.0, 180.0, 270.0):
        phi = heavy - hour_up * DEGREE - math.pi
        up, down = period(lambda x, v, _, phi=phi: -x - gamma * math.sin(x + phi), -amplitude)
        integrated.append(86400 * (2 * math.pi / (up.time + down.time) - 1))
        theory.append(g.poise_rate(amplitude, gamma, phi))
    most = max(np.abs(theory))
    for rates, left in ((theory, 1e-12), (integrated, 1e-3)):
        assert abs(rates[0] + rates[2]) < left * most
        assert abs(rates[1] + rates[3]) < left * most
        assert abs(sum(rates)) / 4 < left * most
        assert min(np.abs(rates)) > 0.1 * most


def test_poise_signs_as_the_adjuster_finds_them():
    # W. J. Kleinlein, Rules and Practice for Adjusting Watches (1920), section 28: heavy side down gains at
    # one turn of total motion (180 degrees), loses above a turn and a quarter (225), near neutral there.
    at_180, at_225, at_270 = g.poise_rate(np.array([180, 225, 270]) * DEGREE, GAMMA, 0.0)
    assert at_180 > 0 > at_270
    assert abs(at_225) < 0.15 * at_180


# Escapement


@pytest.mark.parametrize("arc", [(-25.0, -5.0), (5.0, 30.0), (-10.0, 30.0)])
@pytest.mark.parametrize("torque", [1e-4, -1e-4])
def test_arc_torque_against_integration(arc, torque):
    # By derivation: scipy DOP853 with a torque of 1e-4 k between a and b; to 1e-4. Signs after G. B. Airy,
    # Trans. Camb. Phil. Soc. III (1830) 105: a push before the dead point gains, after it loses; a drag the
    # other way round.
    a, b = (edge * DEGREE for edge in arc)
    amplitude = 270 * DEGREE
    swing = half_swing(lambda x, v, piece: -x + (torque if piece == 1 else 0.0), -amplitude, (a, b))
    theory = g.arc_torque_rate((amplitude + swing.end) / 2, a, b, torque)
    assert swing.rate == pytest.approx(theory, rel=1e-4)
    assert np.sign(theory) == -np.sign(a + b) * np.sign(torque)


def test_detached_lever_loses_less_as_amplitude_grows():
    # H. Bouasse, Pendule, spiral, diapason II (1920) 17-25: the lever's impulse, mostly after the dead point,
    # loses, and less at larger amplitude.
    amplitude = np.linspace(150, 320, 35) * DEGREE
    rate = g.arc_torque_rate(amplitude, -15 * DEGREE, 22 * DEGREE, 5e-3)
    assert np.all(rate < 0)
    assert np.all(np.diff(rate) > 0)


def _power(amplitude, rate):
    return np.diff(np.log(np.abs(rate))) / np.diff(np.log(amplitude))


def test_power_of_the_escapement_loss():
    # By derivation: with the torque held as A^-3; with Q held (torque from the energy balance) as A^-1.
    a, b, quality = -0.2, 0.35, 250.0
    for amplitude, near in ((np.array([40.0, 41.0]), 1e-3), (np.array([4.0, 4.1]), 0.02)):
        held = g.arc_torque_rate(amplitude, a, b, 1e-3)
        drive = g.energy_lost_viscous(amplitude, 1 / quality) / 2 / (b - a)
        assert _power(amplitude, held) == pytest.approx(-3, abs=near)
        assert _power(amplitude, g.arc_torque_rate(amplitude, a, b, drive)) == pytest.approx(-1, abs=near)


@pytest.mark.parametrize("where", [-0.4, 0.25])
@pytest.mark.parametrize("kick", [1e-6, -1e-6])
def test_impulse_against_the_phase_plane(where, kick):
    # By derivation: the turn of the phase point (x, v) by the kick, mpmath atan2 at 40 digits. Signs: Airy.
    with mpmath.workdps(40):
        amplitude, x = mpmath.mpf(4), mpmath.mpf(where)
        speed = mpmath.sqrt(amplitude**2 - x**2)
        time = mpmath.pi + mpmath.atan2(x, speed) - mpmath.atan2(x, speed + mpmath.mpf(kick))
        mean = (amplitude + mpmath.hypot(x, speed + mpmath.mpf(kick))) / 2
        exact = float(86400 * (mpmath.pi / time - 1))
    assert g.impulse_rate(float(mean), where, kick) == pytest.approx(exact, rel=1e-5)
    assert np.sign(exact) == -np.sign(where * kick)


# Damping


def test_viscous_rate():
    # By derivation: -1.080, -0.270, -0.120 s/day at Q = 100, 200, 300; the exact time by scipy DOP853, to the
    # next order, 1/(4 Q)^2.
    assert g.viscous_rate([100, 200, 300]) == pytest.approx([-1.080, -0.270, -0.120], abs=5e-4)
    swing = half_swing(lambda x, v, _: -x - v / 100, -3.0)
    assert swing.rate == pytest.approx(g.viscous_rate(100), rel=1 / 400**2 * 1.1)
    assert swing.end / 3.0 == pytest.approx(g.swing_ratio_viscous(100), rel=1e-6)


def test_dry_friction_leaves_the_period():
    # By derivation and scipy DOP853: 5, 4.98, 4.96 at F/k = 0.01, a linear decay (A. Singh, physics/0206086).
    start, friction = 5.0, 0.01
    for expected in (4.98, 4.96):
        swing = half_swing(lambda x, v, _: -x - friction, -start)
        assert swing.time == pytest.approx(math.pi, abs=1e-11)
        assert swing.end == pytest.approx(expected, abs=1e-10)
        assert g.next_swing(start, 0.0, friction) == pytest.approx(expected, abs=1e-12)
        start = swing.end


def test_dry_and_viscous_together():
    # By derivation, A_n = (A0 + c) q^n - c: zeta = 0.002, F/k = 0.01, A0 = 5; and scipy DOP853.
    theory = integrated = 5.0
    for expected in (4.948745135684, 4.897811306204, 4.847196500757):
        theory = float(g.next_swing(theory, 0.004, 0.01))
        integrated = half_swing(lambda x, v, _: -x - 0.004 * v - 0.01, -integrated).end
        assert theory == pytest.approx(expected, abs=1e-12)
        assert integrated == pytest.approx(expected, abs=1e-9)


DRAGS = {
    "viscous": (g.energy_lost_viscous, lambda v, size: size * v, 1.0),
    "quadratic": (g.energy_lost_quadratic, lambda v, size: size * v * abs(v), 1.5),
    "dry": (g.energy_lost_dry, lambda v, size: size, 0.5),
}


@pytest.mark.parametrize("name", DRAGS)
def test_energy_lost(name):
    # By derivation: the energy A^2/2 that scipy DOP853 finds missing after a half-swing, to the next order.
    # Powers of the energy: A. Singh, arXiv physics/0206086 (sqrt E, E, E^1.5).
    lost, drag, power = DRAGS[name]
    start, size = 4.0, 1e-4
    end = half_swing(lambda x, v, _: -x - drag(v, size), -start).end
    assert (start**2 - end**2) / 2 == pytest.approx(lost((start + end) / 2, size) / 2, rel=1e-6)
    amplitude = np.array([2.0, 5.0])
    assert _power(amplitude**2 / 2, lost(amplitude, size)) == pytest.approx(power, abs=1e-12)


def test_quadratic_drag_decays_as_a_hyperbola():
    # A. Singh, arXiv physics/0206086: hyperbolic, so 1/A grows by the same step, (4/3) c; scipy DOP853.
    drag, amplitude, steps = 1e-4, 5.0, []
    for _ in range(3):
        end = half_swing(lambda x, v, _: -x - drag * v * v, -amplitude).end
        steps.append(1 / end - 1 / amplitude)
        amplitude = end
    assert steps == pytest.approx([g.energy_lost_quadratic(1.0, drag) / 2] * 3, rel=1e-3)


# Lift angle


@pytest.mark.parametrize(("degrees", "percent"), [(200, 8.30), (270, 6.14), (300, 5.52)])
def test_share_inside_the_lift(degrees, percent):
    # By derivation, and by the times at which scipy DOP853 crosses the lift's ends.
    amplitude, lift = degrees * DEGREE, 52 * DEGREE
    share = g.share_inside_lift(amplitude, lift)
    swing = half_swing(lambda x, v, _: -x, -amplitude, (-lift / 2, lift / 2))
    assert 100 * share == pytest.approx(percent, abs=5e-3)
    assert share == pytest.approx((swing.crossings[1] - swing.crossings[0]) / math.pi, rel=1e-10)


# Hairspring


@pytest.mark.parametrize("kappa", [1e-7, -1e-7])
def test_cubic_rate_against_quadrature(kappa):
    # By derivation: the period from the energy, mpmath quadrature; the next order is about kappa A^2.
    amplitude = 4.5

    def slowness(psi):
        return 1 / mpmath.sqrt(1 + kappa * amplitude**2 / 2 * (1 + mpmath.sin(psi) ** 2))

    exact = float(86400 * (mpmath.pi / 2 / mpmath.quad(slowness, [0, mpmath.pi / 2]) - 1))
    assert g.cubic_rate(amplitude, kappa) == pytest.approx(exact, rel=1e-5)


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


@pytest.mark.parametrize(("degrees", "rate"), [(90, -121.31), (150, -73.16), (220, -49.95), (300, -36.65)])
def test_index_pins(degrees, rate):
    # By derivation and scipy quadrature: gap 20 degrees, 1 % of the stiffness; theory to its next order. At a
    # thousandth of the fraction the two agree a thousand times better.
    amplitude, gap = degrees * DEGREE, 20 * DEGREE
    exact = _pins_exactly(amplitude, gap, 0.01)
    assert exact == pytest.approx(rate, abs=5e-3)
    assert g.index_pins_rate(amplitude, gap, 0.01) == pytest.approx(exact, rel=5e-3)
    small = _pins_exactly(amplitude, gap, 1e-5)
    assert g.index_pins_rate(amplitude, gap, 1e-5) == pytest.approx(small, rel=5e-6)


def test_opening_the_pins_slows_the_lower_amplitude():
    # W. J. Kleinlein (1920), sections 37-39.
    for wide, narrow in ((12, 8), (20, 15)):
        opened = g.index_pins_rate([2.5, 4.5], wide * DEGREE, 0.01)
        closed = g.index_pins_rate([2.5, 4.5], narrow * DEGREE, 0.01)
        change = opened - closed
        assert change[0] < change[1] < 0


def test_swing_inside_the_gap_lacks_the_whole_fraction():
    # By derivation: sqrt(1 - fraction) of the frequency, to first order, at any amplitude below the gap.
    inside = g.index_pins_rate([0.1, 0.3, 0.5], 0.5, 1e-6)
    assert inside == pytest.approx([86400 * (math.sqrt(1 - 1e-6) - 1)] * 3, rel=1e-5)
