"""Rate shifts, to first order, of every torque that is not the hairspring's own pull.

Each is Delta omega/omega; times 86400 it is s/day, gain positive.
"""

import sympy as sp  # type: ignore[import-untyped, unused-ignore]

from oscsim.theory.averaging import PHASE_WEIGHT, QUARTER, A, frequency_shift, over_angles, over_period, psi
from oscsim.theory.equation import REDUCED, Q, beta, tau, x
from oscsim.theory.losses import LOST

SECONDS_PER_DAY = 86400

CUBIC = frequency_shift(REDUCED["cubic"])
DRY = frequency_shift(REDUCED["dry"])
QUADRATIC = frequency_shift(REDUCED["quadratic"])
VISCOUS = frequency_shift(REDUCED["viscous"])


def _harmonics(torque: sp.Expr) -> sp.Expr:
    """The unbalance's torque on the swing, by its harmonics (Abramowitz and Stegun 1965, 9.1.42-43).

    Those above the second are left out: against 1 and sin(psi), the only weights used, they integrate to 0.
    """
    sine, cosine = sp.sin(x), sp.cos(x)
    series = {
        sine: 2 * sp.besselj(1, A) * sp.sin(psi),
        cosine: sp.besselj(0, A) + 2 * sp.besselj(2, A) * sp.cos(2 * psi),
    }
    return sp.expand(sp.expand_trig(torque)).subs(series)


_unbalance = _harmonics(REDUCED["unbalance"])
POISE = frequency_shift(_unbalance)

# Motion is periodic, so the mean acceleration is 0: the swing's middle stands where the mean torque holds it.
DEAD_POINT = sp.simplify(over_period(_unbalance, sp.Integer(1)) / (2 * sp.pi))

# Slope of the poise shift in A, with J0 = 2 J1/A - J2 (Abramowitz and Stegun 1965, 9.1.27).
POISE_SLOPE = sp.expand(POISE.diff(A).subs(sp.besselj(0, A), 2 * sp.besselj(1, A) / A - sp.besselj(2, A)))

# A constant torque tau along the motion from x = a to x = b, in every half-swing.
a, b = sp.symbols("a b", real=True)
ARC = sp.simplify(over_angles(tau, PHASE_WEIGHT, a, b) / (2 * sp.pi))

# The same for A well above a and b (leading power of 1/A); then with tau the drive that a given Q asks for.
_inverse = sp.Dummy(positive=True)  # 1/A
ARC_FAR = sp.factor(sp.series(ARC.subs(A, 1 / _inverse), _inverse, 0, 4).removeO().subs(_inverse, 1 / A))
_drive = sp.solve(tau * (b - a) - LOST["viscous"] / 2, tau)[0].subs(beta, 1 / Q)
ARC_FAR_AT_Q = sp.factor(ARC_FAR.subs(tau, _drive))

# An impulse: the arc from x to x + h with work tau h = v dv, for h to 0; v there is sqrt(A^2 - x^2).
dv = sp.Symbol("dv", real=True)
IMPULSE = sp.simplify(ARC.diff(b).subs(b, a).subs(a, x) / tau * sp.sqrt(A**2 - x**2) * dv)

# Share of a half-swing's time between x = -lift/2 and x = +lift/2.
lift = sp.Symbol("lift", nonnegative=True)
LIFT_SHARE = over_angles(sp.Integer(1), sp.Integer(1), -lift / 2, lift / 2) / (2 * sp.pi)

# Index pins, play centred: a fraction of the stiffness works only beyond the gap, so inside it the spring
# lacks fraction * x, and beyond it the constant fraction * gap.
gap = sp.Symbol("gap", nonnegative=True)
fraction = sp.Symbol("fraction", nonnegative=True)
u = sp.Symbol("u", nonnegative=True)
U = sp.Min(1, gap / A)  # a swing that stays inside the gap lacks the whole fraction, as at u = 1


def _pins() -> sp.Expr:
    """Delta omega/omega by quarter swings: the lack is odd in x, so the four are alike."""
    edge = sp.asin(u)
    inside = sp.integrate(fraction * A * sp.sin(psi) * PHASE_WEIGHT, (psi, 0, edge))
    beyond = sp.integrate(fraction * u * A * PHASE_WEIGHT, (psi, edge, QUARTER))
    return sp.factor(sp.simplify(4 * (inside + beyond) / (2 * sp.pi)))


PINS = _pins()
