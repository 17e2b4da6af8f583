"""In which state a board's mix must be, found out while it runs: from all states there are to the one left.

Every state slot begins with the bounds that it keeps on every run from power-up (proven by induction,
`mixer.lower.graph.invariants`). Each tick's inputs are known, and so are the guard and the wires that the
board made of them; interval arithmetic over the tick's graph gives bounds that hold wherever within the
old ones the state was (R. E. Moore, Interval Analysis, 1966). When each slot has come down to one number,
a board that runs this mix is in that state, whatever was before: arm switch off, sticks heard, pauses
over, each actuator driven to a stop. A board that runs another mix may be led into a state it is not in;
then it differs, which is the truth about it; or into none at all, which is a difference as well. What its
inputs do not settle (a robot that can roll over may lie either way up) waits.
"""

from collections.abc import Sequence
from typing import NamedTuple

from mixer.board.frames import BoardMix
from mixer.core.drive import on_wire
from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import OutputPlan
from mixer.lower.graph.intervals import apply, bounds, meet
from mixer.lower.graph.nodes import Graph, Node, Op, Range


class Refuted(NamedTuple):
    """A number that a board told and this mix can never have made, whatever its state was."""

    number: int
    """0 for the guard's state, then one for each output's wire."""
    low: int
    """The least it can be."""
    high: int


class Narrowing:
    """The bounds of one plan's state while ticks go by."""

    def __init__(self, graph: Graph) -> None:
        self._graph = graph
        slots = layout_of(graph.plan).slots
        self._guard = graph.state[slots.guard.state]
        self._commands = [graph.state[output.command] for output in slots.outputs]
        self._known: dict[tuple[int, int], Range | None] = {}
        self._needed = graph.needed(graph.state)
        self._state = graph.state_ranges

    @property
    def state(self) -> list[int] | None:
        """The one state that is left; None while more than one is."""
        if any(slot.low != slot.high for slot in self._state):
            return None
        return [slot.low for slot in self._state]

    @property
    def unsettled(self) -> tuple[str, ...]:
        """Names of the slots that may still be this or that."""
        slots = zip(self._graph.slots, self._state, strict=True)
        return tuple(name for name, slot in slots if slot.low != slot.high)

    def begin(self) -> None:
        """Nothing is known any more."""
        self._state = self._graph.state_ranges

    def take(self, inputs: Sequence[int], seen: BoardMix) -> Refuted | None:
        """One tick with these inputs, in the order of the plan's layout, and what the board made of them.

        What cannot be, and nothing is known any more, where this mix can never have made that of them.
        """
        nodes, reach = self._graph.nodes, list(self._graph.ranges)
        told = self._told(seen)
        for index in self._needed:
            within = self._within(nodes[index], reach, inputs)
            for number, limits in told.get(index, ()):
                both = None if limits is None else meet(within, limits)
                if both is None:
                    self.begin()
                    return self._refuted(number, within)
                within = both
            reach[index] = within
        self._state = tuple(reach[node] for node in self._graph.state)
        return None

    def _refuted(self, number: int, within: Range) -> Refuted:
        """Bounds of a number as the board tells it, from those of what makes it."""
        if number == 0:
            return Refuted(number, within.low, within.high)
        output = self._graph.plan.outputs[number - 1]
        ends = on_wire(output, within.low), on_wire(output, within.high)
        return Refuted(number, min(ends), max(ends))

    def _within(self, node: Node, reach: list[Range], inputs: Sequence[int]) -> Range:
        """A node's bounds from those of its operands."""
        if node.op is Op.INPUT:
            return Range(inputs[node.value], inputs[node.value])
        if node.op is Op.STATE:
            return self._state[node.value]
        if node.op is not Op.SELECT:
            return apply(node, [reach[arg] for arg in node.args])
        condition, if_true, if_false = node.args
        if reach[condition].low == reach[condition].high:
            return reach[if_true] if reach[condition].low else reach[if_false]
        return bounds(self._graph.nodes, reach, node)

    def _told(self, seen: BoardMix) -> dict[int, list[tuple[int, Range | None]]]:
        """Nodes that the board tells of: which number it is, and bounds; None where no command makes it."""
        told: dict[int, list[tuple[int, Range | None]]] = {
            self._guard: [(0, Range(seen.guard, seen.guard))]
        }
        outputs = self._graph.plan.outputs
        for number, (node, wire) in enumerate(zip(self._commands, seen.wires, strict=True)):
            key = number, wire
            if key not in self._known:
                self._known[key] = commands_of(outputs[number], wire)
            told.setdefault(node, []).append((number + 1, self._known[key]))
        return told


def commands_of(output: OutputPlan, wire: int) -> Range | None:
    """All commands that put this on an output's wire, which never turns back as they rise; None if none."""
    way = -1 if output.reverse else 1

    def first(beyond: int) -> int:
        """The lowest command, counted along the wire, with the wire at `beyond` or more."""
        low, high = -ONE, ONE + 1
        while low < high:
            middle = (low + high) // 2
            if on_wire(output, way * middle) >= beyond:
                high = middle
            else:
                low = middle + 1
        return low

    low, high = first(wire), first(wire + 1) - 1
    if low > high:
        return None
    return Range(low, high) if way > 0 else Range(-high, -low)
