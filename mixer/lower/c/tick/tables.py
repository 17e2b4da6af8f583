"""Tables in flash for what sticks make of their distance from the centre, where that saves three products.

The numbers of a table stand in segments of sixteen: where a segment begins, how it rises, and what each
number has more than that. A table that does not come out to the last number is not made.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import NamedTuple

from mixer.lower.c.tick.hanging import hanging_on
from mixer.lower.graph.intervals import apply, is_within
from mixer.lower.graph.nodes import Graph, Kind, Node, Op, Range

SEGMENT = 16
_BYTE = Range(0, 255)
_WORD = 2**16
_LEAST_SAVED = 3
"""So many Q14 products make a table worth its bytes."""
_LONGEST = 1024
"""Numbers: the widest travel of a stick that a table is made for, in µs."""


class Segments(NamedTuple):
    """Numbers as flash holds them."""

    base: list[int]
    slope: list[int]
    more: list[int]

    def number(self, at: int) -> int:
        """What the C makes of them again."""
        risen = self.slope[at // SEGMENT] * (at % SEGMENT)
        return (self.base[at // SEGMENT] + risen + self.more[at]) % _WORD


def segments_of(numbers: Sequence[int]) -> Segments | None:
    """The numbers in segments; None where bytes do not hold slopes and what is more."""
    made = Segments([], [], [])
    for start in range(0, len(numbers), SEGMENT):
        part = numbers[start : start + SEGMENT]
        slope = min(range(_BYTE.high + 1), key=lambda slope: _spread(part, slope))
        rests = [number - slope * at for at, number in enumerate(part)]
        made.base.append(min(rests) % _WORD)
        made.slope.append(slope)
        made.more.extend(rest - min(rests) for rest in rests)
    fits = all(more in _BYTE for more in made.more)
    return made if fits and [made.number(at) for at in range(len(numbers))] == list(numbers) else None


def whole_segments(numbers: Sequence[int]) -> list[int]:
    """The numbers with the last one again and again, up to the end of its segment."""
    return [*numbers, *[numbers[-1]] * (-len(numbers) % SEGMENT)] if numbers else []


def _spread(part: Sequence[int], slope: int) -> int:
    rests = [number - slope * at for at, number in enumerate(part)]
    return max(rests) - min(rests)


@dataclass
class _Tabler:
    """Builds a graph anew, with lookups."""

    graph: Graph
    wanted: Mapping[int, tuple[int, tuple[int, ...]]]
    """For each node that becomes a lookup the distance it hangs on, and its numbers, none negative."""
    turned: Collection[int]
    """Those that are the opposite of their numbers."""
    nodes: list[Node] = field(default_factory=list)
    ranges: list[Range] = field(default_factory=list)
    moved: list[int] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    starts: dict[tuple[int, ...], int] = field(default_factory=dict)
    known: dict[Node, int] = field(default_factory=dict)

    def build(self) -> None:
        """Everything, in its order."""
        for index, node in enumerate(self.graph.nodes):
            if index in self.wanted:
                self.moved.append(self._looked_up(index))
                continue
            args = tuple(self.moved[arg] for arg in node.args)
            made = self._chosen(args, self.graph.ranges[index]) if node.op is Op.SELECT else None
            self.moved.append(
                self._add(node._replace(args=args), self.graph.ranges[index]) if made is None else made
            )

    def _looked_up(self, index: int) -> int:
        distance, numbers = self.wanted[index]
        position = self._add(
            Node(Op.ADD, (self.moved[distance], self._constant(self._start(numbers)))),
        )
        looked_up = self._add(Node(Op.LOOKUP, (position,)), Range(min(numbers), max(numbers)))
        return self._add(Node(Op.NEG, (looked_up,))) if index in self.turned else looked_up

    def _start(self, numbers: tuple[int, ...]) -> int:
        """Where a table begins; equal tables are one."""
        if numbers not in self.starts:
            self.numbers = whole_segments(self.numbers)
            self.starts[numbers] = len(self.numbers)
            self.numbers += numbers
        return self.starts[numbers]

    def _chosen(self, args: Sequence[int], reach: Range) -> int | None:
        """One lookup in place of a choice of two by the same distance."""
        flag, *arms = args
        if any(self.nodes[arm].op is not Op.LOOKUP for arm in arms):
            return None
        (one, first), (other, second) = (self.nodes[self.nodes[arm].args[0]].args for arm in arms)
        if one != other:
            return None
        low = min(self.ranges[first].low, self.ranges[second].low)
        start = self._add(
            Node(Op.SELECT, (flag, first, second)),
            Range(low, max(self.ranges[first].high, self.ranges[second].high)),
        )
        return self._add(Node(Op.LOOKUP, (self._add(Node(Op.ADD, (one, start))),)), reach)

    def _constant(self, value: int) -> int:
        return self._add(Node(Op.CONST, (), value))

    def _add(self, node: Node, reach: Range | None = None) -> int:
        """A node, made once; without bounds those that follow from its operands."""
        found = self.known.setdefault(node, len(self.nodes))
        if found == len(self.nodes):
            self.ranges.append(
                apply(node, [self.ranges[arg] for arg in node.args]) if reach is None else reach
            )
            self.nodes.append(node)
        return found


def tabled(graph: Graph, roots: Collection[int]) -> Graph:
    """An equal graph with a lookup wherever one saves three products, as far as `roots` need them."""
    wanted: dict[int, tuple[int, tuple[int, ...]]] = {}
    turned = set()
    for distance in graph.needed(roots):
        if distance in wanted or not _is_distance(graph, distance):
            continue
        hung = hanging_on(graph, distance, roots)
        for end in hung.ends & hung.work:
            numbers = tuple(map(int, hung.values[end]))
            amounts = tuple(map(abs, numbers))
            one_way = min(numbers) >= 0 or max(numbers) <= 0
            if (
                graph.nodes[end].kind is Kind.NUMBER
                and one_way
                and _products(graph, end, distance) >= _LEAST_SAVED
                and segments_of(whole_segments(amounts))
            ):
                wanted[end] = distance, amounts
                if min(numbers) < 0:
                    turned.add(end)
    tabler = _Tabler(graph, wanted, turned)
    tabler.build()
    return replace(
        graph,
        nodes=tuple(tabler.nodes),
        ranges=tuple(tabler.ranges),
        signals=MappingProxyType({name: tabler.moved[node] for name, node in graph.signals.items()}),
        state=tuple(tabler.moved[node] for node in graph.state),
        table=tuple(tabler.numbers),
    )


def _is_distance(graph: Graph, index: int) -> bool:
    """What `folding` makes of a stick's travel."""
    reach = graph.ranges[index]
    return graph.nodes[index].op in (Op.MINIMUM, Op.ABSOLUTE) and is_within(reach, Range(0, _LONGEST - 1))


def _products(graph: Graph, end: int, distance: int) -> int:
    """How many Q14 products lie between a distance and what becomes of it."""
    seen, waiting = set[int](), [end]
    while waiting:
        index = waiting.pop()
        if index not in seen and index != distance:
            seen.add(index)
            waiting += graph.nodes[index].args
    return sum(graph.nodes[index].op is Op.MUL14 for index in seen)
