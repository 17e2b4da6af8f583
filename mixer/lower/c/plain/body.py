"""The statements of a native tick in C: one `const` local for each number with a name or needed twice.

A number used once and without a name of its own is written inside the expression that uses it, as long as
that stays readable. All targets are assigned at the very end, when every old value has been read.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, TypeAlias

from mixer.lower.c.plain.expressions import Expression, Level, expression_of
from mixer.lower.c.plain.names import Identifiers
from mixer.lower.graph.nodes import Graph, Kind, Op

_LONGEST = 60
"""Characters of an expression that still goes into another one."""
LEAVES = (Op.CONST, Op.INPUT, Op.STATE)


class Target(NamedTuple):
    """What is assigned in the end: `place = node`."""

    place: str
    node: int


Express: TypeAlias = Callable[[Graph, int, Sequence[Expression]], Expression]
"""A node's operation on its operands' expressions."""


class Dialect(NamedTuple):
    """How numbers, flags and operations are written."""

    number: str
    """The type of every local that is a number."""
    flag: str
    express: Express


SCALAR = Dialect("int32_t", "bool", expression_of)


class Body(NamedTuple):
    """The statements, without indentation, and the run-time functions they call."""

    lines: list[str]
    calls: frozenset[str]


@dataclass
class _Writer:
    graph: Graph
    inputs: Sequence[Expression]
    state: Sequence[Expression]
    roots: frozenset[int]
    uses: Mapping[int, int]
    titles: Mapping[int, tuple[str, ...]]
    owners: Mapping[int, str]
    dialect: Dialect
    scope: Identifiers = field(default_factory=Identifiers)
    written: dict[int, Expression] = field(default_factory=dict)
    lines: list[str] = field(default_factory=list)
    calls: set[str] = field(default_factory=set)

    def write(self, index: int) -> None:
        """Make a node's expression, and a local for it where it deserves one."""
        node = self.graph.nodes[index]
        if node.op in LEAVES:
            self._write_leaf(index)
            return
        made = self.dialect.express(self.graph, index, [self.written[arg] for arg in node.args])
        titled = index in self.titles
        if titled or index in self.roots or self.uses[index] > 1 or len(made.text) > _LONGEST:
            self._declare(index, made)
        else:
            self.written[index] = made

    def _write_leaf(self, index: int) -> None:
        node = self.graph.nodes[index]
        if node.op is Op.CONST:
            self.written[index] = self.dialect.express(self.graph, index, [])
            return
        place = (self.inputs if node.op is Op.INPUT else self.state)[node.value]
        self.written[index] = place
        if node.op is Op.STATE and index in self.roots:
            slot = self.graph.slots[node.value]
            self._declare(index, self.written[index], f"before.{slot}")

    def _declare(self, index: int, made: Expression, wanted: str = "") -> None:
        titles = self.titles.get(index, ())
        name = self.scope.give(wanted or (titles[0] if titles else f"toward.{self.owners[index]}"))
        is_number = self.graph.nodes[index].kind is Kind.NUMBER
        kind = self.dialect.number if is_number else self.dialect.flag
        self.lines.append(f"const {kind} {name} = {made.text};")
        self.calls |= made.calls
        self.written[index] = Expression(name, Level.ATOM)

    def assign(self, target: Target) -> None:
        """The last statements."""
        self.lines.append(f"{target.place} = {self.written[target.node].text};")


def body_of(
    graph: Graph,
    targets: Sequence[Target],
    inputs: Sequence[Expression],
    state: Sequence[Expression],
    *,
    dialect: Dialect = SCALAR,
) -> Body:
    """One tick that ends in assigning the targets; whatever none of them needs is left out.

    `inputs` and `state` are what reads them in C, in the order of the graph's inputs and slots.
    """
    roots = frozenset(target.node for target in targets)
    uses = _uses(graph, roots)
    titles = titles_of(graph, uses)
    owners = owners_of(graph, uses, titles)
    writer = _Writer(graph, inputs, state, roots, uses, titles, owners, dialect)
    for index in sorted(uses):
        writer.write(index)
    for target in targets:
        writer.assign(target)
    return Body(writer.lines, frozenset(writer.calls))


def _uses(graph: Graph, roots: Iterable[int]) -> dict[int, int]:
    """How often each node that the roots need is an operand of such nodes."""
    uses = dict.fromkeys(roots, 0)
    waiting = list(uses)
    while waiting:
        for arg in graph.nodes[waiting.pop()].args:
            if arg not in uses:
                uses[arg] = 0
                waiting.append(arg)
            uses[arg] += 1
    return uses


def titles_of(graph: Graph, live: Collection[int]) -> dict[int, tuple[str, ...]]:
    """The signals each live node is, and the state slots it becomes where it is no signal.

    A flag that is only told to the outside as a number carries that number's name inside.
    """
    titles: dict[int, list[str]] = {}
    for name, index in graph.signals.items():
        titles.setdefault(_flag_of(graph, index) if index not in live else index, []).append(name)
    for name, index in zip(graph.slots, graph.state, strict=True):
        if index not in titles:
            titles[index] = [f"next.{name}"]
    return {
        index: tuple(names)
        for index, names in titles.items()
        if index in live and graph.nodes[index].op not in LEAVES
    }


def owners_of(graph: Graph, live: Iterable[int], titles: Mapping[int, tuple[str, ...]]) -> dict[int, str]:
    """For each live node the nearest title it is, or contributes to."""
    owners: dict[int, str] = {}
    for index in sorted(live, reverse=True):
        own = titles[index][0] if index in titles else owners.get(index, "result")
        owners[index] = own
        for arg in graph.nodes[index].args:
            owners[arg] = own
    return owners


def _flag_of(graph: Graph, index: int) -> int:
    """The flag behind `flag ? 1 : 0`, else the node itself."""
    node = graph.nodes[index]
    if node.op is not Op.SELECT:
        return index
    arms = [graph.nodes[arg] for arg in node.args[1:]]
    is_number = [(arm.op, arm.value) for arm in arms] == [(Op.CONST, 1), (Op.CONST, 0)]
    return node.args[0] if is_number else index
