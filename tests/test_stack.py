"""Many movements as one batch: the same as each by itself, whatever alternatives their files use.

Source: ``settle`` of each movement alone, which the independent integrator confirms.
"""

from dataclasses import replace

import numpy as np
import pytest

import oscsim
from oscsim.answers.points import settled_points
from oscsim.errors import InputError
from oscsim.movement import parameter_names
from oscsim.operating import operating_points
from oscsim.parts.train import Arbor, Arbors
from oscsim.stack import stack_of, varied
from tests.levers import LEVERS

BUNDLED = {name: oscsim.load(name) for name in LEVERS}
DOCKHAND, FERRYMAN = BUNDLED["dockhand"], BUNDLED["ferryman"]
SETTING = oscsim.Setting(positions=("CH", "12H", "6H"), hours=(0.0, 24.0, 41.0))
#: The alternatives that a design file allows, mixed.
ALTERNATIVES = {
    "lift angle": DOCKHAND.with_({"escapement.lift_angle_deg": 50.0}),
    "few jewels": DOCKHAND.with_({"train.jewels": 9}),
    "jewels by hole": DOCKHAND.with_({"train.jewels.barrel": 1, "train.jewels.centre": 0}),
    "no slip": DOCKHAND.with_({"mainspring.slip_torque_n_mm": None}),
    "two pins": DOCKHAND.with_(
        {
            "index_pins.stiffness_share": 0.02,
            "index_pins.low_contact_deg": -20.0,
            "index_pins.high_contact_deg": 15.0,
        }
    ),
    "one pin": FERRYMAN.with_({"index_pins.stiffness_share": 0.01, "index_pins.low_contact_deg": -30.0}),
    "arbors with less": replace(
        DOCKHAND,
        train=replace(
            DOCKHAND.train,
            arbors=Arbors(
                third=Arbor(pivot_radius_mm=0.2), escape=Arbor(pivot_radius_mm=0.1, wheel_radius_mm=3.0)
            ),
        ),
    ),
    "three meshes": DOCKHAND.with_({"train.meshes": 3}),
}
EVERY = BUNDLED | ALTERNATIVES


def same(found, alone):
    assert (found.state == alone.state).all()
    for name, within in (
        ("amplitude_deg", 1e-9),
        ("rate_s_per_day", 1e-6),
        ("signed_beat_error_ms", 1e-9),
        ("apparent_amplitude_deg", 1e-9),
        ("escape_torque_n_m", 1e-18),
        ("knock_angle_deg", 1e-9),
    ):
        assert getattr(found, name) == pytest.approx(getattr(alone, name), abs=within, nan_ok=True), name


def test_a_stack_is_its_movements():
    for order in (list(EVERY), list(EVERY)[::-1]):  # the first movement sets no rule for the others
        found = settled_points(operating_points(stack_of([EVERY[name] for name in order]), SETTING))
        assert found.amplitude_deg.shape == (len(EVERY), 3, 3)
        for n, name in enumerate(order):
            same(found.taken(n), oscsim.settle(EVERY[name], SETTING).points)
    states = {str(state) for state in found.state.ravel()}
    assert {"running", "stops"} <= states


def test_the_alternatives_differ():
    """Else the test above could not fail."""
    amplitudes = {name: oscsim.settle(m).points.amplitude_deg[0, 0] for name, m in EVERY.items()}
    rates = {name: oscsim.settle(m).points.rate_s_per_day[0, 0] for name, m in EVERY.items()}
    assert (
        len({round(a, 6) for a in amplitudes.values()} | {round(r, 6) for r in rates.values()})
        >= 2 * len(EVERY) - 4
    )


@pytest.mark.parametrize("name", ["dockhand", "ferryman", "dinghy"])
def test_varied_is_with(name):
    movement = BUNDLED[name]
    changes = {
        "balance.inertia_mg_cm2": np.array([0.9, 1.0, 1.2]) * movement.balance.inertia_mg_cm2,
        "escapement.lock_deg": np.array([1.0, 2.0, 3.0]),
        "train.arbors.third.pivot_radius_mm": np.array([0.1, 0.15, 0.2]),
        "mainspring.thickness_mm": np.array([0.97, 1.0, 1.03]) * movement.mainspring.thickness_mm,
    }
    found = settled_points(operating_points(varied(movement, changes), SETTING))
    for n in range(3):
        one = movement.with_({key: float(values[n]) for key, values in changes.items()})
        same(found.taken(n), oscsim.settle(one, SETTING).points)


@pytest.mark.parametrize(
    ("movement", "name", "values"),
    [
        (DOCKHAND, "escapement.lift_angle_deg", [46.0, 55.0]),  # in place of the fork ratio
        (FERRYMAN, "escapement.fork_ratio", [0.19, 0.23]),  # in place of the lift angle
        (FERRYMAN, "mainspring.slip_torque_n_mm", [15.0, 30.0]),
        (DOCKHAND, "balance.beats_per_hour", [18000.0, 28800.0]),
    ],
)
def test_varied_twins_and_absent_numbers(movement, name, values):
    found = settled_points(operating_points(varied(movement, {name: np.array(values)}), SETTING))
    for n, value in enumerate(values):
        same(found.taken(n), oscsim.settle(movement.with_({name: value}), SETTING).points)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"escapement.lok_deg": [1.0]}, "no number of a design file; did you mean 'escapement.lock_deg'?"),
        ({"name": [1.0]}, "'name': no number of a design file"),
        ({"train.arbors": [1.0]}, "'train.arbors': no number of a design file"),
        ({"escapement.lock_deg": [1.0, 11.0, 2.0]}, "escapement.lock_deg = 11.0 deg: out of range, must be from"),
        ({"escapement.lock_deg": [0.0, 1.0]}, "escapement.lock_deg = 0.0 deg: out of range"),
        ({"escapement.lock_deg": [1.0, np.nan]}, "escapement.lock_deg = nan deg: not a finite number"),
    ],
)  # fmt: skip
def test_varied_refuses(changes, said):
    with pytest.raises(InputError) as caught:
        varied(DOCKHAND, {name: np.array(values) for name, values in changes.items()})
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_every_number_of_a_design_can_be_varied():
    """As designed, through the stack: nothing changes, whichever number is an array."""
    alone = oscsim.settle(DOCKHAND).points.amplitude_deg[0, 0]
    counted = 0
    for name in parameter_names():
        value = DOCKHAND
        for step in name.split("."):
            value = getattr(value, step, None)
        follows = name.endswith(".wheel_radius_mm")  # from the teeth
        # the restitution takes part in a simulation in time alone
        if isinstance(value, float) and not follows:
            stack = varied(DOCKHAND, {name: np.full(2, value)})
            found = settled_points(operating_points(stack, oscsim.Setting()))
            assert found.amplitude_deg == pytest.approx(np.full((2, 1, 1), alone), abs=1e-9), name
            counted += 1
    assert counted > 50
