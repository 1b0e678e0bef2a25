"""The ladder of rules climbed: each point only as far as it must."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from oscsim.arrays import Indices
from oscsim.motion.rules import Rule


def climb(rungs: Iterable[Rule], index: Indices, step: Callable[[Rule, Indices], Indices]) -> None:
    """Take the points ``index`` from rung to rung: ``step`` works them by a rule and returns those that need more."""
    for rule in rungs:
        if not len(index):
            return
        index = step(rule, index)
