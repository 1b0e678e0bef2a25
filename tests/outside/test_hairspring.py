"""A strong cubic hairspring against elliptic integrals; the hairspring from its shape; 11-13, 32, 33, 51-53."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.special import j0, j1

from oscsim.answers.hairspring import pinned_further
from oscsim.motion.arcs import free_arc
from oscsim.motion.balance import Balance
from oscsim.motion.free import free_period
from oscsim.motion.rules import LADDER
from oscsim.parts import coil, hairspring_table
from oscsim.parts import hairspring as hair
from oscsim.parts.hairspring_table import Hairspring, coils_of

from .designs import free, free_rate
from .sources import ELLIPTIC, GOUDSMIT, KLEINLEIN, PHILLIPS, SHOOTING, TEXTBOOK

#: Springs of shooting along the strip at 1e-13: per angle T/k, F, centroid; per amplitude rates and Γ.
SHOT = json.loads((Path(__file__).parent / "reference" / "springs.json").read_text("utf-8"))
FLAT = {"collet_radius_mm": 0.6, "outer_radius_mm": 2.6, "winds": "clockwise"}
SPRINGS = {
    "whole": Hairspring(turns=12.0, **FLAT),
    "half": Hairspring(turns=12.5, **FLAT),
    "quarter": Hairspring(turns=12.25, **FLAT),
    "outer_curve": Hairspring(turns=12.0, outer_curve="phillips", **FLAT),
    "eccentric": Hairspring(turns=12.0, stud_offset_um=(50.0, 30.0), stud_turn_deg=1.0, **FLAT),
}
#: Rate of a cylinder in plan, 10 turns of 2.6 mm, s/day to first order at these swings, by shooting as well: without
#: curves, and with Phillips' at both ends.
RADIUS = 2.6
SWINGS = (60.0, 90.0, 120.0, 150.0, 180.0, 200.0, 220.0, 240.0, 270.0, 300.0, 320.0)
CYLINDER = {
    False: (
        32.0956,
        62.2053,
        88.7040,
        101.9864,
        96.3837,
        82.0135,
        60.8441,
        35.5314,
        -2.7903,
        -30.9764,
        -39.2539,
    ),
    True: (0.0113, 0.0330, 0.0714, 0.1244, 0.1803, 0.2107, 0.2300, 0.2351, 0.2180, 0.1875, 0.1758),
}
#: A pocket watch's spring, sizes assumed; it leaves its collet towards 12.
POCKET = Hairspring(
    collet_radius_mm=0.9,
    outer_radius_mm=4.2,
    turns=13.0,
    winds="clockwise",
    pinning_deg=-90.0,
    strip_mass_mg=11.8,
)
POCKET_STIFFNESS = 1.48e-6


def raw(spring, *degrees):
    """Rate of the shape to first order, s/day."""
    return hair.shape_rate(hair.response(spring).departure, np.radians(degrees))[:, 0]


def natural_error(spring, *degrees):
    """By how much 12 up is faster than 6 up by the strip's weight, s/day."""
    lever = hair.weight_lever(hair.response(spring).centroid, np.radians(degrees))[:, 0]
    down = np.exp(1j * math.pi)
    return 2.0 * 86400.0 * 11.8e-6 * 9.80665 / POCKET_STIFFNESS * 1e-3 * np.real(lever * np.conj(down))


@pytest.mark.check(32)
@pytest.mark.parametrize(
    ("m", "k"), [(0.01, 1.5747455615173559), (0.1, 1.6124413487202194), (0.25, 1.685750354812596)]
)
def test_strong_cubic(ledger, m, k):
    # x'' = -x - e x³ from rest at A is a Jacobi cn: period 4 K(m)/√(1 + e A²), e A² = 2m/(1 - 2m).
    stiff = 2 * m / (1 - 2 * m)
    amplitude = math.radians(270.0)
    osc = free(cubic=stiff / amplitude**2)
    ledger.value(
        f"period of a hairspring with eA² = {stiff:.4g} at 270°, in 1/ω, against 4 K({m:g})/√(1 + eA²)",
        free_period(osc, np.array([amplitude]), LADDER[-1])[0],
        4 * k / math.sqrt(1 + stiff),
        source=ELLIPTIC,
        relative=1e-12,
        why="the energy is in closed form, the time a quadrature: rounding",
    )


@pytest.mark.check(33)
@pytest.mark.parametrize(("degrees", "rate"), [(1.0, -1.645), (2.0, -6.580)])
def test_circular_error(ledger, degrees, rate):
    # sin x = x - x³/6: a pendulum is a cubic term of -1/6; T = T₀ (1 + A²/16 + ...).
    ledger.value(
        f"circular error at {degrees:g}° to one side, as a cubic term of -1/6",
        free_rate(degrees, cubic=-1 / 6),
        rate,
        "s/day",
        source=TEXTBOOK,
        within=6e-4 * degrees**2,
        why="the last digit given; T = T₀(1 + A²/16)",
    )


