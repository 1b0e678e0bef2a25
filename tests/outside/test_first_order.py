"""First-order theory (oscsim/theory) against integration, quadrature and published signs; checks 5 to 8, 10 and 14.

"By derivation": the source is the mathematics of equation (1); scipy and mpmath supply the outside numbers.
"""

import math

import mpmath
import numpy as np
import pytest
from scipy.integrate import quad

from oscsim.theory import generated as g
from tests.theory.swing import half_swing

from .sources import AIRY, BOUASSE, DERIVED, KLEINLEIN, SINGH

DEGREE = math.pi / 180


# Escapement


@pytest.mark.check(5)
@pytest.mark.parametrize("arc", [(-25.0, -5.0), (5.0, 30.0), (-10.0, 30.0)])
@pytest.mark.parametrize("torque", [1e-4, -1e-4])
def test_arc_torque_against_integration(ledger, arc, torque):
    a, b = (edge * DEGREE for edge in arc)
    amplitude = 270 * DEGREE
    swing = half_swing(lambda x, v, piece: -x + (torque if piece == 1 else 0.0), -amplitude, (a, b))
    theory = g.arc_torque_rate((amplitude + swing.end) / 2, a, b, torque)
    ledger.value(
        "formula against integration (DOP853), torque of 1e-4 k over three arcs, 270°",
        theory,
        swing.rate,
        "s/day",
        source=DERIVED,
        relative=1e-4,
        why="second order in M/k",
    )
    ledger.says(
        "formula, push and drag before and after the dead point",
        np.sign(theory) == -np.sign(a + b) * np.sign(torque),
        "a push before the dead point gains, after it loses; a drag the other way round",
        source=AIRY,
    )


@pytest.mark.check(5)
def test_detached_lever_loses_less_as_amplitude_grows(ledger):
    # The lever's impulse, mostly after the dead point.
    amplitude = np.linspace(150, 320, 35) * DEGREE
    rate = g.arc_torque_rate(amplitude, -15 * DEGREE, 22 * DEGREE, 5e-3)
    ledger.says(
        "formula, impulse from -15° to 22°, 150° to 320°",
        [np.all(rate < 0), np.all(np.diff(rate) > 0)],
        "the detached lever loses, less as the amplitude grows",
        source=BOUASSE.at("17-25"),
    )


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
        ledger.value(
            f"formula, exponent of the amplitude near {amplitude[0]:g} rad, torques held",
            _power(amplitude, held),
            -3.0,
            source=DERIVED,
            within=near,
            why=why,
        )
        ledger.value(
            f"formula, exponent of the amplitude near {amplitude[0]:g} rad, Q held",
            _power(amplitude, g.arc_torque_rate(amplitude, a, b, drive)),
            -1.0,
            source=DERIVED,
            within=near,
            why=why,
        )


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
    ledger.value(
        "formula of a short impulse against the turn of the phase point (mpmath)",
        g.impulse_rate(float(mean), where, kick),
        exact,
        "s/day",
        source=DERIVED,
        relative=1e-5,
        why="second order in the impulse, which is 1e-6",
    )
    assert np.sign(exact) == -np.sign(where * kick)  # Airy's signs


# Damping


@pytest.mark.check(7)
def test_viscous_rate(ledger):
    # The exact time by scipy DOP853, to the next order, 1/(4 Q)^2.
    for q, rate in ((100, -1.080), (200, -0.270), (300, -0.120)):
        ledger.value(
            f"formula, Q {q}",
            g.viscous_rate(q),
            rate,
            "s/day",
            source=DERIVED,
            within=5e-4,
            why="the last digit given",
        )
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
        ledger.value(
            f"formula of the next swing, dry friction 0.01 k, from {start:.2f}",
            g.next_swing(start, 0.0, friction),
            expected,
            "rad",
            source=SINGH,
            within=1e-10,
            why="exact, from a start that DOP853 has found",
        )
        start = swing.end


@pytest.mark.check(14)
def test_dry_and_viscous_together(ledger):
    # A_n = (A0 + c) q^n - c with zeta = 0.002; and scipy DOP853.
    theory = integrated = 5.0
    for n, expected in enumerate((4.948745135684, 4.897811306204, 4.847196500757), 1):
        theory = float(g.next_swing(theory, 0.004, 0.01))
        integrated = half_swing(lambda x, v, _: -x - 0.004 * v - 0.01, -integrated).end
        ledger.value(
            f"formula, swing {n} with ζ = 0.002 and F/k = 0.01 from 5",
            theory,
            expected,
            "rad",
            source=DERIVED,
            within=1e-12,
            why="the last digit given",
        )
        assert integrated == pytest.approx(expected, abs=1e-9)


DRAGS = {
    "viscous": (lambda v, size: size * v, 1.0),
    "quadratic": (lambda v, size: size * v * abs(v), 1.5),
    "dry": (lambda v, size: size, 0.5),
}


