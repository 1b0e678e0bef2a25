"""Rules of the trade for whole movements, on the bundled designs: bands, never values; checks 27 to 30.

The bundled designs are of our own invention, so these bands say that the model and plausible numbers together behave
as the trade knows watches to behave.
"""

from __future__ import annotations

import numpy as np
import pytest

import oscsim
from oscsim.answers.rundown import hours_to_amplitude
from oscsim.movement import Movement
from tests.levers import LEVERS

from .book import Ledger
from .sources import KLEINLEIN, PRACTICE

BUNDLED = {name: oscsim.load(name) for name in LEVERS}
PACKET, DOCKHAND = BUNDLED["packet"], BUNDLED["dockhand"]
SIX = ("CH", "FH", "12H", "3H", "6H", "9H")


def amplitudes(movement: Movement, *hours: float) -> tuple[np.ndarray, np.ndarray]:
    """Flat (2, hours) and vertical (4, hours), deg, of a watch that runs without a knock."""
    points = oscsim.settle(movement, oscsim.Setting(positions=SIX, hours=hours)).points
    assert set(points.state.ravel()) == {"running"}
    return points.amplitude_deg[:2], points.amplitude_deg[2:]


@pytest.mark.check(27)
@pytest.mark.parametrize("name", BUNDLED)
def test_the_knock_is_short_of_a_full_turn(ledger: Ledger, name: str) -> None:
    points = oscsim.settle(BUNDLED[name]).points
    ledger.band(
        "amplitude at which the pin strikes the fork from outside, bundled designs",
        points.knock_angle_deg,
        300.0,
        360.0,
        "deg",
        source=PRACTICE,
        why="near a full turn, 360°; wound, each stays below it",
    )
    assert points.amplitude_deg[0, 0] < points.knock_angle_deg[0, 0]
    strong = BUNDLED[name].with_({"mainspring.height_mm": 2.0 * BUNDLED[name].mainspring.height_mm})
    free = strong.with_({"mainspring.slip_torque_n_mm": None})
    ledger.says(
        "bundled designs with a mainspring twice as high",
        oscsim.settle(free).points.state[0, 0] == "knocks",
        "a balance that nears a full turn strikes the fork from outside",
        "state: knocks",
        source=PRACTICE,
    )


@pytest.mark.check(28)
def test_the_fast_many_jewelled_movement(ledger: Ledger) -> None:
    flat, vertical = amplitudes(PACKET, 0.0, 8.0, 12.0, 16.0)
    for what, got, low, high in (
        ("fully wound, flat", flat[:, 0], 290.0, 310.0),
        ("after 8 to 16 hours, flat", flat[:, 1:], 270.0, 290.0),
        ("after 12 hours, vertical", vertical[:, 2], 250.0, 260.0),
    ):
        ledger.band(
            f"packet (28,800 beats, 25 jewels): {what}",
            got,
            low,
            high,
            "deg",
            source=PRACTICE,
            why="a design of our own",
        )
    assert PACKET.balance.beats_per_hour >= 28800
    assert PACKET.train.jewels >= 21


@pytest.mark.check(29)
def test_the_robust_movement(ledger: Ledger) -> None:
    flat, vertical = amplitudes(DOCKHAND, 0.0, 4.0, 6.0, 24.0, 36.0)
    for what, got, low, high in (
        ("fully wound, flat, about 250°", flat[:, 0], 245.0, 255.0),
        ("after 4 to 6 hours, flat", flat[:, 1:3], 240.0, 250.0),
        ("after 4 to 6 hours, vertical", vertical[:, 1:3], 220.0, 230.0),
        ("after 24 hours, flat, about 210°", flat[:, 3], 205.0, 215.0),
    ):
        ledger.band(f"dockhand: {what}", got, low, high, "deg", source=PRACTICE, why="a design of our own")
    a_day = (flat[0, 0] - flat[0, 3]) / 24.0
    then = (flat[0, 3] - flat[0, 4]) / 12.0
    ledger.says(
        "dockhand: fall per hour in the first day and in the 12 hours after it",
        then > 2.0 * a_day,
        "after 24 h a steep fall",
        f"{a_day:.1f}, then {then:.1f} deg an hour",
        source=PRACTICE,
    )


@pytest.mark.check(29)
def test_when_the_robust_movement_needs_work(ledger: Ledger) -> None:
    for flat in (200.0, 210.0):
        _, vertical = amplitudes(DOCKHAND, hours_to_amplitude(DOCKHAND, flat))
        ledger.band(
            "dockhand at 200° and 210° flat: vertical, which nears 180°",
            vertical,
            175.0,
            195.0,
            "deg",
            source=PRACTICE,
        )


