"""Numbers that a program computes, by what they are made of: equal expressions are one value.

A value is an int: a constant c is ~c, so below 0; anything else is the number of its node. Since equal
expressions are the same value, what a branch has taught about one is known wherever it is used again.
"""

from typing import NamedTuple

OFFSET = "offset"
"""A base plus a constant: addresses in one object, and whatever else differs by a constant."""


class Node(NamedTuple):
    """How a value came to be."""

    op: str
    args: tuple[int, ...]
    bits: int


class Values:
    """All values of one analysis."""

    def __init__(self) -> None:
        self.nodes: list[Node] = []
        self._numbers: dict[Node, int] = {}
        self.parts: dict[int, int] = {}
        """The lower byte of a word, once it was asked for."""

    def fresh(self, bits: int) -> int:
        """A number of which nothing is known."""
        self.nodes.append(Node("", (), bits))
        return len(self.nodes) - 1

    def node(self, op: str, args: tuple[int, ...], bits: int) -> int:
        """The value of an expression, the same for every call with the same arguments."""
        made = Node(op, args, bits)
        found = self._numbers.get(made)
        if found is None:
            found = self._numbers[made] = len(self.nodes)
            self.nodes.append(made)
        return found

    def op(self, value: int) -> str:
        """Its operation; empty for a constant, and for what nothing is known of."""
        return self.nodes[value].op if value >= 0 else ""

    def args(self, value: int) -> tuple[int, ...]:
        """The operands."""
        return self.nodes[value].args

    def bits(self, value: int) -> int:
        """Its width; 0 for a constant, which fits any."""
        return self.nodes[value].bits if value >= 0 else 0

    def based(self, value: int) -> tuple[int, int]:
        """Base and offset of a value; of a constant the base is the constant 0, which is ~0."""
        if value < 0:
            return ~0, ~value
        node = self.nodes[value]
        return (node.args[0], ~node.args[1]) if node.op == OFFSET else (value, 0)

    def at(self, base: int, offset: int, bits: int) -> int:
        """The value at a base and an offset, modulo 2^bits."""
        if base < 0:
            return ~((~base + offset) & (1 << bits) - 1)
        offset &= (1 << bits) - 1
        return self.node(OFFSET, (base, ~offset), bits) if offset else base
