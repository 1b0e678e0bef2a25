"""Where the energy of a settled cycle goes, phase by phase, for a batch.

Work in the lift follows from the torques and angles of each phase, losses in plastic contacts from the speeds before
and after, and the drag's work is an integral along the motion of its own, so that the sum is a check on the engine.
All energies are over k and per beat, the mean of the two.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.arcs import free_arc
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.contact import push
from oscsim.motion.cycle import Cycle, gaps
from oscsim.motion.lift import Lift, Speeds
from oscsim.motion.rules import LADDER, collocation, gauss

_RULE = LADDER[2]
_ALONG = 24


class Drive(NamedTuple):
    """What the batch does not keep apart, each one value or (points,): g M_e/k; wheel angle per lever angle in impulse
    p and unlocking q; M_u/M_e, M_i/M_e; fork efficiency; the drop's wheel angle over the fork ratio, rad."""

    at_balance: Array
    advance: Array
    recoil: Array
    unlocking: Array
    impulse: Array
    fork_efficiency: Array
    drop: Array


#: The places energy goes, in the order of a beat.
PLACES = (
    "drop",
    "recoil",
    "lock_friction",
    "pallet_friction",
    "fork",
    "pick_up",
    "catch",
    "shake",
    "lever_and_wheel",
    "viscous",
    "quadratic",
    "dry",
)


def account(osc: Oscillators, cycle: Cycle, drive: Drive) -> tuple[Array, dict[str, Array]]:
    """Energy given at the escape wheel and taken at each of ``PLACES``, per beat over k, each (points,).

    ``cycle`` must be settled; NaN where it is not.
    """
    both, n = osc.both_beats(), osc.size
    twice = Drive(*(np.concatenate([np.broadcast_to(v, n)] * 2) for v in drive))
    with np.errstate(all="ignore"):
        found = gaps(both, cycle.left, cycle.right, _RULE)
        # once more from its own events, which are then placed to rounding
        found = gaps(both, cycle.left, cycle.right, _RULE, found.lifts)
        given, taken = _beats(both, found.lifts, twice)
        before, after = np.concatenate([cycle.left, cycle.right]), np.concatenate([cycle.right, cycle.left])
        taken |= _drag_work(both, before, after, found.lifts)
    mean = {name: 0.5 * (values[:n] + values[n:]) for name, values in taken.items()}
    return 0.5 * (given[:n] + given[n:]), {name: mean[name] for name in PLACES}


def _beats(osc: Oscillators, lifts: Lift, drive: Drive) -> tuple[Array, dict[str, Array]]:
    """What the escapement is given and takes in each beat of the batch."""
    v = Speeds(*lifts.speeds)
    m = drive.at_balance
    lever, both = osc.inertia_lever - 1.0, osc.inertia_impulse - 1.0
    wheel = both - lever
    missed = lifts.catching >= osc.lift * (1.0 - 1e-12)
    dropped = lifts.lost & ~missed
    rest = osc.lift - lifts.catching
    led = np.where(missed, 0.0, np.where(dropped, rest, lifts.running + osc.shake))
    pushed = np.where(lifts.lost, 0.0, rest - lifts.running - osc.shake)
    turned_back = 0.5 * wheel * (osc.recoil * v.release) ** 2
    caught = 0.5 * (lever * v.catch**2 + wheel * v.wheel**2 - both * v.lever**2)
    never = 0.5 * lever * v.catch**2 + turned_back + m * drive.advance * osc.lift
    met = 0.5 * (v.met**2 + both * v.lever_met**2 - osc.inertia_impulse * v.together**2)
    end = np.where(dropped, v.lever_met**2, lifts.speed_squared)
    taken = {
        "drop": m * drive.drop,
        "recoil": m * drive.recoil * osc.unlocking,
        "lock_friction": m * (drive.unlocking - drive.recoil) * osc.unlocking,
        "pallet_friction": m * (drive.advance - drive.impulse) * (led + pushed),
        "fork": m * drive.unlocking * (1.0 / drive.fork_efficiency - 1.0) * osc.unlocking
        + m * drive.impulse * (1.0 - drive.fork_efficiency) * pushed,
        "pick_up": 0.5 * lifts.contact * (1.0 - 1.0 / osc.inertia_unlocking),
        "catch": np.where(missed, never, caught),
        "shake": np.where(lifts.lost, 0.0, met),
        "lever_and_wheel": np.where(missed, 0.0, 0.5 * both * end),
    }
    return m * (drive.advance * osc.lift + drive.drop), taken


def _drag_work(osc: Oscillators, before: Array, after: Array, lifts: Lift) -> dict[str, Array]:
    """Work of each drag over each beat from the turning point ``before`` to the one ``after``."""
    nodes, weights = gauss(_ALONG)
    m = osc.size
    many = osc.tiled(_ALONG)
    viscous, quadratic = np.zeros(m), np.zeros(m)

    def along(speed: Array, path: Array) -> None:
        """Add a stretch: speed at the nodes and angle per unit of the node's parameter, both (nodes, points)."""
        nonlocal viscous, quadratic
        viscous = viscous + osc.viscous * (weights @ (speed * path))
        quadratic = quadratic + osc.quadratic * (weights @ (speed * speed * path))

    for turn, end, outward in ((before, osc.pin_contact, False), (after, lifts.drop, True)):
        sign = 1.0 if outward else -1.0
        span = np.arccos(sign * end / turn)
        phase = nodes[:, None] * span
        x = sign * turn * np.cos(phase)
        arc = free_arc(many, np.tile(turn, _ALONG), x.reshape(-1), _RULE, backwards=outward)
        along(np.sqrt(arc.speed_squared).reshape(x.shape), turn * np.sin(phase) * span)

    v = Speeds(*lifts.speeds)
    release = osc.pin_contact + osc.unlocking
    missed = lifts.catching >= osc.lift * (1.0 - 1e-12)
    running = np.where(missed, 0.0, lifts.running)
    pushed = np.where(lifts.lost, 0.0, lifts.drop - release - lifts.catching - running)
    heavier = osc.inertia_unlocking
    none = np.zeros(m)
    stretches = (
        (osc.pin_contact, osc.unlocking, lifts.contact / heavier**2, heavier, -osc.unlocking_torque),
        (release, lifts.catching, v.release**2, osc.inertia_lever, none),
        (release + lifts.catching, running, v.catch**2, np.ones(m), none),
        (lifts.drop - pushed, pushed, v.together**2, osc.inertia_impulse, osc.impulse_torque),
    )
    collocated, sweeps = collocation(_RULE.contact_nodes), _RULE.contact_sweeps
    for start, length, w, inertia, torque in stretches:
        start, w, inertia, torque = (np.tile(values, _ALONG) for values in (start, w, inertia, torque))
        travel = nodes[:, None] * length
        end_of = push(many, start, travel.reshape(-1), w, inertia, torque, collocated, sweeps)
        speed = np.where(length > 0.0, np.sqrt(end_of.speed_squared).reshape(travel.shape), 0.0)
        along(speed, np.broadcast_to(length, travel.shape))
    dry = osc.dry * (before + after) + osc.rubbed(-before, after)
    return {"viscous": viscous, "quadratic": quadratic, "dry": dry}
