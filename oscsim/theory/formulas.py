"""The list of everything derived: what it means, its symbols, and which items become plain functions."""

from dataclasses import dataclass

import sympy as sp  # type: ignore[import-untyped, unused-ignore]

from oscsim.theory import averaging, decay, equation, losses, rates
from oscsim.theory.averaging import A
from oscsim.theory.equation import Q, beta, c, d, gamma, kappa, phi, t, tau, x


@dataclass(frozen=True)
class Argument:
    """A function's argument: symbol, unit, meaning, and the keywords of `arguments.real` that bound it."""

    symbol: sp.Symbol
    unit: str
    meaning: str
    bounds: str = ""


@dataclass(frozen=True)
class Derived:
    """One derived formula, left = scale * right, its symbols in `where` told apart.

    With arguments, it is printed into `generated` as a function.
    """

    name: str
    meaning: str
    left: sp.Expr
    right: sp.Expr
    arguments: tuple[Argument, ...] = ()
    unit: str = ""
    source: str = ""
    scale: int = 1
    where: tuple[tuple[sp.Symbol, sp.Expr], ...] = ()
    requires: tuple[tuple[sp.Expr, str], ...] = ()

    def equation(self) -> sp.Eq:
        """left = right as a SymPy equation; the scale (86400 s/day) stays a visible factor."""
        right = self.right if self.scale == 1 else sp.Mul(self.scale, self.right, evaluate=False)
        return sp.Eq(self.left, right, evaluate=False)

    def value(self) -> sp.Expr:
        """The right side in the arguments alone, in `unit`."""
        return self.scale * self.right.subs(self.where)


AMPLITUDE = Argument(A, "rad", "amplitude", "above=0.0")
FROM_REST = Argument(A, "rad", "amplitude", "least=0.0")
BETA = Argument(beta, "", "viscous drag, 1/Q", "least=0.0")
QUADRATIC = Argument(c, "1/rad", "quadratic drag", "least=0.0")
DRY = Argument(d, "rad", "dry friction over k", "least=0.0")
CUBIC = Argument(kappa, "1/rad^2", "cubic stiffness")
UNBALANCE = Argument(gamma, "rad", "unbalance torque G over k", "least=0.0")
HEAVY = Argument(phi, "rad", "heavy point at rest, from straight down, clockwise")
QUALITY = Argument(Q, "", "viscous quality factor", "above=0.0")

WITHIN_SWING = tuple(
    (sp.Abs(edge) <= A, f"-A <= {edge} <= A in rad, within the swing") for edge in (rates.a, rates.b)
)


def _energy(name: str, what: str, argument: Argument) -> Derived:
    meaning = f"Energy lost per period to {what}, over k."
    left, right = sp.Symbol(f"E_{name}"), losses.LOST[name]
    return Derived(f"energy_lost_{name}", meaning, left, right, (FROM_REST, argument), "rad^2", "losses")


def _amplitude_lost(name: str, what: str, _: Argument) -> Derived:
    # For documents only: the energy over A says the same.
    meaning = f"Amplitude lost per beat to {what}, to first order."
    return Derived(f"amplitude_lost_{name}", meaning, sp.Symbol(f"Delta_{name}"), losses.AMPLITUDE_LOST[name])


def _rate(
    name: str,
    meaning: str,
    shift: sp.Expr,
    *arguments: Argument,
    source: str = "rates",
    where: tuple[tuple[sp.Symbol, sp.Expr], ...] = (),
    requires: tuple[tuple[sp.Expr, str], ...] = (),
) -> Derived:
    """A rate in s/day from Delta omega/omega. Without arguments it is for documents only."""
    left, scale = sp.Symbol(f"r_{name}"), rates.SECONDS_PER_DAY
    return Derived(f"{name}_rate", meaning, left, shift, arguments, "s/day", source, scale, where, requires)


def _told(name: str, meaning: str, relation: sp.Eq) -> Derived:
    return Derived(name, meaning, relation.lhs, relation.rhs)


DRAGS = (
    ("viscous", "drag proportional to speed", BETA),
    ("quadratic", "drag proportional to speed squared", QUADRATIC),
    ("dry", "dry friction", DRY),
)
ARC = (
    AMPLITUDE,
    Argument(rates.a, "rad", "where the torque begins, from the dead point along the motion"),
    Argument(rates.b, "rad", "where it ends"),
    Argument(tau, "rad", "torque over k, positive along the motion"),
)
IMPULSE = (
    AMPLITUDE,
    Argument(x, "rad", "where the impulse falls, from the dead point along the motion"),
    Argument(rates.dv, "rad", "gain of speed, d theta/dt over omega"),
)
PINS = (
    AMPLITUDE,
    Argument(rates.gap, "rad", "half the play: swing from the middle to a pin", "least=0.0"),
    Argument(rates.fraction, "", "share of the stiffness that works only on a pin", "least=0.0, below=1.0"),
)
LIFT = (AMPLITUDE, Argument(rates.lift, "rad", "lift angle, centred", "least=0.0"))