@pytest.mark.check(11)
@pytest.mark.parametrize(("name", "turns"), [("whole", 12.0), ("half", 12.5)])
def test_flat_spring(ledger, name, turns):
    # δω/ω = {r₁⁴ + r₀⁴ - 2 r₀² r₁² cos β [J₀(A) - A J₁(A)]}/(2 I_h L²), I_h = (r₀² + r₁²)/4
    inner, outer, length = 0.6, 2.6, SHOT[name]["L_mm"]
    for degrees in (60.0, 150.0, 220.0, 270.0):
        a = math.radians(degrees)
        breathing = 2.0 * inner**2 * outer**2 * math.cos(2.0 * math.pi * turns) * (j0(a) - a * j1(a))
        share = (outer**4 + inner**4 - breathing) / (0.5 * (inner**2 + outer**2) * length**2)
        ledger.value(
            f"rate of a flat hairspring of {turns:g} turns at {degrees:g}°",
            raw(SPRINGS[name], degrees)[0],
            86400.0 * share,
            "s/day",
            source=GOUDSMIT,
            relative=1.3e-2,
            why="the closed form is of first order in the strip's bending; the strip itself lies up to 1.1 % higher",
        )


@pytest.mark.check(11)
def test_quarter_turns_hardly_bend_the_curve(ledger):
    low, high = raw(SPRINGS["quarter"], 150.0, 300.0)
    whole = np.ptp(raw(SPRINGS["whole"], 150.0, 300.0))
    ledger.says(
        "at quarter turns the rate of a flat hairspring hardly changes with the swing, at whole turns it does",
        bool(abs(high - low) < 0.1 * whole),
        "nearly constant at quarter turns",
        f"{high - low:+.2f} and {whole:.1f} s/day from 150 to 300°",
        source=GOUDSMIT,
    )


@pytest.mark.check(12)
def test_outer_curve(ledger):
    """Centre of mass R²/ℓ from the axis and square to the radius at its start; worked: (0, 0.28005 R)."""
    still = coil.rest(coils_of(SPRINGS["outer_curve"]))
    weights = np.polynomial.legendre.leggauss(coil.NODES)[1][:, None]
    line = np.abs(still.slope[-2:]) * weights
    centre = complex((still.place[-2:] * line).sum() / line.sum()) * still.length[0] / 2.6
    ledger.value(
        "centre of mass of Phillips' outer curve, square to the radius at its start, in R",
        centre.imag,
        0.28005,
        source=PHILLIPS,
        within=1e-5,
        why="the last digit given",
    )
    ledger.value(
        "centre of mass of Phillips' outer curve along that radius, in R",
        centre.real,
        0.0,
        source=PHILLIPS,
        within=1e-7,
        why="the digits of the two arcs",
    )
    ledger.value(
        "its distance from the axis times its length over R²",
        abs(centre) * line.sum() * still.length[0] / 2.6,
        1.0,
        source=PHILLIPS,
        within=1e-7,
        why="the digits of the two arcs",
    )


@pytest.mark.check(12)
def test_a_correct_outer_curve_makes_isochronous(ledger):
    flat, curved = (float(np.ptp(raw(SPRINGS[n], 150.0, 220.0, 300.0))) for n in ("whole", "outer_curve"))
    ledger.says(
        "a correct outer curve takes most of a flat hairspring's error of isochronism away",
        curved < 0.1 * flat,
        "isochronous",
        f"{flat:.1f} s/day from 150 to 300° becomes {curved:.1f}",
        source=PHILLIPS,
    )


@pytest.mark.check(13)
def test_spring_leaving_its_collet(ledger):
    """The strip leaves the collet towards 12: that position is the fast one; sizes are assumed."""
    for degrees in (225.0, 250.0, 270.0):
        ledger.band(
            f"a pocket watch's hairspring that leaves its collet upward: that position is faster by, at {degrees:g}°",
            natural_error(POCKET, degrees)[0],
            11.0,
            15.0,
            "s/day",
            source=KLEINLEIN.at("§32-34"),
            why="12 to 15 s/day is natural; the sizes of the spring are assumed",
        )


@pytest.mark.check(52)
def test_half_a_coil_further(ledger):
    before = natural_error(POCKET, 225.0)[0]
    after = natural_error(pinned_further(POCKET, 0.5), 225.0)[0]
    ledger.says(
        "pinned half a coil further at the collet, the fast position becomes the slow one",
        bool(before > 8.0 and after < -8.0),
        "pendant up and down +12/-4 became -4/+11",
        f"12 up less 6 up {before:+.1f} s/day becomes {after:+.1f}",
        source=KLEINLEIN.at("example 10"),
    )


