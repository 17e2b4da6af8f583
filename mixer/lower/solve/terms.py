"""The graph as terms of the solver z3: every run of one tick at once, for proofs.

Terms are whole numbers, not bit-vectors: `ranges` proves that no operation leaves int32, so both mean
the same, and sums, comparisons and choices, which is nearly all of a tick, are then linear arithmetic.
The product of two unknowns is not; it becomes a fresh unknown within its proven range (zero where one of
the two is), and so does a quotient by an unknown. That is sound (whatever is proven for all values in the
range holds for the one that occurs) and quick; the price is that a counter-example may be no real one,
which is why `proof` runs each through the core.

A `Term` goes wherever the core's operations and the rules take a value, as a traced `Symbol` does.
z3 is imported on use: see `z3_module`.
"""

import itertools
from collections.abc import Iterator, Mapping, Sequence
from types import ModuleType
from typing import Any, NamedTuple

from mixer.core.layout import layout_of
from mixer.errors import InternalError, MissingToolError
from mixer.lower.graph.meanings import Algebra, compute
from mixer.lower.graph.nodes import Graph, Node, Op, Range
from mixer.lower.graph.ranges import report_on
from mixer.lower.graph.trace import input_ranges


def z3_module() -> ModuleType:
    """The solver. Raises MissingToolError where it is not installed."""
    try:
        import z3  # type: ignore[import-untyped]  # noqa: PLC0415 - only proofs need it
    except ImportError as missing:
        remedy = "pip install z3-solver"
        raise MissingToolError("Proofs need the solver z3, which is not installed.", remedy) from missing
    return z3  # type: ignore[no-any-return]


class Term:
    """A number or flag in the solver, with the operations of `mixer.core.ops`."""

    __slots__ = ("expression", "z3")
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, z3: ModuleType, expression: Any) -> None:  # noqa: ANN401 - z3 has no types
        self.z3 = z3
        self.expression = expression

    def _of(self, expression: Any) -> "Term":  # noqa: ANN401
        return Term(self.z3, expression)

    def __add__(self, other: object) -> "Term":
        return self._of(self.expression + raw(other))

    __radd__ = __add__

    def __sub__(self, other: object) -> "Term":
        return self._of(self.expression - raw(other))

    def __rsub__(self, other: object) -> "Term":
        return self._of(raw(other) - self.expression)

    def __mul__(self, other: object) -> "Term":
        if isinstance(other, Term):
            raise InternalError("A product of two unknowns has to be abstracted before it is a term")
        return self._of(self.expression * raw(other))

    __rmul__ = __mul__

    def __neg__(self) -> "Term":
        return self._of(-self.expression)

    def __lt__(self, other: object) -> "Term":
        return self._of(self.expression < raw(other))

    def __le__(self, other: object) -> "Term":
        return self._of(self.expression <= raw(other))

    def __gt__(self, other: object) -> "Term":
        return self._of(self.expression > raw(other))

    def __ge__(self, other: object) -> "Term":
        return self._of(self.expression >= raw(other))

    def __eq__(self, other: object) -> "Term":  # type: ignore[override]
        return self._of(self.expression == raw(other))

    def __ne__(self, other: object) -> "Term":  # type: ignore[override]
        return self._of(self.expression != raw(other))

    def __and__(self, other: object) -> "Term":
        return self._of(self.z3.And(self.expression, raw(other)))

    __rand__ = __and__

    def __or__(self, other: object) -> "Term":
        return self._of(self.z3.Or(self.expression, raw(other)))

    __ror__ = __or__

    def __xor__(self, other: object) -> "Term":
        return self._of(self.z3.Not(self.expression) if other is True else self.expression != raw(other))

    __rxor__ = __xor__

    def __bool__(self) -> bool:
        raise InternalError("A rule asks for the truth of a term; use select, & and | instead of a branch")

    def choose(self, if_true: object, if_false: object) -> "Term":
        """`core.ops.select`."""
        return self._of(self.z3.If(self.expression, raw(if_true), raw(if_false)))

    def shifted_right(self, bits: int) -> "Term":
        """`core.ops.shift_right`: z3 divides whole numbers by a positive one towards minus infinity."""
        return self._of(self.expression / (1 << bits)) if bits else self

    def divided(self, a: object, b: object) -> "Term":
        """`core.ops.divide` by a number."""
        if isinstance(b, Term):
            raise InternalError("A quotient by an unknown has to be abstracted before it is a term")
        return self._of(raw(a) / raw(b))


def raw(value: object) -> Any:  # noqa: ANN401 - z3 has no types
    """What z3 calls the value: a term's expression, or the int or bool itself."""
    return value.expression if isinstance(value, Term) else value


class Encoded(NamedTuple):
    """One tick as terms. Inputs, state and signals stand under the names of the layout."""

    inputs: Mapping[str, Any]
    before: Mapping[str, Any]
    after: Mapping[str, Any]
    signals: Mapping[str, Any]
    nodes: Sequence[Any]
    """The term of every node of the graph."""
    assumed: list[Any]
    """z3 constraints: inputs, old state and abstracted products within their ranges."""


