"""A point's answer does not depend on what else is asked in the same batch. Source: the point asked alone."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

import oscsim

from ..independent.designs import MOVEMENTS
from .strategies import POSITIONS

positions = st.sampled_from(POSITIONS)


@given(st.sampled_from(sorted(MOVEMENTS)), positions, st.integers(0, 36), st.integers(2, 60))
def test_a_point_does_not_know_its_batch(name: str, position: str, hour: int, size: int) -> None:
    movement = MOVEMENTS[name]
    alone = oscsim.settle(movement, oscsim.Setting(positions=position, hours=hour)).points
    hours = np.append(np.linspace(0.0, 35.0, size), hour)
    several = oscsim.settle(movement, oscsim.Setting(positions=[position, "CH", "9H"], hours=hours)).points
    for field in ("amplitude_deg", "period_s", "tick_s"):
        np.testing.assert_allclose(getattr(several, field)[0, -1], getattr(alone, field)[0, 0], rtol=1e-13)