DERIVED: tuple[Derived, ...] = (
    _told("motion", "Equation (1): every torque on the balance.", equation.MOTION),
    _told(
        "reduced_motion", "Equation (1) in reduced units: time in 1/omega, over k.", equation.REDUCED_MOTION
    ),
    Derived(
        "amplitude_rate",
        "What a torque f does to the amplitude, at phase psi of the swing x = A sin(psi).",
        sp.Function("A")(t).diff(t),
        averaging.AMPLITUDE_RATE,
    ),
    Derived("phase_rate", "What it does to the phase.", sp.Function("psi")(t).diff(t), averaging.PHASE_RATE),
    *(_energy(*drag) for drag in DRAGS),
    *(_amplitude_lost(*drag) for drag in DRAGS),
    _told(
        "balance",
        "Energy per beat, over k: drags, and lever and wheel (w A^2), take what the escapement gives.",
        losses.BALANCE,
    ),
    Derived(
        "swing_ratio_viscous",
        "One swing over the one before, under viscous drag, to first order.",
        sp.Symbol("q"),
        decay.VISCOUS_RATIO,
        (QUALITY,),
        "",
        "decay",
    ),
    Derived(
        "next_swing",
        "The swing after a free swing A, viscous drag and dry friction, exactly; below 0 it stops short.",
        sp.Symbol("A_next"),
        decay.NEXT_AMPLITUDE,
        (FROM_REST, Argument(beta, "", "viscous drag, 1/Q", "least=0.0, below=2.0"), DRY),
        "rad",
        "decay",
        requires=((d <= A, "d <= A in rad: below that, dry friction holds the balance"),),
    ),
    Derived(
        "half_swing_time",
        "Time of that half-swing, in 1/omega, exactly: dry friction is not in it.",
        sp.Symbol("t_half"),
        decay.HALF_SWING_TIME,
    ),
    _rate(
        "viscous",
        "Rate from viscous drag: the exact frequency to second order.",
        decay.VISCOUS_SHIFT,
        QUALITY,
        source="decay",
    ),
    _rate("dry", "Rate from dry friction: none.", rates.DRY),
    _rate("quadratic", "Rate from quadratic drag: none at first order.", rates.QUADRATIC),
    _rate("cubic", "Rate from a cubic term in the hairspring's torque.", rates.CUBIC, AMPLITUDE, CUBIC),
    _rate("poise", "Rate from want of poise.", rates.POISE, AMPLITUDE, UNBALANCE, HEAVY),
    Derived(
        "poise_rate_slope",
        "Its slope in A: the greatest loss lies where J2 is 0.",
        sp.Function("r_poise")(A).diff(A),
        rates.POISE_SLOPE,
        scale=rates.SECONDS_PER_DAY,
    ),
    Derived(
        "poise_dead_point_shift",
        "Shift of the dead point by want of poise.",
        sp.Symbol("x_0"),
        rates.DEAD_POINT,
        (FROM_REST, UNBALANCE, HEAVY),
        "rad",
        "rates",
    ),
    _rate(
        "arc_torque",
        "Rate from a constant torque along the motion from x = a to x = b of each half-swing.",
        rates.ARC,
        *ARC,
        requires=WITHIN_SWING,
    ),
    _rate("arc_torque_far", "The same for a swing well above a and b: as 1/A^3.", rates.ARC_FAR),
    _rate("arc_torque_far_at_q", "The same at the torque that keeps up Q: as 1/A.", rates.ARC_FAR_AT_Q),
    _rate(
        "impulse",
        "Rate from an impulse at x in each half-swing: before the dead point it gains.",
        rates.IMPULSE,
        *IMPULSE,
        requires=((sp.Abs(x) <= A, "-A <= x <= A in rad, within the swing"),),
    ),
    _rate(
        "index_pins",
        "Rate from play between the index pins, the play centred; u = gap/A, at most 1.",
        rates.PINS,
        *PINS,
        where=((rates.u, rates.U),),
    ),
    Derived(
        "share_inside_lift",
        "Share of a half-swing's time spent inside the lift angle.",
        sp.Symbol("s_lift"),
        rates.LIFT_SHARE,
        LIFT,
        "",
        "rates",
        requires=((rates.lift <= 2 * A, "lift <= 2 A in rad, within the swing"),),
    ),
)
