"""The lever escapement as the motion sees it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

from oscsim.arrays import Array
from oscsim.motion.balance import Balance
from oscsim.motion.escapement import Drive, Lift, Stretch
from oscsim.motion.lever.account import account
from oscsim.motion.lever.lift import LeverLift, lift
from oscsim.motion.lever.numbers import LeverDrive, LeverNumbers
from oscsim.motion.lever.stretches import stretches
from oscsim.motion.rules import Rule


@dataclass(frozen=True, kw_only=True)
class Lever(LeverNumbers):
    """The lever in a batch of beats."""

    def lift(self, balance: Balance, w_contact: Array, rule: Rule, near: Lift | None = None) -> LeverLift:
        return lift(balance, self, w_contact, rule, cast(LeverLift | None, near))

    def stretches(self, lifts: Lift) -> tuple[Stretch, ...]:
        return stretches(self, cast(LeverLift, lifts))

    def account(self, lifts: Lift, drive: Drive) -> tuple[Array, dict[str, Array]]:
        return account(self, cast(LeverLift, lifts), cast(LeverDrive, drive))
