"""What must hold of every watch: closed and stable where it runs; mirror and turn; change of scale.

Sources: symmetries and dimensional analysis of docs/physics.md (1)-(3), by derivation.
"""

from __future__ import annotations

import math

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

import oscsim

from .strategies import POSITIONS, UPRIGHT, at, factors, movements, scaled

positions, uprights = st.sampled_from(POSITIONS), st.sampled_from(UPRIGHT)
shares = st.floats(0.3, 1.0)


def assert_same(one: oscsim.SettledPoints, other: oscsim.SettledPoints, *, slower: float = 1.0) -> None:
    """The same motion, with every time of the second ``slower`` times as long."""
    assert one.state[0, 0] == other.state[0, 0]
    assume(one.state[0, 0] in ("running", "knocks"))
    for name in ("amplitude_deg", "apparent_amplitude_deg", "lift_angle_deg"):
        np.testing.assert_allclose(getattr(other, name), getattr(one, name), rtol=1e-11)
    np.testing.assert_allclose(other.rate_s_per_day, one.rate_s_per_day, rtol=0, atol=1e-7)
    for name in ("tick_s", "period_s"):
        np.testing.assert_allclose(getattr(other, name), getattr(one, name) * slower, rtol=1e-11)
    np.testing.assert_allclose(other.beat_error_ms, one.beat_error_ms * slower, rtol=0, atol=1e-8)
    # P' contains a difference quotient, so it is known to some 1e-9 only
    np.testing.assert_allclose(other.stability, one.stability, rtol=0, atol=1e-7)


@given(movements(), positions, shares)
def test_running_means_closed_and_stable(movement: oscsim.Movement, position: str, share: float) -> None:
    got = at(movement, position, share)
    assume(got.state[0, 0] == "running")
    assert got.residual_rad[0, 0] <= 1e-10
    assert got.stability[0, 0] < 1.0
    assert np.isfinite([got.amplitude_deg, got.rate_s_per_day, got.beat_error_ms, got.tick_s]).all()
    assert got.amplitude_low_deg[0, 0] == got.amplitude_high_deg[0, 0] == got.amplitude_deg[0, 0]


@given(movements(), uprights, shares)
def test_mirror_swaps_the_beats(movement: oscsim.Movement, position: str, share: float) -> None:
    """Heavy point and lever mirrored about the vertical: the two beats change places."""
    up = math.degrees(oscsim.position(position).hour_up)
    b = movement.balance
    mirrored = movement.with_(
        {
            "balance.out_of_beat_deg": -b.out_of_beat_deg,
            "balance.heavy_point_deg": (2.0 * up - b.heavy_point_deg) % 360.0,
        }
    )
    one, other = at(movement, position, share), at(mirrored, position, share)
    assert_same(one, other)
    np.testing.assert_allclose(other.signed_beat_error_ms, -one.signed_beat_error_ms, atol=1e-8, rtol=0)


@given(movements(), st.integers(0, 3), st.integers(1, 3))
def test_heavy_point_turned_with_the_watch(movement: oscsim.Movement, start: int, quarters: int) -> None:
    heavy = (movement.balance.heavy_point_deg + 90.0 * quarters) % 360.0
    turned = movement.with_({"balance.heavy_point_deg": heavy})
    assert_same(at(movement, UPRIGHT[start]), at(turned, UPRIGHT[(start + quarters) % 4]))


@given(movements(), positions, factors, shares)
def test_scaling_of_inertias_and_torques(
    movement: oscsim.Movement, position: str, c: float, share: float
) -> None:
    """Inertias, stiffness and torques all times c: the motion is the same."""
    assert_same(at(movement, position, share), at(scaled(movement, c, c), position, share))


@given(movements(), positions, st.floats(0.7, 1.5), shares)
def test_scaling_of_time(movement: oscsim.Movement, position: str, c: float, share: float) -> None:
    """c times the beat with c² times the torques: the same swings, c times as fast."""
    beat = movement.balance.beats_per_hour
    faster = scaled(movement, 1.0, c * c).with_({"balance.beats_per_hour": beat * c})
    assert_same(at(movement, position, share), at(faster, position, share), slower=1.0 / c)
