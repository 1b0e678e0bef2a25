"""How far sound examples lie apart: it depends on the movement's state, most of all on whether the bridle slips.

Far from the design the readings' covariance is another one. It is computed at several strengths of the mainspring, the
other causes following as the readings bind them to it, and taken between by interpolation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from oscsim.arrays import Array
from oscsim.bench.fitting import Fit
from oscsim.bench.model import PARAMETERS, Places, example_covariance, prior_sd, search_box
from oscsim.bench.posterior import weighted
from oscsim.movement import Movement

_SPRING = PARAMETERS.index("mainspring")
#: Strengths of the mainspring at which it is computed: steps from the best fit, in prior standard deviations.
_STEPS = (-2.0, -1.2, -0.6, -0.3, 0.0, 0.3, 0.6, 1.2)


@dataclass(frozen=True)
class ExampleSpread:
    """Supports: z (supports, parameters) in order of the mainspring, and covariance (supports, values, values)."""

    z: Array
    covariance: Array

    def log_likelihood(self, residual: Array, z: Array) -> Array:
        """Normal log density, but for a constant, of residuals (rows, values) at z (rows, parameters): (rows,)."""
        from scipy.linalg import eigh

        spring, at = z[:, _SPRING], self.z[:, _SPRING]
        found = np.empty(len(z))
        interval = np.clip(np.searchsorted(at, spring) - 1, 0, max(len(at) - 2, 0))
        for k in np.unique(interval):
            rows = interval == k
            first, second = self.covariance[k], self.covariance[min(k + 1, len(at) - 1)]
            # one basis in which both are diagonal, so that what lies between them is as well
            ratio, basis = eigh(second, first)
            reach = at[min(k + 1, len(at) - 1)] - at[k]
            share = np.clip((spring[rows] - at[k]) / reach if reach > 0.0 else 0.0 * spring[rows], 0.0, 1.0)[
                :, None
            ]
            between = 1.0 - share + share * ratio
            apart = residual[rows] @ basis
            constant = np.linalg.slogdet(first)[1]
            found[rows] = -0.5 * ((apart**2 / between + np.log(between)).sum(axis=1) + constant)
        return found


def example_spread(
    movement: Movement, places: Places, best: Fit, sigma: Array, weight: Array, covariance: Array
) -> ExampleSpread:
    """The spread along the ridge of the best fit, with the readings' uncertainty ``sigma`` and ``weight`` (values,).

    Where some example would stop, the support is left out; ``covariance`` (values, values), which holds at the best
    fit, always stands.
    """
    sd, (low, high) = prior_sd(movement), search_box(movement)
    along = best.covariance[:, _SPRING] / best.covariance[_SPRING, _SPRING]
    supports: list[Array] = []
    found: list[Array] = []
    for step in _STEPS:
        z = np.clip(best.z + along * step * sd[_SPRING], low, high)
        own = covariance
        if step:
            own = weighted(example_covariance(movement, places, z) + np.diag(sigma**2), weight)
        if np.isfinite(own).all() and not (supports and z[_SPRING] <= supports[-1][_SPRING]):
            supports.append(z)
            found.append(own)
    return ExampleSpread(np.array(supports), np.array(found))
