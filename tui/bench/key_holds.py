"""Holding a key down, on terminals that tell only of presses: as long as presses repeat, it is held.

A terminal repeats a held key after a quarter to two thirds of a second and then some thirty times a second
(common practice, no source). A key counts as let go when no press came for `FIRST_S` after the first, or
`NEXT_S` after a later one: a tap therefore runs the stick for `FIRST_S`, no less.
"""

from collections.abc import Iterator

FIRST_S, NEXT_S = 0.7, 0.2

Held = tuple[str, int]
"""Name of the stick and the direction it is held in, -1 or 1."""


class KeyHolds:
    """Which sticks are held by keys now. Time is handed in."""

    def __init__(self) -> None:
        self._until: dict[Held, float] = {}

    def press(self, held: Held, now_s: float) -> bool:
        """A press, or a repeated one; whether it is the first."""
        first = held not in self._until
        self._until[held] = now_s + (FIRST_S if first else NEXT_S)
        return first

    def let_go(self, now_s: float) -> Iterator[Held]:
        """Everything that is not held any more; told once."""
        for held in [held for held, until in self._until.items() if now_s >= until]:
            del self._until[held]
            yield held
