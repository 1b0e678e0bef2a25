"""How much is drawn: enough to notice a fault at every change, and more at night (`.ci/nightly`, DEVELOPERS.md)."""

import os
from typing import TypeVar

T = TypeVar("T")
NIGHTLY = os.environ.get("HYPOTHESIS_PROFILE") == "nightly"


def size(every_change: T, nightly: T) -> T:
    """The one of the two that is meant now."""
    return nightly if NIGHTLY else every_change
