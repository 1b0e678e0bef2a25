"""Whatever a design file can hold is answered: with states, residuals and null, never a warning or a silent NaN.

Every warning is an error here (pyproject.toml).
"""

import json

import numpy as np
import pytest
from hypothesis import Phase, given, note, settings

import oscsim
from tests.movements import all_quantities, attempt, design_text, movements, quantity_changes

pytestmark = pytest.mark.usefixtures("briefly")

QUANTITIES = dict(all_quantities())
SETTING = oscsim.Setting(positions=["CH", "12H"], hours=[0, 24])


def held_to_the_contract(answer):
    points = answer.points
    states = {state: points.has(state) for state in oscsim.State}
    assert (sum(states.values()) == 1).all()
    stops, running = states[oscsim.State.STOPS], states[oscsim.State.RUNNING]
    for name in ("amplitude_deg", "rate_s_per_day", "beat_error_ms", "residual_rad", "barrel_torque_n_mm"):
        values = getattr(points, name)
        assert np.isnan(values[stops]).all(), name
        assert np.isfinite(values[running]).all(), name
    assert (points.residual_rad[running] <= 1e-10).all()
    assert not (points.stability[running] >= 1.0).any()
    assert (points.amplitude_deg[running] > 0.0).all()
    assert answer.text()
    json.loads(answer.to_json(), parse_constant=pytest.fail)


@settings(
    phases=[Phase.explicit, Phase.generate]
)  # what fails is a file to load; shrinking it would take long
@given(movements())
def test_settle(movement):
    note(oscsim.dumps(movement))
    held_to_the_contract(oscsim.settle(movement, SETTING))


@pytest.mark.parametrize("key", QUANTITIES)
def test_the_ends_of_every_range_are_answered(key):
    info = QUANTITIES[key]
    for end in (info.low, info.high):
        changes, without = quantity_changes(key, repr(int(end) if info.whole else float(end)))
        text = design_text(changes, without=without)
        movement, _ = attempt(lambda text=text: oscsim.loads(text))
        if movement is not None:  # else it does not go with the rest of this design
            held_to_the_contract(oscsim.settle(movement, SETTING))


@pytest.mark.parametrize("key", [key for key, info in QUANTITIES.items() if info.low <= 0.0 <= info.high])
def test_a_zero_with_a_minus_sign_is_a_zero(key):
    info = QUANTITIES[key]
    answers = []
    for zero in ("0", "-0") if info.whole else ("0.0", "-0.0"):
        changes, without = quantity_changes(key, zero)
        answers.append(oscsim.settle(oscsim.loads(design_text(changes, without=without)), SETTING).to_dict())
    assert answers[0] == answers[1]


def test_no_friction_at_all_is_answered():
    # the only losses left are those of the escapement
    nothing = {
        "balance.pivot_friction": "0.0",
        "balance.quadratic_drag": "0.0",
        "balance.viscous_q": "10000.0",
    }
    held_to_the_contract(oscsim.settle(oscsim.loads(design_text(nothing)), SETTING))
