"""The motion within a beat: against an integration in time, and against what mechanics says of torque and energy.

Sources: tests/independent (DOP853, its dense output), which shares no method and no code with the library; Newton's
second law and the energy theorem; the escapement's drawing for the angles of lever and wheel (docs/physics.md, 2).
"""

import math

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

import oscsim
from oscsim import InputError, Setting, trace
from tests.independent import integrator as it
from tests.independent.dense import dense_beat
from tests.independent.designs import MOVEMENTS, TABLES, plausible_designs

pytestmark = pytest.mark.usefixtures("briefly")

FURTHER = {
    "balance.out_of_beat_deg": 1.4,
    "balance.unbalance_ug_cm": 12.0,
    "balance.cubic_stiffness": 6e-5,
    "balance.quadratic_drag": 1e-3,
}
#: Design, changes, position, hour, swing at the start in deg (None: settled).
CASES = {
    "heavy, dial up": ("heavy", {}, "CH", 0.0, None),
    "heavy, all terms": ("heavy", FURTHER, "9H", 20.0, None),
    "fast, all terms": ("fast", FURTHER, "3H", 0.0, None),
    "slow, no shake": ("slow", {"escapement.notch_shake_deg": 0.0}, "12H", 10.0, None),
    "start from a small swing": ("fast", {}, "6H", 0.0, 40.0),
    "a late catch": ("fast", {"escapement.wheel_inertia_mg_cm2": 0.9}, "CH", 0.0, 310.0),
    "a lost impulse": ("fast", {"escapement.wheel_inertia_mg_cm2": 8.0}, "CH", 0.0, 250.0),
}


@pytest.fixture(scope="module", params=CASES, ids=list(CASES))
def both(request):
    """The library's trace, the integrator's coefficients of the same watch, and half its tooth space, rad."""
    name, changes, position, hours, swing = CASES[request.param]
    op = it.operating(it.changed(TABLES[name], dict(changes)), position, hours)
    got = trace(
        MOVEMENTS[name].with_(changes), Setting(positions=position, hours=hours), swing_deg=swing, samples=50
    )
    return got, op, math.pi / TABLES[name]["escapement"]["teeth"]


def _parts(got):
    """(phase, beat, that phase's columns) in order of time."""
    for part in got.stretches():
        here = {name: values[part] for name, values in got.columns.items()}
        yield str(got.phase[part.start]), int(got.beat[part.start]), here


def test_angle_and_speed_at_every_sample(both):
    """600 moments of two beats: angle to 1e-9 rad (asked for: 1e-7), speed to 1e-9 of the greatest."""
    got, op, _ = both
    greatest = np.abs(got.columns["speed_rad_per_s"]).max()
    parts = list(_parts(got))
    swing, begins = math.radians(got.swing_deg), 0.0
    for beat, side in ((1, 1), (2, -1)):
        phases = dense_beat(op, swing, side)
        mine = [
            (phase, here) for phase, number, here in parts if number == beat and np.ptp(here["time_s"]) > 0.0
        ]
        assert [phase for phase, _ in mine] == [phase.name for phase in phases]
        for want, (_, here) in zip(phases, mine, strict=True):
            since = here["time_s"] - begins - want.begins
            assert since[0] == pytest.approx(0.0, abs=1e-12)
            assert since[-1] == pytest.approx(want.lasts, abs=1e-12)
            angle, speed = want.at(np.clip(since, 0.0, want.lasts))
            assert np.abs(side * np.radians(here["angle_deg"]) - angle).max() < 1e-9
            assert np.abs(side * here["speed_rad_per_s"] - speed).max() < 1e-9 * greatest
        last = phases[-1]
        swing, begins = float(last.at(last.lasts)[0]), begins + last.begins + last.lasts