@pytest.mark.check(28)
def test_which_one_holds_its_amplitude(ledger: Ledger) -> None:
    """At three quarters of the running time."""
    kept = {}
    for movement in (PACKET, DOCKHAND):
        late = 0.75 * float(oscsim.rundown(movement, oscsim.Setting(), step_h=4.0).stop_hours[0])
        flat, _ = amplitudes(movement, 0.0, late)
        kept[movement.name] = flat[0, 1] / flat[0, 0]
    ledger.says(
        "share of the wound amplitude left at three quarters of the running time",
        kept["Packet"] > 0.80 > 0.77 > kept["Dockhand"],
        "the fast-beat movement holds its amplitude through most of the reserve, the robust one does not",
        f"{kept['Packet']:.2f} and {kept['Dockhand']:.2f}",
        source=PRACTICE,
    )


@pytest.mark.check(30)
@pytest.mark.parametrize("name", BUNDLED)
def test_vertical_runs_below_flat(ledger: Ledger, name: str) -> None:
    flat, vertical = amplitudes(BUNDLED[name], 0.0, 12.0)
    ledger.band(
        "flat less vertical, bundled designs, wound and after 12 h, to the whole degree",
        (flat.mean(axis=0) - vertical.mean(axis=0)).round(),
        20.0,
        45.0,
        "deg",
        source=KLEINLEIN.at("§51, 55"),
        why="20 to 30° is common practice; he says a quarter turn of motion, 45°, in watches in order (looked up)",
    )
    assert np.ptp(flat) < np.ptp(np.concatenate([flat, vertical]))


#: Changes of a movement that each cost amplitude (common practice): factors on numbers of the design.
COSTLY = {
    "softer spring": {"mainspring.thickness_mm": 0.93},
    "weaker slip": {"mainspring.slip_torque_n_mm": 0.85},
    "heavier balance": {"balance.inertia_mg_cm2": 1.2, "balance.mass_mg": 1.1},
    "deeper lock": {"escapement.lock_deg": 1.3},
}


COST_WORDS = {
    "softer spring": "7 % thinner",
    "weaker slip": "bridle slips at 15 % less",
    "heavier balance": "a fifth more inertia",
    "deeper lock": "lock 30 % deeper",
}
WITH_BRIDLE = [name for name, movement in BUNDLED.items() if movement.mainspring.slip_torque_n_mm]


@pytest.mark.check(30)
@pytest.mark.parametrize(
    ("name", "cause"), [(n, c) for c in COSTLY for n in (WITH_BRIDLE if c == "weaker slip" else BUNDLED)]
)
def test_each_costs_amplitude(ledger: Ledger, name: str, cause: str) -> None:
    movement, changes = BUNDLED[name], {}
    for key, factor in COSTLY[cause].items():
        part, field = key.split(".")
        changes[key] = factor * movement.tables()[part][field]
    before = amplitudes(movement, 12.0)
    after = amplitudes(movement.with_(changes), 12.0)
    lost = np.concatenate(before) - np.concatenate(after)
    ledger.band(
        f"amplitude lost by a {cause}, bundled designs, {COST_WORDS[cause]}",
        lost,
        2.0,
        50.0,
        "deg",
        source=PRACTICE,
        why="the rule gives the sign; how much is a wide band of ours",
    )


@pytest.mark.check(30)
@pytest.mark.parametrize("name", ["packet", "dockhand", "ferryman", "tidewaiter"])
def test_fewer_jewels_cost_amplitude(ledger: Ledger, name: str) -> None:
    """The dinghy names its holes one by one."""
    movement = BUNDLED[name]
    counts = [n for n in (25, 19, 17, 15, 11, 7) if n <= movement.train.jewels]
    seen = {n: amplitudes(movement.with_({"train.jewels": n}), 0.0)[0][0, 0] for n in counts}
    every = seen.pop(25, None)
    assert every is None or every == pytest.approx(
        seen[19], abs=1e-9
    )  # caps and winding work do not touch the train
    ledger.says(
        "19, 17, 15, 11, 7 jewels, bundled designs",
        np.diff(list(seen.values())) < -0.5,
        "fewer jewels cost amplitude",
        "each step costs more than half a degree",
        source=PRACTICE,
    )
    ledger.band(
        "amplitude lost with 7 jewels in place of the most",
        max(seen.values()) - seen[7],
        5.0,
        30.0,
        "deg",
        source=PRACTICE,
        why="how much is a wide band of ours",
    )


@pytest.mark.check(30)
@pytest.mark.parametrize("name", BUNDLED)
def test_a_deeper_lock_costs_a_few_degrees(ledger: Ledger, name: str) -> None:
    """Half a degree of the lever deeper."""
    movement = BUNDLED[name]
    deeper = movement.with_({"escapement.lock_deg": movement.escapement.lock_deg + 0.5})
    lost = amplitudes(movement, 0.0)[0] - amplitudes(deeper, 0.0)[0]
    ledger.band(
        "amplitude lost by a lock half a degree deeper, bundled designs",
        lost,
        2.0,
        10.0,
        "deg",
        source=PRACTICE,
        why="deeper lock: a few degrees",
    )
