"""A game's worth shared out among its players, alone and in groups.

The shares are those of L. S. Shapley (A value for n-person games, 1953): what a player adds, averaged over every order
in which all can come. With players in groups they are those of G. Owen (Values of games with a priori unions, in Essays
in Mathematical Economics and Game Theory, 1977, 76-88): a group comes as a whole. Where the worth of some who take part
is not known, only the orders are counted that do not pass there; the shares add up all the same.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import numpy as np

from oscsim.arrays import Array

#: Who takes part.
Who = frozenset[str]


def weights(known: Array) -> Array:
    """Shares of all orders in which a player comes just after those of ``known``: shape (k, 2, …, 2), k times 2.

    ``known``: of shape (2,) * k by who takes part, true where the worth is known. Entry (i, who) is the share of orders
    in which i comes when just ``who`` are there; NaN everywhere where no order is left.
    """
    k = known.ndim
    flat = known.reshape(-1)
    bits = [1 << (k - 1 - i) for i in range(k)]  # the first player's axis is the outermost
    before, after = np.zeros(2**k), np.zeros(2**k)
    before[0], after[-1] = float(flat[0]), float(flat[-1])
    for who in range(1, 2**k):
        if flat[who]:
            before[who] = sum(before[who - bit] for bit in bits if who & bit)
    for who in range(2**k - 2, -1, -1):
        if flat[who]:
            after[who] = sum(after[who + bit] for bit in bits if not who & bit)
    found = np.zeros((k, 2**k))
    for i, bit in enumerate(bits):
        without = np.flatnonzero((np.arange(2**k) & bit) == 0)
        found[i, without] = before[without] * after[without + bit]
    total = before[-1]
    return (found / total if total else np.full_like(found, math.nan)).reshape(k, *known.shape)


def shapley(value: Array) -> Array:
    """Shares (k,) of a game: ``value`` of shape (2,) * k by who takes part, NaN where it is not known."""
    weight = weights(np.isfinite(value))
    shares = np.empty(value.ndim)
    for player in range(value.ndim):
        without, with_ = (np.take(value, side, axis=player) for side in (0, 1))
        each = np.take(weight[player], 0, axis=player)
        shares[player] = np.sum(np.where(each > 0.0, each * (with_ - without), 0.0 * each))
    return shares


def owen(worth: Callable[[Who], float], groups: dict[str, tuple[str, ...]]) -> tuple[Array, dict[str, Array]]:
    """Shares of the groups (k,), and of the players in each, which add up to their group's.

    ``worth`` of players by name, NaN where it is not known. A group whose players cannot be told apart, because the
    worth is not known where it would matter, has NaN for each.
    """
    names = list(groups)
    members = [frozenset(players) for players in groups.values()]
    whole = np.array([worth(_all(members, who)) for who in np.ndindex(*(2,) * len(names))])
    value = whole.reshape((2,) * len(names))
    weight = weights(np.isfinite(value))
    inner = {}
    for g, group in enumerate(names):
        players = groups[group]
        reduced = np.zeros((2,) * len(players))
        for who in np.ndindex(*value.shape):
            if weight[g][who] > 0.0:
                others = _all(members, who)
                for some in np.ndindex(*reduced.shape):
                    more = frozenset(p for p, take in zip(players, some, strict=True) if take)
                    reduced[some] += weight[g][who] * (worth(others | more) - worth(others))
        inner[group] = shapley(reduced)
    return shapley(value), inner


def _all(members: Iterable[Who], who: Iterable[int]) -> Who:
    """The players of the groups that take part."""
    return frozenset().union(*(its for its, take in zip(members, who, strict=True) if take))