def test_lever_and_wheel(both):
    """Their angles from the drawing while they are geared to the balance, and from uniform acceleration while free."""
    got, op, turned = both
    g, p, q = op["g"], op["p"], op["q"]
    bank = 0.5 * op["bank"]
    released = caught = None
    for phase, beat, here in _parts(got):
        side = 1 if beat == 1 else -1
        x = side * np.radians(here["angle_deg"]) - side * op["epsilon"]
        v = side * here["speed_rad_per_s"]
        lever = side * np.radians(here["lever_deg"])
        wheel = np.radians(here["wheel_deg"]) - (beat - 1) * turned
        t = here["time_s"] - here["time_s"][0]
        if phase == "unlocking":
            assert lever == pytest.approx(g * x, abs=1e-12)
            assert wheel == pytest.approx(-q * (lever + bank), abs=1e-12)
            released = -q * g * v[-1], wheel[-1]
        elif phase == "catch-up":
            assert lever == pytest.approx(g * x, abs=1e-12)
            assert wheel == pytest.approx(
                released[1] + released[0] * t + 0.5 * op["M_e"] / op["J_w"] * t**2, abs=1e-11
            )
            J = op["J_l"] + p**2 * op["J_w"]
            wheel_speed = released[0] + op["M_e"] / op["J_w"] * t[-1]
            caught = (
                (op["J_l"] * g * v[-1] + p * op["J_w"] * wheel_speed) / J,
                op["M_i"] / J,
                lever[-1],
                wheel[-1],
            )
        elif phase == "run through the shake":
            gone = caught[0] * t + 0.5 * caught[1] * t**2
            assert lever == pytest.approx(caught[2] + gone, abs=1e-11)
            assert wheel == pytest.approx(caught[3] + p * gone, abs=1e-11)
            assert lever[-1] - g * x[-1] == pytest.approx(op["shake"], abs=1e-11)
        elif phase == "impulse":
            assert lever == pytest.approx(g * x + op["shake"], abs=1e-11)
            assert wheel - wheel[0] == pytest.approx(p * (lever - lever[0]), abs=1e-12)
        else:
            assert lever == pytest.approx(bank if phase.endswith("out") else -bank, abs=1e-14)
            assert wheel == pytest.approx(turned if phase.endswith("out") else 0.0, abs=1e-14)


def test_lever_stays_between_the_bankings_and_the_wheel_goes_half_a_tooth(both):
    got, op, turned = both
    half = 0.5 * math.degrees(op["bank"])
    assert np.abs(got.columns["lever_deg"]).max() == pytest.approx(half, rel=1e-14)
    for beat in (1, 2):
        wheel = got.columns["wheel_deg"][got.beat == beat]
        assert wheel[0] == pytest.approx(math.degrees(turned) * (beat - 1), abs=1e-12)
        assert wheel[-1] == pytest.approx(math.degrees(turned) * beat, abs=1e-12)
        assert wheel.max() <= wheel[-1] + 1e-12


def test_speed_is_the_slope_of_the_angle(both):
    """Cubic splines through the samples of each phase: fourth order in their distance."""
    got, _, _ = both
    for _, _, here in _parts(got):
        if np.ptp(here["time_s"]) > 0.0:
            slope = CubicSpline(here["time_s"], np.radians(here["angle_deg"])).derivative()(here["time_s"])
            inner = slice(5, -5)
            greatest = np.abs(got.columns["speed_rad_per_s"]).max()
            assert slope[inner] == pytest.approx(here["speed_rad_per_s"][inner], abs=2e-6 * greatest, rel=0)


def test_torques_do_the_work(both):
    """Within each phase the torques' work is the change of ½ I v², I with what the balance carries then."""
    got, op, _ = both
    g, alone = op["g"], op["I"]
    carried = {
        "unlocking": g**2 * (op["J_l"] + op["q"] ** 2 * op["J_w"]),
        "catch-up": g**2 * op["J_l"],
        "impulse": g**2 * (op["J_l"] + op["p"] ** 2 * op["J_w"]),
    }
    whole = got.columns["kinetic_energy_j"].max()
    for phase, _, here in _parts(got):
        if not np.ptp(here["time_s"]) > 0.0:
            continue
        torques = sum(values for name, values in here.items() if name.endswith("_torque_n_m"))
        v, t = here["speed_rad_per_s"], here["time_s"]
        work = CubicSpline(t, torques * v).integrate(t[0], t[-1])
        gained = 0.5 * (alone + carried.get(phase, 0.0)) * (v[-1] ** 2 - v[0] ** 2)
        assert work == pytest.approx(gained, abs=1e-7 * whole, rel=0)
        assert here["kinetic_energy_j"] == pytest.approx(0.5 * alone * v**2, rel=1e-12)
        for part in ("hairspring", "poise"):
            stored = here[f"{part}_energy_j"]
            given = CubicSpline(t, here[f"{part}_torque_n_m"] * v).integrate(t[0], t[-1])
            assert stored[0] - stored[-1] == pytest.approx(given, abs=1e-7 * whole, rel=0)


