"""The lever escapement's drawing against a published one; check 9. Virtual work and friction are in tests/parts."""

from __future__ import annotations

import math

import numpy as np
import pytest

import oscsim
from oscsim.motion.sustain import sustain
from oscsim.operating import operating_points
from oscsim.parts.escapement import Escapement, geometry

from .book import Ledger
from .designs import DESIGNS, DRAWING
from .sources import DERIVED, KEYSTONE, PLAYTNER

pytestmark = pytest.mark.check(9)
EXACT = "exact: rounding"


def test_published_drawing(ledger: Ledger) -> None:
    g = geometry(DRAWING)
    arm = float(g.arm)
    # tangential locking: a right angle at the working corner
    ledger.value(
        "distance of centres from our pallet arm, wheel of 7.5 mm",
        3.75 * math.hypot(1.0, arm),
        4.33,
        "mm",
        source=PLAYTNER,
        within=0.005,
        why="the last digit given",
    )
    ledger.value(
        "pallet arm over wheel radius, 2½ spaces of 15",
        arm,
        math.tan(math.radians(30.0)),
        source=PLAYTNER,
        relative=1e-14,
        why=EXACT,
    )
    # stone and tooth turn the wheel by 6 + 4.5 deg while the lever turns by 5.5 + 3
    ledger.value(
        "wheel angle per lever angle during impulse, stone and tooth",
        g.advance,
        (6.0 + 4.5) / (5.5 + 3.0),
        source=PLAYTNER,
        relative=1e-14,
        why=EXACT,
    )
    ledger.value(
        "wheel angle of a beat: impulse and drop",
        g.advance * 8.5 + 1.5,
        12.0,
        "deg",
        source=PLAYTNER,
        relative=1e-14,
        why=EXACT,
    )
    ledger.value(
        "lever from bank to bank: lock, run twice, lift",
        math.degrees(float(g.bank_to_bank)),
        1.5 + 2 * 0.25 + 8.5,
        "deg",
        source=PLAYTNER,
        relative=1e-14,
        why=EXACT,
    )
    ledger.value(
        "recoil of the wheel per lever angle, 12° of draw",
        g.recoil,
        math.tan(math.radians(30.0)) * math.tan(math.radians(12.0)),
        source=DERIVED,
        relative=1e-14,
        why=EXACT,
    )


def test_another_drawing(ledger: Ledger) -> None:
    values = {name: getattr(DRAWING, name) for name in DRAWING.__dataclass_fields__}
    other = Escapement(**(values | {"lock_deg": 1.5, "pallet_lift_deg": 8.5, "run_deg": 0.0}))
    ledger.value(
        "motion of the lever: a lock of 1½° and an impulse of 8½°, no run",
        math.degrees(float(geometry(other).bank_to_bank)),
        10.0,
        "deg",
        source=KEYSTONE,
        relative=1e-14,
        why=EXACT,
    )


def test_virtual_work(ledger: Ledger) -> None:
    g = geometry(DRAWING)
    for what, ours, outside in (("impulse", g.impulse, g.advance), ("unlocking", g.unlocking, g.recoil)):
        ledger.value(
            f"{what} without friction: torque ratio against wheel angle per lever angle",
            ours,
            outside,
            source=DERIVED,
            relative=1e-14,
            why="conservation of energy: rounding",
        )


def test_friction_of_tooth_on_stone(ledger: Ledger) -> None:
    # Balance of forces: the force stands at the friction angle to the normal of locking face or impulse plane.
    mu = 0.14
    values = {name: getattr(DRAWING, name) for name in DRAWING.__dataclass_fields__}
    g = geometry(Escapement(**(values | {"pallet_friction": mu})))
    arm = math.tan(math.radians(30.0))
    draw, plane = math.tan(math.radians(12.0)), arm / ((12.0 - 1.5) / 8.5)
    for what, ours, outside in (
        ("unlocking", g.unlocking, arm * (draw + mu) / (1.0 - mu * draw)),
        ("impulse", g.impulse, arm * (1.0 - mu * plane) / (plane + mu)),
    ):
        ledger.value(
            f"{what} with friction 0.14: lever's torque over the wheel's",
            ours,
            outside,
            source=DERIVED,
            relative=1e-14,
            why="balance of forces: rounding",
        )
    ledger.value(
        "amplitude of the knock, fork ratio 0.21 and 8° of clearance: 360 - 10.5/0.42 - 8",
        math.degrees(float(DRAWING.knock_angle())),
        327.0,
        "deg",
        source=DERIVED,
        relative=1e-14,
        why=EXACT,
    )


def test_the_drawing_runs(ledger: Ledger) -> None:
    """The published angles in a whole watch: the balance turns by lock, lift and run less shake over the fork ratio."""
    angles = {
        f"escapement.{name}": getattr(DRAWING, name)
        for name in (
            "teeth",
            "teeth_embraced",
            "lock_deg",
            "run_deg",
            "pallet_lift_deg",
            "drop_deg",
            "draw_deg",
        )
    }
    movement = DESIGNS["slow"].with_(
        angles | {"escapement.fork_ratio": 0.21, "escapement.notch_shake_deg": 0.3}
    )
    osc = operating_points(movement, oscsim.Setting()).oscillators
    cycle = sustain(osc, np.radians([220.0])).cycle
    ledger.value(
        "balance angle from first to last sound of a watch so drawn, fork ratio 0.21, shake 0.3°",
        np.degrees(cycle.turned),
        (1.5 + 0.25 + 8.5 - 0.3) / 0.21,
        "deg",
        source=DERIVED,
        relative=1e-9,
        why="the whole shake is used: rounding of the events",
    )