@pytest.mark.check(51)
@pytest.mark.parametrize("name", SPRINGS)
def test_shooting(ledger, name):
    rows, rates = np.array(SHOT[name]["rows"]), np.array(SHOT[name]["rates"])
    bent = coil.bend(coils_of(SPRINGS[name]), np.radians(rows[:, 0]))
    lever = hair.weight_lever(hair.response(SPRINGS[name]).centroid, np.radians(rates[:, 0]))[:, 0]
    for what, apart, most, unit in (
        ("torque T/k", bent.torque[0] - rows[:, 1], 1e-8, "rad"),
        ("force on the collet", bent.force[0] - (rows[:, 2] + 1j * rows[:, 3]), 1e-6, "EI/L²"),
        ("centre of mass", bent.centroid[0] - (rows[:, 4] + 1j * rows[:, 5]), 1e-8, "mm"),
        ("lever of the weight Γ", lever - (rates[:, 3] + 1j * rates[:, 4]), 1e-8, "mm"),
        ("rate of the shape", raw(SPRINGS[name], *rates[:, 0]) - rates[:, 1], 0.01, "s/day"),
    ):
        ledger.worst(
            f"{SHOT[name]['what']}: {what}",
            float(np.abs(apart).max()),
            most,
            unit,
            source=SHOOTING,
            why="what is asked of the strip's equations",
        )


def exact(spring, *degrees):
    """Rate of a balance with this spring's torque alone, s/day, at half the whole swing from side to side: the engine's
    arcs from either turning point, both of one energy."""
    departure = hair.response(spring).departure
    energy = np.polynomial.Chebyshev([0.0]) - hair.SPAN * np.polynomial.Chebyshev(departure[:, 0]).integ()
    swing, split = np.radians(degrees), np.zeros(len(degrees))
    for _ in range(8):
        a, b = (swing + split) / hair.SPAN, (split - swing) / hair.SPAN
        # ½a² + E(a) = ½b² + E(b), a² - b² = 4 A split
        split = (energy(b) - energy(a)) / (2.0 * swing)
    osc = replace(free(), torque_series=np.repeat(departure, len(swing), axis=1))
    halves = [
        2.0 * free_arc(side, far, np.zeros(len(swing)), LADDER[-1]).time
        for side, far in ((osc, swing - split), (Balance(**osc.turned()), swing + split))
    ]
    return 86400.0 * (2.0 * math.pi / sum(halves) - 1.0)


@pytest.mark.check(51)
@pytest.mark.parametrize("name", SPRINGS)
def test_exact_rate(ledger, name):
    rates = np.array(SHOT[name]["rates"])
    ledger.worst(
        f"{SHOT[name]['what']}: rate of the engine with that torque alone, not to first order",
        float(np.abs(exact(SPRINGS[name], *rates[:, 0]) - rates[:, 2]).max()),
        1e-6,
        "s/day",
        source=SHOOTING,
        why="the series of the torque; what is asked is 0.01 s/day",
    )


@pytest.mark.check(51)
def test_from_220_to_280(ledger):
    flat = [(turns, Hairspring(turns=turns, **FLAT)) for turns in (12.0, 12.5, 12.25, 12.75)]
    given = (-13.65, 12.89, -1.03, 1.21)
    for (turns, spring), gains in zip(flat, given, strict=True):
        ledger.value(
            f"a flat hairspring of {turns:g} turns: rate of the shape at 280° less at 220°",
            np.diff(raw(spring, 220.0, 280.0))[0],
            gains,
            "s/day",
            source=SHOOTING,
            within=0.006,
            why="the last digit given",
        )
    ledger.value(
        "12 turns with Phillips' outer curve: rate of the shape at 280° less at 220°",
        np.diff(raw(SPRINGS["outer_curve"], 220.0, 280.0))[0],
        0.5,
        "s/day",
        source=SHOOTING,
        within=0.06,
        why="the last digit given",
    )


@pytest.mark.check(51)
def test_weight_of_a_pocket_watchs_spring(ledger):
    swings = (150.0, 202.5, 225.0, 250.0, 270.0)
    for degrees, faster in zip(swings, (-6.3, 10.7, 13.5, 13.5, 11.5), strict=True):
        ledger.value(
            f"a pocket watch's hairspring that leaves its collet upward: that position is faster by, at {degrees:g}°",
            natural_error(POCKET, degrees)[0],
            faster,
            "s/day",
            source=SHOOTING,
            within=0.06,
            why="the last digit given; the sizes of the spring are assumed",
        )


