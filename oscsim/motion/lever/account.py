"""Where the energy of a lever's lift goes.

Work follows from the torques and angles of each phase, losses in plastic contacts from the speeds before and after.
"""

from __future__ import annotations

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.lever.lift import LeverLift, Speeds
from oscsim.motion.lever.numbers import LeverDrive, LeverNumbers


def account(lever: LeverNumbers, lifts: LeverLift, drive: LeverDrive) -> tuple[Array, dict[str, Array]]:
    """What the escapement is given and takes in each beat of the batch, over k."""
    v = Speeds(*lifts.speeds)
    m = drive.at_balance
    alone, both = lever.inertia_lever - 1.0, lever.inertia_impulse - 1.0
    wheel = both - alone
    missed = lifts.missed
    dropped = lifts.lost & ~missed
    rest = lever.rise - lifts.catching
    led = np.where(missed, 0.0, np.where(dropped, rest, lifts.running + lever.shake))
    pushed = np.where(lifts.lost, 0.0, rest - lifts.running - lever.shake)
    turned_back = 0.5 * wheel * (lever.recoil * v.release) ** 2
    caught = 0.5 * (alone * v.catch**2 + wheel * v.wheel**2 - both * v.lever**2)
    never = 0.5 * alone * v.catch**2 + turned_back + m * drive.advance * lever.rise
    met = 0.5 * (v.met**2 + both * v.lever_met**2 - lever.inertia_impulse * v.together**2)
    end = np.where(dropped, v.lever_met**2, lifts.speed_squared)
    taken = {
        "drop": m * drive.drop,
        "recoil": m * drive.recoil * lever.unlocking,
        "lock_friction": m * (drive.unlocking - drive.recoil) * lever.unlocking,
        "pallet_friction": m * (drive.advance - drive.impulse) * (led + pushed),
        "fork": m * drive.unlocking * (1.0 / drive.fork_efficiency - 1.0) * lever.unlocking
        + m * drive.impulse * (1.0 - drive.fork_efficiency) * pushed,
        "pick_up": 0.5 * lifts.contact * (1.0 - 1.0 / lever.inertia_unlocking),
        "catch": np.where(missed, never, caught),
        "shake": np.where(lifts.lost, 0.0, met),
        "lever_and_wheel": np.where(missed, 0.0, 0.5 * both * end),
    }
    return m * (drive.advance * lever.rise + drive.drop), taken
