"""The engine with the lever's refinements off, against a published simple model of the detached lever; check 41."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from oscsim.motion.escapement import Escapement
from oscsim.motion.lever.lever import Lever
from oscsim.motion.settle import settle
from oscsim.motion.states import CODE, State

from .book import Ledger
from .designs import free
from .sources import THREE_PHASES

#: I kg·m², k N·m/rad, dry friction N·m, viscous N·m·s, impulse N·m; the unlocking takes 0.3 of the impulse.
INERTIA, STIFFNESS, DRY, VISCOUS, IMPULSE, UNLOCKING = 1.4e-9, 4.97428e-7, 3e-9, 1e-10, 2.18e-7, 0.3
#: Share of the torque; amplitude deg; escapement error s/day.
SHARE = np.array([1.0, 0.7, 0.5, 0.3])
AMPLITUDE, ERROR = np.array([313.9, 254.8, 208.2, 151.4]), np.array([-5.2, -6.8, -8.9, -13.8])


@pytest.mark.check(41)
def test_simple_model(ledger: Ledger) -> None:
    omega = math.sqrt(STIFFNESS / INERTIA)
    balance = free(dry=DRY / STIFFNESS, viscous=VISCOUS / (INERTIA * omega)).take(np.zeros(len(SHARE), int))

    def simple(escapement: Escapement) -> Lever:
        """No inertia of lever and wheel, no catch-up, no shake. The model rests from -15 to -13 deg; here the unlocking
        reaches on to there with as much less torque, which is the same work."""
        assert isinstance(escapement, Lever)
        angles = {"centre": 0.0, "contact": 25.0, "unlocking": 12.0, "rise": 35.0, "shake": 0.0}
        plain = {"inertia_unlocking": 1.0, "inertia_lever": 1.0, "inertia_impulse": 1.0 + 1e-9, "recoil": 0.0}
        at_once = {"wheel_acceleration": 1e9, "wheel_share": 0.5, "lever_acceleration": 1e9}
        numbers = {name: math.radians(value) for name, value in angles.items()} | plain | at_once
        return replace(
            escapement,
            **{name: np.full(len(SHARE), value) for name, value in numbers.items()},
            impulse_torque=IMPULSE / STIFFNESS * SHARE,
            unlocking_torque=UNLOCKING * 10.0 / 12.0 * IMPULSE / STIFFNESS * SHARE,
        )

    found = settle(balance.with_escapement(simple), np.full(len(SHARE), 2.0 * math.pi))
    assert (found.state == CODE[State.RUNNING]).all()
    amplitude = np.degrees(found.cycle.amplitude)
    ledger.value(
        "balance of 1.4e-9 kg·m², torque on the balance 1, 0.7, 0.5 and 0.3 of 2.18e-7 N·m: amplitude",
        amplitude,
        AMPLITUDE,
        "deg",
        source=THREE_PHASES,
        within=0.06,
        why="the last digit given",
    )
    ledger.value(
        "the same: the escapement's error of rate",
        86400.0 * (2.0 * math.pi / found.cycle.period - 1.0),
        ERROR,
        "s/day",
        source=THREE_PHASES,
        relative=0.025,
        why="the unlocking, spread over 12 in place of 10 deg, lies 1.4 % nearer the dead point; the last digit given",
    )
    power = np.polyfit(np.log(SHARE), np.log(amplitude), 1)[0]
    ledger.band(
        "the same: amplitude as a power of the torque",
        power,
        0.56,
        0.62,
        source=THREE_PHASES,
        why="about 0.58",
    )
