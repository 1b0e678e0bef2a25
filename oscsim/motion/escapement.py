"""What every room for an escapement offers to the motion.

A room has one class, a batch of coefficients of the escapement in one beat, in the frame in which the balance moves
to positive x; its lift, the stretches of it, its account of energy, and two estimates: of the work it does at first
order and of the most it can do.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar, Self

from oscsim.arrays import Array, Flags
from oscsim.motion.balance import Balance
from oscsim.motion.batch import Batch
from oscsim.motion.contact import Contact, push
from oscsim.motion.rules import Rule, collocation
from oscsim.motion.states import State


@dataclass(frozen=True, kw_only=True)
class Lift(Batch):
    """One lift per beat, from the first contact to the last, each (points,); NaN where the balance stops in it.

    Slopes are those with v² at the first contact, true to order (1/Q)². A room adds what it needs to start again near.
    """

    drop: Array  # x where the lift ends, rad
    speed_squared: Array  # v² there
    time: Array  # from the first contact
    drop_slope: Array
    slope: Array  # of speed_squared
    lost: Flags  # the impulse that belongs to this beat was not given
    contact: Array  # v² at the first contact
    placed: Flags  # every event was sought near enough to be exact


@dataclass(frozen=True, kw_only=True)
class Stretch(Batch):
    """One stretch of the lift, in which the balance moves on from ``start`` by ``length``; each (points,).

    phase: its name; there: whether the beat has it; w: v² at its start; inertia and torque while it lasts; ``hands``:
    angles of lever (or detent) and wheel, in the units of ``Path``, at balance angles and times since its start.
    """

    phase: str
    there: Flags
    start: Array
    length: Array
    w: Array
    inertia: Array
    torque: Array
    hands: Callable[[Array, Array], tuple[Array, Array]]

    def to(self, balance: Balance, travel: Array, rule: Rule) -> Contact:
        """Speed and time after ``travel`` from the start, (points,) as the balance has them."""
        nodes, sweeps = collocation(rule.contact_nodes), rule.contact_sweeps
        return push(balance, self.start, travel, self.w, self.inertia, self.torque, nodes, sweeps)

    def torque_at(self, x: Array) -> Array:
        """Torque on the balance at the angles ``x``."""
        return self.torque + 0.0 * x


class Drive(Batch):
    """What an account of energy needs of escapement and drive beside the batch; each room has its own."""

    def driven(self, factor: Array) -> Drive:
        """The same with the torque on the escape wheel multiplied by ``factor``."""
        return self


@dataclass(frozen=True, kw_only=True)
class Escapement(Batch, ABC):
    """Coefficients of an escapement in one beat a column."""

    #: names of the stretches of a beat, free arcs first and last
    phases: ClassVar[tuple[str, ...]]
    #: where the account of energy says that it goes
    places: ClassVar[tuple[str, ...]]
    #: what a swing beyond the knock angle does
    beyond: ClassVar[State]
    #: whether both beats of a period give the same work
    alike: ClassVar[bool]

    @property
    @abstractmethod
    def pin_contact(self) -> Array:
        """Balance angle at which the escapement is first met, rad, shape (points,)."""

    @property
    @abstractmethod
    def last_contact(self) -> Array:
        """Balance angle beyond which the escapement is not met in this beat, rad, shape (points,)."""

    @abstractmethod
    def driven(self, factor: Array) -> Self:
        """The same with the torque on the escape wheel multiplied by ``factor``."""

    @abstractmethod
    def in_beat(self, rest: Array) -> Self:
        """The same with its line of centres where the balance comes to rest, rad (points,): at the dead point."""

    @abstractmethod
    def lift(self, balance: Balance, w_contact: Array, rule: Rule, near: Lift | None = None) -> Lift:
        """Through the lift, from the first contact with squared speed ``w_contact``; all (points,).

        ``near``: lifts of the same beats at almost the same speed, whose events then are the first guesses.
        """

    @abstractmethod
    def stretches(self, lifts: Lift) -> tuple[Stretch, ...]:
        """The stretches of these lifts, in order."""

    @abstractmethod
    def at_rest(self, *, outward: bool) -> Array:
        """Angle of the lever (or detent) on the free arcs, before and (outward) after the lift, as in ``Path``."""

    @abstractmethod
    def account(self, lifts: Lift, drive: Drive) -> tuple[Array, dict[str, Array]]:
        """Energy that the wheel is given in these beats, and what the escapement takes of it by place, over k."""

    @abstractmethod
    def first_work(self, amplitude: Array | None) -> tuple[Array, Array]:
        """Work of a beat at first order: what does not depend on the swing, and the loss over the swing's square."""

    @abstractmethod
    def most_work(self) -> Array:
        """A bound from above on what a beat can give the balance, over k."""
