"""First-order theory as plain numpy functions, vectorised over broadcast arguments.

Made by `python -m oscsim.theory.generate` (SymPy 1.14.0) from the derivations in this package: change
those, not this file. Reduced units: time in 1/omega, torques and energies over k; angles in rad; rates in
s/day, gain positive.
"""
# fmt: off

import numpy
from numpy.typing import ArrayLike

from oscsim.arrays import Array
from oscsim.theory.arguments import real, require
from oscsim.theory.bessel import jv


def energy_lost_viscous(A: ArrayLike, beta: ArrayLike) -> Array:
    """Energy lost per period to drag proportional to speed, over k.

    Formula: E_viscous = pi*A**2*beta

    Parameters
    ----------
    A : rad, amplitude
    beta : no unit, viscous drag, 1/Q

    Returns
    -------
    rad^2, of the arguments' broadcast shape

    Raises
    ------
    ValueError
        An argument is not finite or out of its range (named with unit and range).

    Source: derived from equation (1) in oscsim/theory/losses.py
    """
    A = real("A", A, "rad", least=0.0)
    beta = real("beta", beta, "", least=0.0)
    result: Array = numpy.pi*A**2*beta
    return result


def energy_lost_quadratic(A: ArrayLike, c: ArrayLike) -> Array:
    """Energy lost per period to drag proportional to speed squared, over k.

    Formula: E_quadratic = 8*A**3*c/3

    Parameters
    ----------
    A : rad, amplitude
    c : 1/rad, quadratic drag

    Returns
    -------
    rad^2, of the arguments' broadcast shape

    Raises
    ------
    ValueError
        An argument is not finite or out of its range (named with unit and range).

    Source: derived from equation (1) in oscsim/theory/losses.py
    """
    A = real("A", A, "rad", least=0.0)
    c = real("c", c, "1/rad", least=0.0)
    result: Array = (8/3)*A**3*c
    return result


def energy_lost_dry(A: ArrayLike, d: ArrayLike) -> Array:
    """Energy lost per period to dry friction, over k.

    Formula: E_dry = 4*A*d

    Parameters
    ----------
    A : rad, amplitude
    d : rad, dry friction over k

    Returns
    -------
    rad^2, of the arguments' broadcast shape

    Raises
    ------
    ValueError
        An argument is not finite or out of its range (named with unit and range).

    Source: derived from equation (1) in oscsim/theory/losses.py
    """
    A = real("A", A, "rad", least=0.0)
    d = real("d", d, "rad", least=0.0)
    result: Array = 4*A*d
    return result


def swing_ratio_viscous(Q: ArrayLike) -> Array:
    """One swing over the one before, under viscous drag, to first order.

    Formula: q = exp(-pi/(2*Q))

    Parameters
    ----------
    Q : no unit, viscous quality factor

    Returns
    -------
    no unit, of the arguments' broadcast shape

    Raises
    ------
    ValueError
        An argument is not finite or out of its range (named with unit and range).

    Source: derived from equation (1) in oscsim/theory/decay.py
    """
    Q = real("Q", Q, "", above=0.0)
    result: Array = numpy.exp(-1/2*numpy.pi/Q)
    return result


def next_swing(A: ArrayLike, beta: ArrayLike, d: ArrayLike) -> Array:
    """The swing after a free swing A, viscous drag and dry friction, exactly; below 0 it stops short.

    Formula: A_next = -d + (A - d)*exp(-pi*beta/(2*sqrt(1 - beta**2/4)))

    Parameters
    ----------
    A : rad, amplitude
    beta : no unit, viscous drag, 1/Q
    d : rad, dry friction over k

    Returns
    -------
    rad, of the arguments' broadcast shape

    Raises
    ------
    ValueError
        An argument is not finite or out of its range (named with unit and range).

    Source: derived from equation (1) in oscsim/theory/decay.py
    """
    A = real("A", A, "rad", least=0.0)
    beta = real("beta", beta, "", least=0.0, below=2.0)
    d = real("d", d, "rad", least=0.0)
    require(numpy.less_equal(d, A), "d <= A in rad: below that, dry friction holds the balance", A=A, d=d)
    result: Array = -d + (A - d)*numpy.exp(-1/2*numpy.pi*beta/numpy.sqrt(1 - 1/4*beta**2))
    return result


