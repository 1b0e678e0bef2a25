"""Numbers that README and docs/bench.md print are those that the program gives."""

import contextlib
import io
import re
from pathlib import Path

import pytest

import oscsim
from oscsim.cli import main

TOP = Path(__file__).parent.parent
BENCH = (TOP / "docs/bench.md").read_text(encoding="utf-8")
BLOCKS = re.findall(
    r"^```text\n\$ oscsim (.*)\n((?:.*\n)*?)```", (TOP / "README.md").read_text("utf-8"), re.M
)
CHANGES = {
    "balance pivot friction": {"balance.pivot_friction": 0.09},
    "friction in the train's jewels": {"train.jewel_friction": 0.18},
    "friction of tooth on stone 0.16": {"escapement.pallet_friction": 0.192},
    "lock 2.8": {"escapement.lock_deg": 3.3},
    "drop 2.0": {"escapement.drop_deg": 2.5},
    "mainspring 0.11": {"mainspring.thickness_mm": 0.10},
    "17 jewels": {"train.jewels": 15},
}


@pytest.mark.parametrize("command", [command for command, _ in BLOCKS])
def test_readme_prints_what_the_program_prints(command):
    assert len(BLOCKS) == 2
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        assert main(command.split()) == 0
    printed, at = out.getvalue(), 0
    for part in dict(BLOCKS)[command].split("...\n"):
        found = printed.find(part, at)
        assert found >= 0, part
        at = found + len(part)


def row(begins):
    (line,) = [line for line in BENCH.splitlines() if line.startswith(f"| {begins}")]
    return [float(cell.strip(" °").replace("−", "-")) for cell in line.strip("|").split("|")[1:]]


def wound_and_a_day_later(movement):
    answer = oscsim.settle(movement, oscsim.Setting(positions=["CH", "12H"], hours=[0, 24]))
    return answer.points.amplitude_deg.ravel()


def test_table_of_changes_at_the_bench():
    movement = oscsim.load("dockhand")
    own = wound_and_a_day_later(movement)
    assert row("dockhand as bundled") == pytest.approx(own, abs=0.0501)
    for begins, change in CHANGES.items():
        assert row(begins) == pytest.approx(wound_and_a_day_later(movement.with_(change)) - own, abs=0.0501)


def test_lift_angles_told_at_the_bench():
    told, shown = row("told"), row("shows")
    for lift, swing in zip(told, shown, strict=True):
        answer = oscsim.settle("dockhand", oscsim.Setting(positions=["CH"], hours=[0], lift_angle_deg=lift))
        assert swing == pytest.approx(float(answer.points.apparent_amplitude_deg[0, 0]), abs=0.0501)
    swings = float(oscsim.settle("dockhand").points.amplitude_deg[0, 0])
    assert f"Fully wound, dial up, it swings {swings:.1f}°" in BENCH
