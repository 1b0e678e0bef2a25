"""What the page answers in a real browser, held against the engine at random settings of the sliders."""

import math

import numpy as np
import pytest

import oscsim

POSITIONS = tuple(oscsim.POSITIONS)
#: What the page promises: deg and s/day.
AMPLITUDE, RATE = 0.5, 0.3
SETTINGS = 24

#: Moves every slider as a hand does, by value and event.
SET = """
for (const [key, value] of Object.entries(a[0])) {
  const input = document.getElementById("slider-" + key);
  input.value = value;
  input.dispatchEvent(new Event("input", { bubbles: true }));
}
"""
READ = """
const rows = [...document.getElementById("readings").tBodies[0].rows];
const number = (cell) => (cell.dataset.value === "" ? null : Number(cell.dataset.value));
return {
  settings: JSON.parse(document.documentElement.dataset.answered),
  now: rows.map((r) => [r.cells[1].dataset.state, number(r.cells[1]), number(r.cells[4])]),
  later: rows.map((r) => [r.cells[3].dataset.state, number(r.cells[3]), number(r.cells[5])]),
  stops: document.getElementById("stops").dataset.value.split(" ").map(Number),
  node: Number(document.getElementById("map-words").dataset.node),
  shares: [...document.getElementById("energy").tBodies[0].rows].map((r) => [number(r.cells[2]), number(r.cells[3])]),
};
"""


def ask(browser, settings):
    browser.run("const a = arguments;" + SET, settings)
    return browser.soon(READ)


def on_the_watch(movement, settings, sliders):
    """The movement and the condition that stand for the sliders, put together from the package's public parts."""
    by = {s.key: s for s in sliders}
    # torque goes with the strip's height, its bridle's grip with it
    strength, spring = settings["torque"] / 100.0, movement.mainspring
    changes = {
        "balance.inertia_mg_cm2": by["inertia"].base * settings["inertia"] / 100.0,
        "mainspring.height_mm": spring.height_mm * strength,
    }
    if spring.slip_torque_n_mm is not None:
        changes["mainspring.slip_torque_n_mm"] = spring.slip_torque_n_mm * strength
    if settings["jewels"] != by["jewels"].value:
        changes["train.jewels"] = settings["jewels"]
    condition = oscsim.Condition(
        lock_deg=settings["lock"],
        pivot_vertical=settings["friction"] / 100.0,
        pivot_flat=settings["friction"] / 100.0,
        unbalance_ug_cm=settings["unbalance"],
        heavy_point_deg=settings["heavy"],
    )
    return movement.with_(changes), condition


def drawn_settings(sliders, rng):
    """Settings on the sliders' steps."""
    found = {}
    for s in sliders:
        steps = round((s.high - s.low) / s.step)
        value = s.low + s.step * rng.integers(0, steps + 1)
        found[s.key] = int(value) if s.key == "jewels" else float(value)
    return found


@pytest.mark.parametrize("name", ["dockhand", "ferryman", "dinghy"])
def test_amplitude_and_rate_by_position(browser, pages, name):
    movement, lesson, path = pages(name)
    browser.open(path)
    rng = np.random.default_rng(1904)
    compared = 0
    for _ in range(SETTINGS):
        settings = drawn_settings(lesson.sliders, rng)
        found = ask(browser, settings)
        assert found["settings"] == pytest.approx(settings)
        watch, condition = on_the_watch(movement, settings, lesson.sliders)
        points = oscsim.settle(
            watch, oscsim.Setting(positions=POSITIONS, hours=(0, 24), condition=condition)
        ).points
        floor = 1.25 * (
            lesson.tables.contact_deg
            + lesson.tables.contact_per_lock
            * (lesson.tables.spans[1][0] + settings["lock"] - lesson.sliders[2].low)
            + abs(movement.balance.out_of_beat_deg)
        )
        for j, hour in enumerate(("now", "later")):
            for i in range(len(POSITIONS)):
                state, amplitude, rate = found[hour][i]
                there, swing = str(points.state[i, j]), points.amplitude_deg[i, j]
                knock = points.knock_angle_deg[i, j]
                if amplitude is None:
                    # beyond the table: below its floor it counts as stopped, above its end it knocks
                    assert (there == "stops" or (state == "stops" and swing <= floor + AMPLITUDE)) or (
                        state == "knocks" and (math.isnan(swing) or swing > 400.0)
                    )
                    continue
                assert amplitude == pytest.approx(swing, abs=AMPLITUDE)
                # side thrust leans to one side and shifts a flat rate to second order; the page says so
                off = RATE if movement.hairspring is None else 1.1
                assert rate == pytest.approx(points.rate_s_per_day[i, j], abs=off)
                if abs(swing - knock) > AMPLITUDE:
                    assert state == there
                compared += 1
    assert compared > 6 * SETTINGS
    assert browser.complaints() == []