def test_account_of_the_phases(both):
    """Friction and what the escapement gives, summed over a beat, against the integrator's own ledger."""
    got, op, _ = both
    swing = math.radians(got.swing_deg)
    for beat, side in ((1, 1), (2, -1)):
        one = it.beat(op, swing, side, energy=True)
        e = one.energy
        mine = [phase for phase in got.phases() if phase["beat"] == beat]
        lost = e["viscous"] + e["quadratic"] + e["dry"]
        given = (
            e["wall"] + e["drive"] - sum(e[k] for k in ("pick_up", "unlocking", "release", "catch", "drop"))
        )
        assert sum(phase["friction_j"] for phase in mine) == pytest.approx(lost, rel=1e-6)
        assert sum(phase["escapement_j"] for phase in mine) == pytest.approx(given, abs=1e-6 * lost)
        assert all(phase["escapement_j"] == 0.0 for phase in mine if phase["phase"].startswith("free arc"))
        swing = one.next_amplitude


def test_index_pins():
    """A torque with corners: the spring's torque and energy against docs/physics.md, 1, and the period."""
    pins = {
        "index_pins.stiffness_share": 0.02,
        "index_pins.low_contact_deg": -15.0,
        "index_pins.high_contact_deg": 40.0,
    }
    movement = MOVEMENTS["heavy"].with_(pins)
    got, bare = trace(movement), trace(MOVEMENTS["heavy"])
    c, x = got.columns, np.radians(got.columns["angle_deg"])
    k = -(bare.columns["hairspring_torque_n_m"] / np.radians(bare.columns["angle_deg"]))[0]
    k /= 1.0 + movement.balance.cubic_stiffness * np.radians(bare.columns["angle_deg"][0]) ** 2
    spring = -k * x * (1.0 + movement.balance.cubic_stiffness * x**2)
    spring += 0.02 * k * np.clip(x, math.radians(-15.0), math.radians(40.0))
    assert c["hairspring_torque_n_m"] == pytest.approx(spring, rel=1e-10, abs=1e-20)
    period = oscsim.settle(movement).points.period_s.item()
    assert c["time_s"][-1] == pytest.approx(period, rel=1e-12)
    ends = (got.columns["kinetic_energy_j"] == 0.0).nonzero()[0]
    assert len(ends) == 4  # the turning points of two beats
    assert got.energy_j[ends[0]] == pytest.approx(got.energy_j[ends[-1]], rel=1e-11)
    net = sum(phase["escapement_j"] - phase["friction_j"] for phase in got.phases())
    assert abs(net) < 1e-9 * got.energy_j[0]


@pytest.mark.parametrize("name", ["dockhand", "packet", "tidewaiter"])
@pytest.mark.parametrize("position", ["CH", "12H"])
def test_period_is_the_settled_one(name, position):
    movement, setting = oscsim.load(name), Setting(positions=position, hours=12.0)
    points, got = oscsim.settle(movement, setting).points, trace(movement, setting, samples=4)
    assert got.columns["time_s"][-1] == pytest.approx(points.period_s.item(), rel=3e-12, abs=0)


@pytest.mark.parametrize("case", plausible_designs(6, seed=31), ids=lambda case: case.name)
def test_settled_traces_of_random_watches(case):
    """Settled states are found on the coarsest rule that is good to 1e-11 rad; the trace always uses a finer one."""
    points = oscsim.settle(case.movement, case.setting).points
    state = points.state.item()
    if state == "stops":
        with pytest.raises(InputError, match="stops: no amplitude can be kept up"):
            trace(case.movement, case.setting)
        return
    got = trace(case.movement, case.setting, samples=4)
    assert got.state == state
    if state == "running":
        assert got.columns["time_s"][-1] == pytest.approx(points.period_s.item(), rel=5e-11, abs=0)
        assert got.swing_deg == pytest.approx(abs(got.columns["angle_deg"][-1]), abs=1e-8)
        assert got.residual_rad == points.residual_rad.item()
        right = got.columns["angle_deg"].max()
        assert 0.5 * (got.swing_deg + right) == pytest.approx(points.amplitude_deg.item(), abs=1e-8)