def viscous_rate(Q: ArrayLike) -> Array:
    """Rate from viscous drag: the exact frequency to second order.

    Formula: r_viscous = -10800/Q**2

    Parameters
    ----------
    Q : no unit, viscous quality factor

    Returns
    -------
    s/day, of the arguments' broadcast shape

    Raises
    ------
    ValueError
        An argument is not finite or out of its range (named with unit and range).

    Source: derived from equation (1) in oscsim/theory/decay.py
    """
    Q = real("Q", Q, "", above=0.0)
    result: Array = -10800/Q**2
    return result


def cubic_rate(A: ArrayLike, kappa: ArrayLike) -> Array:
    """Rate from a cubic term in the hairspring's torque.

    Formula: r_cubic = 32400*A**2*kappa

    Parameters
    ----------
    A : rad, amplitude
    kappa : 1/rad^2, cubic stiffness

    Returns
    -------
    s/day, of the arguments' broadcast shape

    Raises
    ------
    ValueError
        An argument is not finite or out of its range (named with unit and range).

    Source: derived from equation (1) in oscsim/theory/rates.py
    """
    A = real("A", A, "rad", above=0.0)
    kappa = real("kappa", kappa, "1/rad^2")
    result: Array = 32400*A**2*kappa
    return result


def poise_rate(A: ArrayLike, gamma: ArrayLike, phi: ArrayLike) -> Array:
    """Rate from want of poise.

    Formula: r_poise = 86400*gamma*cos(phi)*besselj(1, A)/A

    Parameters
    ----------
    A : rad, amplitude
    gamma : rad, unbalance torque G over k
    phi : rad, heavy point at rest, from straight down, clockwise

    Returns
    -------
    s/day, of the arguments' broadcast shape

    Raises
    ------
    ValueError
        An argument is not finite or out of its range (named with unit and range).

    Source: derived from equation (1) in oscsim/theory/rates.py
    """
    A = real("A", A, "rad", above=0.0)
    gamma = real("gamma", gamma, "rad", least=0.0)
    phi = real("phi", phi, "rad")
    result: Array = 86400*gamma*numpy.cos(phi)*jv(1, A)/A
    return result


def poise_dead_point_shift(A: ArrayLike, gamma: ArrayLike, phi: ArrayLike) -> Array:
    """Shift of the dead point by want of poise.

    Formula: x_0 = -gamma*sin(phi)*besselj(0, A)

    Parameters
    ----------
    A : rad, amplitude
    gamma : rad, unbalance torque G over k
    phi : rad, heavy point at rest, from straight down, clockwise

    Returns
    -------
    rad, of the arguments' broadcast shape

    Raises
    ------
    ValueError
        An argument is not finite or out of its range (named with unit and range).

    Source: derived from equation (1) in oscsim/theory/rates.py
    """
    A = real("A", A, "rad", least=0.0)
    gamma = real("gamma", gamma, "rad", least=0.0)
    phi = real("phi", phi, "rad")
    result: Array = -gamma*numpy.sin(phi)*jv(0, A)
    return result


