"""The curve through points against SciPy's, which follows the same paper (Fritsch and Butland 1984)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from oscsim.use.monotone import monotone

CASES = {
    "falls ever faster": lambda x, rng: -np.exp(3.0 * x),
    "turns": lambda x, rng: np.sin(9.0 * x),
    "jagged": lambda x, rng: rng.normal(size=len(x)),
    "level in places": lambda x, rng: np.round(4.0 * x),
}


@pytest.mark.parametrize("points", [2, 3, 4, 33])
@pytest.mark.parametrize("case", CASES)
def test_value_and_area_are_those_of_scipy(case, points):
    rng = np.random.default_rng(points)
    x = np.cumsum(rng.uniform(0.02, 1.0, points))
    y = CASES[case]((x - x[0]) / (x[-1] - x[0]), rng)
    at = np.concatenate([x, np.linspace(x[0], x[-1], 301)])
    ours, theirs = monotone(x, y), PchipInterpolator(x, y)
    size = np.abs(y).max()
    np.testing.assert_allclose(ours.value(at), theirs(at), rtol=0, atol=1e-13 * size)
    np.testing.assert_allclose(
        ours.area(at), theirs.antiderivative()(at), rtol=0, atol=1e-13 * size * (x[-1] - x[0])
    )
