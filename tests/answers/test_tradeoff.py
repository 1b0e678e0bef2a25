"""Measures against budget, settle and physics.md; fronts against brute force and a known one; years against settling.

Sources stand beside the checks. Archard's law is used as a proportion only, so only proportions are checked.
"""

import json
import math
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

import oscsim
from oscsim.answers.front import front, knee
from oscsim.answers.measures import MEASURES, Stack, measured
from oscsim.condition import Condition
from oscsim.oil import LEAST, MIDDLE, MOST, OIL_LIFE_YEARS
from oscsim.stack import stack_of

DOCKHAND, PACKET = (oscsim.load(name) for name in ("dockhand", "packet"))
NAMED = [
    *(
        "amplitude_flat",
        "amplitude_vertical",
        "amplitude_flat_24h",
        "amplitude_vertical_24h",
        "reserve",
        "above_floor",
    ),
    *(
        "below_knock",
        "years_to_180",
        "years_to_stop",
        "lock_energy",
        "lock_speed",
        "draw_return",
        "lock_short",
    ),
    *("strip_stress", "barrel_torque", "escape_torque", "banking_energy", "friction_work", "pivot_pressure"),
    *("rate_for_less_drive", "vertical_spread", "vertical_spread_24h", "rate_for_temperature", "jolt_loss"),
    *("knock_chance", "worn_hours"),
]


def of(movement, *names):
    found = measured(Stack(stack_of([movement]), 23.0, Condition()), list(names))
    return [float(found[name][0]) for name in names]


def test_every_measure_is_there_and_told():
    assert list(MEASURES) == NAMED
    for measure in MEASURES.values():
        assert measure.better in ("higher", "lower", "nearer 0")
        assert measure.formula
        assert measure.source


def test_amplitudes_and_rates_are_those_of_settling():
    points = oscsim.settle(
        PACKET, oscsim.Setting(positions=("CH", "12H", "3H", "6H", "9H"), hours=(0.0, 24.0))
    ).points
    flat, low, spread = of(PACKET, "amplitude_flat", "amplitude_vertical_24h", "vertical_spread_24h")
    assert flat == pytest.approx(float(points.at("CH").amplitude_deg), abs=1e-9)
    assert low == pytest.approx(float(points.at("12H", 24).amplitude_deg), abs=1e-9)
    assert spread == pytest.approx(np.ptp(points.rate_s_per_day[1:, 1]), abs=1e-6)


def test_friction_and_banking_are_the_budgets():
    budget = oscsim.budget(DOCKHAND)
    a_year = DOCKHAND.balance.beats_per_hour * 24.0 * 365.25
    rubbing = sum(
        float(budget.taken_j[place][0, 0]) for place in ("lock_friction", "pallet_friction", "fork", "dry")
    )
    work, banking = of(DOCKHAND, "friction_work", "banking_energy")
    assert work == pytest.approx(rubbing * a_year, rel=1e-9)
    assert banking == pytest.approx(1e9 * float(budget.taken_j["lever_and_wheel"][0, 0]), rel=1e-9)


def test_lock_by_hand():
    """docs/physics.md (2), written out."""
    e = DOCKHAND.escapement
    torque = 1e-9 * of(DOCKHAND, "escape_torque")[0]
    arm, draw, rho = (
        math.tan(math.pi * e.teeth_embraced / e.teeth),
        math.radians(e.draw_deg),
        math.atan(e.pallet_friction),
    )
    energy = torque * arm * math.tan(draw + rho) * math.radians(e.lock_deg + e.run_deg)
    inertia = 1e-10 * (e.lever_inertia_mg_cm2 + (arm * math.tan(draw)) ** 2 * e.wheel_inertia_mg_cm2)
    found = of(DOCKHAND, "lock_energy", "lock_speed", "draw_return")
    assert found == pytest.approx(
        [1e9 * energy, math.sqrt(2.0 * energy / inertia), 1e9 * torque * arm * math.tan(draw - rho)],
        rel=1e-12,
    )


def test_the_draw_fails_where_friction_is_greater():
    """Statics: below the angle of friction the tooth holds the lever where it is."""
    steep = DOCKHAND.with_(
        {"escapement.draw_deg": 8.0, "escapement.pallet_friction": 0.16}
    )  # atan 0.16 = 9.1 deg
    assert of(steep, "draw_return")[0] < 0.0


