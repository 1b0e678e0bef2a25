"""What a mesh passes on over one leaf, and how the amplitude follows a torque that swings; checks 39 and 40."""

from __future__ import annotations

import numpy as np
import pytest

from oscsim.motion.response import followed
from oscsim.parts import teeth
from oscsim.parts.teeth import Mesh

from .book import Ledger
from .sources import DERIVED, STEPPED

#: Teeth, leaves, friction, mean of what is passed on, peak to peak of it in per cent.
MESHES = (
    (80, 10, 0.10, 0.964, 7.8),
    (80, 10, 0.15, 0.947, 11.5),
    (80, 10, 0.20, 0.931, 15.1),
    (78, 12, 0.15, 0.955, 9.5),
    (84, 7, 0.15, 0.957, 11.2),
)


@pytest.mark.check(39)
@pytest.mark.parametrize(("wheel", "pinion", "friction", "mean", "swing"), MESHES)
def test_mesh(ledger: Ledger, wheel: int, pinion: int, friction: float, mean: float, swing: float) -> None:
    mesh = Mesh("third", "fourth", wheel, pinion)
    # the mean by quadrature of the angle's own formula, so that the closed form is held too
    turned = teeth.begins(mesh) + 2.0 * np.pi / pinion * (np.arange(4000) + 0.5) / 4000
    named = f"{wheel} teeth on {pinion} leaves, friction {friction:g}"
    ledger.value(
        f"{named}: what is passed on, mean over a leaf by quadrature",
        float(np.mean(teeth.passes(mesh, friction, turned))),
        mean,
        source=DERIVED,
        within=6e-4,
        why="the last digit given",
    )
    ledger.value(
        f"{named}: the same in closed form",
        float(teeth.mean_efficiency(mesh, friction)),
        mean,
        source=DERIVED,
        within=6e-4,
        why="the last digit given",
    )
    ledger.value(
        f"{named}: peak to peak of it",
        100.0 * teeth.peak_to_peak(mesh, friction),
        swing,
        "%",
        source=DERIVED,
        within=0.06,
        why="the last digit given",
    )


#: A design of 4 Hz: amplitude deg, relaxation time s, d ln A/d ln M.
AMPLITUDE, RELAXATION, SENSITIVITY = 282.711, 8.992, 0.46531
#: Period s, half of peak to peak of the torque, swing of the amplitude deg and its lag deg, beat by beat.
STEPS = ((60.0, 0.02, 1.9153, 43.67), (45.0, 0.03, 2.4581, 51.96), (6.0, 0.03, 0.4171, 87.70))


@pytest.mark.check(40)
@pytest.mark.parametrize(("period", "torque", "swing", "lag"), STEPS)
def test_swing(ledger: Ledger, period: float, torque: float, swing: float, lag: float) -> None:
    share, late = (float(x) for x in followed(RELAXATION, period))
    named = f"torque ± {100.0 * torque:g} % with a period of {period:g} s"
    ledger.value(
        f"{named}: swing of the amplitude",
        torque * SENSITIVITY * share * AMPLITUDE,
        swing,
        "deg",
        source=STEPPED,
        relative=1e-3,
        why="first order in the torque's swing",
    )
    half_a_beat = 360.0 / period / 16.0  # at 4 Hz a beat lasts 1/8 s
    ledger.value(
        f"{named}: lag behind the torque, with the half beat that a beat waits for its own end",
        np.degrees(late) + half_a_beat,
        lag,
        "deg",
        source=STEPPED,
        within=0.15,
        why="a beat ends in one blow",
    )
