"""Where does the energy go, and what does each share cost in amplitude? The energy budget of a beat."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oscsim.answers.points import SettledPoints, points_from
from oscsim.answers.result import InSetting
from oscsim.arrays import Array
from oscsim.condition import AsItIs
from oscsim.escapements import lever
from oscsim.escapements.kind import Driven
from oscsim.escapements.kinds import WORDS, kind_of
from oscsim.files import takes_design
from oscsim.motion.coefficients import Oscillators, joined
from oscsim.motion.energy import account
from oscsim.motion.escapement import Drive
from oscsim.motion.settle import settle
from oscsim.motion.states import STATES
from oscsim.movement import Movement
from oscsim.operating import OperatingPoints, points_in
from oscsim.parts.train import efficiency
from oscsim.setting import Setting
from oscsim.stack import put_unchecked

#: Where the balance's own losses go, in words.
_OWN = {
    "viscous": "balance: air, oil and hairspring, by speed",
    "quadratic": "balance: air, by speed squared",
    "dry": "balance: pivots",
    "side_thrust": "balance: side thrust of the hairspring",
}
#: Places the energy of any watch goes, in words.
PLACES = WORDS | _OWN
#: The cause that a hairspring with a shape adds to them.
THRUST = "balance pivots, side thrust of the hairspring"
#: Where the energy of a lever watch goes, for apprentices: places of the budget taken together.
GROUPS = lever.GROUPS | {
    "air and spring": ("viscous", "quadratic"),
    "pivots": ("dry", "side_thrust"),
}


@dataclass(frozen=True, repr=False, kw_only=True)
class Budget(InSetting):
    """Energy budget by position and hour; every array (positions, hours), NaN where the watch does not settle.

    given_j: energy given at the escape wheel per beat; taken_j: where it goes, by place (keys of ``PLACES``);
    escapement_efficiency: what reaches the balance's own losses; overall_efficiency: the same against the barrel's
    work; closure: (given less the sum)/given; cost_deg: amplitude gained by taking a cause away, by cause, with
    cost_state, the state it would then have.
    """

    points: SettledPoints
    given_j: Array
    taken_j: dict[str, Array]
    train_efficiency: float
    cost_deg: dict[str, Array]
    cost_state: dict[str, NDArray[np.str_]]

    @property
    def closure(self) -> Array:
        """(given less all taken)/given, (positions, hours)."""
        return np.asarray((self.given_j - sum(self.taken_j.values())) / self.given_j)

    @property
    def escapement_efficiency(self) -> Array:
        """Share of what the wheel is given that the balance's own losses take, (positions, hours)."""
        kept = sum(self.taken_j[place] for place in ("viscous", "quadratic", "dry", "side_thrust"))
        return np.asarray(kept / self.given_j)

    @property
    def overall_efficiency(self) -> Array:
        """The escapement's efficiency times the train's, (positions, hours)."""
        return self.escapement_efficiency * self.train_efficiency

    def rows(self) -> list[dict[str, Any]]:
        return [
            row
            | {"place": place, "energy_j": taken[at], "share_percent": 100.0 * taken[at] / self.given_j[at]}
            for at, row in self.points.rows((), position=self.setting.positions)
            for place, taken in self.taken_j.items()
        ]

    def body(self) -> dict[str, Any]:
        found = [
            row
            | {
                name: getattr(self, name)[at]
                for name in ("given_j", "closure", "escapement_efficiency", "overall_efficiency")
            }
            | {
                name: {key: v[at] for key, v in getattr(self, name).items()}
                for name in ("taken_j", "cost_deg", "cost_state")
            }
            for at, row in self.points.rows(
                ("amplitude_deg", "residual_rad"), position=self.setting.positions
            )
        ]
        return {"train_efficiency": self.train_efficiency, "points": found}


@takes_design
def budget(movement: Movement, setting: Setting | None = None) -> Budget:
    """Energy budget per beat in ``setting`` (default: dial up, fully wound), and what each cause costs in amplitude.

    A cause is taken away and the watch settled again; where it then swings too far for a number the cost is NaN
    and the state says so. Raises InputError when the setting asks for what the movement cannot have.
    """
    setting = setting or Setting()
    setting.refuse("amplitudes here are the balance's own", "lift_angle_deg")
    as_is = setting.condition.applied_to(movement)
    points = points_in(as_is, setting)
    batch = settle(points.oscillators, points.knock_angle)
    given, taken = account(points.oscillators, batch.cycle, drive_of(as_is, points))
    settled = points_from(points, batch)
    steady = settled.steady

    def joules(values: Array) -> Array:
        return np.where(steady, (values * points.stiffness).reshape(points.shape), math.nan)

    cost, then = _costs(as_is, setting, points, settled)
    return Budget(
        movement=movement,
        setting=setting,
        points=settled,
        given_j=joules(given),
        taken_j={place: joules(values) for place, values in taken.items()},
        train_efficiency=float(efficiency(as_is.movement.train)),
        cost_deg=cost,
        cost_state=then,
    )


def drive_of(as_is: AsItIs, points: OperatingPoints) -> Drive:
    """What the account of energy needs of escapement and drive beside the batch."""
    balance, e = as_is.movement.balance, as_is.movement.escapement
    driven = Driven(balance.inertia_mg_cm2, points.stiffness, points.omega, points.escape_torque, 0.0)
    return kind_of(e).drive(e, driven)


def _costs(
    as_is: AsItIs, setting: Setting, points: OperatingPoints, settled: SettledPoints
) -> tuple[dict[str, Array], dict[str, NDArray[np.str_]]]:
    """Amplitude gained without each cause, and the state then, all settled in one batch."""
    osc, e = points.oscillators, as_is.movement.escapement
    none = np.zeros(osc.size)

    def put(changes: dict[str, float]) -> Oscillators:
        changed = as_is.movement  # in a condition, so perhaps outside the ranges of a design
        for name, value in changes.items():
            changed = put_unchecked(changed, name, value)
        return points_in(AsItIs(changed), setting).oscillators

    without = kind_of(e).without(e, osc, put) | {
        "balance drag by speed": replace(osc, viscous=none),
        "balance drag by speed squared": replace(osc, quadratic=none),
        "balance pivots": replace(osc, dry=none),
    }
    if as_is.movement.hairspring is not None:
        pressed = np.zeros_like(osc.friction_series)
        without[THRUST] = replace(osc, friction_series=pressed)
    every = joined(list(without.values()))
    batch = settle(every, np.tile(points.knock_angle, len(without)))
    shape = (len(without), *points.shape)
    gained = np.degrees(batch.cycle.amplitude).reshape(shape) - settled.amplitude_deg
    words = np.array([state.label for state in STATES])[batch.state].reshape(shape)
    return dict(zip(without, gained, strict=True)), dict(zip(without, words, strict=True))
