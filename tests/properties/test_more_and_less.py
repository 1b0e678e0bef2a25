"""More torque never lowers the settled amplitude, more friction never raises it.

Source: common practice, and first-order theory (docs/physics.md §6), in which the drive enters the energy balance
with one sign and every drag with the other.
"""

from __future__ import annotations

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

import oscsim

from .strategies import POSITIONS, at, movements

positions = st.sampled_from(POSITIONS)


@given(movements(), positions, st.floats(1.01, 1.5))
def test_more_torque_never_lowers_the_amplitude(
    movement: oscsim.Movement, position: str, more: float
) -> None:
    stronger = movement.with_({"mainspring.height_mm": movement.mainspring.height_mm * more})
    one, other = at(movement, position), at(stronger, position)
    assume(one.state[0, 0] == "running")
    assert other.state[0, 0] in ("running", "knocks")
    assume(np.isfinite(other.amplitude_deg[0, 0]))  # above 400 deg no number is given
    assert other.amplitude_deg[0, 0] > one.amplitude_deg[0, 0]


FRICTIONS = (
    "balance.pivot_friction",
    "balance.quadratic_drag",
    "escapement.pallet_friction",
    "train.jewel_friction",
    "train.brass_friction",
)


@given(movements(), positions, st.sampled_from((*FRICTIONS, "balance.viscous_q")), st.floats(1.05, 1.5))
def test_more_friction_never_raises_the_amplitude(
    movement: oscsim.Movement, position: str, name: str, more: float
) -> None:
    part, field = name.split(".")
    value = getattr(getattr(movement, part), field)
    worse = movement.with_({name: value / more if field == "viscous_q" else value * more})
    one, other = at(movement, position), at(worse, position)
    assume(one.state[0, 0] == other.state[0, 0] == "running")
    # dial up and with all holes jewelled some frictions do nothing: rounding only
    assert other.amplitude_deg[0, 0] <= one.amplitude_deg[0, 0] * (1.0 + 1e-12)
