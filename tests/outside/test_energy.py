"""Free decay, a clock with a fixed impulse, losses in watts and efficiencies; checks 14 to 16 in the engine."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

import oscsim
from oscsim.motion.arcs import free_arc
from oscsim.motion.beat import period
from oscsim.motion.rules import LADDER
from oscsim.motion.settle import settle
from oscsim.operating import operating_points
from tests.levers import LEVERS

from .designs import bare, free
from .sources import ANDRONOV, DERIVED, MEMORY, SINGH, WEAK

RULE = LADDER[-1]
BUNDLED = {name: oscsim.load(name) for name in LEVERS}


def next_swing(start: float, **drags: float) -> float:
    """Where a free swing from ``start``, rad, ends on the other side, by the engine's two arcs."""
    osc, middle = free(**drags), np.array([0.1])
    speed = free_arc(osc, np.array([start]), middle, RULE).speed_squared

    def short(end: float) -> float:
        return float((free_arc(osc, np.array([end]), middle, RULE, backwards=True).speed_squared - speed)[0])

    return brentq(short, 0.5 * start, start, xtol=1e-14, rtol=1e-14)


@pytest.mark.check(14)
def test_free_decay(ledger):
    swing = 5.0
    for expected in (4.98, 4.96):
        swing = next_swing(swing, dry=0.01)
        ledger.value(
            f"engine, dry friction 0.01 k, swing of {expected}",
            swing,
            expected,
            "rad",
            source=SINGH,
            within=1e-12,
            why="exact: rounding",
        )
    swing = 5.0
    for n, expected in enumerate((4.948745135684, 4.897811306204, 4.847196500757), 1):
        swing = next_swing(swing, viscous=0.004, dry=0.01)
        ledger.value(
            f"engine, swing {n} with ζ = 0.002 and F/k = 0.01 from 5",
            swing,
            expected,
            "rad",
            source=DERIVED,
            within=2e-11,
            why="the engine's finest rule, some 1e-12 a swing",
        )


@pytest.mark.check(14)
@pytest.mark.parametrize(
    ("kind", "size", "law", "word"),
    [
        ("dry", 1e-3, lambda a: a, "linear"),
        ("viscous", 1e-3, math.log, "exponential"),
        ("quadratic", 1e-4, lambda a: 1 / a, "hyperbolic"),
    ],
)
def test_decay_law(ledger, kind, size, law, word):
    swings = [4.5]
    for _ in range(6):
        swings.append(next_swing(swings[-1], **{kind: size}))
    steps = np.diff([law(a) for a in swings])
    ledger.value(
        f"engine, six swings with {kind} drag alone: the decay is {word}, each step over the first",
        steps / steps[0],
        1.0,
        source=SINGH,
        within=1e-6 if kind == "quadratic" else 1e-9,
        why="the next order, (cA)² of some 1e-7" if kind == "quadratic" else "exact: rounding",
    )


def clock(dry: float, gain: float):
    """A lever watch without drag but dry friction, its escapement's net work per beat set to ``gain`` (over k)."""
    osc = operating_points(bare(), oscsim.Setting()).oscillators
    osc = replace(osc, viscous=np.zeros(1), dry=np.array([dry]))
    fork = osc.right
    net = fork.impulse_torque * fork.rise - fork.unlocking_torque * fork.unlocking
    return osc.driven(gain / net)


@pytest.mark.check(15)
def test_clock_with_a_fixed_energy(ledger):
    # Energy ½h² each half-swing: A* = h²/(4r), multiplier of a half-swing 1 - 2r/(A* + r).
    r, h = 0.02, 0.6
    osc = clock(r, 0.5 * h**2)
    cycle = settle(osc, np.array([8.0])).cycle
    mean = float(0.5 * (cycle.left[0] + cycle.right[0]))
    ledger.value(
        "lever watch with dry friction r = 0.02 alone, ½h² each half-swing, h = 0.6: amplitude",
        mean,
        4.5,
        "rad",
        source=ANDRONOV,
        relative=1e-4,
        why="lever and wheel keep some 1e-5 of the impulse",
    )
    step = 1e-4
    above, below = (period(osc, cycle.left + d, RULE).amplitude[0] for d in (step, -step))
    ledger.value(
        "the same: multiplier of a half-swing, root of the period map's slope",
        math.sqrt((above - below) / (2 * step)),
        0.991150,
        source=ANDRONOV,
        within=2e-6,
        why="the last digit given, and a difference quotient",
    )


