"""Building a graph: each operation is simplified, then looked up, and only then made.

Equal operations on equal operands are one node (hash-consing), so common subexpressions are shared as
they arise. Every node carries its bounds from the start; a node with a single possible value becomes
that constant. The rewriting rules stand in `simplify`.
"""

from collections.abc import Sequence

from mixer.core.plan import Plan
from mixer.errors import InternalError
from mixer.lower.graph.intervals import bounds, meet
from mixer.lower.graph.nodes import CONTRACTS, Kind, Node, Op, Range
from mixer.lower.graph.simplify import RULES


class Builder:
    """A graph in the making. Nodes are referred to by their index."""

    def __init__(self, plan: Plan, inputs: Sequence[Range], state: Sequence[Range]) -> None:
        self.plan = plan
        self.nodes: list[Node] = []
        self.ranges: list[Range] = []
        self._leaves = {Op.INPUT: inputs, Op.STATE: state}
        self._known: dict[tuple[Op, tuple[int, ...], int], int] = {}

    def const(self, value: int) -> int:
        """The node of a number."""
        return self._intern(Node(Op.CONST, (), value))

    def truth(self, value: bool) -> int:
        """The node of a flag known while building."""
        return self._intern(Node(Op.TRUTH, (), int(value)))

    def value(self, index: int) -> int | None:
        """The number (of a flag 0 or 1) a node always is, or None."""
        node = self.nodes[index]
        return node.value if node.op in (Op.CONST, Op.TRUTH) else None

    def found(self, op: Op, *args: int) -> int | None:
        """The node of an operation that was made before, or None."""
        return self._known.get((op, args, 0))

    def make(self, op: Op, args: tuple[int, ...], value: int = 0, place: str = "") -> int:
        """The node of an operation, simplified. Raises InternalError for a flag taken as a number."""
        takes = CONTRACTS[op].takes
        if tuple(self.nodes[arg].kind for arg in args) != takes:
            raise InternalError(f"{place or 'the core'} mixes flags and numbers in {op.value}")
        known = self._known.get((op, args, value))
        if known is not None:
            return known
        rule = RULES.get(op)
        simpler = rule(self, args, value, place) if rule else None
        return self._intern(Node(op, args, value, place)) if simpler is None else simpler

    def narrow(self, index: int, known: Range) -> None:
        """Note bounds of a node that were found elsewhere."""
        both = meet(self.ranges[index], known)
        if both is not None:
            self.ranges[index] = both

    def _intern(self, node: Node) -> int:
        key = (node.op, node.args, node.value)
        known = self._known.get(key)
        if known is not None:
            return known
        leaves = self._leaves.get(node.op)
        reach = bounds(self.nodes, self.ranges, node) if leaves is None else leaves[node.value]
        if reach.low == reach.high and node.op not in (Op.CONST, Op.TRUTH):
            number = node.kind is Kind.NUMBER
            index = self.const(reach.low) if number else self.truth(reach.low == 1)
        else:
            index = len(self.nodes)
            self.nodes.append(node)
            self.ranges.append(reach)
        self._known[key] = index
        return index
