"""Where Newton's method starts: the first-order energy balance of a beat.

The free arcs' losses are those derived in ``oscsim.theory``; what the escapement gives and takes is told by its room.
"""

from __future__ import annotations

import numpy as np

from oscsim.arrays import Array
from oscsim.motion.coefficients import Oscillators
from oscsim.theory import generated
from oscsim.theory.start import start_amplitude

#: Passes of the start: the second knows the speed in the lift.
_PASSES = 2
#: Swing over which a friction series is averaged before the first pass, rad.
_SWING = 4.0


def first_guess(osc: Oscillators) -> Array:
    """First-order settled amplitude, rad, shape (points,); a few per cent off, zero where nothing drives.

    Zero too where a coefficient is not finite: a draw or a step away from a design at the end of its range may give a
    watch that cannot be, such as a strip too long for its barrel. It has no swing to be found, so it stops.
    """
    amplitude: Array | None = None
    for _ in range(_PASSES):
        gain, taken = _escapement(osc, amplitude)
        gain, taken = np.where(np.isfinite(gain), gain, 0.0), np.where(np.isfinite(taken), taken, 0.0)
        amplitude = start_amplitude(osc.viscous, osc.quadratic, _dry(osc, amplitude), gain, taken)
    assert amplitude is not None
    return amplitude


def first_drive(osc: Oscillators, amplitude: Array) -> Array:
    """Factor on the drive that to first order keeps up ``amplitude``, rad; all (points,)."""
    lost = generated.energy_lost_viscous(amplitude, osc.viscous)
    lost = lost + generated.energy_lost_quadratic(amplitude, osc.quadratic)
    lost = lost + generated.energy_lost_dry(amplitude, _dry(osc, amplitude))  # per period, that is two beats
    gain, taken = _escapement(osc, None)
    factor = (0.5 * lost + taken * amplitude**2) / np.maximum(gain, 1e-300)
    gain, taken = _escapement(osc.driven(factor), amplitude)
    return np.asarray(factor * (0.5 * lost + taken * amplitude**2) / np.maximum(gain, 1e-300))


def _dry(osc: Oscillators, amplitude: Array | None) -> Array:
    """Dry friction with the mean of the friction series over a swing."""
    if not osc.any_series:
        return osc.dry
    swing = np.full(osc.size, _SWING) if amplitude is None else np.maximum(amplitude, 1e-3)
    mean = osc.rubbed(-swing, swing) / (2.0 * swing)
    return np.where(np.isfinite(mean), np.maximum(osc.dry + mean, 0.0), osc.dry)


def _escapement(osc: Oscillators, amplitude: Array | None) -> tuple[Array, Array]:
    """Work of a beat apart from that proportional to the amplitude's square, and the loss's coefficient of it."""
    gain, taken = osc.right.first_work(amplitude)
    if osc.right.alike:
        return gain, taken
    other_gain, other_taken = osc.left.first_work(amplitude)
    return 0.5 * (gain + other_gain), 0.5 * (taken + other_taken)
