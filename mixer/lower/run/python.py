"""The graph as straight-line Python, compiled once: what the live bench and replay run.

One statement for each node that is used more than once; a node used once stands inside its user. There a
conditional expression computes only the arm it needs, which is right because every node is pure.
Operands that an expression mentions twice are bound in place (`:=`) on first mention.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import TypeAlias

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.lower.graph.nodes import Graph, Node, Op
from mixer.lower.graph.trace import trace

TickFunction: TypeAlias = Callable[[Sequence[int], Sequence[int]], tuple[tuple[int, ...], tuple[int, ...]]]
"""(inputs, state) -> (signals, next state), in the order of the plan's layout."""

_DEEPEST = 40  # expressions nested deeper than this get a statement of their own

# {a}, {b}, {c} are operands; {a!t} style doubles are handled by naming the operand first: see _bound.
_PLAIN: Mapping[Op, str] = MappingProxyType(
    {
        Op.ADD: "({0} + {1})",
        Op.SUB: "({0} - {1})",
        Op.NEG: "(-{0})",
        Op.MULTIPLY: "({0} * {1})",
        Op.DIVIDE: "({0} // {1})",
        Op.SELECT: "({1} if {0} else {2})",
        Op.LESS: "({0} < {1})",
        Op.LESS_EQUAL: "({0} <= {1})",
        Op.EQUAL: "({0} == {1})",
        Op.NOT_EQUAL: "({0} != {1})",
        Op.AND: "({0} and {1})",
        Op.OR: "({0} or {1})",
        Op.NOT: "(not {0})",
    }
)

# {0} is an operand on first mention, where it is bound; {0n} the name it then has.
_TWICE: Mapping[Op, str] = MappingProxyType(
    {
        Op.ABSOLUTE: "({n0} if {f0} >= 0 else -{n0})",
        Op.MINIMUM: "({n0} if {f0} < {f1} else {n1})",
        Op.MAXIMUM: "({n0} if {f0} > {f1} else {n1})",
        Op.CLAMP: "({n1} if {f0} < {f1} else {n2} if {n0} > {f2} else {n0})",
    }
)


def compile_tick(plan: Plan, signals: Iterable[str] | None = None) -> TickFunction:
    """The plan's tick as one Python function: `(inputs, state) -> (signals, state)`, both tuples.

    `inputs` and `state` are sequences of plain ints in the order of the plan's layout. Bit for bit what
    `core.tick.tick` gives, for every state a run from the start state can reach. `signals` chooses which
    signals come back, in the order of the layout; fewer are faster; None means all. Raises ValueError
    for an unknown signal.
    """
    return compile_graph(trace(plan, signals))


def compile_graph(graph: Graph) -> TickFunction:
    """As `compile_tick`, for a graph at hand."""
    names: dict[str, TickFunction] = {}
    code = compile(source_of(graph), f"<tick of {graph.plan.name}>", "exec", dont_inherit=True)
    exec(code, names)  # noqa: S102 - the text is made below from integers and operators alone
    return names["tick"]


def source_of(graph: Graph) -> str:
    """The text of that function."""
    return _Writer(graph).text()


class _Writer:
    """Writes a graph's nodes as expressions, those used more than once as statements."""

    def __init__(self, graph: Graph) -> None:
        self.graph = graph
        self.inlined = _inlined(graph)
        self.texts: dict[int, str] = {}
        self.lines: list[str] = []

    def text(self) -> str:
        """The whole function."""
        self._read("inputs", Op.INPUT, len(layout_of(self.graph.plan).inputs), "i")
        self._read("state", Op.STATE, len(self.graph.state), "s")
        for index, node in enumerate(self.graph.nodes):
            expression = self._expression(index, node)
            if node.op in _LEAVES or index in self.inlined:
                self.texts[index] = expression
            else:
                self.texts[index] = f"v{index}"
                self.lines.append(f"v{index} = {_bare(expression)}")
        signals = _tuple(self.texts[index] for index in self.graph.signals.values())
        state = _tuple(self.texts[index] for index in self.graph.state)
        body = "\n    ".join([*self.lines, f"return {signals}, {state}"])
        return f"def tick(inputs, state):\n    {body}\n"

    def _read(self, source: str, op: Op, count: int, prefix: str) -> None:
        used = {node.value for node in self.graph.nodes if node.op is op}
        targets = [f"{prefix}{number}" if number in used else "_" for number in range(count)]
        if targets:
            self.lines.append(f"{', '.join(targets)}, = {source}")

    def _expression(self, index: int, node: Node) -> str:
        if node.op is Op.CONST:
            return str(node.value) if node.value >= 0 else f"({node.value})"
        if node.op in (Op.INPUT, Op.STATE):
            return f"{'i' if node.op is Op.INPUT else 's'}{node.value}"
        operands = [self.texts[arg] for arg in node.args]
        if node.op is Op.SHIFT_RIGHT:
            return f"({operands[0]} >> {node.value})"
        if node.op is Op.MUL14:
            return f"((p{index} := {operands[0]} * {operands[1]}) + 8192 + (p{index} >> 31) >> 14)"
        pattern = _PLAIN.get(node.op)
        if pattern is not None:
            return pattern.format(*operands)
        named = [_bound(operand, f"t{index}_{number}") for number, operand in enumerate(operands)]
        words = {f"f{number}": first for number, (first, _) in enumerate(named)}
        words |= {f"n{number}": name for number, (_, name) in enumerate(named)}
        return _TWICE[node.op].format(**words)


_LEAVES = frozenset({Op.CONST, Op.INPUT, Op.STATE})


def _bound(operand: str, name: str) -> tuple[str, str]:
    """An operand as it is first mentioned, and its name from then on."""
    simple = operand.isidentifier() or operand.strip("(-)").isdigit()
    return (operand, operand) if simple else (f"({name} := {_bare(operand)})", name)


def _bare(expression: str) -> str:
    """Without the outermost parentheses, which every compound expression here has."""
    return expression[1:-1] if expression.startswith("(") else expression


def _tuple(texts: Iterable[str]) -> str:
    return f"({''.join(f'{text}, ' for text in texts)})"


def _inlined(graph: Graph) -> frozenset[int]:
    """Nodes that stand inside their only user, unless that would nest too deep."""
    depth = [0] * len(graph.nodes)
    chosen: set[int] = set()
    for index, node in enumerate(graph.nodes):
        depth[index] = 1 + max((depth[arg] for arg in node.args if arg in chosen), default=0)
        if node.op not in _LEAVES and graph.uses[index] == 1 and depth[index] < _DEEPEST:
            chosen.add(index)
    return frozenset(chosen)
