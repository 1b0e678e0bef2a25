"""Equation (1): the balance on its hairspring, every torque by name, in SI and in reduced units.

Reduced units: time in 1/omega (omega = sqrt(k/I)), torques divided by k. Then
beta = b omega/k = 1/Q, d = M_c/k, gamma = G/k. The quadratic drag is C in SI and c = C/I, in 1/rad, reduced.
"""

import sympy as sp  # type: ignore[import-untyped, unused-ignore]

t = sp.Symbol("t", real=True)
x, v = sp.symbols("x v", real=True)  # angle from the dead point and its speed
phi = sp.Symbol("phi", real=True)  # where the heavy point stands at rest, from straight down
kappa = sp.Symbol("kappa", real=True)  # cubic stiffness, 1/rad^2

# SI: inertia, stiffness, viscous drag, quadratic drag, dry friction, unbalance, escapement
inertia, k = sp.symbols("I k", positive=True)
b, C, M_c, G = sp.symbols("b C M_c G", nonnegative=True)
tau_esc = sp.Symbol("tau_esc", real=True)

# Reduced
omega, Q = sp.symbols("omega Q", positive=True)
beta, c, d, gamma = sp.symbols("beta c d gamma", nonnegative=True)
tau = sp.Symbol("tau", real=True)

TORQUES = {
    "hairspring": -k * x,
    "cubic": -k * kappa * x**3,
    "viscous": -b * v,
    "quadratic": -C * v * sp.Abs(v),
    "dry": -M_c * sp.sign(v),
    "unbalance": -G * sp.sin(x + phi),
    "escapement": tau_esc,
}


def reduce(torque: sp.Expr) -> sp.Expr:
    """A torque of (1) over k, as a function of the angle x and the reduced speed v."""
    # The speed first: its factor omega must come out of |v| and sgn v before the coefficients go in.
    scaled = torque.subs(v, omega * v)
    names = {b: beta * k / omega, C: c * inertia, M_c: d * k, G: gamma * k, tau_esc: tau * k}
    return sp.expand(scaled.subs(names).subs(inertia, k / omega**2) / k)


REDUCED = {name: reduce(torque) for name, torque in TORQUES.items()}


def _written_out(acceleration: sp.Expr, torques: dict[str, sp.Expr], name: str) -> sp.Eq:
    """The equation of motion with the angle as a function of time, for reading."""
    angle = sp.Function(name)(t)
    total = sp.Add(*torques.values()).subs({x: angle, v: angle.diff(t)})
    return sp.Eq(acceleration * angle.diff(t, 2), total)


MOTION = _written_out(inertia, TORQUES, "theta")
REDUCED_MOTION = _written_out(sp.Integer(1), REDUCED, "x")
