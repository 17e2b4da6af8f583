"""Q14 products as a board calculates them: all rounded alike, whole ones of a constant apart."""

from dataclasses import dataclass, field, replace
from types import MappingProxyType

from mixer.core.ops import HALF, ONE
from mixer.lower.graph.intervals import apply
from mixer.lower.graph.nodes import Graph, Node, Op, Range


@dataclass
class _Speller:
    graph: Graph
    nodes: list[Node] = field(default_factory=list)
    ranges: list[Range] = field(default_factory=list)
    moved: list[int] = field(default_factory=list)
    known: dict[tuple[Op, tuple[int, ...], int], int] = field(default_factory=dict)

    def add(self, node: Node, reach: Range | None = None) -> int:
        """A node, made once; without bounds those that follow from its operands."""
        found = self.known.setdefault((node.op, node.args, node.value), len(self.nodes))
        if found < len(self.nodes):
            return found
        self.ranges.append(apply(node, [self.ranges[arg] for arg in node.args]) if reach is None else reach)
        self.nodes.append(node)
        return len(self.nodes) - 1

    def spell(self, index: int) -> int:
        """A node of the graph among those that were made."""
        node, reach = self.graph.nodes[index], self.graph.ranges[index]
        factors = _factors(self.graph, node)
        if factors is None:
            return self._plain(node, tuple(self.moved[arg] for arg in node.args), reach)
        a, b = (self.moved[factor] for factor in factors)
        number = self.graph.nodes[factors[1]]
        if number.op is not Op.CONST:
            return self.add(Node(Op.MUL14, (a, b), 0, node.place), reach)
        if number.value < 0:
            turned = self._apart(a, -number.value, Range(-reach.high, -reach.low))
            return self.add(Node(Op.NEG, (turned,)), reach)
        return self._apart(a, number.value, reach)

    def _plain(self, node: Node, args: tuple[int, ...], reach: Range) -> int:
        """Any other; what is turned round is taken away instead of added."""
        for one, other in (args, args[::-1]) if node.op is Op.ADD else ():
            turned = self.nodes[other]
            if turned.op is Op.NEG and self.nodes[one].op is not Op.CONST:
                return self.add(Node(Op.SUB, (one, turned.args[0]), 0, node.place), reach)
        return self.add(node._replace(args=args), reach)

    def _apart(self, a: int, factor: int, reach: Range) -> int:
        """Whole times a number, and the rest of its product: halves fall where they fell, signs agree."""
        whole, rest = divmod(factor, ONE)
        if not (whole and rest):
            return self.add(Node(Op.MUL14, (a, self._constant(factor))), reach)
        part = self.add(Node(Op.MUL14, (a, self._constant(rest))))
        times = a if whole == 1 else self.add(Node(Op.MULTIPLY, (a, self._constant(whole))))
        return self.add(Node(Op.ADD, (times, part)), reach)

    def _constant(self, value: int) -> int:
        return self.add(Node(Op.CONST, (), value))


def _factors(graph: Graph, node: Node) -> tuple[int, int] | None:
    """The factors of a Q14 product.

    As MUL14; or as the plain shift that a graph has where the sign of a half is known, or cannot matter.
    """
    if node.op is Op.MUL14:
        return node.args[0], node.args[1]
    if node.op is not Op.SHIFT_RIGHT or node.value != 14:
        return None
    total = graph.nodes[node.args[0]]
    if total.op is not Op.ADD or graph.nodes[total.args[1]].op is not Op.CONST:
        return None
    product, half = total.args[0], graph.nodes[total.args[1]].value
    falls = half == HALF - 1 and graph.ranges[product].high <= 0
    if graph.nodes[product].op is not Op.MULTIPLY or not (half == HALF or falls):
        return None
    return graph.nodes[product].args[0], graph.nodes[product].args[1]


def spelled(graph: Graph) -> Graph:
    """An equal graph with its products as MUL14, their constants at most ONE or whole."""
    speller = _Speller(graph)
    for index in range(len(graph.nodes)):
        speller.moved.append(speller.spell(index))
    return replace(
        graph,
        nodes=tuple(speller.nodes),
        ranges=tuple(speller.ranges),
        signals=MappingProxyType({name: speller.moved[node] for name, node in graph.signals.items()}),
        state=tuple(speller.moved[node] for node in graph.state),
    )