@pytest.mark.check(14)
@pytest.mark.parametrize("name", DRAGS)
def test_energy_lost(ledger, name):
    # The energy A^2/2 that scipy DOP853 finds missing after a half-swing, to the next order.
    drag, power = DRAGS[name]
    lost = getattr(g, f"energy_lost_{name}")
    start, size = 4.0, 1e-4
    end = half_swing(lambda x, v, _: -x - drag(v, size), -start).end
    ledger.value(
        f"formula of the energy lost to {name} drag against integration (DOP853), over k",
        lost((start + end) / 2, size) / 2,
        (start**2 - end**2) / 2,
        "rad²",
        source=DERIVED,
        relative=1e-6,
        why="the next order",
    )
    amplitude = np.array([2.0, 5.0])
    ledger.value(
        f"formula, exponent of the energy in the loss to {name} drag",
        _power(amplitude**2 / 2, lost(amplitude, size)),
        power,
        source=SINGH,
        within=1e-12,
        why="exact: rounding",
    )


@pytest.mark.check(14)
def test_quadratic_drag_decays_as_a_hyperbola(ledger):
    # 1/A grows by the same step.
    drag, amplitude, steps = 1e-4, 5.0, []
    for _ in range(3):
        end = half_swing(lambda x, v, _: -x - drag * v * v, -amplitude).end
        steps.append(1 / end - 1 / amplitude)
        amplitude = end
    ledger.value(
        "quadratic drag decays as a hyperbola: step of 1/A by our formula, against DOP853",
        g.energy_lost_quadratic(1.0, drag) / 2,
        steps,
        "1/rad",
        source=SINGH,
        relative=1e-3,
        why="second order in the drag",
    )


# Lift angle


@pytest.mark.check(8)
@pytest.mark.parametrize(("degrees", "percent"), [(200, 8.30), (270, 6.14), (300, 5.52)])
def test_share_inside_the_lift(ledger, degrees, percent):
    # And by the times at which scipy DOP853 crosses the lift's ends.
    amplitude, lift = degrees * DEGREE, 52 * DEGREE
    share = g.share_inside_lift(amplitude, lift)
    swing = half_swing(lambda x, v, _: -x, -amplitude, (-lift / 2, lift / 2))
    ledger.value(
        f"formula, 52° of lift, {degrees}°",
        100 * share,
        percent,
        "%",
        source=DERIVED,
        within=5e-3,
        why="the last digit given",
    )
    assert share == pytest.approx((swing.crossings[1] - swing.crossings[0]) / math.pi, rel=1e-10)


# Hairspring


@pytest.mark.check(10)
@pytest.mark.parametrize("kappa", [1e-7, -1e-7])
def test_cubic_rate_against_quadrature(ledger, kappa):
    amplitude = 4.5

    def slowness(psi):
        return 1 / mpmath.sqrt(1 + kappa * amplitude**2 / 2 * (1 + mpmath.sin(psi) ** 2))

    exact = float(86400 * (mpmath.pi / 2 / mpmath.quad(slowness, [0, mpmath.pi / 2]) - 1))
    ledger.value(
        "formula of the cubic term against quadrature of the period (mpmath)",
        g.cubic_rate(amplitude, kappa),
        exact,
        "s/day",
        source=DERIVED,
        relative=1e-5,
        why="second order, eA² of some 1e-6",
    )


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
    ledger.value(
        f"first-order formula of the index pins, {degrees}°",
        g.index_pins_rate(amplitude, gap, 0.01),
        rate,
        "s/day",
        source=DERIVED,
        relative=5e-3,
        why="second order in the share, 1 %; at a thousandth of it a thousand times closer",
    )
    small = _pins_exactly(amplitude, gap, 1e-5)
    assert g.index_pins_rate(amplitude, gap, 1e-5) == pytest.approx(small, rel=5e-6)


@pytest.mark.check(10)
def test_opening_the_pins_slows_the_lower_amplitude(ledger):
    for wide, narrow in ((12, 8), (20, 15)):
        opened = g.index_pins_rate([2.5, 4.5], wide * DEGREE, 0.01)
        closed = g.index_pins_rate([2.5, 4.5], narrow * DEGREE, 0.01)
        change = opened - closed
        ledger.says(
            "formula, opening the pins",
            change[0] < change[1] < 0,
            "slows the lower amplitude more",
            source=KLEINLEIN.at("§37-39"),
        )


@pytest.mark.check(10)
def test_swing_inside_the_gap_lacks_the_whole_fraction(ledger):
    # sqrt(1 - fraction) of the frequency, to first order, at any amplitude below the gap.
    ledger.value(
        "formula, a swing within the play",
        g.index_pins_rate([0.1, 0.3, 0.5], 0.5, 1e-6),
        86400 * (math.sqrt(1 - 1e-6) - 1),
        "s/day",
        source=DERIVED,
        relative=1e-5,
        why="second order in the share, 1e-6",
    )
