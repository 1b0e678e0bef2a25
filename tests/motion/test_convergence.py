"""Order of convergence: error of arcs, contact phases and the whole map against the number of nodes and of sweeps.

Gauss nodes on smooth integrands converge geometrically: each further node divides the error by a factor of its own, so
what is asserted is that factor, over the range between the rough and the floor of rounding. Sources: the closed
form of a swing with viscous drag and dry friction (any text on the damped oscillator) for free arcs; the independent
integrator (tests/independent, DOP853 at 1e-13) for the rest.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

import oscsim
from oscsim.motion.arcs import free_arc
from oscsim.motion.beat import period
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.rules import Rule
from oscsim.operating import operating_points

from ..independent import integrator as it
from ..independent.designs import MOVEMENTS, TABLES

#: Far finer than any error looked at; the rungs of the tests replace one number of it at a time.
FINE = Rule(arc_nodes=28, arc_sweeps=40, contact_nodes=24, contact_sweeps=16, event_nodes=16, event_steps=10)
#: Errors below are rounding, rad or relative: DOP853 itself is good to some 1e-14.
FLOOR = 5e-14


def rate(errors: list[float]) -> float:
    """Factor by which each entry is below the one before, as a geometric mean down to FLOOR."""
    useful = [error for error in errors if error > FLOOR]
    assert len(useful) >= 2, "too few errors above rounding to tell a rate"
    return float((useful[0] / useful[-1]) ** (1.0 / (len(useful) - 1)))


def told(name: str, errors: list[float]) -> None:
    print(f"\n{name}: each divides the error by {rate(errors):.0f};", " ".join(f"{e:.0e}" for e in errors))


# -------------------------------------------------------------------------------------------------- free arcs


def damped_arc(amplitude: float, end: float, viscous: float, dry: float) -> tuple[float, float]:
    """v² at ``end`` and time from rest at -amplitude, time in 1/ω: x'' = -x - viscous x' - dry, in closed form."""
    decay = 0.5 * viscous
    w = math.sqrt(1.0 - decay * decay)
    start = dry - amplitude

    def beyond(t: float) -> float:
        swing = math.cos(w * t) + decay / w * math.sin(w * t)
        return start * math.exp(-decay * t) * swing - dry - end

    time = float(brentq(beyond, 1e-6, 0.999 * math.pi / w, xtol=1e-15, rtol=1e-15))
    return (start * math.exp(-decay * time) * math.sin(w * time) / w) ** 2, time


def bare(viscous: float) -> Oscillators:
    """A flat balance whose only drags are viscous and dry."""
    points = operating_points(MOVEMENTS["heavy"], oscsim.Setting(positions="CH"))
    drag = {"viscous": np.array([viscous]), "quadratic": np.zeros(1), "cubic": np.zeros(1)}
    return replace(points.oscillators, **drag)


def arc_errors(q: float, amplitude: float, end: float, rules: list[Rule]) -> tuple[list[float], list[float]]:
    """Relative errors of v² and time, rule by rule."""
    osc = bare(1.0 / q)
    speed_squared, time = damped_arc(amplitude, end, 1.0 / q, float(osc.dry[0]))
    arcs = [free_arc(osc, np.array([amplitude]), np.array([end]), rule) for rule in rules]
    speeds = [abs(arc.speed_squared[0] / speed_squared - 1.0) for arc in arcs]
    return speeds, [abs(arc.time[0] / time - 1.0) for arc in arcs]


@pytest.mark.parametrize(
    ("amplitude", "end", "least"),
    [
        pytest.param(4.0, -0.5, 20.0, id="229 deg"),
        pytest.param(1.0, -0.6, 20.0, id="57 deg"),
        # beyond the dead point the arc comes near the far turning point, where q has its singularity
        pytest.param(0.8, 0.6, 3.0, id="past the dead point"),
    ],
)
@pytest.mark.parametrize("q", [20.0, 200.0])
def test_free_arcs_by_nodes(q: float, amplitude: float, end: float, least: float) -> None:
    speeds, times = arc_errors(q, amplitude, end, [replace(FINE, arc_nodes=n) for n in range(2, 17)])
    told("v²", speeds)
    told("time", times)
    assert rate(speeds) > least
    assert rate(times) > least
    assert max(speeds[-1], times[-1]) < 2e-11


@pytest.mark.parametrize("q", [20.0, 200.0])
def test_free_arcs_by_sweeps(q: float) -> None:
    """Each sweep gains a factor of about Q: asserted at Q."""
    speeds, times = arc_errors(q, 4.0, -0.5, [replace(FINE, arc_sweeps=n) for n in range(9)])
    for errors in (speeds, times):
        useful = [error for error in errors if error > FLOOR]
        assert len(useful) >= 2
        assert all(fine < coarse / q for coarse, fine in zip(errors, useful[1:], strict=False))
    assert max(speeds[-1], times[-1]) < 1e-14


# ----------------------------------------------------------------------------------------- whole map and lift

LATE = {"escapement.wheel_inertia_mg_cm2": 0.9}


def map_errors(
    name: str, position: str, changes: dict[str, float], amplitude: float, rules: list[Rule]
) -> list[float]:
    """|P(A) - DOP853's|, rad, rule by rule."""
    op = it.operating(it.changed(TABLES[name], dict(changes)), position)
    points = operating_points(MOVEMENTS[name].with_(changes), oscsim.Setting(positions=position))
    want = it.period(op, amplitude).amplitude
    with np.errstate(all="ignore"):
        found = [period(points.oscillators, np.array([amplitude]), rule).amplitude[0] for rule in rules]
    return [abs(value - want) for value in found]


def together(count: int) -> Rule:
    return replace(FINE, arc_nodes=count, contact_nodes=count, event_nodes=count)


#: What is refined, from which count on, and the least factor a node or sweep gains: normal, late catch, low swing.
REFINED: dict[str, tuple[Callable[[int], Rule], int, tuple[float, float, float]]] = {
    # gravity along a wide swing is the roughest of the integrands
    "all nodes": (together, 2, (8.0, 20.0, 20.0)),
    "arc nodes": (lambda count: replace(FINE, arc_nodes=count), 2, (8.0, 20.0, 20.0)),
    "contact nodes": (lambda count: replace(FINE, contact_nodes=count), 1, (500.0, 500.0, 20.0)),
    "contact sweeps": (lambda count: replace(FINE, contact_sweeps=count), 0, (500.0, 500.0, 300.0)),
}
WATCHES = (("heavy", "12H", {}, 4.0), ("fast", "CH", LATE, 4.0), ("slow", "9H", {}, 0.9))


@pytest.mark.parametrize("refined", REFINED)
@pytest.mark.parametrize("number", range(3), ids=["normal", "late catch", "52 deg"])
def test_period_map(refined: str, number: int) -> None:
    rule, first, least = REFINED[refined]
    name, position, changes, amplitude = WATCHES[number]
    errors = map_errors(name, position, changes, amplitude, [rule(n) for n in range(first, first + 10)])
    told(refined, errors)
    assert errors[0] > 1e3 * FLOOR
    assert rate(errors) > least[number]
    assert errors[-1] < FLOOR


def test_event_nodes() -> None:
    """Catch and run through the shake are short: only a heavy wheel, which catches late, needs more than two nodes."""
    errors = map_errors(*WATCHES[1][:4], [replace(FINE, event_nodes=n) for n in range(1, 9)])
    told("event nodes", errors)
    assert rate(errors) > 500.0
    assert errors[-1] < FLOOR
    assert map_errors(*WATCHES[0][:4], [replace(FINE, event_nodes=2)])[0] < 1e-12
