"""The start amplitude against numpy's polynomial roots, a swing in time, and a published clock."""

import re

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from oscsim.theory.start import start_amplitude
from tests.theory.swing import half_swing

loss = st.one_of(st.just(0.0), st.floats(1e-9, 1.0))


@given(loss, loss, loss, loss, st.floats(1e-12, 100.0))
def test_against_polynomial_roots(viscous, quadratic, dry, lever, gain):
    # Outside: numpy.roots on the derived balance; its only positive root.
    import sympy as sp

    from oscsim.theory import losses  # derives when it is loaded: not while tests are being collected
    from oscsim.theory.averaging import A
    from oscsim.theory.equation import beta, c, d

    assume(viscous + quadratic + dry + lever > 0.0)
    values = {beta: viscous, c: quadratic, d: dry, losses.w: lever, losses.gain: gain}
    balance = sp.Poly((losses.BALANCE.lhs - losses.BALANCE.rhs).subs(values), A)
    roots = np.roots([float(x) for x in balance.all_coeffs()])
    # Eigenvalues lose digits where coefficients differ much, so the residual is the sharper check.
    real = roots[(abs(roots.imag) < 1e-9 * abs(roots)) & (roots.real > 0)].real
    found = float(start_amplitude(viscous, quadratic, dry, gain, lever))
    assert len(real) == 1
    assert found == pytest.approx(real[0], rel=1e-7)
    assert float(balance.eval(found)) == pytest.approx(0.0, abs=1e-13 * gain)


def test_each_loss_is_the_power_of_the_amplitude_that_start_assumes():
    import sympy as sp

    from oscsim.theory import losses
    from oscsim.theory.averaging import A

    for name, power in {"dry": 1, "viscous": 2, "quadratic": 3}.items():
        assert sp.Poly(losses.LOST[name], A).monoms() == [(power,)]


def test_against_a_swing_in_time():
    # Scipy DOP853: what one free half-swing loses about the start amplitude is the gain, to the next order.
    coefficients = (1 / 280, 1.2e-3, 6e-4)
    gain = 0.16
    amplitude = float(start_amplitude(*coefficients, gain))
    half = sum(
        coefficients[i] * factor for i, factor in enumerate((np.pi * amplitude / 2, 4 / 3 * amplitude**2, 2))
    )
    swing = half_swing(
        lambda x, v, _: -x - coefficients[0] * v - coefficients[1] * v * v - coefficients[2],
        -(amplitude + half / 2),
    )
    assert (swing.end + amplitude + half / 2) / 2 == pytest.approx(amplitude, rel=1e-3)
    assert ((amplitude + half / 2) ** 2 - swing.end**2) / 2 == pytest.approx(gain, rel=1e-3)


def test_clock_with_dry_friction():
    # A. A. Andronov, A. A. Vitt and S. E. Khaikin, Theory of Oscillators (1966): this type of clock, book
    # from memory. A = h^2/(4 r), 4.5 at r = 0.02, h = 0.6.
    assert start_amplitude(0.0, 0.0, 0.02, 0.6**2 / 2) == pytest.approx(4.5, rel=1e-14)


def test_no_gain_no_amplitude_and_broadcasting():
    gain = np.array([[-1.0, 0.0], [1e-3, 0.2]])
    found = start_amplitude([1 / 200, 1 / 300], 0.0, 0.0, gain)
    assert found.shape == (2, 2)
    assert np.all(found[0] == 0.0)
    assert found[1] == pytest.approx([(2e-3 * 200 / np.pi) ** 0.5, (0.4 * 300 / np.pi) ** 0.5])
    assert start_amplitude(0.0, 0.0, 0.0, -1.0) == 0.0


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((0.0, 0.0, 0.0, 0.1), "gain = 0.1: needs a loss above 0"),
        ((-0.01, 0.0, 0.0, 0.1), "beta = -0.01: must be finite and at least 0"),
        ((0.01, 0.0, 0.0, [0.1, float("nan")]), "gain[1] = nan rad^2: must be finite"),
        ((0.01, 0.0, 0.0, 0.1, -1.0), "w = -1: must be"),
    ],
)
def test_refusals(arguments, told):
    with pytest.raises(ValueError, match=f"^{re.escape(told)}[^\n]*$"):
        start_amplitude(*arguments)