def encode(
    graph: Graph,
    context: Any = None,  # noqa: ANN401
    tag: str = "",
    before: Mapping[str, Any] | None = None,
    *,
    coarse: bool = False,
) -> Encoded:
    """One tick as terms in a z3 context.

    `before` gives the old state: the `after` of an earlier tick, for proofs over several; None means any
    state within the graph's proven state ranges, which hold on every run. `tag` tells the unknowns of
    one tick from those of another. `coarse` also abstracts products with a number, keeping only their
    sign and range: less is provable then, and much faster.

    Raises InternalError for a graph in which a value may leave 32 bits: what is proven of whole numbers
    would then not be true of the board.
    """
    report = report_on(graph)
    if not report.ok:
        said = "; ".join(str(found) for found in (*report.overflows, *report.undefined))
        raise InternalError(f"{graph.plan.name}: what is to be proven may leave 32 bits: {said}")
    return _Encoder(graph, context, tag, coarse).encoded(before)


class _Encoder:
    def __init__(self, graph: Graph, context: Any, tag: str, coarse: bool) -> None:  # noqa: ANN401
        self.coarse = coarse
        self.graph = graph
        self.z3 = z3_module()
        self.context = context
        self.tag = tag
        self.assumed: list[Any] = []
        self.fresh = itertools.count()

    def encoded(self, before: Mapping[str, Any] | None) -> Encoded:
        layout = layout_of(self.graph.plan)
        limits = input_ranges(self.graph.plan)
        named = zip(layout.inputs, limits, strict=True)
        inputs = {name: self._unknown(f"input {name}", reach) for name, reach in named}
        old = dict(self._any_state(self.graph.slots)) if before is None else before
        values = self._values(list(inputs.values()), [old[name] for name in self.graph.slots])
        after = {
            name: values[index] for name, index in zip(self.graph.slots, self.graph.state, strict=True)
        }
        signals = {name: values[index] for name, index in self.graph.signals.items()}
        return Encoded(inputs, old, after, signals, values, self.assumed)

    def _any_state(self, slots: Sequence[str]) -> Iterator[tuple[str, Any]]:
        made: list[Any] = []
        for slot, name in enumerate(slots):
            twin, reach = self.graph.twins[slot], self.graph.state_ranges[slot]
            if twin < slot:
                made.append(made[twin])
            elif reach.low == reach.high:
                made.append(reach.low)
            else:
                made.append(self._unknown(f"before {name}", reach))
            yield name, made[-1]

    def _values(self, inputs: Sequence[Any], state: Sequence[Any]) -> list[Any]:
        leaves = {Op.INPUT: inputs, Op.STATE: state}
        values: list[Any] = []
        for index, node in enumerate(self.graph.nodes):
            if node.op in leaves:
                values.append(leaves[node.op][node.value])
            else:
                values.append(self._operation(index, node, [values[arg] for arg in node.args]))
        return values

    def _operation(self, index: int, node: Node, operands: list[Any]) -> Any:  # noqa: ANN401
        unknowns = sum(isinstance(operand, Term) for operand in operands)
        if node.op in (Op.MULTIPLY, Op.MUL14) and unknowns == 2:
            return self._product(index, operands)
        if node.op is Op.DIVIDE and isinstance(operands[1], Term):
            return self._unknown(f"node {index}", self.graph.ranges[index])
        if self.coarse and unknowns and node.op in (Op.MUL14, Op.SHIFT_RIGHT):
            return self._outline(index, node, operands)
        return compute(_TERMS, node.op, operands, node.value)

    def _product(self, index: int, operands: list[Any]) -> Term:
        """A product of two unknowns, of which only the range is kept, and zero times anything."""
        result = self._unknown(f"node {index}", self.graph.ranges[index])
        q = raw(result)
        self.assumed += [self.z3.Implies(raw(operand) == 0, q == 0) for operand in operands]
        return result

    def _outline(self, index: int, node: Node, operands: list[Any]) -> Term:
        """A product with a number, or a shifted value, of which only sign and range are kept."""
        result = self._unknown(f"node {index}", self.graph.ranges[index])
        x, most = operands[0], (1 << node.value) - 1
        if node.op is Op.MUL14:
            number, factor = sorted(operands, key=lambda operand: isinstance(operand, Term))
            x, most = factor if number > 0 else -factor, 0
        z3, q = self.z3, raw(result)
        self.assumed += [z3.Implies(raw(x) >= 0, q >= 0), z3.Implies(raw(x) <= most, q <= 0)]
        return result

    def _unknown(self, name: str, reach: Range) -> Term:
        number = self.z3.Int(f"{self.tag}{name}", self.context)
        self.assumed += [number >= reach.low, number <= reach.high]
        return Term(self.z3, number)


class _Terms:
    """Terms and plain numbers mixed; every number is within int32, as the ranges have proven."""

    def choose(self, flag: Any, a: Any, b: Any) -> Any:  # noqa: ANN401 - a term or a number
        if isinstance(flag, Term):
            return flag.choose(a, b)
        return a if flag else b

    def shift_right(self, a: Any, bits: int) -> Any:  # noqa: ANN401 - a term or a number
        if bits == 31:  # nothing but the sign is left of 32 bits
            return self.choose(a < 0, -1, 0)
        return a.shifted_right(bits) if isinstance(a, Term) else a >> bits

    def divide(self, a: Any, b: Any) -> Any:  # noqa: ANN401 - a term or a number
        return a.divided(a, b) if isinstance(a, Term) else a // b


_TERMS: Algebra = _Terms()
