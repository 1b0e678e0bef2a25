"""What became of a point: an enumeration whose value is the sentence the reader sees."""

from __future__ import annotations

from enum import Enum

import numpy as np

from oscsim.arrays import Codes, Flags


class State(Enum):
    """Outcome at one operating point (docs/physics.md §2)."""

    RUNNING = "runs with a settled amplitude"
    UNSETTLED = "runs, but its amplitude wanders: some impulses are lost"
    KNOCKS = "knocks: the impulse pin strikes the fork's horn from outside"
    STOPS = "stops: no amplitude can be kept up"
    UNREACHED = "not reached: no torque up to the ceiling keeps up this amplitude"
    TRIPS = "trips: the balance comes round and lets a second tooth go in one swing"

    @property
    def label(self) -> str:
        """The one word used in tables and files: running, unsettled, knocks, stops, unreached, trips."""
        return self.name.lower()


#: States in the order of their codes in arrays.
STATES = tuple(State)
CODE = {state: code for code, state in enumerate(STATES)}
#: What a swing too large for the escapement does, by its kind.
TOO_FAR = (State.KNOCKS, State.TRIPS)
#: From the best to the worst.
BEST_FIRST = (State.RUNNING, State.UNSETTLED, *TOO_FAR, State.UNREACHED, State.STOPS)


def too_far(code: Codes) -> Flags:
    """Where the state is one of ``TOO_FAR``."""
    return np.asarray((code == CODE[State.KNOCKS]) | (code == CODE[State.TRIPS]))


def steady(code: Codes) -> Flags:
    """Where the swing repeats from period to period, though it may be too far: it has a rate and an account of
    energy."""
    return np.asarray((code == CODE[State.RUNNING]) | too_far(code))


class Failure(Enum):
    """Why a watch stops, or does not start; its value is the word for tables and files."""

    LET_DOWN = "let down"
    NOT_UNLOCKED = "not unlocked"
    NOT_CAUGHT = "not caught"
    SETS = "sets"