def test_strip_stress_by_hand():
    """Bending: strain h/2 times the change of curvature."""
    m = DOCKHAND.mainspring
    bent = 1.0 / (0.5e-3 * DOCKHAND.barrel.arbor_diameter_mm) - m.free_curvature_per_m
    by_hand = 0.5 * m.modulus_gpa * 1e9 * m.thickness_mm * 1e-3 * bent / (m.elastic_limit_mpa * 1e6)
    assert of(DOCKHAND, "strip_stress")[0] == pytest.approx(by_hand, rel=1e-12)


def test_years_are_roots_of_the_amplitude():
    found = oscsim.ageing([DOCKHAND], years=(0.0,))
    for n, dry in enumerate((LEAST, MIDDLE, MOST)):
        years = found.years_to_limit[0, n]
        if math.isnan(years):
            continue
        gone = years / OIL_LIFE_YEARS
        stone, brass, drag = (1.0 + gone * (end - 1.0) for end in (dry.stone, dry.brass, dry.drag))
        b, t = DOCKHAND.balance, DOCKHAND.train
        old = DOCKHAND.with_(
            {
                "balance.pivot_friction": b.pivot_friction * stone,
                "escapement.pallet_friction": DOCKHAND.escapement.pallet_friction * stone,
                "train.jewel_friction": t.jewel_friction * stone,
                "train.brass_friction": t.brass_friction * brass,
                "balance.viscous_q": b.viscous_q / drag,
            }
        )
        swing = oscsim.settle(old, oscsim.Setting(positions="12H", hours=24.0)).points.amplitude_deg
        assert float(swing[0, 0]) == pytest.approx(180.0, abs=0.1)
    assert found.years_to_limit[0, 2] < found.years_to_limit[0, 1]


def test_ageing_is_the_condition():
    found = oscsim.ageing([PACKET], years=(0.0, 3.0))
    same = oscsim.settle(
        PACKET, oscsim.Setting(positions="12H", hours=24.0, condition=Condition(oil_age_years=3.0))
    )
    assert found.amplitude_deg["amplitude_vertical_24h"][0, 1] == pytest.approx(
        float(same.points.amplitude_deg[0, 0]), abs=1e-9
    )
    assert found.given_back_deg[0, 0] == pytest.approx(0.0, abs=1e-9)


def test_signs_of_the_trade():
    """Deeper lock: safer and lower; softer spring: less strain, lower; heavier balance: lower, less moved by the drive
    (common practice; the amplitudes of Kleinlein 1920 and checks of the trade)."""
    deeper = DOCKHAND.with_({"escapement.lock_deg": DOCKHAND.escapement.lock_deg + 0.5})
    softer = DOCKHAND.with_({"mainspring.thickness_mm": 0.95 * DOCKHAND.mainspring.thickness_mm})
    heavier = DOCKHAND.with_(
        {
            "balance.inertia_mg_cm2": 1.2 * DOCKHAND.balance.inertia_mg_cm2,
            "balance.mass_mg": 1.2 * DOCKHAND.balance.mass_mg,
        }
    )
    names = ("amplitude_flat", "lock_energy", "strip_stress", "friction_work")
    before = dict(zip(names, of(DOCKHAND, *names), strict=True))
    after = [dict(zip(names, of(m, *names), strict=True)) for m in (deeper, softer, heavier)]
    assert all(one["amplitude_flat"] < before["amplitude_flat"] - 1.0 for one in after)
    assert after[0]["lock_energy"] > before["lock_energy"]
    assert after[1]["strip_stress"] < before["strip_stress"]
    assert after[1]["friction_work"] < before["friction_work"]


_SHARED = ["dockhand", "packet", "ferryman"]
_LIMITS = (Path(__file__).parents[2] / "docs/limits.md").read_text("utf-8").replace("−", "-")
#: Cells of the table of the heavier balance in docs/limits.md: one row a measure, one cell a watch, three designs each.
_STEADY = [
    line.strip("| ").split(" | ")[1:]
    for line in _LIMITS.split("| | as designed |")[1].split("\n\n")[0].splitlines()
    if line.strip().startswith("| ") and "---" not in line
]


