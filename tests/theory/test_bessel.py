"""Bessel functions against SciPy's."""

import numpy as np
import scipy.special

from oscsim.theory.bessel import jv


def test_against_scipy():
    x = np.linspace(-30.0, 30.0, 601)
    for order in (0, 1, 2):
        np.testing.assert_allclose(jv(order, x), scipy.special.jv(order, x), rtol=0, atol=2e-15)