def test_states():
    movement = MOVEMENTS["fast"]
    knock = math.degrees(it.operating(TABLES["fast"])["knock"])
    assert trace(movement).knock_deg == pytest.approx(knock, rel=1e-14)
    assert trace(movement, swing_deg=200.0).state == "running"
    assert math.isnan(trace(movement, swing_deg=200.0).residual_rad)
    assert trace(movement, swing_deg=knock + 0.1).state == "knocks"
    for swing in (0.0, 10.0, 25.0):
        still = trace(movement, swing_deg=swing)
        assert still.state == "stops"
        assert set(still.phase) == {"free arc in"}
        assert all(np.isfinite(values).all() for values in still.columns.values())
        assert still.columns["angle_deg"] == pytest.approx(-swing)


def test_a_beat_that_fails_is_shown_as_far_as_it_goes():
    """The watch of tests/independent that stops in the impulse: where, by the energy left there."""
    changes = {
        "balance.out_of_beat_deg": 11.3,
        "escapement.notch_shake_deg": 3.0,
        "escapement.wheel_inertia_mg_cm2": 0.5,
        "mainspring.height_mm": 0.4,
        "escapement.draw_deg": 20.0,
    }
    op = it.operating(it.changed(TABLES["slow"], changes), "9H")
    assert it.beat(op, math.radians(14.1), 1).failed == "the balance stops during the impulse"
    got = trace(MOVEMENTS["slow"].with_(changes), Setting(positions="9H"), swing_deg=14.1, beats=5)
    assert got.state == "stops"
    assert (got.beat[-1], got.phase[-1]) == (1, "impulse")
    assert got.columns["kinetic_energy_j"][-1] < 0.05 * got.columns["kinetic_energy_j"].max()
    assert all(np.isfinite(values).all() for values in got.columns.values())


def test_output_for_programs():
    got = trace(MOVEMENTS["heavy"], beats=3, samples=5)
    answer, rows = got.to_dict(), got.to_csv().splitlines()
    assert (answer["settings"]["positions"], answer["settings"]["hours"], answer["state"]) == (
        ["CH"],
        [0.0],
        "running",
    )
    assert len(answer["time_s"]) == len(answer["phase"]) == len(rows) - 1 == 3 * 6 * 5
    assert rows[0].startswith("beat,phase,time_s,angle_deg,speed_rad_per_s,lever_deg,wheel_deg,")
    assert answer["phases"][0]["phase"] == "free arc in"
    assert answer["time_s"] == sorted(answer["time_s"])


WRONG = [
    ({"beats": 0}, "beats = 0: out of range, must be a whole number from 1 to 200"),
    ({"beats": 2.5}, "beats = 2.5: not a whole number, must be a whole number from 1 to 200"),
    ({"samples": 1}, "samples = 1: out of range, must be a whole number from 2 to 2000"),
    ({"swing_deg": -5.0}, "swing_deg = -5.0 deg: out of range, must be from 0 to 1000 deg"),
    ({"swing_deg": math.nan}, "swing_deg = nan deg: not a finite number"),
    ({"swing_deg": "far"}, "swing_deg = 'far': not a number"),
]


@pytest.mark.parametrize(("given", "said"), WRONG)
def test_bad_input(given, said):
    with pytest.raises(InputError) as caught:
        trace(MOVEMENTS["heavy"], **given)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_one_point_only_and_one_that_runs():
    with pytest.raises(InputError, match="give one position and one hour"):
        trace(MOVEMENTS["heavy"], Setting(positions=("CH", "12H")))
    with pytest.raises(InputError, match="give one position and one hour"):
        trace(MOVEMENTS["heavy"], Setting(hours=(0, 24)))
    with pytest.raises(
        InputError, match=r"stops: no amplitude can be kept up; give a swing to start from \(swing_deg\)"
    ):
        trace(MOVEMENTS["heavy"], Setting(hours=200.0))
