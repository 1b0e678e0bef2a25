"""What became of a point: an enumeration whose value is the sentence the reader sees."""

from __future__ import annotations

from enum import Enum


class State(Enum):
    """Outcome at one operating point (docs/physics.md §2)."""

    RUNNING = "runs with a settled amplitude"
    UNSETTLED = "runs, but its amplitude wanders: some impulses are lost"
    KNOCKS = "knocks: the impulse pin strikes the fork's horn from outside, or a detent is unlocked twice (it trips)"
    STOPS = "stops: no amplitude can be kept up"
    UNREACHED = "not reached: no torque up to the ceiling keeps up this amplitude"

    @property
    def label(self) -> str:
        """The one word used in tables and files: running, unsettled, knocks, stops, unreached."""
        return self.name.lower()


#: States in the order of their codes in arrays.
STATES = tuple(State)
CODE = {state: code for code, state in enumerate(STATES)}
