"""Times of the answers on decisions; run as ``python -m tests.benchmarks.decisions``. Prints, asserts nothing.

Asked for, one core: attribution among eight groups 0.3 s; 10,000 examples in two positions at two hours 2 s. The
shortest of several runs counts: the machine's other work only ever adds.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

import oscsim
from oscsim.answers.attribution import attribution
from oscsim.answers.budget import budget
from oscsim.answers.candidates import Candidate
from oscsim.answers.compare import compare
from oscsim.answers.swap import swap
from oscsim.answers.tolerance import tolerance
from oscsim.answers.whatif import sensitivities, whatif
from tests.benchmarks.core import best

PACKET, DOCKHAND = oscsim.load("packet"), oscsim.load("dockhand")
FOUR = oscsim.Setting(positions=("CH", "12H"), hours=(0.0, 24.0))
SIX = oscsim.Setting(positions=tuple(oscsim.POSITIONS), hours=(0.0, 12.0, 24.0))


def eight_groups() -> dict[str, tuple[str, ...]]:
    """The tables of a design file, the balance's cut in two."""
    sizes = ("balance.inertia_mg_cm2", "balance.mass_mg", "balance.beats_per_hour")
    rest = tuple(f"balance.{name}" for name in DOCKHAND.tables()["balance"] if f"balance.{name}" not in sizes)
    tables = ("escapement", "train", "mainspring", "barrel", "index_pins")
    return {
        "size": sizes,
        "rest of the balance": rest,
        **{t: (t,) for t in tables},
        "others": ("winding", "hairspring"),
    }


def main() -> None:
    eight = eight_groups()
    pinned = PACKET.with_({"index_pins.stiffness_share": 0.01, "index_pins.low_contact_deg": -20.0})
    inertias, jewels = np.linspace(12.0, 28.0, 60), range(7, 20)
    grid = {"balance.inertia_mg_cm2": inertias, "train.jewels": jewels}
    strips = [
        Candidate(name=str(n), height_mm=1.2 + 0.02 * n, thickness_mm=0.11, length_mm=350.0)
        for n in range(10)
    ]
    rows = [
        ("attribution, 8 groups, 256 mixtures", 0.3, 7, lambda: attribution(DOCKHAND, pinned, groups=eight)),
        ("attribution, ready groups in two levels", None, 7, lambda: attribution(DOCKHAND, PACKET)),
        ("comparison with attribution", None, 7, lambda: compare([DOCKHAND, PACKET])),
        (
            "10,000 examples x 2 positions x 2 hours",
            2.0,
            3,
            lambda: tolerance(DOCKHAND, FOUR, examples=10000, sobol=False),
        ),
        ("  with Sobol indices of 19 spreads", 2.0, 3, lambda: tolerance(DOCKHAND, FOUR, examples=10000)),
        ("what-if map, 60 x 13 designs, 4 points each", None, 3, lambda: whatif(DOCKHAND, grid)),
        (
            "what-if curve, 60 designs",
            None,
            7,
            lambda: whatif(DOCKHAND, {"balance.inertia_mg_cm2": inertias}),
        ),
        ("sensitivities, all numbers", None, 7, lambda: sensitivities(DOCKHAND)),
        ("budget, one point", None, 20, lambda: budget(DOCKHAND)),
        ("budget, 6 positions x 3 hours", None, 7, lambda: budget(DOCKHAND, SIX)),
        ("10 mainsprings", None, 3, lambda: swap(DOCKHAND, strips)),
    ]
    print(f"{'answer':<48}{'time, s':>10}{'asked, s':>10}")
    for name, asked, repeats, call in rows:
        print(f"{name:<48}{best(call, repeats):>10.4f}{asked if asked else '':>10}")


if __name__ == "__main__":
    main()
