"""A strong cubic hairspring against elliptic integrals; what of a hairspring's shape is not reached; 11-13, 32, 33."""

from __future__ import annotations

import math

import numpy as np
import pytest

from oscsim.motion.free import free_period
from oscsim.motion.rules import LADDER

from .designs import free, free_rate
from .sources import ELLIPTIC, GOUDSMIT, KLEINLEIN, PHILLIPS, TEXTBOOK

NO_SHAPE = (
    "the library takes the hairspring's stiffness and its departure from linear as given, not its shape"
)


@pytest.mark.check(32)
@pytest.mark.parametrize(
    ("m", "k"), [(0.01, 1.5747455615173559), (0.1, 1.6124413487202194), (0.25, 1.685750354812596)]
)
def test_strong_cubic(ledger, m, k):
    # x'' = -x - e x³ from rest at A is a Jacobi cn: period 4 K(m)/√(1 + e A²), e A² = 2m/(1 - 2m).
    stiff = 2 * m / (1 - 2 * m)
    amplitude = math.radians(270.0)
    osc = free(cubic=stiff / amplitude**2)
    ledger.value(
        f"period of a hairspring with eA² = {stiff:.4g} at 270°, in 1/ω, against 4 K({m:g})/√(1 + eA²)",
        free_period(osc, np.array([amplitude]), LADDER[-1])[0],
        4 * k / math.sqrt(1 + stiff),
        source=ELLIPTIC,
        relative=1e-12,
        why="the energy is in closed form, the time a quadrature: rounding",
    )


@pytest.mark.check(33)
@pytest.mark.parametrize(("degrees", "rate"), [(1.0, -1.645), (2.0, -6.580)])
def test_circular_error(ledger, degrees, rate):
    # sin x = x - x³/6: a pendulum is a cubic term of -1/6; T = T₀ (1 + A²/16 + ...).
    ledger.value(
        f"circular error at {degrees:g}° to one side, as a cubic term of -1/6",
        free_rate(degrees, cubic=-1 / 6),
        rate,
        "s/day",
        source=TEXTBOOK,
        within=6e-4 * degrees**2,
        why="the last digit given; T = T₀(1 + A²/16)",
    )


@pytest.mark.check(11)
def test_flat_spring(ledger):
    ledger.not_reached(
        "rate of a flat hairspring over the amplitude",
        "first order in r₀, r₁, L and winding angle; elastica of 12 turns: 74.389, 87.422, 68.371 s/day at 60°, "
        "150°, 270°",
        source=GOUDSMIT,
        why=NO_SHAPE,
    )


@pytest.mark.check(12)
def test_outer_curve(ledger):
    ledger.not_reached(
        "centroid of a correct outer curve",
        "R²/ℓ from the axis; worked: 0.28005 R",
        source=PHILLIPS,
        why=NO_SHAPE,
    )


@pytest.mark.check(13)
def test_spring_leaving_its_collet(ledger):
    ledger.not_reached(
        "a hairspring that leaves its collet upward makes that position fast",
        "12 to 15 s is natural",
        source=KLEINLEIN.at("§32-34"),
        why=NO_SHAPE + "; that such readings are not taken for a heavy point is check 31",
    )
