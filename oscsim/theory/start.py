"""Start amplitude of a watch that runs: where the drags take, per beat, what the escapement gives."""

import numpy as np
from numpy.typing import ArrayLike

from oscsim.arrays import Array
from oscsim.theory import generated
from oscsim.theory.arguments import real, require

# From above on a convex cubic, at worst three times the gain at the start: five steps reach rounding.
STEPS = 5


def start_amplitude(
    beta: ArrayLike, c: ArrayLike, d: ArrayLike, gain: ArrayLike, w: ArrayLike = 0.0
) -> Array:
    """Amplitude at which one beat's losses equal one beat's gain, to first order.

    Solves (pi/2) beta A^2 + (4/3) c A^3 + 2 d A + w A^2 = gain (derived in oscsim/theory/losses.py; the
    coefficients come from `generated`). The left side rises with A, so the root is the only positive one.

    Parameters
    ----------
    beta : no unit, viscous drag, 1/Q, any shape that broadcasts with the rest
    c : 1/rad, quadratic drag
    d : rad, dry friction over k
    gain : rad^2, the escapement's net work per beat over k; 0 or less gives amplitude 0
    w : no unit, energy that lever and wheel take per beat, over k A^2

    Returns
    -------
    rad, of the arguments' broadcast shape, never nan

    Raises
    ------
    ValueError
        An argument is not finite, a loss is negative, or no loss at all stands against a gain.
    """
    gain = real("gain", gain, "rad^2")
    w = real("w", w, "", least=0.0)
    # Each loss is a power of A: its value at A = 1 is its coefficient. Two beats make a period.
    cubic = generated.energy_lost_quadratic(1.0, c) / 2
    square = generated.energy_lost_viscous(1.0, beta) / 2 + w
    linear = generated.energy_lost_dry(1.0, d) / 2
    # A zero may come with a minus sign; what divides by it below must not.
    cubic, square, linear, gain = np.broadcast_arrays(cubic + 0.0, square + 0.0, linear + 0.0, gain)
    runs = gain > 0

    amplitude = np.zeros(gain.shape)
    p3, p2, p1, work = cubic[runs], square[runs], linear[runs], gain[runs]
    with np.errstate(divide="ignore", over="ignore"):  # a loss that is absent bounds nothing
        bounds = np.stack([np.cbrt(work / p3), np.sqrt(work / p2), work / p1])
    root = bounds.min(axis=0)  # each loss alone would need at least the true amplitude
    require(np.isfinite(root), "a loss above 0 to stand against a gain above 0 rad^2", gain=work)
    for _ in range(STEPS):
        excess = ((p3 * root + p2) * root + p1) * root - work
        root = root - excess / ((3 * p3 * root + 2 * p2) * root + p1)
    amplitude[runs] = root
    return amplitude