def arc_torque_rate(A: ArrayLike, a: ArrayLike, b: ArrayLike, tau: ArrayLike) -> Array:
    """Rate from a constant torque along the motion from x = a to x = b of each half-swing.

    Formula: r_arc_torque = 86400*tau*(-sqrt(A**2 - a**2) + sqrt(A**2 - b**2))/(pi*A**2)

    Parameters
    ----------
    A : rad, amplitude
    a : rad, where the torque begins, from the dead point along the motion
    b : rad, where it ends
    tau : rad, torque over k, positive along the motion

    Returns
    -------
    s/day, of the arguments' broadcast shape

    Raises
    ------
    ValueError
        An argument is not finite or out of its range (named with unit and range).

    Source: derived from equation (1) in oscsim/theory/rates.py
    """
    A = real("A", A, "rad", above=0.0)
    a = real("a", a, "rad")
    b = real("b", b, "rad")
    tau = real("tau", tau, "rad")
    require(numpy.less_equal(abs(a), A), "-A <= a <= A in rad, within the swing", A=A, a=a)
    require(numpy.less_equal(abs(b), A), "-A <= b <= A in rad, within the swing", A=A, b=b)
    result: Array = 86400*tau*(-numpy.sqrt(A**2 - a**2) + numpy.sqrt(A**2 - b**2))/(numpy.pi*A**2)
    return result


def impulse_rate(A: ArrayLike, x: ArrayLike, dv: ArrayLike) -> Array:
    """Rate from an impulse at x in each half-swing: before the dead point it gains.

    Formula: r_impulse = -86400*dv*x/(pi*A**2)

    Parameters
    ----------
    A : rad, amplitude
    x : rad, where the impulse falls, from the dead point along the motion
    dv : rad, gain of speed, d theta/dt over omega

    Returns
    -------
    s/day, of the arguments' broadcast shape

    Raises
    ------
    ValueError
        An argument is not finite or out of its range (named with unit and range).

    Source: derived from equation (1) in oscsim/theory/rates.py
    """
    A = real("A", A, "rad", above=0.0)
    x = real("x", x, "rad")
    dv = real("dv", dv, "rad")
    require(numpy.less_equal(abs(x), A), "-A <= x <= A in rad, within the swing", A=A, x=x)
    result: Array = -86400*dv*x/(numpy.pi*A**2)
    return result


def index_pins_rate(A: ArrayLike, gap: ArrayLike, fraction: ArrayLike) -> Array:
    """Rate from play between the index pins, the play centred; u = gap/A, at most 1.

    Formula: r_index_pins = -86400*fraction*(u*sqrt(1 - u**2) + asin(u))/pi

    Parameters
    ----------
    A : rad, amplitude
    gap : rad, half the play: swing from the middle to a pin
    fraction : no unit, share of the stiffness that works only on a pin

    Returns
    -------
    s/day, of the arguments' broadcast shape

    Raises
    ------
    ValueError
        An argument is not finite or out of its range (named with unit and range).

    Source: derived from equation (1) in oscsim/theory/rates.py
    """
    A = real("A", A, "rad", above=0.0)
    gap = real("gap", gap, "rad", least=0.0)
    fraction = real("fraction", fraction, "", least=0.0, below=1.0)
    u = numpy.minimum(1, gap/A)
    result: Array = -86400*fraction*(u*numpy.sqrt(1 - u**2) + numpy.arcsin(u))/numpy.pi
    return result


def share_inside_lift(A: ArrayLike, lift: ArrayLike) -> Array:
    """Share of a half-swing's time spent inside the lift angle.

    Formula: s_lift = 2*asin(lift/(2*A))/pi

    Parameters
    ----------
    A : rad, amplitude
    lift : rad, lift angle, centred

    Returns
    -------
    no unit, of the arguments' broadcast shape

    Raises
    ------
    ValueError
        An argument is not finite or out of its range (named with unit and range).

    Source: derived from equation (1) in oscsim/theory/rates.py
    """
    A = real("A", A, "rad", above=0.0)
    lift = real("lift", lift, "rad", least=0.0)
    require(numpy.less_equal(lift, 2*A), "lift <= 2 A in rad, within the swing", A=A, lift=lift)
    result: Array = 2*numpy.arcsin((1/2)*lift/A)/numpy.pi
    return result