@pytest.mark.parametrize("name", _SHARED)
def test_a_heavier_balance_is_steadier_where_its_drive_grows_with_it(name):
    """The trade's claim (common practice), as far as it holds: docs/limits.md has the numbers. Mass and inertia 1.4
    times at the beat kept, with the drive as it was and with a strip (and bridle) 1.4 times as strong; the want of
    poise stays."""
    m = oscsim.load(name)
    strip = m.mainspring
    heavier = {
        "balance.inertia_mg_cm2": 1.4 * m.balance.inertia_mg_cm2,
        "balance.mass_mg": 1.4 * m.balance.mass_mg,
    }
    drive = {"mainspring.height_mm": 1.4 * strip.height_mm}
    if strip.slip_torque_n_mm is not None:
        drive["mainspring.slip_torque_n_mm"] = 1.4 * strip.slip_torque_n_mm
    three = [m, m.with_(heavier), m.with_(heavier | drive)]
    names = ["amplitude_vertical", "rate_for_less_drive", "vertical_spread", "vertical_spread_24h", "jolt_loss",
             "friction_work"]  # fmt: skip
    found = measured(Stack(stack_of(three), 23.0, Condition()), names)
    own, heavy, driven = (
        dict(zip(names, column, strict=True)) for column in zip(*(found[n] for n in names), strict=True)
    )
    # the table of docs/limits.md
    for row, measure in zip(_STEADY, names, strict=True):
        printed = [float(cells.split(", ")[_SHARED.index(name)]) for cells in row]
        digits = len(row[0].split(", ")[0].partition(".")[2])
        assert [one[measure] for one in (own, heavy, driven)] == pytest.approx(
            printed, abs=0.501 * 10.0**-digits
        )
    # what holds either way: less drive moves its rate less
    assert abs(heavy["rate_for_less_drive"]) < 0.95 * abs(own["rate_for_less_drive"])
    assert abs(driven["rate_for_less_drive"]) < abs(own["rate_for_less_drive"])
    # with its drive: the swing is kept, and the same want of poise moves it 1.4 times less, by derivation
    assert driven["amplitude_vertical"] == pytest.approx(own["amplitude_vertical"], abs=3.0)
    assert driven["vertical_spread"] / own["vertical_spread"] == pytest.approx(1.0 / 1.4, abs=0.06)
    assert driven["friction_work"] > 1.35 * own["friction_work"]
    # without: it swings some 30 deg and more less, below the node after a day, and the verticals part further
    assert heavy["amplitude_vertical"] < own["amplitude_vertical"] - 30.0
    assert heavy["vertical_spread_24h"] > 1.3 * own["vertical_spread_24h"]
    # a jolt that takes a fifth of the speed costs no less time
    assert heavy["jolt_loss"] > own["jolt_loss"]


def test_jolt_against_the_motion_in_time():
    """The same beats from the time simulation (oscsim trace), period by period, from four fifths of the swing."""
    told = oscsim.transient(PACKET, swing_deg=0.8 * of(PACKET, "amplitude_flat")[0], duration_s=30.0)
    periods = (len(told.time_s) - 1) // 2
    lost = (
        told.time_s[2 * periods]
        - told.time_s[0]
        - periods * float(oscsim.settle(PACKET).points.period_s[0, 0])
    )
    assert of(PACKET, "jolt_loss")[0] == pytest.approx(1e3 * lost, rel=0.05)


def test_front_against_brute_force():
    rng = np.random.default_rng(5)
    gains = rng.normal(size=(700, 3)).round(1)  # rounded, so that some are alike
    gains[::50, 1] = -np.inf
    better = (gains[None] >= gains[:, None]).all(axis=2) & (gains[None] > gains[:, None]).any(axis=2)
    expected = np.flatnonzero(~better.any(axis=1) & np.isfinite(gains).all(axis=1))
    assert sorted(front(gains)) == expected.tolist()


def test_front_of_a_known_function():
    """Schaffer's two parabolas: the front of min x², min (x - 2)² is 0 ≤ x ≤ 2 (J. D. Schaffer, 1985); the compromise
    lies in the middle by symmetry."""
    x = np.linspace(-3.0, 5.0, 801)
    gains = -np.stack([x**2, (x - 2.0) ** 2], axis=1)
    on = front(gains)
    assert x[on].min() == pytest.approx(0.0, abs=1e-9)
    assert x[on].max() == pytest.approx(2.0, abs=1e-9)
    assert len(on) == 201
    assert x[on][knee(gains[on])] == pytest.approx(1.0, abs=0.011)


RANGES = {"balance.inertia_mg_cm2": (12.0, 20.0), "escapement.lock_deg": (1.5, 3.2)}
AIMS = ("amplitude_vertical_24h", "lock_energy")


