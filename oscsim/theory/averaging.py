"""First-order averaging: what a small torque does to the amplitude and the phase of a swing.

The swing is x = A sin(psi), v = A cos(psi). Undisturbed, A stays and the phase psi is
the reduced time. A small torque's effect on both is averaged over the undisturbed swing.
"""

import sympy as sp  # type: ignore[import-untyped, unused-ignore]

from oscsim.theory.equation import REDUCED, v, x

A = sp.Symbol("A", positive=True)
psi = sp.Symbol("psi", real=True)
f = sp.Symbol("f", real=True)  # any small reduced torque

SWING = {x: A * sp.sin(psi), v: A * sp.cos(psi)}
QUARTER = sp.pi / 2


def _variation() -> tuple[sp.Expr, sp.Expr]:
    """dA/dt and dpsi/dt, exactly, for x'' = hairspring + f."""
    rate_a, rate_psi = sp.symbols("rate_a rate_psi", real=True)

    def change(quantity: sp.Expr) -> sp.Expr:
        return quantity.diff(A) * rate_a + quantity.diff(psi) * rate_psi

    position = sp.Eq(change(SWING[x]), SWING[v])
    speed = sp.Eq(change(SWING[v]), REDUCED["hairspring"].subs(SWING) + f)
    found = sp.solve([position, speed], [rate_a, rate_psi], dict=True)[0]
    return tuple(sp.expand(sp.simplify(found[rate])) for rate in (rate_a, rate_psi))


AMPLITUDE_RATE, PHASE_RATE = _variation()


def on_swing(torque: sp.Expr, direction: int) -> sp.Expr:
    """The torque along a half-swing on which v has the sign `direction` (+1 or -1)."""
    return torque.subs({sp.sign(v): direction, sp.Abs(v): direction * v}).subs(SWING)


def over_period(torque: sp.Expr, weight: sp.Expr) -> sp.Expr:
    """Integral of torque times weight(psi) over one period: the half-swing up, then the one down."""
    up = sp.integrate(on_swing(torque, 1) * weight, (psi, -QUARTER, QUARTER))
    down = sp.integrate(on_swing(torque, -1) * weight, (psi, QUARTER, 3 * QUARTER))
    return sp.simplify(up + down)


def over_angles(torque: sp.Expr, weight: sp.Expr, start: sp.Expr, end: sp.Expr) -> sp.Expr:
    """The same for a torque at work only from x = start to x = end of each half-swing, mirrored."""
    limits = (psi, sp.asin(start / A), sp.asin(end / A))
    return 2 * sp.integrate(on_swing(torque, 1) * weight, limits)


# PHASE_RATE is 1 + f * (its coefficient): the weight under which a torque changes the frequency.
PHASE_WEIGHT = PHASE_RATE.diff(f)
AMPLITUDE_WEIGHT = AMPLITUDE_RATE.diff(f)


def frequency_shift(torque: sp.Expr) -> sp.Expr:
    """Delta omega/omega, to first order."""
    return sp.simplify(over_period(torque, PHASE_WEIGHT) / (2 * sp.pi))


def amplitude_lost(torque: sp.Expr) -> sp.Expr:
    """Amplitude lost per beat (half a period), to first order."""
    return sp.simplify(-over_period(torque, AMPLITUDE_WEIGHT) / 2)
