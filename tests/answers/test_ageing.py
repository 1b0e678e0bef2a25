"""Years without service: designs side by side are each as alone, whatever their escapements."""

import numpy as np
import pytest

import oscsim


def test_escapements_of_several_kinds_side_by_side():
    years = [6.0]
    together = oscsim.ageing(["pilot", "bollard"], years=years)
    for n, name in enumerate(("pilot", "bollard")):
        alone = oscsim.ageing([name], years=years)
        assert together.movements[n].name == alone.movements[0].name
        for curve, values in alone.amplitude_deg.items():
            assert together.amplitude_deg[curve][n] == pytest.approx(values[0], abs=1e-6)
        np.testing.assert_allclose(together.years_to_limit[n], alone.years_to_limit[0], atol=1e-6)
        assert together.given_back_deg[n] == pytest.approx(alone.given_back_deg[0], abs=1e-6)
