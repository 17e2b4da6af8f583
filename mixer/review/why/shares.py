"""Each player's share of what they bring about together: Shapley values.

L. S. Shapley, "A value for n-person games" (1953): a player's share is what it adds on joining those who
came before, averaged over all orders in which they may come. Shares add up to the whole, equal players get
equal shares, and whoever never adds anything gets nothing. Exact where the players are few; for more, the
mean over orders drawn by chance (J. Castro, D. Gómez, J. Tejada, "Polynomial calculation of the Shapley
value based on sampling", 2009), whose shares add up to the whole as well, each with its standard error.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from itertools import combinations
from math import comb
from random import Random

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]
Worth = Callable[[frozenset[int]], Numbers]
"""What a set of players brings about: as many numbers for every set; those of nobody need not be 0."""
MOST_EXACT = 5
"""Players of whom all sets are tried: 32 at most."""
LEAST_ORDERS, SETS = 5, 48
"""Of more players so many orders are drawn that about so many sets are tried, but no fewer orders."""


@dataclass(frozen=True, slots=True)
class Shares:
    """One row a player, one column a number of the worth."""

    shares: Numbers
    errors: Numbers
    """Standard errors of the shares; 0 where they are exact."""
    orders: int
    """How many orders were drawn; 0 where all sets were tried."""


def shares_of(players: int, worth: Worth, seed: int = 1) -> Shares:
    """The shares of players 0, 1, ...; `worth` is asked once for each set that is needed."""
    once = cache(worth)
    return _exact(players, once) if players <= MOST_EXACT else _sampled(players, once, seed)


def orders_for(players: int) -> int:
    """How many orders are drawn; 0 where all sets are tried."""
    return 0 if players <= MOST_EXACT else max(LEAST_ORDERS, SETS // players)


def _exact(players: int, worth: Worth) -> Shares:
    shares = np.zeros((players, len(worth(frozenset()))))
    for player in range(players):
        others = [other for other in range(players) if other != player]
        for before in _sets(others):
            weight = 1 / (players * comb(players - 1, len(before)))
            shares[player] += weight * (worth(before | {player}) - worth(before))
    return Shares(shares, np.zeros_like(shares), 0)


def _sets(members: list[int]) -> Iterator[frozenset[int]]:
    for size in range(len(members) + 1):
        yield from map(frozenset, combinations(members, size))


def _sampled(players: int, worth: Worth, seed: int) -> Shares:
    random = Random(seed)  # noqa: S311 - a sample, no secret
    orders = orders_for(players)
    added = np.zeros((orders, players, len(worth(frozenset()))))
    for drawn in added:
        order = random.sample(range(players), players)
        for place, player in enumerate(order):
            before = frozenset(order[:place])
            drawn[player] = worth(before | {player}) - worth(before)
    return Shares(added.mean(axis=0), added.std(axis=0, ddof=1) / orders**0.5, orders)
