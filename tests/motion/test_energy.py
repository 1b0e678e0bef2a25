"""The energy of a settled period: what the escapement gives is what the drags, impacts and unlocking take.

Source: conservation of energy, docs/physics.md §1 and §2. Two accounts are kept at the engine's settled turning
points: one by the independent integrator; one from the engine's own numbers (speeds along the free arcs, at
contact and at drop, angles of catch and of the fork's other wall), whose drag works and speeds inside the lift are
integrated over the angle by scipy.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import fixed_quad, solve_ivp

import oscsim
from oscsim.motion.arcs import free_arc
from oscsim.motion.balance import Balance
from oscsim.motion.coefficients import Beats, Oscillators
from oscsim.motion.lever.lever import Lever
from oscsim.motion.rules import LADDER
from oscsim.motion.settle import settle
from oscsim.operating import operating_points

from ..independent import integrator as it
from ..independent.designs import MOVEMENTS, TABLES

RULE = LADDER[-1]
CASES = {
    "normal": ("heavy", "12H", {}),
    "flat": ("slow", "CH", {}),
    "late catch": ("fast", "3H", {"escapement.wheel_inertia_mg_cm2": 0.9}),
    "no play": ("fast", "9H", {"escapement.notch_shake_deg": 0.0}),
    "33 deg": ("slow", "9H", {"mainspring.height_mm": 0.10}),
    "cubic hairspring, air": (
        "fast",
        "6H",
        {"balance.cubic_stiffness": 1e-4, "balance.quadratic_drag": 1e-3},
    ),
}


def settled(name: str) -> tuple[it.Coefficients, Oscillators, float, float]:
    design, position, changes = CASES[name]
    movement = MOVEMENTS[design].with_(changes)
    points = operating_points(movement, oscsim.Setting(positions=position))
    found = settle(points.oscillators, points.knock_angle)
    op = it.operating(it.changed(TABLES[design], dict(changes)), position)
    return op, points.oscillators, float(found.cycle.left[0]), float(found.cycle.right[0])


@pytest.mark.parametrize("name", CASES)
def test_account_by_the_independent_integrator(name: str) -> None:
    op, _, left, right = settled(name)
    turn = it.period(op, left, energy=True)
    assert turn.second is not None
    assert turn.first.next_amplitude == pytest.approx(right, abs=1e-11, rel=0)
    both = (turn.first.energy, turn.second.energy)
    given = sum(e["drive"] + e["wall"] for e in both)
    losses = ("viscous", "quadratic", "dry", "pick_up", "unlocking", "release", "catch", "drop")
    taken = sum(e[loss] for e in both for loss in losses)
    print(f"\n{name}: {(given - taken) / taken:.1e} of the throughput")
    assert abs(given - taken) < 1e-10 * taken


@pytest.mark.parametrize("name", CASES)
def test_account_from_the_engines_own_numbers(name: str) -> None:
    """In units of k and I: half of v² is an energy."""
    op, osc, left, right = settled(name)
    gain_1, loss_1 = account(op, osc.beats(+1), left, right)
    gain_2, loss_2 = account(op, osc.beats(-1), right, left)
    given, taken = gain_1 + gain_2, loss_1 + loss_2
    print(f"\n{name}: {(given - taken) / taken:.1e} of the throughput")
    assert abs(given - taken) < 1e-10 * taken


def account(op: it.Coefficients, osc: Beats, start: float, end: float) -> tuple[float, float]:
    """(what the escapement gives the balance, what is taken from it) in the beat from -start to +end."""
    fork = osc.escapement
    assert isinstance(fork, Lever)
    coming = free_arc(osc, np.array([start]), fork.pin_contact, RULE).speed_squared
    through = fork.lift(osc, coming, RULE)
    drop = float(through.drop[0])
    taken = float(osc.dry[0]) * (start + end)  # over the whole beat, so not again below
    taken += arc_drag(osc, start, float(fork.pin_contact[0]), backwards=False)
    taken += arc_drag(osc, end, drop, backwards=True)

    # inertias, ratios and torques of the lever from the independent reading of the design file
    i, k, g, p, q = (op[name] for name in ("I", "k", "g", "p", "q"))
    lever, wheel = op["J_l"] / i, op["J_w"] / i
    whole = lever + p * p * wheel
    unlocking, impulse = g * op["M_u"] / op["fork_efficiency"] / k, g * op["M_i"] * op["fork_efficiency"] / k
    x = float(fork.pin_contact[0])
    v = math.sqrt(float(coming[0]))

    # pick-up, unlocking, release
    together = 1.0 + g * g * (lever + q * q * wheel)
    taken += 0.5 * v * (v - v / together)
    length = float(fork.unlocking[0])
    x, v, _, drag = carry(osc, x, length, v / together, together, -unlocking)
    taken += drag + unlocking * length + 0.5 * wheel * (q * g * v) ** 2
    recoil = q * g * v

    # catch-up and catch
    x, v, time, drag = carry(osc, x, float(through.catching[0]), v, 1.0 + g * g * lever, 0.0)
    taken += drag + 0.5 * lever * (g * v) ** 2
    wheel_speed = op["M_e"] / k / wheel * time - recoil
    a = (lever * g * v + p * wheel * wheel_speed) / whole

    # the lever runs ahead; the other wall meets the pin; impulse; drop
    x, v, time, drag = carry(osc, x, float(through.running[0]), v, 1.0, 0.0)
    taken += drag
    a += op["M_i"] / k / whole * time
    driven = (v + g * whole * a) / (1.0 + g * g * whole)
    given = 0.5 * (1.0 + g * g * whole) * driven**2 - 0.5 * v**2
    length = drop - x
    x, v, _, drag = carry(osc, x, length, driven, 1.0 + g * g * whole, impulse)
    given += impulse * length
    taken += drag + 0.5 * whole * (g * v) ** 2
    assert v**2 == pytest.approx(float(through.speed_squared[0]), rel=1e-11)
    return given, taken


def arc_drag(osc: Balance, turn: float, end: float, *, backwards: bool) -> float:
    """Work of the two drags between a turning point and ``end``, from the engine's speeds on the way.

    x = -turn cos ϑ (outwards against time: x = +turn cos ϑ), so that the integrand is smooth.
    """
    sign = 1.0 if backwards else -1.0

    def work(theta: np.ndarray) -> np.ndarray:
        x = sign * turn * np.cos(theta)
        many = osc.take(np.zeros(len(x), int))
        w = free_arc(many, np.full(len(x), turn), x, RULE, backwards=backwards).speed_squared
        return (many.viscous * np.sqrt(w) + many.quadratic * w) * turn * np.sin(theta)

    total, _ = fixed_quad(work, 0.0, math.acos(sign * end / turn), n=40)
    return float(total)


def carry(
    osc: Balance, x: float, length: float, v: float, inertia: float, torque: float
) -> tuple[float, float, float, float]:
    """Over ``length`` with speed ``v``: angle, speed, time and the work of the two drags (scipy, over the angle)."""

    def rates(angle: float, y: np.ndarray) -> tuple[float, float, float]:
        speed = np.sqrt(y[:1])
        slope = 2.0 * (osc.torque_at(np.array([angle]), speed)[0] + torque) / inertia
        drag = float(speed[0] * (osc.viscous[0] + osc.quadratic[0] * speed[0]))
        return slope, 1.0 / float(speed[0]), drag

    if length == 0.0:
        return x, v, 0.0, 0.0
    found = solve_ivp(rates, (x, x + length), (v * v, 0.0, 0.0), "DOP853", rtol=1e-13, atol=1e-15)
    w, time, drag = found.y[:, -1]
    return x + length, math.sqrt(w), float(time), float(drag)
