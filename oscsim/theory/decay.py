"""The free swing with viscous drag and dry friction, exactly: no averaging, both from (1)."""

import sympy as sp  # type: ignore[import-untyped, unused-ignore]

from oscsim.theory.averaging import A
from oscsim.theory.equation import REDUCED, Q, beta, t, v, x


def _roots() -> tuple[sp.Expr, sp.Expr]:
    """Decay and angular frequency (both in units of omega) of hairspring and viscous drag alone."""
    decay = sp.Symbol("decay", real=True)
    frequency = sp.Symbol("frequency", positive=True)
    s = -decay + sp.I * frequency  # the swing is exp(s t)
    characteristic = sp.expand(s**2 - (REDUCED["hairspring"] + REDUCED["viscous"]).subs({x: 1, v: s}))
    parts = characteristic.as_real_imag()
    found = sp.solve(parts, [decay, frequency], dict=True)[0]
    return found[decay], sp.sqrt(sp.expand(found[frequency] ** 2))


DECAY, FREQUENCY = _roots()


def _half_swing() -> tuple[sp.Expr, sp.Expr]:
    """Time of a half-swing from rest at x = A, and the amplitude at which it ends on the other side."""
    c1, c2, w = sp.symbols("c1 c2 w")
    push = REDUCED["dry"].subs(sp.sign(v), -1)  # v < 0: friction is a constant torque, so it moves the centre
    path = push + sp.exp(-DECAY * t) * (c1 * sp.cos(w * t) + c2 * sp.sin(w * t))
    found = sp.solve([path.subs(t, 0) - A, path.diff(t).subs(t, 0)], [c1, c2], dict=True)[0]
    path = sp.simplify(path.subs(found))
    time = sp.pi / w
    if sp.simplify(path.diff(t).subs(t, time)) != 0:
        raise ArithmeticError("the half-swing does not end at rest after pi/w")
    motion = (
        path.diff(t, 2) - (REDUCED["hairspring"] + REDUCED["viscous"]).subs({x: path, v: path.diff(t)}) - push
    )
    if sp.simplify(sp.expand(motion.subs(w, FREQUENCY))) != 0:
        raise ArithmeticError("the half-swing does not solve (1)")
    shrink = sp.exp(-DECAY * time)
    return time.subs(w, FREQUENCY), sp.collect(sp.expand(-path.subs(t, time)), shrink).subs(w, FREQUENCY)


HALF_SWING_TIME, NEXT_AMPLITUDE = _half_swing()

# What the damping does to the rate: nothing at first order, this at second. Dry friction is not in it.
VISCOUS_SHIFT = (FREQUENCY.series(beta, 0, 3).removeO() - 1).subs(beta, 1 / Q)
VISCOUS_RATIO = sp.exp(-sp.pi * DECAY).subs(beta, 1 / Q)  # of two swings: first order, so a beat lasts pi
