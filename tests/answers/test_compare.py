"""Movements side by side, and their difference shared out.

Sources: L. S. Shapley, A value for n-person games (1953): the four axioms that leave one solution, and the average over
all orders that is that solution; S. C. Littlechild and G. Owen, Management Science 20 (1973) 370: the airport game's
closed form. Settled amplitudes are those of ``settle`` (tests/independent).
"""

from __future__ import annotations

import itertools
import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

import oscsim
from oscsim.answers.compare import GROUPS, attribution, compare, shapley
from oscsim.condition import Condition
from oscsim.errors import InputError
from oscsim.movement import Movement

BUNDLED = {name: oscsim.load(name) for name in oscsim.bundled()}
PACKET, DOCKHAND = BUNDLED["packet"], BUNDLED["dockhand"]
PAIRS = list(itertools.combinations(BUNDLED, 2))
worth = st.floats(-100.0, 100.0)


@st.composite
def games(draw: st.DrawFn, players: int | None = None) -> np.ndarray:
    k = players or draw(st.integers(1, 5))
    return draw(arrays(float, (2,) * k, elements=worth))


# ---------------------------------------------------------------------------------------------- the axioms


@given(games())
def test_shapley_is_the_average_over_all_orders(game: np.ndarray) -> None:
    k = game.ndim
    share = np.zeros(k)
    for order in itertools.permutations(range(k)):
        who = [0] * k
        for player in order:
            before = game[tuple(who)]
            who[player] = 1
            share[player] += game[tuple(who)] - before
    assert shapley(game) == pytest.approx(share / math.factorial(k), abs=1e-10)


@given(games())
def test_efficiency(game: np.ndarray) -> None:
    whole = game[(1,) * game.ndim] - game[(0,) * game.ndim]
    assert shapley(game).sum() == pytest.approx(whole, abs=1e-10)


@given(games(4), st.permutations(range(4)))
def test_symmetry(game: np.ndarray, order: list[int]) -> None:
    """Names do not matter; two who are worth the same to all others get the same."""
    assert shapley(game.transpose(order)) == pytest.approx(shapley(game)[list(order)], abs=1e-10)
    alike = 0.5 * (game + game.swapaxes(1, 3))
    assert shapley(alike)[1] == pytest.approx(shapley(alike)[3], abs=1e-10)


@given(games(3), st.integers(0, 3), worth)
def test_null_and_dummy_player(game: np.ndarray, place: int, alone: float) -> None:
    """Who adds nothing to anyone gets nothing, who always adds the same gets just that; the others get theirs."""
    for added in (0.0, alone):
        share = shapley(np.stack([game, game + added], axis=place))
        assert share[place] == pytest.approx(added, abs=1e-10)
        assert np.delete(share, place) == pytest.approx(shapley(game), abs=1e-10)


@given(games(4), games(4), worth)
def test_additivity(one: np.ndarray, other: np.ndarray, factor: float) -> None:
    both = shapley(one) + factor * shapley(other)
    assert shapley(one + factor * other) == pytest.approx(both, abs=1e-7)


def test_airport_game() -> None:
    """Each pays an equal part of every stretch of runway it needs (Littlechild and Owen, 1973)."""
    costs = np.array([2.0, 5.0, 11.0])
    game = np.zeros((2, 2, 2))
    for who in itertools.product((0, 1), repeat=3):
        game[who] = max(costs * who)
    assert shapley(game) == pytest.approx([2 / 3, 2 / 3 + 3 / 2, 2 / 3 + 3 / 2 + 6], abs=1e-14)


# --------------------------------------------------------------------------------------------- attribution


@pytest.mark.parametrize(("a", "b"), PAIRS)
def test_shares_add_up_and_change_sign_with_the_order(a: str, b: str) -> None:
    first, second = BUNDLED[a], BUNDLED[b]
    there, back = attribution(first, second), attribution(second, first)
    alone = [oscsim.settle(movement).points.amplitude_deg[0, 0] for movement in (first, second)]
    assert there.groups == tuple(GROUPS)
    assert there.residual_rad <= 1e-10
    assert abs(there.degrees.sum() - (alone[1] - alone[0])) <= 1e-8
    assert there.difference_deg == pytest.approx(alone[1] - alone[0], abs=1e-9)
    assert back.degrees == pytest.approx(-there.degrees, abs=1e-8)


