"""The detent escapement as the motion sees it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

from oscsim.arrays import Array
from oscsim.motion.balance import Balance
from oscsim.motion.detent.account import account
from oscsim.motion.detent.lift import DetentLift, lift
from oscsim.motion.detent.numbers import DetentNumbers
from oscsim.motion.detent.stretches import stretches
from oscsim.motion.escapement import Drive, Lift, Stretch
from oscsim.motion.rules import Rule


@dataclass(frozen=True, kw_only=True)
class Detent(DetentNumbers):
    """The detent in a batch of beats."""

    def lift(self, balance: Balance, w_contact: Array, rule: Rule, near: Lift | None = None) -> DetentLift:
        return lift(balance, self, w_contact, rule, cast(DetentLift | None, near))

    def stretches(self, lifts: Lift) -> tuple[Stretch, ...]:
        return stretches(self, cast(DetentLift, lifts))

    def account(self, lifts: Lift, drive: Drive) -> tuple[Array, dict[str, Array]]:
        return account(self, cast(DetentLift, lifts))
