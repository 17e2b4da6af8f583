"""Shapley values against their definition and the four laws that make them the only ones (Shapley 1953)."""

from collections.abc import Callable
from itertools import permutations
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mixer.review.why.shares import MOST_EXACT, orders_for, shares_of

Game = Callable[[frozenset[int]], np.ndarray]


def game(seed: int) -> Game:
    """Any worth whatever for each set, of two numbers."""

    def worth(members: frozenset[int]) -> np.ndarray:
        random = Random(f"{seed} {sorted(members)}")
        return np.array([random.uniform(-5, 5), random.uniform(0, 1)])

    return worth


def whole(worth: Game, players: int) -> np.ndarray:
    """What all bring about that nobody does not."""
    return worth(frozenset(range(players))) - worth(frozenset())


@given(st.integers(0, 10**6), st.integers(1, 5))
@settings(max_examples=25)
def test_they_are_the_mean_over_all_orders(seed: int, players: int) -> None:
    """The definition: what each adds on joining, in the mean over every order, written out."""
    worth, orders = game(seed), list(permutations(range(players)))
    expected = np.zeros((players, 2))
    for order in orders:
        for place, player in enumerate(order):
            before = frozenset(order[:place])
            expected[player] += worth(before | {player}) - worth(before)
    found = shares_of(players, worth)
    assert found.shares == pytest.approx(expected / len(orders))
    assert not found.errors.any()
    assert found.orders == 0


@given(st.integers(0, 10**6), st.integers(1, MOST_EXACT + 4))
@settings(max_examples=25)
def test_they_add_up_to_the_whole(seed: int, players: int) -> None:
    """Exact or drawn, nothing of the difference is lost and nothing added."""
    worth = game(seed)
    found = shares_of(players, worth)
    assert found.shares.sum(axis=0) == pytest.approx(whole(worth, players))
    assert found.orders == orders_for(players)
    assert (found.orders > 0) is (players > MOST_EXACT)


@given(st.integers(0, 10**6), st.sampled_from([4, MOST_EXACT + 2]))
@settings(max_examples=10)
def test_who_adds_nothing_gets_nothing(seed: int, players: int) -> None:
    """A player that changes no set's worth has a share of 0, exact or drawn."""
    worth = game(seed)
    found = shares_of(players, lambda members: worth(members - {1}))
    assert found.shares[1] == pytest.approx(0)


def test_equals_get_equal_shares() -> None:
    """Of a worth that only counts heads each of four gets a quarter."""
    found = shares_of(4, lambda members: np.array([len(members) ** 2.0]))
    assert found.shares[:, 0] == pytest.approx([4.0] * 4)


def test_a_published_example() -> None:
    """The glove game, as textbooks have it: two left gloves, one right; a pair is worth 1 (from memory)."""

    def pairs(members: frozenset[int]) -> np.ndarray:
        return np.array([float(min(len(members & {0, 1}), len(members & {2})))])

    assert shares_of(3, pairs).shares[:, 0] == pytest.approx([1 / 6, 1 / 6, 4 / 6])


def test_drawn_shares_come_near_with_their_error() -> None:
    """Ten players, a sum with a quarrel in it: drawn shares lie within four errors of the exact ones."""

    def worth(members: frozenset[int]) -> np.ndarray:
        return np.array([float(sum(members)) - 3.0 * ({2, 7} <= members)])

    found = shares_of(10, worth)
    exact = np.arange(10.0) - 1.5 * np.isin(np.arange(10), [2, 7])
    near = abs(found.shares[:, 0] - exact) <= 4 * found.errors[:, 0] + 1e-9
    assert near.all()
    assert found.errors[2, 0] > 0
