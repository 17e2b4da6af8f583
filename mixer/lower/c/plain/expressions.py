"""One node of the graph as C for this machine: parentheses, widths, and the run-time functions it calls.

An `int` has 16 bits on small boards: where a sum or product may leave 16 bits, at least one operand is an
`int32_t` object or an INT32_C constant. What is proven to fit in 16 bits is kept and calculated there. No
expression here overflows, for the graph's ranges hold for every intermediate.
"""

from collections.abc import Mapping, Sequence
from enum import IntEnum
from types import MappingProxyType
from typing import NamedTuple

from mixer.core.ops import HALF, ONE
from mixer.lower.graph.intervals import is_within, product
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


class Width(IntEnum):
    """How wide an expression's type is, as far as it matters where an `int` may have 16 bits or 32."""

    LITERAL = 0
    """A bare number: an int."""
    SHORT = 1
    """int16_t or narrower, or a choice between such."""
    SUM = 2
    """What becomes of shorts: an int, whose value fits in 16 bits."""
    LONG = 3
    """Exactly int32_t."""


class Expression(NamedTuple):
    """Text of C, how tightly its outermost operator binds, its type, the run-time functions it needs."""

    text: str
    level: Level
    width: Width = Width.LONG
    calls: frozenset[str] = frozenset()

    @property
    def is_long(self) -> bool:
        """Whether sums with it have 32 bits on any board."""
        return self.width is Width.LONG


