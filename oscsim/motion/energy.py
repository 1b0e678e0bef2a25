"""Where the energy of a settled cycle goes, phase by phase, for a batch.

Work in the lift is told by the escapement's room from torques, angles and the speeds before and after plastic
contacts, and the drag's work is an integral along the motion of its own, so that the sum is a check on the engine.
All energies are over k and per beat, the mean of the two.
"""

from __future__ import annotations

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.arcs import free_arc
from oscsim.motion.batch import joined
from oscsim.motion.coefficients import Beats, Oscillators
from oscsim.motion.cycle import Cycle, gaps
from oscsim.motion.escapement import Drive, Lift
from oscsim.motion.rules import LADDER, Rule, gauss

_RULE = LADDER[2]
_ALONG = 16
#: Where the balance itself takes energy, after the escapement's own places.
DRAGS = ("viscous", "quadratic", "dry", "side_thrust")


def account(
    osc: Oscillators, cycle: Cycle, drive: Drive, rule: Rule = _RULE
) -> tuple[Array, dict[str, Array]]:
    """Energy given at the escape wheel and taken at its places and by each drag, per beat over k: (points,).

    ``cycle`` must be settled; NaN where it is not. ``rule``: how finely the motion is gone through once more.
    """
    both, n = osc.both_beats, osc.size
    with np.errstate(all="ignore"):
        found = gaps(both, cycle.left, cycle.right, rule)
        # once more from its own events, which are then placed to rounding
        found = gaps(both, cycle.left, cycle.right, rule, found.lifts)
        given, taken = both.escapement.account(found.lifts, joined([drive, drive]))
        before, after = np.concatenate([cycle.left, cycle.right]), np.concatenate([cycle.right, cycle.left])
        taken |= _drag_work(both, before, after, found.lifts, rule)
    places = (*both.escapement.places, *DRAGS)
    return 0.5 * (given[:n] + given[n:]), {name: 0.5 * (taken[name][:n] + taken[name][n:]) for name in places}


def _drag_work(both: Beats, before: Array, after: Array, lifts: Lift, rule: Rule) -> dict[str, Array]:
    """Work of each drag over each beat from the turning point ``before`` to the one ``after``."""
    nodes, weights = gauss(_ALONG)
    many = both.tiled(_ALONG)
    viscous, quadratic = np.zeros(both.size), np.zeros(both.size)

    def along(speed: Array, path: Array) -> None:
        """Add a stretch: speed at the nodes and angle per unit of the node's parameter, both (nodes, points)."""
        nonlocal viscous, quadratic
        viscous = viscous + both.viscous * (weights @ (speed * path))
        quadratic = quadratic + both.quadratic * (weights @ (speed * speed * path))

    contact = both.escapement.pin_contact
    for turn, end, outward in ((before, contact, False), (after, lifts.drop, True)):
        sign = 1.0 if outward else -1.0
        span = np.arccos(sign * end / turn)
        phase = nodes[:, None] * span
        x = sign * turn * np.cos(phase)
        arc = free_arc(many, np.tile(turn, _ALONG), x.reshape(-1), rule, backwards=outward)
        along(np.sqrt(arc.speed_squared).reshape(x.shape), turn * np.sin(phase) * span)
    for stretch in both.escapement.stretches(lifts):
        travel = nodes[:, None] * stretch.length
        end_of = stretch.tiled(_ALONG).to(many, travel.reshape(-1), rule)
        speed = np.where(stretch.length > 0.0, np.sqrt(end_of.speed_squared).reshape(travel.shape), 0.0)
        along(speed, np.broadcast_to(stretch.length, travel.shape))
    dry, thrust = both.dry * (before + after), both.rubbed(-before, after)
    return {"viscous": viscous, "quadratic": quadratic, "dry": dry, "side_thrust": thrust}