def tables_mixed(first: Movement, second: Movement, groups: tuple[str, ...]) -> Movement:
    """The mixture by ``with_``, for designs that give the same keys."""
    taken = {}
    for group in groups:
        for name in GROUPS[group]:
            here = (
                [name] if "." in name else [n for n in oscsim.parameter_names() if n.startswith(f"{name}.")]
            )
            for key in here:
                part, field = key.split(".", 1)
                if part not in ("index_pins", "hairspring") and field != "arbors":
                    taken[key] = second.tables()[part].get(field)
    return first.with_(taken)


@pytest.mark.parametrize("count", [1, 2, 5])
def test_mixtures_are_what_they_are_called(count: int) -> None:
    found = attribution(DOCKHAND, PACKET)
    chosen = list(itertools.combinations(GROUPS, count))[::4]
    for groups in chosen:
        at = tuple(int(group in groups) for group in GROUPS)
        settled = oscsim.settle(tables_mixed(DOCKHAND, PACKET, groups)).points
        if np.isfinite(
            settled.amplitude_deg[0, 0]
        ):  # above 400 deg a settled watch has no number, a mixture has
            assert found.amplitude_deg[at] == pytest.approx(settled.amplitude_deg[0, 0], abs=1e-9), groups
        else:
            assert found.amplitude_deg[at] > 400.0


def test_two_groups_by_hand() -> None:
    """With two groups a share is the mean of what it adds first and what it adds last."""
    groups = {"inertia": ["balance.inertia_mg_cm2"], "lock": ["escapement.lock_deg"]}
    changes = {"balance.inertia_mg_cm2": 16.0, "escapement.lock_deg": 2.0}

    def amplitude(**only: float) -> float:
        named = {name.replace("__", "."): value for name, value in only.items()}
        return float(oscsim.settle(DOCKHAND.with_(named)).points.amplitude_deg[0, 0])

    none, both = amplitude(), amplitude(balance__inertia_mg_cm2=16.0, escapement__lock_deg=2.0)
    light, shallow = amplitude(balance__inertia_mg_cm2=16.0), amplitude(escapement__lock_deg=2.0)
    found = attribution(DOCKHAND, DOCKHAND.with_(changes), groups=groups)
    by_hand = [0.5 * (light - none + both - shallow), 0.5 * (shallow - none + both - light)]
    assert found.degrees == pytest.approx(by_hand, abs=1e-8)
    assert min(by_hand) > 0.0


def test_a_group_without_difference_gets_nothing() -> None:
    same = {name: PACKET.tables()["balance"][name.split(".")[1]] for name in GROUPS["poise and beat setting"]}
    found = attribution(PACKET, DOCKHAND.with_(same), oscsim.Setting(positions="9H", hours=12.0))
    shares = dict(zip(found.groups, found.degrees, strict=True))
    assert abs(shares.pop("poise and beat setting")) <= 1e-9
    assert min(map(abs, shares.values())) > 0.01


def test_eight_groups() -> None:
    rest = tuple(name for name in GROUPS["balance and hairspring"] if name != "index_pins")
    groups = GROUPS | {"balance and hairspring": rest, "index pins": ("index_pins",)}
    pinned = PACKET.with_({"index_pins.stiffness_share": 0.02, "index_pins.low_contact_deg": -15.0})
    found = attribution(DOCKHAND, pinned, groups=groups)
    assert found.amplitude_deg.shape == (2,) * 8
    ends = [oscsim.settle(movement).points.amplitude_deg[0, 0] for movement in (DOCKHAND, pinned)]
    assert abs(found.degrees.sum() - (ends[1] - ends[0])) <= 1e-8


@pytest.mark.parametrize(
    "setting",
    [
        {"positions": ["12H", "CH"], "turns": [3.0, 1.0]},
        {"positions": ["FH"], "hours": [12.0, 0.0], "condition": Condition(oil_age_years=4.0, drive=0.9)},
        {"positions": ["6H"], "tilt_deg": 45.0, "temperature_c": 8.0},
    ],
)
def test_attribution_is_of_the_first_point_asked_for(setting: dict[str, object]) -> None:
    found = compare([DOCKHAND, PACKET], oscsim.Setting(**setting))
    assert found.attribution is not None
    seen = found.points.amplitude_deg[:, 0, 0]
    assert found.attribution.degrees.sum() == pytest.approx(seen[1] - seen[0], abs=1e-8)


