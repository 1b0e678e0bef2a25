"""The heavy point turned, the amplitude kept up: rates of one operating point, and where the effect vanishes."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cached_property

import numpy as np

from oscsim.answers.crossing import root
from oscsim.arrays import Array, Complex
from oscsim.motion.newton import SETTLED
from oscsim.motion.sustain import Sustained, sustain
from oscsim.operating import OperatingPoints

#: The node is sought between these amplitudes, rad, to this precision.
NODE_BETWEEN = (math.radians(150.0), math.radians(290.0))
_PRECISION = math.radians(1e-7)
#: Amplitudes and places of the heavy point at which its effect is drawn to begin with, by a polynomial over amplitude
#: and a Fourier sum round the balance: a first guess, no more.
_SWINGS, _HARMONIC = 9, 12
_ROUND = 2.0 * math.pi * np.arange(_HARMONIC) / _HARMONIC
#: How far about a guess is looked first, rad.
_ABOUT = 1e-5


class Turned:
    """One operating point in which the heavy point, rad clockwise from straight below, is where it is wanted."""

    def __init__(self, point: OperatingPoints, gravity: float | None = None) -> None:
        """``gravity``: torque of the heavy point over the hairspring's stiffness; default: the point's own."""
        self.point = point
        self.gravity = float(point.oscillators.gravity[0]) if gravity is None else gravity

    def rate(self, amplitude: Array, below: Array) -> tuple[Sustained, Array]:
        """Settled states and rates in s/day at amplitude and place of the heavy point, rad (n,); NaN: poised."""
        osc = self.point.oscillators.take(np.zeros(len(amplitude), np.intp))
        poised = np.isnan(below)
        gravity, heavy = np.where(poised, 0.0, self.gravity), np.where(poised, 0.0, below)
        found = sustain(replace(osc, gravity=gravity, heavy=heavy), amplitude)
        return found, self.point.rate(found.cycle.period)

    def shown(self, amplitude: Array, below: Array, ceiling: float) -> Array:
        """Rates as above, NaN where no drive up to ``ceiling`` times the point's keeps up the amplitude."""
        found, rate = self.rate(amplitude, below)
        return np.where(found.reached(ceiling), rate, math.nan)

    def effect(self, amplitude: Array, below: Array) -> Array:
        """Rate with the heavy point less that of a poised balance, s/day (n,)."""
        _, rate = self.rate(np.tile(amplitude, 2), np.concatenate([below, np.full(len(below), math.nan)]))
        return np.asarray(rate[: len(amplitude)] - rate[len(amplitude) :])

    @cached_property
    def kept_up(self) -> bool:
        """Whether any drive keeps up a poised swing at an end of where nodes are sought; without one there is none."""
        found, _ = self.rate(np.array(NODE_BETWEEN), np.full(2, math.nan))
        return bool((found.cycle.residual <= SETTLED).any())

    @cached_property
    def _drawn(self) -> tuple[Array, Complex]:
        """Amplitudes between which nodes are sought, rad (swings,), and the effect's Fourier sum over the heavy point's
        place there, s/day (swings, terms)."""
        first, last = NODE_BETWEEN
        swings = 0.5 * (first + last - (last - first) * np.cos(math.pi * np.arange(_SWINGS) / (_SWINGS - 1)))
        swing, place = np.meshgrid(swings, np.append(_ROUND, math.nan), indexing="ij")
        rate = self.rate(swing.ravel(), place.ravel())[1].reshape(swing.shape)
        return swings, np.asarray(np.fft.rfft(rate[:, :-1] - rate[:, -1:], axis=1) / _HARMONIC)

    def node(self, ceiling: float = math.inf) -> float:
        """Amplitude, rad, at which the rate's part with the cosine of the heavy point's angle from below vanishes; NaN
        where there is none, or it is not reached."""
        if not self.kept_up:
            return math.nan
        swings, terms = self._drawn

        def harmonic(amplitude: Array) -> Array:
            _, rate = self.rate(np.repeat(amplitude, _HARMONIC), np.tile(_ROUND, len(amplitude)))
            return np.asarray(rate.reshape(-1, _HARMONIC) @ np.cos(_ROUND))

        node = _closed_in(harmonic, swings, _HARMONIC * terms[None, :, 1].real)
        reached = self.rate(np.repeat(node, _HARMONIC), _ROUND)[0].reached(ceiling)
        return float(node[0]) if reached.all() else math.nan

    def node_line(self, below: Array, ceiling: float) -> Array:
        """For each place, rad (n,), the amplitude in rad at which its rate is that of a poised balance; else NaN: where
        the heavy point stands level there is none."""
        if not self.kept_up:
            return np.full(len(below), np.nan)
        swings, terms = self._drawn
        turns = np.exp(1j * np.multiply.outer(below, np.arange(terms.shape[1])))
        weight = np.r_[1.0, np.full(terms.shape[1] - 2, 2.0), 1.0]
        effect = (turns[:, None, :] * terms * weight).real.sum(axis=2)
        # one place at a time, or each twice, one after the other
        found = _closed_in(
            lambda amplitude: self.effect(amplitude, np.tile(below, len(amplitude) // len(below))),
            swings,
            effect,
        )
        return np.where(np.isfinite(self.shown(found, below, ceiling)), found, np.nan)


def _closed_in(function: Callable[[Array], Array], swings: Array, drawn: Array) -> Array:
    """Roots of ``function`` (rows,) near those of polynomials, drawn (rows, swings), over all swings; NaN where the
    ends have one sign. ``function`` is asked at all rows, or at all rows twice over."""
    low, high = (np.full(len(drawn), end) for end in (swings[0], swings[-1]))
    guess = _root_of(swings, drawn)
    about = np.clip([guess - _ABOUT, guess + _ABOUT], swings[0], swings[-1])
    ends = function(about.ravel()).reshape(2, -1)
    with np.errstate(invalid="ignore"):
        close = ends[0] * ends[1] <= 0.0
    low, high = np.where(close, about, (low, high))
    return root(function, low, high, _PRECISION, tuple(np.where(close, ends, (drawn[:, 0], drawn[:, -1]))))


def _root_of(x: Array, y: Array) -> Array:
    """A root (rows,) of each polynomial through y (rows, points) at x; NaN where the ends have one sign."""
    scaled = 2.0 * (x - x[0]) / (x[-1] - x[0]) - 1.0
    series = np.polynomial.chebyshev.chebfit(scaled, np.nan_to_num(y).T, len(x) - 1)

    def value(at: Array) -> Array:
        return np.asarray(np.polynomial.chebyshev.chebval(at, series, tensor=False))

    low, high = np.full(len(y), -1.0), np.ones(len(y))
    found = root(value, low, high, _ABOUT * 1e-3, (y[:, 0], y[:, -1]))
    return np.asarray(x[0] + 0.5 * (x[-1] - x[0]) * (found + 1.0))