def cylinder(*, curves):
    """A cylinder's strip in plan, free of stress, with or without Phillips' curves at both ends."""
    nodes = np.polynomial.legendre.leggauss(coil.NODES)[0][:, None]

    def arc(radius, start, angle):
        return (0.5j * radius * angle * np.exp(1j * (start + 0.5 * angle * (1.0 + nodes))))[None]

    slopes, start = [arc(RADIUS, 0.0, 2.0 * math.pi)] * 10, np.array([RADIUS])
    if curves:
        (half, _), (rest, degrees) = hairspring_table.PHILLIPS
        outer = [arc(half * RADIUS, 0.0, math.pi), arc(rest * RADIUS, math.pi, math.radians(degrees))]
        # the one at the collet is the mirror image, followed towards the coil
        slopes = [-np.conj(piece[:, ::-1]) for piece in outer[::-1]] + slopes + outer
        curve = coil.drawn(np.concatenate(outer), start)
        start = np.conj(curve.end * curve.length)
    return coil.drawn(np.concatenate(slopes), start)


@pytest.mark.check(51)
@pytest.mark.parametrize("curves", [False, True])
def test_cylinder(ledger, curves):
    """A spiral that does not climb: the strip's equations take it, a design file does not."""
    angle = hair.SPAN * np.cos(math.pi * (np.arange(hair.TERMS) + 0.5) / hair.TERMS)
    unheld = np.zeros(1)
    torque = coil.bent(cylinder(curves=curves), angle, coil.ACCURACY, unheld + 0j, unheld)[0].torque[0]
    series = np.polynomial.chebyshev.chebfit(angle / hair.SPAN, torque + angle, hair.TERMS - 1)[:, None]
    rate = hair.shape_rate(series, np.radians(SWINGS))[:, 0]
    ledger.worst(
        "a cylinder in plan, 10 turns of 2.6 mm, "
        + ("with Phillips' curves at both ends" if curves else "clamped at both ends without curves")
        + ": rate at eleven swings from 60 to 320°",
        float(np.abs(rate - CYLINDER[curves]).max()),
        1e-4,
        "s/day",
        source=SHOOTING,
        why="the digits given",
    )


@pytest.mark.check(53)
def test_off_centre(ledger):
    """A wrist watch's spring, its stud 0.1 mm off; balance of 40 mg, k 0.5 µN·m/rad, sizes assumed."""
    drawn, stiffness, heavy, rubbing = SPRINGS["whole"], 5e-7, 40e-6 * 9.80665, 1.0
    tilt, up = np.full(4, 0.5 * math.pi), np.radians([0.0, 90.0, 180.0, 270.0])
    angle = np.radians(np.linspace(-270.0, 270.0, 55))

    def rubs(spring):
        """Side thrust's friction in each vertical position over the weight's own."""
        found = hair.at_balance(spring, stiffness, (heavy, rubbing), tilt, up).friction
        return hair.at_angles(found, angle).mean(axis=0) * stiffness / (rubbing * heavy)

    ways = [(100.0, 0.0), (-100.0, 0.0), (0.0, 100.0), (0.0, -100.0)]
    off = [replace(drawn, stud_offset_um=way) for way in ways]
    change = np.array([raw(spring, 180.0, 200.0, 220.0) - raw(drawn, 180.0, 200.0, 220.0) for spring in off])
    ledger.says(
        "a hairspring 0.1 mm off its centre: faster to one side, slower to the other",
        bool((change[[0, 3]] > 2.0).all() and (change[[1, 2]] < -2.0).all() and np.abs(change).max() < 12.0),
        "an uneven centring makes one direction fast",
        f"{change.min():+.1f} to {change.max():+.1f} s/day at 180 to 220°",
        source=KLEINLEIN.at("§56"),
    )
    more = np.array([rubs(spring) - rubs(drawn) for spring in off])

    def pushes(spring):
        """Its mean side force along down in each of these positions, over the weight."""
        found = hair.response(spring)
        force = hair.at_angles(found.force, angle).mean() * stiffness / (found.length[0] * 1e-3)
        return np.real(force * np.exp(-1j * (up + math.pi))) / heavy

    down = np.array([pushes(spring) - pushes(drawn) for spring in off])
    most = np.abs(down) > 0.03
    ledger.says(
        "the same: more friction in the vertical position in which it pushes the balance down, less in the opposite",
        bool(most.any() and (more[most] * np.sign(down[most]) > 0.02).all() and np.abs(more).max() < 0.15),
        "an uneven centring gives friction",
        f"{100.0 * more.min():+.0f} to {100.0 * more.max():+.0f} % of the verticals' own",
        source=KLEINLEIN.at("§56"),
    )
