"""Kinds of escapement in a design: their own keys, their own refusals, and what works with each.

Sources: docs/physics.md; a pin-pallet lever does the same work as one with stones ("by derivation"), so that only its
numbers differ.
"""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

import oscsim
from oscsim.answers.failures import failures
from oscsim.errors import InputError
from oscsim.motion.states import CODE, State
from oscsim.operating import operating_points
from oscsim.typical.families import FAMILIES

PILOT, BOLLARD, DOCKHAND = (oscsim.load(name) for name in ("pilot", "bollard", "dockhand"))


def test_pins_are_a_lever_of_other_numbers() -> None:
    stones = BOLLARD.with_({"escapement.kind": "lever"})
    a, b = oscsim.settle(BOLLARD).points, oscsim.settle(stones).points
    assert (a.amplitude_deg == b.amplitude_deg).all()
    assert BOLLARD.design_hash != stones.design_hash
    assert FAMILIES["pin-pallet"].kind == BOLLARD.escapement.kind == "pin-pallet"


def test_stones_buy_amplitude() -> None:
    """The lesson of such a movement: less friction of pallets and holes, more swing."""
    bare = oscsim.settle(BOLLARD).points.amplitude_deg
    stones = BOLLARD.with_({"escapement.pallet_friction": 0.13, "train.jewels": 15})
    assert (oscsim.settle(stones).points.amplitude_deg > bare + 5.0).all()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"escapement.kind": "cylinder"}, "escapement.kind = 'cylinder': must be \"lever\" or"),
        ({"escapement.kind": "detnet"}, "did you mean 'detent'?"),
        ({"escapement.kind": 3}, "escapement.kind = 3"),
        ({"escapement.lock_deg": 2.0}, "escapement.lock_deg: unknown key"),
        ({"escapement.unlocking_deg": [-29, -21]}, "three rising angles"),
        ({"escapement.unlocking_deg": [-29, -31, -16]}, "three rising angles"),
        ({"escapement.unlocking_deg": [-29, -21, 25]}, "three rising angles"),
        ({"escapement.unlocking_deg": [-29, -25, -16]}, "before the impulse pallet is there"),
        ({"escapement.passing_deg": "16"}, "two falling angles"),
        ({"escapement.drop_deg": 4.0}, "it must be 2 deg"),
        ({"escapement.centre_distance": 0.5}, "out of range, must be from 1.05 to 3"),
        ({"balance.out_of_beat_deg": 19.5}, "within the impulse, less than ±19.12 deg"),
    ],
)
def test_one_line_for_what_cannot_be(changes: dict[str, object], said: str) -> None:
    with pytest.raises(InputError) as raised:
        PILOT.with_(changes)
    assert said in str(raised.value)
    assert "\n" not in str(raised.value)


def test_a_file_goes_round() -> None:
    again = oscsim.loads(oscsim.dumps(PILOT))
    assert again == PILOT
    assert again.escapement.unlocking_deg == (-29.0, -21.0, -16.0)


def test_there_is_no_beat_error_and_it_is_said() -> None:
    found = oscsim.settle(PILOT)
    assert np.isnan(found.points.beat_error_ms).all()
    assert json.loads(found.to_json())["points"][0]["beat_error_ms"] is None
    assert "Beat error: none" in str(found)
    assert "Beat error, ms" in str(oscsim.settle(DOCKHAND))


def test_the_escapement_error_hardly_depends_on_the_swing() -> None:
    """What a detent is for (common practice): within a quarter of a second a day over 40 deg; a lever 2 to 5."""
    swings = np.array([225.0, 268.0])
    change = {
        m.name: float(np.ptp(oscsim.isochronism(m, amplitudes_deg=swings).shares["escapement"][0]))
        for m in (PILOT, DOCKHAND)
    }
    assert change["Pilot"] < 0.3
    assert change["Dockhand"] > 1.0


def test_it_does_not_start_from_rest_and_it_trips() -> None:
    assert oscsim.transient(PILOT, swing_deg=0.0).state == "stops"
    assert oscsim.transient(PILOT, swing_deg=28.0).state == "stops"
    strong = oscsim.settle(PILOT, oscsim.Setting(condition=oscsim.Condition(mainspring=1.6))).points
    assert strong.state[0, 0] == "trips"
    assert strong.knock_angle_deg[0, 0] == pytest.approx(331.0)
    assert "trips" in str(oscsim.settle(PILOT, oscsim.Setting(condition=oscsim.Condition(mainspring=1.6))))


def test_every_failure_has_its_word() -> None:
    """Not unlocked: let down until the swing no longer unlocks. Not caught: a wheel too heavy to be in time. Sets: from
    rest. Let down: no torque at all. Source: docs/physics.md (D2), (D3), by construction of the cases."""
    run = oscsim.rundown(PILOT, oscsim.Setting(positions=("CH", "12H")), step_h=10.0)
    assert run.stop_failures() == ["not unlocked"] * 2
    assert "Not unlocked: the swing dies away" in " ".join(str(run).split())
    assert json.loads(run.to_json())["stop_failure"] == {"CH": "not unlocked", "12H": "not unlocked"}
    let_down = oscsim.settle(PILOT, oscsim.Setting(turns=(0.0, 5.0)))
    assert let_down.failure[0].tolist() == ["let down", None]
    assert "Let down: no torque" in " ".join(str(let_down).split())
    for swing, failure in ((0.0, "sets"), (28.0, "sets"), (60.0, None)):
        assert oscsim.transient(PILOT, swing_deg=swing, duration_s=2.0).failure == failure
    assert oscsim.trace(PILOT, swing_deg=10.0).failure == "sets"
    # a lever that is not reached is not unlocked; whether a real one starts from rest is not followed
    assert oscsim.transient(DOCKHAND, swing_deg=10.0).failure == "not unlocked"


