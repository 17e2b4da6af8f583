"""Opcodes written as strings of bits: 0 and 1 are fixed, a letter is a bit of the operand it names."""

from collections.abc import Callable, Sequence
from itertools import groupby
from typing import NamedTuple, TypeAlias

Meant: TypeAlias = Callable[[str, str, int], int]
"""What an operand's bits stand for, by the instruction's name and the operand's letter."""


class Pattern(NamedTuple):
    """One opcode of 16 bits."""

    name: str
    mask: int
    value: int
    fields: tuple[tuple[str, tuple[int, ...]], ...]
    """Letter, and its bits' places, highest first."""

    def fits(self, word: int) -> bool:
        """Whether a word is this instruction."""
        return word & self.mask == self.value

    def operands(self, word: int) -> list[tuple[str, int]]:
        """Letters and their numbers, in the order of the table."""
        return [
            (letter, sum((word >> at & 1) << up for up, at in enumerate(reversed(bits))))
            for letter, bits in self.fields
        ]


def read(patterns: Sequence[Pattern], word: int, meant: Meant) -> tuple[str, tuple[int, ...]] | None:
    """Name and operands of the instruction that a word is; None where it is none of them."""
    for pattern in patterns:
        if pattern.fits(word):
            name, fields = pattern.name, pattern.operands(word)
            return name, tuple(meant(name, letter, number) for letter, number in fields)
    return None


def patterns_of(table: str, order: str) -> Sequence[Pattern]:
    """A table with a name and sixteen bits a line; `order` is that of the operands' letters."""
    return tuple(_pattern(line, order) for line in table.strip().splitlines())


def _pattern(line: str, order: str) -> Pattern:
    name, bits = line.split()
    places = [(letter, 15 - at) for at, letter in enumerate(bits) if letter not in "01"]
    places.sort(key=lambda place: (order.index(place[0]), -place[1]))
    fields = tuple(
        (letter, tuple(at for _, at in run)) for letter, run in groupby(places, lambda at: at[0])
    )
    mask = int("".join("1" if letter in "01" else "0" for letter in bits), 2)
    value = int("".join(letter if letter in "01" else "0" for letter in bits), 2)
    return Pattern(name, mask, value, fields)