@pytest.mark.parametrize("name", ["dockhand", "packet"])
def test_run_down_budget_and_node(browser, pages, name):
    """The other answers: against the hours of the stop, budget and ratemap at a few settings."""
    movement, lesson, path = pages(name)
    browser.open(path)
    rng = np.random.default_rng(25)
    for _ in range(3):
        settings = drawn_settings(lesson.sliders, rng) | {"torque": 110.0, "friction": 150.0}
        settings["unbalance"] = max(settings["unbalance"], 4 * lesson.sliders[5].step)
        found = ask(browser, settings)
        watch, condition = on_the_watch(movement, settings, lesson.sliders)
        setting = oscsim.Setting(positions=("CH", "12H"), condition=condition)
        for position, stop in zip(setting.positions, found["stops"], strict=True):
            # it runs until the page's stop; the last swings below the table's floor take some minutes more
            around = oscsim.Setting(positions=position, hours=(stop - 0.05, stop + 0.4), condition=condition)
            assert list(oscsim.settle(watch, around).points.state.flat) == ["running", "stops"]
        budget = oscsim.budget(watch, setting)
        groups = {
            0: ("drop",), 1: ("recoil", "lock_friction"), 2: ("pallet_friction",), 3: ("fork",),
            4: ("pick_up", "catch", "shake", "lever_and_wheel"), 5: ("viscous", "quadratic"), 6: ("dry",),
        }  # fmt: skip
        for position in range(2):
            for row, places in groups.items():
                taken = sum(budget.taken_j[place][position, 0] for place in places)
                share = taken / budget.given_j[position, 0]
                assert found["shares"][row][position] == pytest.approx(share, abs=0.001)
        upright = oscsim.Setting(positions="12H", condition=condition)
        node = oscsim.ratemap(
            watch, upright, torque_ceiling=10.0, amplitudes_deg=[220.0], heavy_points_deg=[0.0]
        ).node_deg
        assert found["node"] == pytest.approx(node, abs=0.1)


def test_the_moving_parts_stand_where_the_engine_has_them(browser, pages):
    """Step through the phases: the drawing's angles against trace at the same moments."""
    movement, _, path = pages("dockhand")
    browser.open(path)
    trace = oscsim.trace(movement, oscsim.Setting(), samples=200)
    columns = trace.columns
    time = columns["time_s"] / columns["time_s"][-1]
    stretches = trace.stretches()
    assert len(stretches) == 12
    seen = []
    for part in stretches:
        moment = time[part.start] + 0.35 * (time[part.stop - 1] - time[part.start])
        browser.run("document.getElementById('next').click()")
        shown = browser.run(
            """const turned = (part) => Number(part.getAttribute("transform").match(/rotate\\((.*)\\)/)[1]);
            const works = document.getElementById("works");
            return {
              phase: document.getElementById("phase").textContent,
              balance: turned(works.querySelector(".balance > g > g")),
              lever: turned(works.querySelector(".lever > g > g")),
              wheel: turned(works.querySelector(".wheel")),
            };"""
        )
        at = {name: np.interp(moment, time[part], columns[name][part]) for name in columns}
        assert shown["phase"] == str(trace.phase[part.start])
        # clockwise is positive there and negative in the drawing; the lever turns against the balance
        assert -shown["balance"] == pytest.approx(at["angle_deg"], abs=1.5)
        assert shown["lever"] == pytest.approx(at["lever_deg"], abs=0.15)
        seen.append((-shown["wheel"], at["wheel_deg"]))
    drawn, computed = np.array(seen).T
    assert drawn - drawn[0] == pytest.approx(computed - computed[0], abs=0.3)


def test_the_detent_moves_as_the_engine_has_it(browser, pages):
    """Step through its phases beside the lever: the drawing's angles against trace of the bundled detent."""
    browser.open(pages("dockhand")[2])
    trace = oscsim.trace(oscsim.load("pilot"), oscsim.Setting(), samples=200)
    columns = trace.columns
    time = columns["time_s"] - columns["time_s"][0]
    stretches = [part for part in trace.stretches() if time[part.stop - 1] > time[part.start]]
    wheel = []
    for part in stretches:
        shown = browser.run(
            """document.getElementById("pair-next").click();
            const turned = (part) => Number(part.getAttribute("transform").match(/rotate\\(([^ )]*)/)[1]);
            const works = document.getElementById("pair-detent");
            return {
              seconds: Number(document.querySelector(".pair").dataset.seconds),
              phase: document.querySelectorAll(".pair figcaption span")[1].textContent,
              balance: turned(works.querySelector(".impulse").parentNode),
              detent: turned(works.querySelector(".detent")),
              wheel: turned(works.querySelector(".wheel")),
            };"""
        )
        moment = shown["seconds"] % time[-1]
        assert time[part.start] < moment < time[part.stop - 1]
        if str(trace.phase[part.start]).startswith("free"):
            assert shown["phase"] == str(trace.phase[part.start])
        at = {name: np.interp(moment, time[part], columns[name][part]) for name in columns}
        assert -shown["balance"] == pytest.approx(at["angle_deg"], abs=1.0)
        assert -shown["detent"] == pytest.approx(at["lever_deg"], abs=0.02)
        wheel.append((shown["wheel"], at["wheel_deg"]))
    drawn, computed = np.array(wheel).T
    assert drawn - drawn[0] == pytest.approx(computed - computed[0], abs=0.2)