BINARY: Mapping[Op, tuple[str, Level]] = MappingProxyType(
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
"""How C writes them."""
_CALLS: Mapping[Op, str] = MappingProxyType(
    {
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
    width = Width.LITERAL if value in SHORT else Width.LONG
    return Expression(str(value), Level.ATOM if value >= 0 else Level.UNARY, width)


def shortened(part: Expression) -> Expression:
    """The same number as an int16_t: it is proven to fit."""
    if part.width in (Width.SHORT, Width.LITERAL):
        return part
    return Expression(f"(int16_t){_within(part, Level.UNARY)}", Level.UNARY, Width.SHORT, part.calls)


def expression_of(graph: Graph, index: int, args: Sequence[Expression]) -> Expression:
    """A node's operation on its operands' expressions. Not for INPUT, STATE and TRUTH."""
    node, reach = graph.nodes[index], graph.ranges[index]
    if node.op is Op.CONST:
        return literal(node.value)
    if node.op is Op.SELECT:
        return _select(args, reach)
    if node.op in _CALLS:
        return _chosen(node, args if is_within(reach, SHORT) else [_long(args[0]), *args[1:]])
    if node.op in (Op.MUL14, Op.DIVIDE, Op.SHIFT_RIGHT) or _is_short_product(graph, node):
        return _call(graph, index, args)
    if node.op in (Op.NOT, Op.NEG):
        return _unary(node.op, args[0], reach)
    return _binary(node.op, args, _called(args), reach)


def _is_scaled(graph: Graph, node: Node, args: Sequence[Expression], reach: Range) -> bool:
    """Whether a Q14 product is one of a short number with a constant, and short itself."""
    first, second = node.args
    constant = graph.nodes[second]
    repeated = abs(constant.value) >= ONE and args[0].level is not Level.ATOM
    fits = is_within(reach, SHORT) and is_within(graph.ranges[first], SHORT)
    return constant.op is Op.CONST and constant.value != 0 and fits and not repeated


def _scaled(number: Expression, factor: int) -> Expression:
    """A Q14 product with a constant: whole ones are added or multiplied, what is left is scaled."""
    short = shortened(number)
    whole, rest = divmod(abs(factor), ONE)
    calls = number.calls | ({"scale14"} if rest else frozenset())
    terms = [short.text if whole == 1 else f"{short.text} * {whole}"] if whole else []
    terms += [f"scale14({short.text}, {4 * rest})"] if rest else []
    text = " + ".join(terms)
    if factor < 0:
        text = f"-({text})" if len(terms) > 1 or whole > 1 else f"-{text}"
        return Expression(text, Level.UNARY, Width.SUM, calls)
    if len(terms) > 1:
        return Expression(text, Level.SUM, Width.SUM, calls)
    return Expression(
        text, Level.PRODUCT if whole else Level.ATOM, Width.SUM if whole else Width.SHORT, calls
    )


def _unary(op: Op, arg: Expression, reach: Range) -> Expression:
    if op is Op.NOT:
        return Expression(f"!{_within(arg, Level.ATOM)}", Level.UNARY, Width.SUM, arg.calls)
    inner = arg if is_within(reach, SHORT) else _long(arg)
    width = Width.LONG if inner.is_long else Width.SUM
    return Expression(f"-{_within(inner, Level.ATOM)}", Level.UNARY, width, arg.calls)


def _called(args: Sequence[Expression]) -> frozenset[str]:
    return frozenset[str]().union(*(arg.calls for arg in args))


def _binary(op: Op, args: Sequence[Expression], calls: frozenset[str], reach: Range) -> Expression:
    """Two operands; `x > 0` instead of `0 < x`, and `x - 3` instead of `x + -3`."""
    operator, level = BINARY[op]
    arithmetic = level in (Level.SUM, Level.PRODUCT)
    left, right = args
    if arithmetic and not (left.is_long or right.is_long or is_within(reach, SHORT)):
        left = _long(left)
    if level is Level.RELATION and left.width is Width.LITERAL:
        left, right, operator = right, left, operator.replace("<", ">")
    width = Width.LONG if left.is_long or right.is_long else Width.SUM
    if op is Op.ADD and right.width is Width.LITERAL and right.text.startswith("-"):
        operator, right = "-", Expression(right.text[1:], Level.ATOM, Width.LITERAL)
    strict = level in (Level.OR, Level.EQUALITY)
    text = f"{_within(left, strictly(level, strict))} {operator} {_within(right, strictly(level, True))}"
    return Expression(text, level, width if arithmetic else Width.SUM, calls)


def strictly(level: Level, strict: bool) -> Level:
    """The loosest operand that needs no parentheses; `&&` inside `||` gets them, as compilers ask."""
    if level is Level.OR:
        return Level.EQUALITY
    return Level(level + 1) if strict else level


def _within(part: Expression, level: Level) -> str:
    return part.text if part.level >= level else f"({part.text})"


def _long(part: Expression) -> Expression:
    """The same number as an int32_t."""
    if part.width is Width.LONG:
        return part
    if part.text.isdigit():
        return Expression(f"INT32_C({part.text})", Level.ATOM, Width.LONG, part.calls)
    return Expression(f"(int32_t){_within(part, Level.UNARY)}", Level.UNARY, Width.LONG, part.calls)


def _select(args: Sequence[Expression], reach: Range) -> Expression:
    """A choice; an arm that is wider than what comes out fits where it is chosen."""
    condition, *arms = args
    if is_within(reach, SHORT) and any(arm.width in (Width.SHORT, Width.SUM) for arm in arms):
        arms = [shortened(arm) if arm.is_long else arm for arm in arms]
    is_long = any(arm.is_long for arm in arms)
    if_true, if_false = arms
    text = f"{_within(condition, Level.OR)} ? {_within(if_true, Level.OR)} : {if_false.text}"
    width = Width.LONG if is_long else max(arm.width for arm in arms)
    return Expression(text, Level.CONDITIONAL, width, _called(args))


def _chosen(node: Node, args: Sequence[Expression]) -> Expression:
    """The nearest, the least, the most of numbers: all of them short, or all of them long."""
    short = not any(arg.is_long for arg in args)
    called = _CALLS[node.op] + ("_short" if short else "")
    texts = [shortened(arg).text if short else arg.text for arg in args]
    width = Width.SHORT if short else Width.LONG
    return Expression(f"{called}({', '.join(texts)})", Level.ATOM, width, _called(args) | {called})


def _call(graph: Graph, index: int, args: Sequence[Expression]) -> Expression:
    node = graph.nodes[index]
    if node.op is Op.MUL14 and _is_scaled(graph, node, args, graph.ranges[index]):
        return _scaled(args[0], graph.nodes[node.args[1]].value)
    called, short, width = "shift_right", False, Width.LONG
    more = []
    if node.op is Op.DIVIDE:
        called = "divide"
    elif node.op is Op.MULTIPLY:
        called, short = "multiply_short", True
    elif node.op is Op.MUL14:
        short = _rounds_to_short(graph, node)
        called, width = ("mul14_short", Width.SHORT) if short else ("mul14", Width.LONG)
    elif node.value == 14:
        fits = is_within(graph.ranges[node.args[0]], QUADRUPLES)
        called, width = ("shift_right_14_short", Width.SHORT) if fits else ("shift_right_14", Width.LONG)
    else:
        more = [str(node.value)]
    texts = [shortened(arg).text if short else arg.text for arg in args] + more
    return Expression(f"{called}({', '.join(texts)})", Level.ATOM, width, _called(args) | {called})


def _is_short_product(graph: Graph, node: Node) -> bool:
    return node.op is Op.MULTIPLY and all(_is_short(graph.ranges[arg]) for arg in node.args)


def _rounds_to_short(graph: Graph, node: Node) -> bool:
    """Whether both operands are short, and four times their rounded product is no overflow."""
    a, b = (graph.ranges[arg] for arg in node.args)
    reach = product(a, b)
    rounded = Range(reach.low + HALF - 1, reach.high + HALF)
    return _is_short(a) and _is_short(b) and is_within(rounded, QUADRUPLES)


def _is_short(reach: Range) -> bool:
    return is_within(reach, SHORT)