@pytest.mark.check(15)
def test_from_what_amplitude_it_starts(ledger):
    r = 0.02
    with np.errstate(invalid="ignore"):
        reached = [
            free_arc(free(dry=r), np.array([2.0 * r + d]), np.zeros(1), RULE).speed_squared[0]
            for d in (1e-6, -1e-6)
        ]
    ledger.says(
        "free swing from just above and just below 2r, at the dead point",
        reached[0] > 0.0 and not reached[1] > 0.0,
        "starts only from A > 2r",
        "arrives from just above 2r, not from just below",
        source=ANDRONOV,
    )


@pytest.mark.check(16)
@pytest.mark.parametrize(("q", "power"), [(200, 1.09), (300, 0.73)])
def test_loss_in_watts(ledger, q, power):
    # 10 mg·cm² at 4 Hz: k in SI from the design's numbers, energy lost in two half-swings about 300°.
    points = operating_points(bare(), oscsim.Setting())
    start = math.radians(300.0) * (1 + math.pi / (4 * q))
    end = next_swing(start, viscous=1 / q)
    lost = 0.5 * float(points.stiffness[0]) * (start**2 - end**2) * 2 * 4.0
    ledger.value(
        f"loss of 10 mg·cm² at 4 Hz and 300°, Q {q}",
        1e6 * lost,
        power,
        "µW",
        source=DERIVED,
        within=6e-3,
        why="the last digit given",
    )


@pytest.mark.check(16)
def test_q_and_efficiencies(ledger):
    budgets = {name: oscsim.budget(movement) for name, movement in BUNDLED.items()}
    escapement = [b.escapement_efficiency[0, 0] for b in budgets.values()]
    train = [b.train_efficiency for b in budgets.values()]
    overall = [b.overall_efficiency[0, 0] for b in budgets.values()]
    wrist = ("dockhand", "packet", "tidewaiter")
    torque = [1e6 * budgets[name].points.escape_torque_n_m[0, 0] for name in wrist]
    ledger.band(
        "escapement and train together, share of the barrel's work, bundled designs",
        overall,
        0.30 * 0.80,
        0.45 * 0.90,
        source=MEMORY,
        why="30 to 45 % of 80 to 90 %",
    )
    ledger.apart(
        "escapement's share alone",
        escapement,
        0.30,
        0.45,
        source=MEMORY,
        why="counted to the balance's own losses, drop and recoil against it; designs of our own",
    )
    ledger.apart(
        "train's share alone",
        train,
        0.80,
        0.90,
        source=MEMORY,
        why="pivots with friction 0.10 to 0.18 and 3 % a mesh; designs of our own",
    )
    ledger.band(
        "torque of the escape wheel, full-size wrist designs, wound", torque, 1.0, 3.0, "µN·m", source=MEMORY
    )
    # Q of all the balance's losses at its own amplitude: 2π (½ k A²) over the energy of two beats
    whole = []
    for name, found in budgets.items():
        points = operating_points(BUNDLED[name], oscsim.Setting())
        amplitude = math.radians(found.points.amplitude_deg[0, 0])
        lost = 2 * sum(found.taken_j[place][0, 0] for place in ("viscous", "quadratic", "dry"))
        whole.append(math.pi * float(points.stiffness[0]) * amplitude**2 / lost)
    ledger.apart(
        "Q of all losses of the balance, dial up and wound, bundled designs",
        whole,
        100.0,
        300.0,
        source=WEAK,
        why="four designs lie within; the free-sprung one, of modern make, is meant to be better",
    )