def test_front_of_designs_against_settling_each():
    found = oscsim.tradeoff_front(DOCKHAND, RANGES, AIMS, count=64, keep={"amplitude_flat": 240.0})
    inner = found.front
    assert inner is not None
    for n in range(len(inner.measures["lock_energy"])):
        numbers = {name: float(column[n]) for name, column in inner.numbers.items()}
        fork = (
            {"escapement.fork_ratio": DOCKHAND.escapement.fork_ratio}
            if DOCKHAND.escapement.fork_ratio
            else {}
        )
        one = of(DOCKHAND.with_(numbers | fork), *AIMS, "amplitude_flat")
        assert one[:2] == pytest.approx([float(inner.measures[aim][n]) for aim in AIMS], abs=1e-6)
        assert one[2] >= 240.0
    mass = inner.numbers["balance.mass_mg"] / inner.numbers["balance.inertia_mg_cm2"]
    np.testing.assert_allclose(mass, DOCKHAND.balance.mass_mg / DOCKHAND.balance.inertia_mg_cm2, rtol=1e-12)
    told = json.loads(found.to_json())
    assert set(told["front"][0]) == {"numbers", "measures"}
    assert told["computed"] == 64
    assert set(told["here"]) == {*AIMS, "amplitude_flat"}


def test_any_executor_gives_the_same():
    alone = oscsim.tradeoff_front(DOCKHAND, RANGES, AIMS, count=32)
    with ThreadPoolExecutor(2) as pool:
        shared = oscsim.tradeoff_front(DOCKHAND, RANGES, AIMS, count=32, executor=pool)
    assert alone.to_json() == shared.to_json()


def test_side_by_side():
    found = oscsim.tradeoff(
        ["dockhand", "packet"], measures=["lock_energy", "worn_hours", "knock_chance"], examples=30
    )
    told = json.loads(found.to_json())
    assert told["designs"] == ["Dockhand", "Packet"]
    assert set(told["measures"][0]) == {"name", "unit", "better", "values", "low", "high"}
    energy = told["measures"][0]
    assert energy["low"][0] < energy["values"][0] < energy["high"][0]
    wound = DOCKHAND.winding
    assert wound is not None
    assert found.values["worn_hours"][0] == pytest.approx(24.0 / wound.hours_per_hour_worn)
    assert "Against Dockhand, Packet" in str(found)


def test_lock_short_is_the_share_of_draws():
    """By drawing, with its standard error."""
    shallow = DOCKHAND.with_({"escapement.lock_deg": 1.1})
    from oscsim.answers.tolerance import draw, spreads_of

    drawn = draw(shallow, spreads_of(shallow), 4000, np.random.default_rng(2))["escapement.lock_deg"]
    share = float(np.mean(drawn < 1.0))
    found = oscsim.tradeoff([shallow], measures=["lock_short"]).values["lock_short"][0]
    assert abs(found - share) < 4.0 * math.sqrt(share * (1.0 - share) / 4000)


def test_a_dash_is_explained_and_no_loss():
    """A hand-wound watch gives up no hours of wearing; what needs examples says so; with them no dash is left."""
    names = ["knock_chance", "worn_hours", "reserve"]
    page = str(oscsim.tradeoff([DOCKHAND, oscsim.load("ferryman")], measures=names)).replace("\n", " ")
    assert "-: how many sound examples knock is counted over drawn examples (--examples 200)" in page
    assert "only a movement that winds itself" in page
    assert "gives up: hours from full wind to none" in page
    assert "hours worn a day to stay wound (" not in page
    drawn = str(oscsim.tradeoff([DOCKHAND, PACKET], measures=names, examples=20))
    assert "-:" not in drawn


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((RANGES, ("amplitude_flt", "lock_energy")), "did you mean 'amplitude_flat'"),
        ((RANGES, ("lock_energy",)), "at least two different ones"),
        ((RANGES, ("lock_energy", "knock_chance")), "cannot be traded on a front"),
        (({"balance.inertia_mg_cm2": (0.0, 20.0)}, AIMS), "out of range"),
        (({"balance.inertia_mg_cm2": (20.0, 12.0)}, AIMS), "the second must be above the first"),
        (({"balance.inertia": (12.0, 20.0)}, AIMS), "did you mean"),
        (({"train.jewels": (7.0, 15.0)}, AIMS), "no such number"),
        (({}, AIMS), "at least one number"),
    ],
)
def test_refused(arguments, said):
    with pytest.raises(oscsim.InputError, match=said):
        oscsim.tradeoff_front(DOCKHAND, *arguments, count=8)


def test_nothing_feasible_says_which_limit_fails_first():
    with pytest.raises(oscsim.InputError, match=r"keep lock_energy = 500 nJ: no design in these ranges"):
        oscsim.tradeoff_front(
            DOCKHAND, RANGES, AIMS, count=16, keep={"amplitude_flat": 240.0, "lock_energy": 500.0}
        )


def test_ageing_refuses_an_age():
    with pytest.raises(oscsim.InputError, match="oil_age_years = 3 years"):
        oscsim.ageing([DOCKHAND], oscsim.Setting(condition=Condition(oil_age_years=3.0)))
