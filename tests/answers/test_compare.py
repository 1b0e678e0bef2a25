"""Movements side by side, and their difference shared out.

Sources: L. S. Shapley, A value for n-person games (1953): the four axioms that leave one solution, and the average over
all orders that is that solution; S. C. Littlechild and G. Owen, Management Science 20 (1973) 370: the airport game's
closed form; G. Owen, Values of games with a priori unions (1977): the average over the orders in which each group
comes as a whole. Settled amplitudes are those of ``settle`` (tests/independent).
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
from oscsim.answers.attribution import READY, attribution
from oscsim.answers.compare import compare
from oscsim.answers.shapley import owen, shapley
from oscsim.condition import Condition
from oscsim.errors import InputError
from oscsim.movement import PARTS, Movement
from oscsim.typical.numbers import NUMBERS, POISE
from tests.levers import LEVERS

BUNDLED = {name: oscsim.load(name) for name in LEVERS}
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


@given(games(4), st.sets(st.integers(1, 14), max_size=6))
def test_where_a_worth_is_not_known_only_the_other_orders_count(game: np.ndarray, unknown: set[int]) -> None:
    for at in unknown:
        game.reshape(-1)[at] = math.nan
    shares = []
    for order in itertools.permutations(range(4)):
        who, path = [0] * 4, [game[0, 0, 0, 0]]
        for player in order:
            who[player] = 1
            path.append(game[tuple(who)])
        if not np.isnan(path).any():
            added = np.diff(path)
            shares.append([added[order.index(player)] for player in range(4)])
    if shares:
        assert shapley(game) == pytest.approx(np.mean(shares, axis=0), abs=1e-10)
    else:
        assert np.isnan(shapley(game)).all()


UNIONS = {"one": ("a", "b"), "two": ("c",), "three": ("d", "e")}
PLAYERS = tuple(itertools.chain(*UNIONS.values()))


@given(games(5))
def test_owen_is_the_average_over_the_orders_in_which_each_group_comes_as_a_whole(game: np.ndarray) -> None:
    def worth(who: frozenset[str]) -> float:
        return float(game[tuple(int(player in who) for player in PLAYERS)])

    orders = [
        [player for group in within for player in group]
        for groups in itertools.permutations(UNIONS.values())
        for within in itertools.product(*(itertools.permutations(group) for group in groups))
    ]
    share = dict.fromkeys(PLAYERS, 0.0)
    for order in orders:
        for n, player in enumerate(order):
            share[player] += worth(frozenset(order[: n + 1])) - worth(frozenset(order[:n]))
    outer, inner = owen(worth, UNIONS)
    for degrees, (group, players) in zip(outer, UNIONS.items(), strict=True):
        assert inner[group] == pytest.approx([share[p] / len(orders) for p in players], abs=1e-10)
        assert inner[group].sum() == pytest.approx(degrees, abs=1e-10)


# --------------------------------------------------------------------------------------------- attribution


QUICK = PAIRS[::2]


def test_mixtures_that_swing_out_of_all_reason_are_told():
    # the strong strip of a large watch in a small one: by first-order energy balance some 1,000 deg
    found = attribution("dinghy", "ferryman")
    assert not found.remarks
    (told,) = found.within
    assert told.startswith("drive for its balance: mainspring and gearing of 'Ferryman' with the rest of")
    assert "swings too far" in told


@pytest.mark.parametrize(("a", "b"), QUICK)
def test_shares_add_up_and_change_sign_with_the_order(a: str, b: str) -> None:
    first, second = BUNDLED[a], BUNDLED[b]
    there, back = attribution(first, second), attribution(second, first)
    alone = [oscsim.settle(movement).points.amplitude_deg[0, 0] for movement in (first, second)]
    assert there.groups == tuple(READY)
    assert there.residual_rad <= 1e-10
    assert not there.remarks
    assert abs(there.degrees.sum() - (alone[1] - alone[0])) <= 1e-8
    assert [there.first_deg, there.second_deg] == pytest.approx(alone, abs=1e-9)
    assert back.degrees == pytest.approx(-there.degrees, abs=1e-8)
    for share, turned in zip(there.shares, back.shares, strict=True):
        assert sum(one.degrees for one in share.inner) == pytest.approx(share.degrees, abs=1e-8)
        assert [-one.degrees for one in turned.inner] == pytest.approx(
            [i.degrees for i in share.inner], abs=1e-8
        )
        assert set(share.differing) == {name for one in share.inner for name in one.differing}
        assert {one.group for one in share.inner} <= set(READY[share.group])


def test_a_mans_drive_on_a_mans_balance_is_no_step_of_a_hundred_degrees() -> None:
    """Outer shares of two wrist designs of one size are such as a watchmaker believes."""
    found = attribution(PACKET, DOCKHAND)
    assert np.abs(found.degrees).max() < 60.0
    drive = found.shares[0]
    assert drive.group == "drive for its balance"
    assert [one.group for one in drive.inner] == ["balance and beat", "mainspring and gearing"]
    assert max(abs(one.degrees) for one in drive.inner) < 60.0


def test_two_levels_by_hand() -> None:
    """Two parts of one group and another group: the parts in both orders, before and after the other group."""
    changes = {"balance.inertia_mg_cm2": 16.0, "mainspring.thickness_mm": 0.1, "escapement.lock_deg": 2.0}

    def amplitude(*names: str) -> float:
        only = {
            name: value for name, value in changes.items() if name.rpartition(".")[2].split("_")[0] in names
        }
        assert len(only) == len(names)
        return float(oscsim.settle(DOCKHAND.with_(only)).points.amplitude_deg[0, 0])

    def mean(*values: float) -> float:
        return sum(values) / len(values)

    found = attribution(DOCKHAND, DOCKHAND.with_(changes))
    shares = {share.group: share for share in found.shares}
    balance, spring = shares["drive for its balance"].inner
    i, t, lk, it, il, tl, every = (
        amplitude(*names)
        for names in (("inertia",), ("thickness",), ("lock",), ("inertia", "thickness"), ("inertia", "lock"),
                      ("thickness", "lock"), ("inertia", "thickness", "lock"))
    )  # fmt: skip
    none = amplitude()
    assert balance.degrees == pytest.approx(mean(i - none, it - t, il - lk, every - tl), abs=1e-8)
    assert spring.degrees == pytest.approx(mean(t - none, it - i, tl - lk, every - il), abs=1e-8)
    lock = shares["lever escapement and lock"]
    assert lock.degrees == pytest.approx(mean(lk - none, every - it), abs=1e-8)
    assert [one.group for one in lock.inner] == ["lock and lift"]
    assert sum(map(len, (share.differing for share in found.shares))) == 3


def test_a_number_of_no_row_is_shared_out_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """A number that nobody put into the table of numbers makes a group of its own and no refusal."""
    from oscsim.typical import numbers

    monkeypatch.delitem(numbers.NUMBERS, "escapement.lock_deg")
    found = attribution(DOCKHAND, DOCKHAND.with_({"escapement.lock_deg": 2.0}))
    assert found.groups[-1] == numbers.OTHER
    assert found.degrees[-1] == pytest.approx(found.difference_deg, abs=1e-9)


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
    names = [n for n, facts in NUMBERS.items() if facts.outer == POISE and n.startswith("balance.")]
    same = {name: PACKET.tables()["balance"][name.split(".")[1]] for name in names}
    found = attribution(PACKET, DOCKHAND.with_(same), oscsim.Setting(positions="9H", hours=12.0))
    shares = dict(zip(found.groups, found.degrees, strict=True))
    assert abs(shares.pop(POISE)) <= 1e-9
    assert min(map(abs, shares.values())) > 0.01


def test_eight_groups_of_ones_own() -> None:
    groups = {table: [table] for table in PARTS if table not in ("train", "winding")}
    rest = [f"train.{name}" for name in DOCKHAND.train.__dataclass_fields__ if name != "jewels"]
    groups |= {"jewels": ["train.jewels"], "rest of the train": rest, "winding": ["winding"]}
    pinned = PACKET.with_({"index_pins.stiffness_share": 0.02, "index_pins.low_contact_deg": -15.0})
    found = attribution(DOCKHAND, pinned, groups=groups)
    assert len(found.shares) >= 8
    assert not any(share.inner for share in found.shares)
    ends = [oscsim.settle(movement).points.amplitude_deg[0, 0] for movement in (DOCKHAND, pinned)]
    assert abs(found.degrees.sum() - (ends[1] - ends[0])) <= 1e-8


def test_a_mixture_that_is_no_watch_is_left_out_and_told() -> None:
    """The strip in the old barrel is no movement: only the order in which the barrel comes first is counted."""
    changes = {"mainspring.length_mm": 1000.0, "barrel.inner_diameter_mm": 15.0}
    groups = {"strip": ["mainspring"], "barrel": ["barrel"]}
    found = attribution(DOCKHAND, DOCKHAND.with_(changes), groups=groups)
    (told,) = found.remarks
    assert told.startswith(
        "strip of 'Dockhand' with the rest of 'Dockhand' is no movement: mainspring.length_mm = 1000"
    )
    barrel = oscsim.settle(DOCKHAND.with_({"barrel.inner_diameter_mm": 15.0})).points.amplitude_deg[0, 0]
    assert found.degrees == pytest.approx([found.second_deg - barrel, barrel - found.first_deg], abs=1e-8)
    text = compare([DOCKHAND, DOCKHAND.with_({**changes, "name": "B"})], groups=groups).text()
    assert "Left out of the count: strip of 'B'" in " ".join(text.split())


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
    assert [share["group"] for share in shares] == list(READY)
    for share in shares:
        inside = sum(one["degrees"] for one in share["inner"])
        assert inside == pytest.approx(share["degrees"], abs=1e-8)
        assert share["differing"] == [name for one in share["inner"] for name in one["differing"]]
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
        ({"mainspring.height_mm": 0.01}, None, "'Dockhand' has no settled amplitude there to share out"),
    ],
)  # fmt: skip
def test_refused(second: dict[str, float], groups: dict[str, list[str]] | None, said: str) -> None:
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


def test_what_differs_is_told_in_words():
    text = " ".join(oscsim.compare(["dockhand", "packet"]).text().split())
    listed = text.partition("What differs")[2].partition("What this means")[0]
    assert "lock 2.8, 1.6 deg" in listed
    assert "teeth of the wheels 66 80 75 84, 78 80 75 84" in listed
    assert not [
        word for word in listed.split() if word.startswith(("balance.", "escapement.", "train.", "winding."))
    ]
