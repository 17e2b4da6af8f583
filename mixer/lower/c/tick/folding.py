"""What hangs on one pulse alone is known for each value: questions become bounds, odd functions are halved.

Whether a stick is at neutral is asked of the pulse itself, without scaling it. A function that is
exactly odd about the stick's centre is made of the distance from the centre alone, and gets its sign in
the end: products of numbers that are never negative are the cheapest. Both are found by trying every
pulse there is.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.lower.graph.builder import Builder
from mixer.lower.graph.nodes import Graph, Kind, Node, Op, Range
from mixer.lower.graph.trace import input_ranges

Numbers = NDArray[np.int64]
_WORK = (Op.MUL14, Op.MULTIPLY)


@dataclass
class _Hung:
    """The nodes that hang on one pulse, with what each comes to for each of its values."""

    pulse: int
    values: dict[int, Numbers]
    work: set[int]
    """Those that multiply on the way."""
    ends: set[int]
    """Those that others use."""


def _hung(graph: Graph, pulse: int) -> _Hung:
    reach = graph.ranges[pulse]
    values: dict[int, Numbers] = {pulse: np.arange(reach.low, reach.high + 1, dtype=np.int64)}
    work: set[int] = set()
    for index in range(pulse + 1, len(graph.nodes)):
        node = graph.nodes[index]
        hangs = [arg for arg in node.args if arg in values]
        if not hangs or not all(arg in values or graph.nodes[arg].op is Op.CONST for arg in node.args):
            continue
        args = [values[arg] if arg in values else np.int64(graph.nodes[arg].value) for arg in node.args]
        values[index] = _come_to(node, args)
        if node.op in _WORK or any(arg in work for arg in hangs):
            work.add(index)
    roots = {*graph.state, *graph.signals.values()}
    ends = {index for index in values if index in roots}
    for index, node in enumerate(graph.nodes):
        if index not in values:
            ends |= {arg for arg in node.args if arg in values}
    return _Hung(pulse, values, work, ends - {pulse})


def _come_to(node: Node, args: Sequence[Numbers | np.int64]) -> Numbers:
    """A node of arrays, by its contract."""
    a = args[0]
    b = args[1] if len(args) > 1 else a
    c = args[2] if len(args) > 2 else a
    made: Mapping[Op, Callable[[], object]] = {
        Op.ADD: lambda: a + b,
        Op.SUB: lambda: a - b,
        Op.NEG: lambda: -a,
        Op.MULTIPLY: lambda: a * b,
        Op.MUL14: lambda: (a * b + 8192 + ((a * b) >> 31)) >> 14,
        Op.SHIFT_RIGHT: lambda: a >> node.value,
        Op.DIVIDE: lambda: a // np.maximum(b, 1),
        Op.ABSOLUTE: lambda: np.abs(a),
        Op.MINIMUM: lambda: np.minimum(a, b),
        Op.MAXIMUM: lambda: np.maximum(a, b),
        Op.CLAMP: lambda: np.clip(a, b, c),
        Op.SELECT: lambda: np.where(a != 0, b, c),
        Op.LESS: lambda: a < b,
        Op.LESS_EQUAL: lambda: a <= b,
        Op.EQUAL: lambda: a == b,
        Op.NOT_EQUAL: lambda: a != b,
        Op.AND: lambda: (a != 0) & (b != 0),
        Op.OR: lambda: (a != 0) | (b != 0),
        Op.NOT: lambda: a == 0,
    }
    return np.asarray(made[node.op](), np.int64)


@dataclass
class _Folder:
    graph: Graph
    build: Builder
    hung: dict[int, _Hung]
    """For each node that hangs on a pulse, what hangs on it."""
    moved: list[int] = field(default_factory=list)
    halves: dict[int, int] = field(default_factory=dict)
    """What some nodes are of a distance in place of a signed travel."""

    def fold(self) -> None:
        """Build everything anew."""
        for index, node in enumerate(self.graph.nodes):
            made = self._folded(index, node)
            if made is None and node.op is Op.MUL14:
                made = self._scaled(*(self.moved[arg] for arg in node.args))
            if made is None and node.op is Op.OR:
                made = self._absorbed(*(self.moved[arg] for arg in node.args))
            if made is None:
                made = self.build.make(
                    node.op, tuple(self.moved[arg] for arg in node.args), node.value, node.place
                )
                self.build.narrow(made, self.graph.ranges[index])
            self.moved.append(made)

    def _scaled(self, number: int, factor: int) -> int | None:
        """What a group's factor makes of a number: nothing new while the group is within range."""
        build = self.build
        share = build.nodes[factor]
        if (
            share.op is not Op.DIVIDE
            or build.value(share.args[0]) != ONE * ONE
            or build.ranges[share.args[1]].low != ONE
        ):
            return None
        within = build.make(Op.LESS_EQUAL, (share.args[1], build.const(ONE)))
        return build.make(Op.SELECT, (within, number, build.make(Op.MUL14, (number, factor))))

    def _absorbed(self, *flags: int) -> int | None:
        """The one of two flags that holds wherever the other does; None where neither is known to."""
        for one, other in (flags, flags[::-1]):
            node = self.build.nodes[other]
            sides = [self.build.nodes[arg] for arg in node.args]
            if node.op not in (Op.LESS, Op.LESS_EQUAL) or all(side.op is not Op.SELECT for side in sides):
                continue
            args = [side.args[1] if side.op is Op.SELECT and side.args[0] == one else arg
                    for side, arg in zip(sides, node.args, strict=True)]  # fmt: skip
            if self.build.value(self.build.make(node.op, tuple(args))) == 1:
                return other
        return None

    def _folded(self, index: int, node: Node) -> int | None:
        hung = self.hung.get(index)
        if hung is None or index not in hung.ends or index not in hung.work:
            return None
        return self._asked(index, hung) if node.kind is Kind.FLAG else self._halved(index, hung)

    def _asked(self, index: int, hung: _Hung) -> int | None:
        """A flag as bounds of the pulse; None where it holds here and there."""
        holds = np.flatnonzero(hung.values[index])
        if not len(holds) or holds[-1] - holds[0] + 1 != len(holds):
            return None
        build, pulse = self.build, self.moved[hung.pulse]
        low, high = (build.const(int(hung.values[hung.pulse][at])) for at in (holds[0], holds[-1]))
        least = build.make(Op.LESS_EQUAL, (low, pulse))
        return build.make(Op.AND, (least, build.make(Op.LESS_EQUAL, (pulse, high))))

    def _halved(self, index: int, hung: _Hung) -> int | None:
        """An odd function of a travel, made of its distance; None where it is no such function."""
        for travel in self._travels(hung, index):
            way, end = hung.values[travel], self.graph.ranges[travel].high
            half = np.zeros(end + 1, np.int64)
            half[np.abs(way)] = np.abs(hung.values[index])
            sign = 1 if hung.values[index][-1] >= 0 else -1
            if np.array_equal(np.sign(way) * half[np.abs(way)] * sign, hung.values[index]):
                return self._signed(index, travel, hung)
        return None

    def _travels(self, hung: _Hung, index: int) -> Iterable[int]:
        """What could be the signed travel that a node is made of."""
        for travel in sorted(hung.values):
            node, reach = self.graph.nodes[travel], self.graph.ranges[travel]
            even = node.op is Op.CLAMP and reach.low == -reach.high
            if travel < index and even and travel not in hung.work and self._hangs_on(index, travel, hung):
                yield travel

    def _signed(self, index: int, travel: int, hung: _Hung) -> int:
        """The amount that a node has, with the sign of the travel."""
        build, way = self.build, self.moved[self.graph.nodes[travel].args[0]]
        half = self._half(index, travel, hung)
        backward = build.make(Op.LESS, (way, build.const(0)))
        return build.make(Op.SELECT, (backward, build.make(Op.NEG, (half,)), half))

    def _hangs_on(self, index: int, travel: int, hung: _Hung) -> bool:
        """Whether a node hangs on the travel alone, and on the pulse through it only."""
        if index == travel or index not in hung.values:
            return True
        own = [arg for arg in self.graph.nodes[index].args if arg in hung.values]
        return index != hung.pulse and all(self._hangs_on(arg, travel, hung) for arg in own)

    def _half(self, index: int, travel: int, hung: _Hung) -> int:
        """A node of the distance: what it is where the travel is not negative."""
        known = self.halves.get(index)
        if known is not None:
            return known
        build, node = self.build, self.graph.nodes[index]
        if index == travel:
            way, high = (self.moved[node.args[at]] for at in (0, 2))
            made = build.make(Op.MINIMUM, (build.make(Op.ABSOLUTE, (way,)), high))
        elif index not in hung.values:
            made = self.moved[index]
        else:
            args = tuple(self._half(arg, travel, hung) for arg in node.args)
            made = build.make(node.op, args, node.value, node.place)
        if index in hung.values and node.kind is Kind.NUMBER:
            here = hung.values[index][hung.values[travel] >= 0]
            build.narrow(made, Range(int(here.min()), int(here.max())))
        self.halves[index] = made
        return made


def folded(graph: Graph) -> Graph:
    """An equal graph, quicker on a board."""
    hung: dict[int, _Hung] = {}
    for channel in layout_of(graph.plan).names.channels:
        pulse = graph.signals.get(channel.pulse)
        if pulse is not None and graph.nodes[pulse].op is not Op.CONST:
            found = _hung(graph, pulse)
            hung |= dict.fromkeys(found.values, found)
    build = Builder(graph.plan, input_ranges(graph.plan), graph.state_ranges)
    folder = _Folder(graph, build, hung)
    folder.fold()
    signals = {name: folder.moved[index] for name, index in graph.signals.items()}
    return replace(
        graph,
        nodes=tuple(build.nodes),
        ranges=tuple(build.ranges),
        signals=MappingProxyType(signals),
        state=tuple(folder.moved[index] for index in graph.state),
    )