# -------------------------------------------------------------------------------------------- side by side


def test_json_of_two() -> None:
    body = json.loads(compare([DOCKHAND, PACKET]).to_json())
    assert body["designs"] == ["Dockhand", "Packet"]
    assert body["hours"] == [0.0, 24.0]
    amplitude = body["amplitude_deg"]
    shares = body["attribution"]
    assert [share["group"] for share in shares] == list(GROUPS)
    total = sum(share["degrees"] for share in shares)
    assert total == pytest.approx(amplitude["Packet"]["CH"][0] - amplitude["Dockhand"]["CH"][0], abs=1e-8)
    for name, movement in (("Dockhand", DOCKHAND), ("Packet", PACKET)):
        alone = oscsim.settle(movement, oscsim.Setting(positions=["CH", "12H"], hours=[0, 24])).points
        assert [amplitude[name][p] for p in ("CH", "12H")] == [
            pytest.approx(row, abs=1e-9) for row in alone.amplitude_deg
        ]
        assert [body["state"][name][p] for p in ("CH", "12H")] == alone.state.tolist()
        turns = float(alone.turns[0, 0])
        per_turn = movement.train.ratio * 2 * movement.escapement.teeth / movement.balance.beats_per_hour
        assert body["reserve_hours"][name] == pytest.approx(turns * per_turn, rel=1e-12)


def test_more_than_two() -> None:
    setting = oscsim.Setting(positions=["CH"], hours=[0.0, 60.0])
    found = compare(list(BUNDLED.values()), setting)
    assert found.attribution is None
    assert "attribution" not in found.to_dict()
    rows = found.rows()
    assert [row["design"] for row in rows] == [m.name for m in BUNDLED.values() for _ in range(2)]
    for name, row in zip(BUNDLED, rows[::2], strict=True):
        want = oscsim.settle(BUNDLED[name]).points
        assert row["amplitude_deg"] == pytest.approx(want.amplitude_deg[0, 0], abs=1e-9)
    stopped = [row for row in rows[1::2] if row["state"] == "stops"]
    assert stopped
    assert all(math.isnan(row["amplitude_deg"]) for row in stopped)


# ---------------------------------------------------------------------------------------------- bad input

OVERLAP = {"spring": ["mainspring"], "strip": ["mainspring.height_mm"]}
LOCK = {"escapement.lock_deg": 2.0}


@pytest.mark.parametrize(
    ("second", "groups", "said"),
    [
        (LOCK, OVERLAP, "groups 'spring' and 'strip' overlap: both hold 'mainspring.height_mm'"),
        (LOCK, {"a": ["escapement"], "b": ["escapement"]}, "groups 'a' and 'b' overlap: both hold 'escapement'"),
        (LOCK, {"a": ["escapement.lok_deg"]}, "'escapement.lok_deg' is no parameter; did you mean 'escapement.lock_"),
        (LOCK, {"a": ["mainspring"]}, "escapement.lock_deg differs between the designs but is in no group"),
        (LOCK, {}, "groups: 0 given, must be from 1 to 12"),
        (LOCK, {str(n): [] for n in range(13)}, "groups: 13 given, must be from 1 to 12"),
        (
            {"mainspring.length_mm": 1000.0, "barrel.inner_diameter_mm": 15.0},
            {"strip": ["mainspring"], "barrel": ["barrel"]},
            "no movement has strip of 'Dockhand' and the rest of 'Dockhand': mainspring.length_mm = 1000 mm",
        ),
        ({"mainspring.height_mm": 0.01}, GROUPS, "a mixture has no settled amplitude to share out"),
    ],
)  # fmt: skip
def test_refused(second: dict[str, float], groups: dict[str, list[str]], said: str) -> None:
    with pytest.raises(InputError) as caught:
        attribution(DOCKHAND, DOCKHAND.with_(second), groups=groups)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("movements", "said"),
    [
        ([], "designs = none: at least two are needed to compare"),
        ([PACKET], "designs = Packet: at least two are needed"),
        (
            [PACKET, DOCKHAND, PACKET.with_(LOCK)],
            "designs = Packet, Dockhand, Packet: two have the same name",
        ),
    ],
)
def test_too_few_or_of_one_name(movements: list[Movement], said: str) -> None:
    with pytest.raises(InputError) as caught:
        compare(movements)
    assert said in str(caught.value)
