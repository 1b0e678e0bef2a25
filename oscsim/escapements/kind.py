"""What every kind of escapement offers to the rooms above: each is a module with these functions."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple, Protocol

from oscsim.arrays import Array, Number
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.escapement import Drive, Escapement
from oscsim.motion.states import Failure, State

#: What a phase of a beat may be.
ROLES = ("free", "unlocking", "run", "impulse", "passing")
#: The batch of a design with other numbers, by dotted name.
Put = Callable[[dict[str, float]], Oscillators]


class Driven(NamedTuple):
    """What the rest of the movement gives the escapement: moment of inertia of the balance, mg·cm²; stiffness, N·m/rad;
    ω, rad/s; torque on the escape wheel, N·m; the dead point's distance from the line of centres, rad."""

    inertia: Number
    stiffness: Number
    omega: Number
    torque: Number
    out_of_beat: Number


class Hands(NamedTuple):
    """What turns the hands of ``motion.path`` into angles: of lever or detent, of the wheel; half a tooth space of the
    wheel, rad; and what is left of the speed when the swing strikes its end, None where it does not."""

    lever: float
    wheel: float
    half_tooth: float
    rebound: float | None


class Told(NamedTuple):
    """A number that follows from the design: its name, its meaning, unit and value."""

    name: str
    meaning: str
    unit: str
    value: float


class Kind(Protocol):
    """A module of this room; ``e`` is the kind's part, of one movement or of a stack."""

    #: the state beyond the knock angle, and what happens there, in words
    BEYOND: State
    TOO_FAR: str
    #: why it stops or does not start, in words; a kind that starts from rest has no word for setting
    FAILURES: dict[Failure, str]
    #: the phases of a beat as a picture has them: which of ``ROLES`` each is, and its words there
    PHASES: dict[str, tuple[str, str]]
    #: whether both beats of a period are alike, so that there is a beat error
    ALIKE: bool
    #: what lets the wheel go, and what the balance meets: in words
    RELEASE: str
    MET: str
    #: places of the account of energy, in words
    WORDS: dict[str, str]
    #: causes that may be taken away to see what they cost, with their places
    REMOVALS: dict[str, tuple[str, ...]]

    def columns(self, e: Any, driven: Driven) -> dict[str, Number]:
        """Coefficients by name, arrays of any shape that broadcasts."""
        ...

    def sides(self, columns: Mapping[str, Array]) -> tuple[Escapement, Escapement]:
        """The escapements of the beats to the right and to the left from flat columns."""
        ...

    def drive(self, e: Any, driven: Driven) -> Drive:
        """What the account of energy needs beside the batch."""
        ...

    def without(self, e: Any, osc: Oscillators, put: Put) -> dict[str, Oscillators]:
        """The batch without each of ``REMOVALS``; ``put`` makes the batch of the design with other numbers."""
        ...

    def follows(self, e: Any) -> list[Told]:
        """What follows from the numbers of one movement and is worth telling."""
        ...

    def hands(self, e: Any) -> Hands:
        """Scales of the hands of one movement."""
        ...
