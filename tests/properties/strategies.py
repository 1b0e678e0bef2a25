"""Hypothesis strategies: plausible watches that mostly run, as changes to a reference design."""

from __future__ import annotations

from hypothesis import strategies as st

import oscsim

from ..independent.designs import EVEN, MOVEMENTS, NAMES, SCALED, SPREAD, TABLES

UPRIGHT = ("12H", "3H", "6H", "9H")
POSITIONS = ("CH", "FH", *UPRIGHT)
factors = st.floats(0.25, 4.0)


@st.composite
def movements(draw: st.DrawFn) -> oscsim.Movement:
    """A reference design with most of its numbers redrawn."""
    name = draw(st.sampled_from(NAMES))
    changes = {key: draw(st.floats(*ends)) for key, ends in (EVEN | SPREAD).items()}
    for key, (low, high) in SCALED.items():
        part, field = key.split(".")
        changes[key] = TABLES[name][part][field] * draw(st.floats(low, min(high, 3.0)))
    changes["mainspring.height_mm"] = TABLES[name]["mainspring"]["height_mm"] * draw(st.floats(0.5, 1.3))
    changes["balance.cubic_stiffness"] = draw(st.floats(-1e-4, 1e-4))
    changes["mainspring.slip_torque_n_mm"] = None
    return MOVEMENTS[name].with_(changes)


def scaled(movement: oscsim.Movement, inertias: float, torques: float) -> oscsim.Movement:
    """Every inertia and every torque but the hairspring's (set by inertia and beat) times a factor."""
    b, e, m = movement.balance, movement.escapement, movement.mainspring
    return movement.with_(
        {
            "balance.inertia_mg_cm2": b.inertia_mg_cm2 * inertias,
            "escapement.lever_inertia_mg_cm2": e.lever_inertia_mg_cm2 * inertias,
            "escapement.wheel_inertia_mg_cm2": e.wheel_inertia_mg_cm2 * inertias,
            "balance.mass_mg": b.mass_mg * torques,
            "balance.unbalance_ug_cm": b.unbalance_ug_cm * torques,
            "mainspring.height_mm": m.height_mm * torques,
        }
    )


def at(movement: oscsim.Movement, position: str, share: float = 1.0) -> oscsim.SettledPoints:
    """Settled at a share of the turns that fit."""
    turns = share * float(oscsim.settle(movement).points.turns[0, 0])
    return oscsim.settle(movement, oscsim.Setting(positions=position, turns=turns)).points
