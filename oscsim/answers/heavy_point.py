"""The heavy point turned, the amplitude kept up: rates of one operating point, and where the effect vanishes."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cached_property

import numpy as np

from oscsim.answers.crossing import root
from oscsim.arrays import Array
from oscsim.motion.newton import SETTLED
from oscsim.motion.sustain import Sustained, sustain
from oscsim.operating import OperatingPoints

#: The node is sought between these amplitudes, rad, to this precision.
NODE_BETWEEN = (math.radians(150.0), math.radians(290.0))
_PRECISION = math.radians(1e-7)
_HARMONIC = 12


class Turned:
    """One operating point in which the heavy point, rad clockwise from straight below, is where it is wanted."""

    def __init__(self, point: OperatingPoints, gravity: float | None = None) -> None:
        """``gravity``: torque of the heavy point over the hairspring's stiffness; default: the point's own."""
        self.point = point
        self.gravity = float(point.oscillators.gravity[0]) if gravity is None else gravity

    def rate(self, amplitude: Array, below: Array | None, poised: bool = False) -> tuple[Sustained, Array]:
        """Settled states and rates in s/day at amplitude and place of the heavy point, rad (n,); None: poised.

        ``poised``: after those, as many points poised at the same amplitudes, (2 n,).
        """
        n = len(amplitude)
        count = 2 * n if poised else n
        osc = self.point.oscillators.take(np.zeros(count, np.intp))
        gravity, heavy = np.zeros(count), np.zeros(count)
        if below is not None:
            gravity[:n], heavy[:n] = self.gravity, below
        found = sustain(replace(osc, gravity=gravity, heavy=heavy), np.tile(amplitude, count // n))
        return found, self.point.rate(found.cycle.period)

    def shown(self, amplitude: Array, below: Array | None, ceiling: float) -> Array:
        """Rates as above, NaN where no drive up to ``ceiling`` times the point's keeps up the amplitude."""
        found, rate = self.rate(amplitude, below)
        return np.where(found.reached(ceiling), rate, math.nan)

    def effect(self, amplitude: Array, below: Array) -> Array:
        """Rate with the heavy point less that of a poised balance, s/day (n,)."""
        _, rate = self.rate(amplitude, below, poised=True)
        return np.asarray(rate[: len(amplitude)] - rate[len(amplitude) :])

    @cached_property
    def kept_up(self) -> bool:
        """Whether any drive keeps up a poised swing at an end of where nodes are sought; without one there is none."""
        found, _ = self.rate(np.array(NODE_BETWEEN), None)
        return bool((found.cycle.residual <= SETTLED).any())

    def node(self, ceiling: float = math.inf) -> float:
        """Amplitude, rad, at which the rate's part with the cosine of the heavy point's angle from below vanishes; NaN
        where there is none, or it is not reached."""
        if not self.kept_up:
            return math.nan
        angles = 2.0 * math.pi * np.arange(_HARMONIC) / _HARMONIC

        def harmonic(amplitude: Array) -> Array:
            _, rate = self.rate(np.repeat(amplitude, _HARMONIC), np.tile(angles, len(amplitude)))
            return np.asarray(rate.reshape(-1, _HARMONIC) @ np.cos(angles))

        both = harmonic(np.array(NODE_BETWEEN))
        low, high = (np.array([end]) for end in NODE_BETWEEN)
        node = root(harmonic, low, high, _PRECISION, (both[:1], both[1:]))
        reached = self.rate(np.repeat(node, _HARMONIC), angles)[0].reached(ceiling)
        return float(node[0]) if reached.all() else math.nan

    def node_line(self, below: Array, ceiling: float) -> Array:
        """For each place, rad (n,), the amplitude in rad at which its rate is that of a poised balance; else NaN: where
        the heavy point stands level there is none."""
        if not self.kept_up:
            return np.full(len(below), np.nan)
        low, high = (np.full(len(below), end) for end in NODE_BETWEEN)
        found = root(lambda amplitude: self.effect(amplitude, below), low, high, _PRECISION)
        return np.where(np.isfinite(self.shown(found, below, ceiling)), found, np.nan)
