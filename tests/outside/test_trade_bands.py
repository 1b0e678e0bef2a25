"""Rules of the trade for whole movements, on the bundled designs: bands, never values.

Source: common practice (shared checks 27-30), but for the greatest difference of flat and vertical, 45 deg: W. J.
Kleinlein, Rules and Practice for Adjusting Watches (1920) §51, 55.
"""

from __future__ import annotations

import numpy as np
import pytest

import oscsim
from oscsim.answers.rundown import hours_to_amplitude
from oscsim.movement import Movement

BUNDLED = {name: oscsim.load(name) for name in oscsim.bundled()}
PACKET, DOCKHAND = BUNDLED["packet"], BUNDLED["dockhand"]
SIX = ("CH", "FH", "12H", "3H", "6H", "9H")


def amplitudes(movement: Movement, *hours: float) -> tuple[np.ndarray, np.ndarray]:
    """Flat (2, hours) and vertical (4, hours), deg, of a watch that runs without a knock."""
    points = oscsim.settle(movement, oscsim.Setting(positions=SIX, hours=hours)).points
    assert set(points.state.ravel()) == {"running"}
    return points.amplitude_deg[:2], points.amplitude_deg[2:]


def within(values: np.ndarray, low: float, high: float) -> None:
    assert low <= values.min() <= values.max() <= high


@pytest.mark.parametrize("name", BUNDLED)
def test_the_knock_is_short_of_a_full_turn(name: str) -> None:
    """Common practice: 270° is three quarters of a turn each way; near a full one the pin strikes from outside."""
    knock = oscsim.settle(BUNDLED[name]).points.knock_angle_deg[0, 0]
    assert 300.0 < knock < 360.0
    strong = BUNDLED[name].with_({"mainspring.height_mm": 2.0 * BUNDLED[name].mainspring.height_mm})
    free = strong.with_({"mainspring.slip_torque_n_mm": None})
    assert oscsim.settle(free).points.state[0, 0] == "knocks"


def test_the_fast_many_jewelled_movement() -> None:
    """Common practice: wound up to 310°; then 270-290° flat, 250-260° vertical, held through most of the reserve."""
    flat, vertical = amplitudes(PACKET, 0.0, 8.0, 12.0, 16.0)
    within(flat[:, 0], 290.0, 310.0)
    within(flat[:, 1:], 270.0, 290.0)
    within(vertical[:, 2], 250.0, 260.0)
    assert PACKET.balance.beats_per_hour >= 28800
    assert PACKET.train.jewels >= 21


def test_the_robust_movement() -> None:
    """Common practice: about 250° wound, 240-250° flat and 220-230° vertical, 210° after a day, then a steep fall."""
    flat, vertical = amplitudes(DOCKHAND, 0.0, 4.0, 6.0, 24.0, 36.0)
    within(flat[:, 0], 245.0, 255.0)
    within(flat[:, 1:3], 240.0, 250.0)
    within(vertical[:, 1:3], 220.0, 230.0)
    within(flat[:, 3], 205.0, 215.0)
    a_day = flat[0, 0] - flat[0, 3]
    then = flat[0, 3] - flat[0, 4]
    assert then / 12.0 > 2.0 * a_day / 24.0


def test_when_the_robust_movement_needs_work() -> None:
    """Common practice: at 200-210° flat the vertical nears 180°."""
    for flat in (200.0, 210.0):
        _, vertical = amplitudes(DOCKHAND, hours_to_amplitude(DOCKHAND, flat))
        within(vertical, 175.0, 195.0)


def test_which_one_holds_its_amplitude() -> None:
    """Common practice: the one through most of its reserve, the other not. At three quarters of the running time."""
    kept = {}
    for movement in (PACKET, DOCKHAND):
        late = 0.75 * float(oscsim.run_down(movement, oscsim.Setting(), step_h=4.0).stop_hours[0])
        flat, _ = amplitudes(movement, 0.0, late)
        kept[movement.name] = flat[0, 1] / flat[0, 0]
    assert kept["Packet"] > 0.80 > 0.77 > kept["Dockhand"]


@pytest.mark.parametrize("name", BUNDLED)
def test_vertical_runs_below_flat(name: str) -> None:
    """Common practice 20-30°, up to 45° (Kleinlein §51, 55); to the whole degree."""
    flat, vertical = amplitudes(BUNDLED[name], 0.0, 12.0)
    within((flat.mean(axis=0) - vertical.mean(axis=0)).round(), 20.0, 45.0)
    assert np.ptp(flat) < np.ptp(np.concatenate([flat, vertical]))


#: Changes of a movement that each cost amplitude (common practice): factors on numbers of the design.
COSTLY = {
    "softer spring": {"mainspring.thickness_mm": 0.93},
    "weaker slip": {"mainspring.slip_torque_n_mm": 0.85},
    "heavier balance": {"balance.inertia_mg_cm2": 1.2, "balance.mass_mg": 1.1},
    "deeper lock": {"escapement.lock_deg": 1.3},
}


WITH_BRIDLE = [name for name, movement in BUNDLED.items() if movement.mainspring.slip_torque_n_mm]


@pytest.mark.parametrize(
    ("name", "cause"), [(n, c) for c in COSTLY for n in (WITH_BRIDLE if c == "weaker slip" else BUNDLED)]
)
def test_each_costs_amplitude(name: str, cause: str) -> None:
    movement, changes = BUNDLED[name], {}
    for key, factor in COSTLY[cause].items():
        part, field = key.split(".")
        changes[key] = factor * movement.tables()[part][field]
    before = amplitudes(movement, 12.0)
    after = amplitudes(movement.with_(changes), 12.0)
    for place, then in zip(before, after, strict=True):
        assert (place - then > 2.0).all()
        assert (place - then < 50.0).all()


@pytest.mark.parametrize("name", ["packet", "dockhand", "ferryman", "tidewaiter"])
def test_fewer_jewels_cost_amplitude(name: str) -> None:
    """Common practice. The dinghy names its holes one by one."""
    movement = BUNDLED[name]
    counts = [n for n in (25, 19, 17, 15, 11, 7) if n <= movement.train.jewels]
    seen = {n: amplitudes(movement.with_({"train.jewels": n}), 0.0)[0][0, 0] for n in counts}
    every = seen.pop(25, None)
    assert every is None or every == pytest.approx(
        seen[19], abs=1e-9
    )  # caps and winding work do not touch the train
    assert (np.diff(list(seen.values())) < -0.5).all()
    assert 5.0 < max(seen.values()) - seen[7] < 30.0


@pytest.mark.parametrize("name", BUNDLED)
def test_a_deeper_lock_costs_a_few_degrees(name: str) -> None:
    """Common practice: half a degree of the lever deeper, a few degrees of amplitude."""
    movement = BUNDLED[name]
    deeper = movement.with_({"escapement.lock_deg": movement.escapement.lock_deg + 0.5})
    lost = amplitudes(movement, 0.0)[0] - amplitudes(deeper, 0.0)[0]
    within(lost, 2.0, 10.0)
