"""Energy: what each drag of (1) takes in a period, and the balance that sets the amplitude.

Energies are divided by k, so in rad^2: the swing itself holds A^2/2.
"""

import sympy as sp  # type: ignore[import-untyped, unused-ignore]

from oscsim.theory.averaging import SWING, A, amplitude_lost, over_period
from oscsim.theory.equation import REDUCED, v

DRAGS = ("viscous", "quadratic", "dry")

# A torque does the work (torque times v) per unit of time; what it takes is minus that.
LOST = {name: -over_period(REDUCED[name], SWING[v]) for name in DRAGS}

# The same by averaging, per beat. (A dA = dE: tests hold the two to each other.)
AMPLITUDE_LOST = {name: amplitude_lost(REDUCED[name]) for name in DRAGS}

gain = sp.Symbol("g_beat", positive=True)  # net work of the escapement per beat, over k
w = sp.Symbol("w", nonnegative=True)  # what lever and wheel take per beat, over k A^2

LOST_PER_BEAT = sp.expand(sp.Add(*LOST.values()) / 2 + w * A**2)
BALANCE = sp.Eq(LOST_PER_BEAT, gain)
