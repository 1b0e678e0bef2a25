"""How much is drawn: enough to notice a fault at every change, and more at night (`.ci/nightly`, DEVELOPERS.md)."""

import os
from typing import TypeVar

T = TypeVar("T")
NIGHTLY = os.environ.get("HYPOTHESIS_PROFILE") == "nightly"
#: How far towards the nightly sizes a night goes, %; 0 tries everything of the night at the size of every change.
PERCENT = int(os.environ.get("NIGHTLY_PERCENT", "100"))


def size(every_change: T, nightly: T) -> T:
    """The one of the two that is meant now; numbers of a part of a night lie between."""
    if not NIGHTLY:
        return every_change
    if isinstance(every_change, int | float) and isinstance(nightly, int | float):
        between = every_change + (nightly - every_change) * PERCENT / 100
        return type(nightly)(between)
    return nightly
