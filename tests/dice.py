"""One source of choices for two uses: a seeded generator, or hypothesis with its shrinking.

The makers of random plans and traces ask a `Dice`, so that both uses share every line.
"""

import random
from collections.abc import Callable, Sequence
from typing import Any, Protocol, TypeVar

from hypothesis import strategies as st

T = TypeVar("T")


class Dice(Protocol):
    """What the makers ask for."""

    def integer(self, low: int, high: int) -> int:
        """A whole number within [low, high], its ends more often than chance has it."""

    def pick(self, choices: Sequence[T]) -> T:
        """One of the choices."""

    def chance(self, percent: int) -> bool:
        """True about so often."""


class SeededDice:
    """Choices from a `random.Random`; equal seeds give equal plans."""

    def __init__(self, rng: random.Random) -> None:
        self._rng = rng

    def integer(self, low: int, high: int) -> int:
        """A whole number; one in six is an end of the range."""
        edge = self._rng.randrange(12)
        if edge < 2:
            return (low, high)[edge]
        return self._rng.randint(low, high)

    def pick(self, choices: Sequence[T]) -> T:
        """One of the choices, all alike."""
        return choices[self._rng.randrange(len(choices))]

    def chance(self, percent: int) -> bool:
        """True in `percent` of 100."""
        return self._rng.randrange(100) < percent


class DrawnDice:
    """Choices drawn from hypothesis, which shrinks them towards low, first and False."""

    def __init__(self, draw: Callable[[st.SearchStrategy[Any]], Any]) -> None:
        self._draw = draw

    def integer(self, low: int, high: int) -> int:
        """A whole number, or an end of its range."""
        return int(self._draw(st.integers(low, high)))

    def pick(self, choices: Sequence[T]) -> T:
        """One of the choices."""
        return choices[self._draw(st.integers(0, len(choices) - 1))]

    def chance(self, percent: int) -> bool:
        """True in `percent` of 100."""
        return bool(self._draw(st.integers(0, 99)) >= 100 - percent)
