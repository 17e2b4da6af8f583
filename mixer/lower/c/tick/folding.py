"""What hangs on one pulse alone is known for each value: questions become bounds, odd functions are halved.

Whether a stick is at neutral is asked of the pulse itself, without scaling it. A function that is
exactly odd about the stick's centre is made of the distance from the centre alone, and gets its sign in
the end: products of numbers that are never negative are the cheapest. Both are found by trying every
pulse there is.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.lower.c.tick.hanging import Hanging, hanging_on
from mixer.lower.graph.builder import Builder
from mixer.lower.graph.nodes import Graph, Kind, Node, Op, Range
from mixer.lower.graph.trace import input_ranges


@dataclass
class _Folder:
    graph: Graph
    build: Builder
    hung: dict[int, Hanging]
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
            if made is None and node.op is Op.SELECT:
                made = self._signed_choice(*(self.moved[arg] for arg in node.args))
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

    def _signed_choice(self, flag: int, *arms: int) -> int | None:
        """A choice of two amounts that both get the same sign, which is put on once; else None."""
        build, (one, other) = self.build, (self.build.nodes[arm] for arm in arms)
        if one.op is not Op.SELECT or other.op is not Op.SELECT or one.args[0] != other.args[0]:
            return None
        amounts = [node.args[2] for node in (one, other)]
        turned = [build.make(Op.NEG, (amount,)) for amount in amounts]
        if turned != [one.args[1], other.args[1]]:
            return None
        amount = build.make(Op.SELECT, (flag, *amounts))
        return build.make(Op.SELECT, (one.args[0], build.make(Op.NEG, (amount,)), amount))

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

    def _asked(self, index: int, hung: Hanging) -> int | None:
        """A flag as bounds of the pulse; None where it holds here and there."""
        holds = np.flatnonzero(hung.values[index])
        if not len(holds) or holds[-1] - holds[0] + 1 != len(holds):
            return None
        build, pulse = self.build, self.moved[hung.root]
        low, high = (build.const(int(hung.values[hung.root][at])) for at in (holds[0], holds[-1]))
        least = build.make(Op.LESS_EQUAL, (low, pulse))
        return build.make(Op.AND, (least, build.make(Op.LESS_EQUAL, (pulse, high))))

    def _halved(self, index: int, hung: Hanging) -> int | None:
        """An odd function of a travel, made of its distance; None where it is no such function."""
        for travel in self._travels(hung, index):
            way, end = hung.values[travel], self.graph.ranges[travel].high
            half = np.zeros(end + 1, np.int64)
            half[np.abs(way)] = np.abs(hung.values[index])
            sign = 1 if hung.values[index][-1] >= 0 else -1
            if np.array_equal(np.sign(way) * half[np.abs(way)] * sign, hung.values[index]):
                return self._signed(index, travel, hung)
        return None

    def _travels(self, hung: Hanging, index: int) -> Iterable[int]:
        """What could be the signed travel that a node is made of."""
        for travel in sorted(hung.values):
            node, reach = self.graph.nodes[travel], self.graph.ranges[travel]
            even = node.op is Op.CLAMP and reach.low == -reach.high
            if travel < index and even and travel not in hung.work and self._hangs_on(index, travel, hung):
                yield travel

    def _signed(self, index: int, travel: int, hung: Hanging) -> int:
        """The amount that a node has, with the sign of the travel."""
        build, way = self.build, self.moved[self.graph.nodes[travel].args[0]]
        half = self._half(index, travel, hung)
        backward = build.make(Op.LESS, (way, build.const(0)))
        return build.make(Op.SELECT, (backward, build.make(Op.NEG, (half,)), half))

    def _hangs_on(self, index: int, travel: int, hung: Hanging) -> bool:
        """Whether a node hangs on the travel alone, and on the pulse through it only."""
        if index == travel or index not in hung.values:
            return True
        own = [arg for arg in self.graph.nodes[index].args if arg in hung.values]
        return index != hung.root and all(self._hangs_on(arg, travel, hung) for arg in own)

    def _half(self, index: int, travel: int, hung: Hanging) -> int:
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
    hung: dict[int, Hanging] = {}
    roots = {*graph.state, *graph.signals.values()}
    for channel in layout_of(graph.plan).names.channels:
        pulse = graph.signals.get(channel.pulse)
        if pulse is not None and graph.nodes[pulse].op is not Op.CONST:
            found = hanging_on(graph, pulse, roots)
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
