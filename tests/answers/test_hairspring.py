"""What the answer about a hairspring's shape says, against what the engine does with it."""

import json

import numpy as np
import pytest

import oscsim
from oscsim.cli import main
from oscsim.motion import series
from oscsim.operating import operating_points
from oscsim.units import POSITIONS

#: A spring with its stud 0.1 mm off: the side thrust parts the vertical positions.
OFF = oscsim.load("dinghy").with_({"hairspring.stud_offset_um": [70.0, -70.0]})
SWING = 250.0


def test_side_thrust_by_position_is_the_engine_s():
    told = oscsim.hairspring(OFF, (0.0,), (SWING,)).friction_added_percent
    assert list(told) == list(POSITIONS)
    osc = operating_points(OFF, oscsim.Setting(positions=tuple(POSITIONS))).oscillators
    angle = np.radians(np.linspace(-SWING, SWING, 2001))
    mean = np.array([series.value(osc.friction_series, np.full(6, a)) for a in angle]).mean(axis=0)
    assert [told[symbol][0] for symbol in POSITIONS] == pytest.approx(
        100.0 * mean / osc.dry, abs=0.1
    )  # 0.1: the engine's series has a corner where the force passes zero
    vertical = [told[symbol][0] for symbol in ("12H", "3H", "6H", "9H")]
    assert min(vertical) < -2.0
    assert max(vertical) > 2.0


def test_the_escapement_stands_beside_the_shape():
    movement = oscsim.load("tidewaiter")
    found = oscsim.hairspring(movement, (0.0,), (220.0,))
    share = oscsim.isochronism(movement, amplitudes_deg=(180.0, 220.0, 300.0, 270.0)).shares["escapement"][0]
    assert found.escapement_s_per_day == pytest.approx(share[:3] - share[3])
    assert f"its escapement loses {share[3] - share[1]:.1f} s/day" in " ".join(str(found).split())


def test_a_command_takes_a_list(capsys):
    said = "hairspring.stud_offset_um=[70, -70]"
    assert (
        main(["change", "dinghy", "--set", said, "--positions", "12H", "--hours", "0", "--format", "json"])
        == 0
    )
    after = json.loads(capsys.readouterr().out)["points"][0]["amplitude_after_deg"]
    assert after == pytest.approx(_settled(OFF), abs=1e-9)
    assert main(["change", "dinghy", "--set", "hairspring.stud_offset_um=[70"]) == 2
    assert "must be [towards 12, towards 3]" in capsys.readouterr().err


def _settled(movement):
    return oscsim.settle(movement, oscsim.Setting(positions=("12H",), hours=(0.0,))).points.amplitude_deg[
        0, 0
    ]