def test_a_wheel_that_never_comes_in_time_is_not_caught() -> None:
    """At a swing of 60 deg and more a wheel of 4,000 mg·cm² has hardly moved when the pallet has gone by."""
    slow = PILOT.with_({"escapement.wheel_inertia_mg_cm2": 400.0, "mainspring.height_mm": 0.5})
    found = oscsim.transient(slow, swing_deg=250.0, duration_s=5.0)
    assert found.lost.any()
    assert found.failure == "not caught"
    stopping = np.full((1, 1), CODE[State.STOPS], np.int8)
    for movement, word in ((slow, "not caught"), (PILOT, "not unlocked")):
        assert failures(operating_points(movement, oscsim.Setting()), stopping)[0, 0] == word


def test_a_trip_is_no_knock() -> None:
    """Beyond 331 deg the balance comes round to the detent again: 360 - 29 deg (by construction)."""
    found = oscsim.transient(PILOT, swing_deg=390.0, duration_s=2.0)
    assert found.swing_deg[0] == 390.0  # no horn, nothing to rebound from
    assert found.state == "trips"
    assert found.knocked.all()
    assert "trips so far" in str(found)
    assert oscsim.trace(PILOT, swing_deg=390.0).state == "trips"
    assert oscsim.transient(DOCKHAND, swing_deg=390.0, duration_s=0.2).state == "knocks"
    budget = oscsim.budget(PILOT)
    assert str(budget.cost_state["balance drag by speed"][0, 0]) == "trips"


ASKED = {
    "settle": oscsim.settle, "rundown": oscsim.rundown, "rates": oscsim.rates, "budget": oscsim.budget,
    "band": lambda m: oscsim.band(m, 10.0), "isochronism": oscsim.isochronism,
    "ageing": lambda m: oscsim.ageing([m]),
    "trace": oscsim.trace, "transient": lambda m: oscsim.transient(m, swing_deg=400.0, duration_s=1.0),
    "from rest": lambda m: oscsim.transient(m, swing_deg=0.0), "trial": oscsim.trial, "days": oscsim.days,
}  # fmt: skip


@pytest.mark.parametrize("name", ASKED)
def test_no_page_of_a_detent_speaks_of_a_lever(name: str) -> None:
    said = " ".join(str(ASKED[name](PILOT)).lower().split())
    assert not [word for word in ("fork", "horn", "lever", "impulse pin", "knocks") if word in said]


def test_check_heads_the_escapement_by_its_kind() -> None:
    assert "[escapement] Escape wheel, detent and rollers" in str(oscsim.check("pilot"))
    assert "[escapement] Escape wheel, pallets, lever and fork" in str(oscsim.check("dockhand"))


def test_the_picture_of_a_beat_names_the_detents_phases() -> None:
    figure = oscsim.trace(PILOT).figure()
    words = {
        text.get_text()
        for ax in figure.axes
        for text in (ax.get_legend().get_texts() if ax.get_legend() else [])
    }
    assert {"run of the wheel", "passing spring", "detent"} <= words
    assert not {"lever", "run of wheel and lever"} & words


def test_the_budget_closes() -> None:
    """Source: conservation of energy."""
    found = oscsim.budget(PILOT, oscsim.Setting(positions=("CH", "12H"), hours=(0.0, 40.0)))
    assert np.abs(found.closure).max() < 1e-9
    assert {"detent_spring", "wheel_catch", "passing_spring"} <= set(found.taken_j)
    assert found.cost_deg["friction on the impulse pallet"].min() > 0.0


def test_a_trace_shows_both_beats() -> None:
    found = oscsim.trace(PILOT)
    phases = [(row["beat"], row["phase"]) for row in found.phases()]
    assert (1, "impulse") in phases
    assert (2, "passing spring") in phases
    assert (2, "impulse") not in phases
    wheel = found.columns["wheel_deg"]
    assert wheel[-1] - wheel[0] == pytest.approx(24.0, abs=1e-6)


def test_kinds_are_compared_with_the_escapement_in_one_group() -> None:
    found = oscsim.compare([PILOT, DOCKHAND])
    assert found.points.amplitude_deg[0] == pytest.approx(
        oscsim.settle(PILOT, found.setting).points.amplitude_deg
    )
    assert found.attribution is not None
    assert math.fsum(found.attribution.degrees) == pytest.approx(found.attribution.difference_deg, abs=1e-9)


@pytest.mark.parametrize("ask", [oscsim.page, lambda m: oscsim.fit(m, None, ["balance.viscous_q"])])
def test_what_is_built_on_a_lever_says_so(ask: object) -> None:
    with pytest.raises(InputError, match=r'escapement.kind = "detent": .* needs a lever escapement'):
        ask(PILOT)  # type: ignore[operator]
