"""What a rewriting rule may ask of the graph in the making, and what a rule is."""

from collections.abc import Callable, Sequence
from typing import Protocol, TypeAlias

from mixer.lower.graph.nodes import Node, Op, Range

Args: TypeAlias = tuple[int, ...]


class Making(Protocol):
    """A graph in the making, as `builder.Builder` is."""

    @property
    def nodes(self) -> Sequence[Node]:
        """All so far."""
        ...

    @property
    def ranges(self) -> Sequence[Range]:
        """Their bounds."""
        ...

    def const(self, value: int) -> int:
        """The node of a number."""
        ...

    def truth(self, value: bool) -> int:
        """The node of a flag that is known."""
        ...

    def value(self, index: int) -> int | None:
        """The number (of a flag 0 or 1) a node always is, or None."""
        ...

    def found(self, op: Op, *args: int) -> int | None:
        """The node of an operation that was made before, or None."""
        ...

    def make(self, op: Op, args: Args, value: int = 0, place: str = "") -> int:
        """The node of an operation, simplified."""
        ...


Rule: TypeAlias = Callable[[Making, Args, int, str], int | None]
"""(graph, operands, value, place) -> an equal node, or None to keep the operation."""
