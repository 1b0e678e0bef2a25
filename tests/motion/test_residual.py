"""The residual of a settled point whose last step was taken on trust, against the map evaluated there."""

from __future__ import annotations

import numpy as np
import pytest

import oscsim
from oscsim.motion.cycle import gaps
from oscsim.motion.newton import DONE
from oscsim.motion.rules import LADDER
from oscsim.motion.settle import settle
from oscsim.operating import operating_points

from ..independent.designs import MOVEMENTS, POSITIONS


@pytest.mark.parametrize("name", MOVEMENTS)
def test_the_residual_foretold_is_not_exceeded(name: str) -> None:
    """Reported: foretold by the contraction of the step before. Measured: |P(A) - A| on the same rung."""
    setting = oscsim.Setting(positions=POSITIONS, hours=list(np.linspace(0.0, 24.0, 25)))
    points = operating_points(MOVEMENTS[name], setting)
    batch = settle(points.oscillators, points.knock_angle)
    with np.errstate(all="ignore"):
        both = points.oscillators.both_beats
        measured = gaps(both, batch.cycle.left, batch.cycle.right, LADDER[1]).cycle.residual
    told = batch.cycle.residual
    print(f"\n{name}: foretold up to {np.nanmax(told):.1e}, measured up to {np.nanmax(measured):.1e}")
    assert np.isfinite(measured).all()
    assert (measured <= np.maximum(told, DONE)).all()
    assert told.max() > 1e-15  # something was foretold
