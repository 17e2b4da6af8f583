"""One node of the graph as a C expression: parentheses, widths, and the run-time functions it calls.

An `int` has 16 bits on small boards, so a number is `int32_t` everywhere: at least one operand of every
sum and product is an `int32_t` object or an INT32_C constant. No expression here overflows, for the
graph's ranges hold for every intermediate.
"""

from collections.abc import Mapping, Sequence
from enum import IntEnum
from types import MappingProxyType
from typing import NamedTuple

from mixer.core.ops import HALF
from mixer.lower.graph.intervals import product
from mixer.lower.graph.nodes import Graph, Node, Op, Range

SHORT = Range(-(2**15), 2**15 - 1)
QUADRUPLES = Range(-(2**29), 2**29 - 1)
"""What may be multiplied by 4 and, shifted right by 14, is short."""


class Level(IntEnum):
    """How tightly an operator binds, as the grammar of C has it."""

    CONDITIONAL = 1
    OR = 2
    AND = 3
    EQUALITY = 4
    RELATION = 5
    SUM = 6
    PRODUCT = 7
    UNARY = 8
    ATOM = 9


class Expression(NamedTuple):
    """Text of C, how tightly its outermost operator binds, and the run-time functions it needs."""

    text: str
    level: Level
    wide: bool = True
    """Whether its type is int32_t (or bool) also where int is narrower: a bare literal is not."""
    calls: frozenset[str] = frozenset()


_BINARY: Mapping[Op, tuple[str, Level]] = MappingProxyType(
    {
        Op.ADD: ("+", Level.SUM),
        Op.SUB: ("-", Level.SUM),
        Op.MULTIPLY: ("*", Level.PRODUCT),
        Op.LESS: ("<", Level.RELATION),
        Op.LESS_EQUAL: ("<=", Level.RELATION),
        Op.EQUAL: ("==", Level.EQUALITY),
        Op.NOT_EQUAL: ("!=", Level.EQUALITY),
        Op.AND: ("&&", Level.AND),
        Op.OR: ("||", Level.OR),
    }
)
_CALLS: Mapping[Op, str] = MappingProxyType(
    {
        Op.MUL14: "mul14",
        Op.DIVIDE: "divide",
        Op.ABSOLUTE: "magnitude",
        Op.MINIMUM: "minimum",
        Op.MAXIMUM: "maximum",
        Op.CLAMP: "clamp",
    }
)


def literal(value: int) -> Expression:
    """A number as C writes it; INT32_MIN has no literal of its own."""
    if value == -(2**31):
        return Expression("INT32_MIN", Level.ATOM)
    return Expression(str(value), Level.ATOM if value >= 0 else Level.UNARY, wide=False)


def expression_of(graph: Graph, node: Node, args: Sequence[Expression]) -> Expression:
    """The node's operation on its operands' expressions. Not for INPUT, STATE and TRUTH."""
    if node.op is Op.CONST:
        return literal(node.value)
    if node.op in _CALLS or node.op is Op.SHIFT_RIGHT or _is_short_product(graph, node):
        return _call(graph, node, args)
    if node.op is Op.SELECT:
        return _select(args)
    calls = frozenset[str]().union(*(arg.calls for arg in args))
    if node.op in (Op.NEG, Op.NOT):
        sign = "-" if node.op is Op.NEG else "!"
        inner = _within(args[0], Level.ATOM)
        return Expression(f"{sign}{inner}", Level.UNARY, args[0].wide, calls)
    return _binary(node.op, args, calls)


def _binary(op: Op, args: Sequence[Expression], calls: frozenset[str]) -> Expression:
    """Two operands; `x > 0` instead of `0 < x`, and `x - 3` instead of `x + -3`."""
    operator, level = _BINARY[op]
    left, right = _widened(args) if level in (Level.SUM, Level.PRODUCT) else tuple(args)
    if level is Level.RELATION and not left.wide:
        left, right, operator = right, left, operator.replace("<", ">")
    if op is Op.ADD and not right.wide and right.text.startswith("-"):
        operator, right = "-", Expression(right.text[1:], Level.ATOM, False)
    strict = level in (Level.OR, Level.EQUALITY)
    text = f"{_within(left, _strictly(level, strict))} {operator} {_within(right, _strictly(level, True))}"
    return Expression(text, level, True, calls)


def _strictly(level: Level, strict: bool) -> Level:
    """The loosest operand that needs no parentheses; `&&` inside `||` gets them, as compilers ask."""
    if level is Level.OR:
        return Level.EQUALITY
    return Level(level + 1) if strict else level


def _within(part: Expression, level: Level) -> str:
    return part.text if part.level >= level else f"({part.text})"


def _widened(args: Sequence[Expression]) -> tuple[Expression, ...]:
    """The operands, the first made int32_t where none of them is."""
    if any(arg.wide for arg in args):
        return tuple(args)
    return (_wide(args[0]), *args[1:])


def _wide(part: Expression) -> Expression:
    """The same number as an int32_t."""
    if part.wide:
        return part
    if part.text.isdigit():
        return Expression(f"INT32_C({part.text})", Level.ATOM, True, part.calls)
    return Expression(f"(int32_t){_within(part, Level.UNARY)}", Level.UNARY, True, part.calls)


def _select(args: Sequence[Expression]) -> Expression:
    condition, if_true, if_false = args
    if not if_true.wide and not if_false.wide:
        if_true = _wide(if_true)
    text = f"{_within(condition, Level.OR)} ? {_within(if_true, Level.OR)} : {if_false.text}"
    return Expression(text, Level.CONDITIONAL, True, frozenset().union(*(arg.calls for arg in args)))


def _call(graph: Graph, node: Node, args: Sequence[Expression]) -> Expression:
    called = _CALLS.get(node.op, "shift_right")
    texts = [arg.text for arg in args]
    if node.op is Op.MULTIPLY:
        called = "multiply_short"
    elif node.op is Op.MUL14 and _rounds_to_short(graph, node):
        called = "mul14_short"
    elif node.op is Op.SHIFT_RIGHT and node.value == 14:
        within = _is_within(graph.ranges[node.args[0]], QUADRUPLES)
        called = "shift_right_14_short" if within else "shift_right_14"
    elif node.op is Op.SHIFT_RIGHT:
        texts.append(str(node.value))
    calls = frozenset({called}).union(*(arg.calls for arg in args))
    return Expression(f"{called}({', '.join(texts)})", Level.ATOM, True, calls)


def _is_short_product(graph: Graph, node: Node) -> bool:
    return node.op is Op.MULTIPLY and all(_is_short(graph.ranges[arg]) for arg in node.args)


def _rounds_to_short(graph: Graph, node: Node) -> bool:
    """Whether both operands are short, and four times their rounded product is no overflow."""
    a, b = (graph.ranges[arg] for arg in node.args)
    reach = product(a, b)
    rounded = Range(reach.low + HALF - 1, reach.high + HALF)
    return _is_short(a) and _is_short(b) and _is_within(rounded, QUADRUPLES)


def _is_within(reach: Range, bounds: Range) -> bool:
    return bounds.low <= reach.low and reach.high <= bounds.high


def _is_short(reach: Range) -> bool:
    return _is_within(reach, SHORT)
