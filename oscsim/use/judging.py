"""Limits that a trial is judged by, as data: other rules are another entry."""

from __future__ import annotations

from typing import NamedTuple


class Limit(NamedTuple):
    """What a criterion must lie between; None where that side has no limit."""

    low: float | None
    high: float | None


#: Words of the criteria, in the order of ISO 3159, with their unit.
CRITERIA = {
    "M": ("mean daily rate over ten days", "s/day"),
    "V": ("mean variation of the daily rate", "s/day"),
    "Vmax": ("greatest variation of the daily rate", "s/day"),
    "D": ("6H less CH", "s/day"),
    "P": ("greatest departure from the mean rate", "s/day"),
    "C": ("change of rate with temperature", "s/day/°C"),
    "R": ("resumption of rate", "s/day"),
    "D_other": ("CH less 6H", "s/day"),
}
#: The seven that count; ``D_other`` is the other reading of D.
SEVEN = ("M", "V", "Vmax", "D", "P", "C", "R")

#: ISO 3159:2009, category 1 (movements of more than 20 mm) and 2.
CATEGORIES: dict[int, dict[str, Limit]] = {
    1: {
        "M": Limit(-4.0, 6.0),
        "V": Limit(None, 2.0),
        "Vmax": Limit(None, 5.0),
        "D": Limit(-6.0, 8.0),
        "P": Limit(None, 10.0),
        "C": Limit(-0.6, 0.6),
        "R": Limit(-5.0, 5.0),
    },
    2: {
        "M": Limit(-5.0, 8.0),
        "V": Limit(None, 3.4),
        "Vmax": Limit(None, 7.0),
        "D": Limit(-8.0, 10.0),
        "P": Limit(None, 15.0),
        "C": Limit(-0.7, 0.7),
        "R": Limit(-6.0, 6.0),
    },
}
for limits in CATEGORIES.values():
    limits["D_other"] = limits["D"]

#: Position and temperature (°C) of each day of the trial.
DAYS = (
    *(("6H", 23.0),) * 2,
    *(("3H", 23.0),) * 2,
    *(("9H", 23.0),) * 2,
    *(("FH", 23.0),) * 2,
    *(("CH", 23.0),) * 2,
    ("CH", 8.0),
    ("CH", 23.0),
    ("CH", 38.0),
    *(("6H", 23.0),) * 2,
)
