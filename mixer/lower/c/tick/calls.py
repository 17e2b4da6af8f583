"""Nodes that C says in one go, from what stands deeper in the graph than their operands."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple, Protocol

from mixer.lower.c.plain.expressions import Level
from mixer.lower.c.tick.expressions import Expression, Width, fitted, literal
from mixer.lower.c.tick.needed import Needs, needs_of
from mixer.lower.graph.nodes import Graph


class Spelled(Protocol):
    """How such a node is written."""

    @property
    def given(self) -> tuple[int, ...]:
        """The nodes that it is written from."""
        ...

    @property
    def work(self) -> int:
        """How much it does."""
        ...

    def spelled(self, args: Sequence[Expression]) -> Expression:
        """The node, from expressions of what is given."""
        ...


class Call(NamedTuple):
    """A node as a function's result."""

    name: str
    given: tuple[int, ...]
    more: tuple[int, ...]
    """Numbers of the plan that are handed over behind."""
    kinds: tuple[str, ...]
    """The types of all of them."""
    kind: str
    """The type of what comes back."""
    work: int = 0

    def spelled(self, args: Sequence[Expression]) -> Expression:
        """The call with what is handed over."""
        handed = [*args, *map(literal, self.more)]
        given = [fitted(kind, arg) for kind, arg in zip(self.kinds, handed, strict=True)]
        calls = frozenset[str]().union(*(arg.calls for arg in given))
        width = Width.LONG if self.kind == "int32_t" else Width.INT
        text = f"{self.name}({', '.join(arg.text for arg in given)})"
        return Expression(text, Level.ATOM, width, calls, self.kind)


def needs_around(
    graph: Graph, roots: Iterable[int], called: Mapping[int, Spelled], weight: Callable[[int], int]
) -> Needs:
    """What is needed where such nodes are not looked into."""

    def operands(index: int) -> tuple[int, ...]:
        return called[index].given if index in called else graph.nodes[index].args

    def work(index: int) -> int:
        return called[index].work if index in called else weight(index)

    return needs_of(graph, roots, operands, work, called)
