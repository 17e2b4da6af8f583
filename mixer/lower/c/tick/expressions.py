"""One node of the graph as C for a board: what is proven to fit in 16 bits is an int, else an int32_t.

An `int` has 16 bits on small boards and 32 on others, so that neither loses anything. Where a sum or a
product may leave 16 bits, at least one operand is an int32_t. No expression here overflows, for the graph's
ranges hold for every intermediate.
"""

from collections.abc import Callable, Mapping, Sequence
from enum import IntEnum
from types import MappingProxyType
from typing import NamedTuple

from mixer.core.ops import ONE
from mixer.lower.c.plain.expressions import BINARY, SHORT, Level, strictly
from mixer.lower.graph.intervals import is_within
from mixer.lower.graph.nodes import Graph, Op, Range

BYTE = Range(0, 255)
TURNED = Range(-(2**15) + 1, 2**15 - 1)
"""What is short, and its opposite as well."""


class Width(IntEnum):
    """The type of an expression, as far as it matters."""

    LITERAL = 0
    """A bare number: an int."""
    INT = 1
    """An int, or what becomes one in a sum; its value fits in 16 bits."""
    LONG = 2
    """Exactly int32_t."""
    WORD = 3
    """uint16_t, which is only compared, or made something else."""


class Expression(NamedTuple):
    """Text of C, how tightly its outermost operator binds, its type, the run-time functions it needs."""

    text: str
    level: Level
    width: Width = Width.INT
    calls: frozenset[str] = frozenset()
    kind: str = ""
    """Its very type, where it is an object."""


_COMPARED = (Op.LESS, Op.LESS_EQUAL, Op.EQUAL, Op.NOT_EQUAL)
_CALLS: Mapping[Op, str] = MappingProxyType(
    {
        Op.ABSOLUTE: "magnitude",
        Op.MINIMUM: "minimum",
        Op.MAXIMUM: "maximum",
        Op.CLAMP: "clamp",
    }
)


def type_of(reach: Range) -> str:
    """The type of a local."""
    return "uint8_t" if is_within(reach, BYTE) else "int" if is_within(reach, SHORT) else "int32_t"


def literal(value: int) -> Expression:
    """A number as C writes it; INT32_MIN has no literal of its own."""
    if value == -(2**31):
        return Expression("INT32_MIN", Level.ATOM, Width.LONG)
    width = Width.LITERAL if value in SHORT else Width.LONG
    return Expression(str(value), Level.ATOM if value >= 0 else Level.UNARY, width)


def local(name: str, kind: str) -> Expression:
    """A local or member of a type."""
    return Expression(name, Level.ATOM, Width.LONG if kind == "int32_t" else Width.INT, kind=kind)


def cast(kind: str, part: Expression) -> Expression:
    """The same number as another type."""
    width = Width.LONG if kind == "int32_t" else Width.WORD if kind == "uint16_t" else Width.INT
    return Expression(f"({kind}){within(part, Level.UNARY)}", Level.UNARY, width, part.calls)


def within(part: Expression, level: Level) -> str:
    """The text, in parentheses where it binds less tightly."""
    return part.text if part.level >= level else f"({part.text})"


def shortened(part: Expression) -> Expression:
    """The same number as an int: it is proven to fit."""
    return cast("int", part) if part.width >= Width.LONG else part


def lengthened(part: Expression) -> Expression:
    """The same number as an int32_t."""
    if part.width is Width.LONG:
        return part
    if part.text.isdigit():
        return Expression(f"INT32_C({part.text})", Level.ATOM, Width.LONG, part.calls)
    return cast("int32_t", part)


def expression_of(graph: Graph, index: int, args: Sequence[Expression]) -> Expression:
    """A node's operation on its operands' expressions. Not for INPUT, STATE and TRUTH."""
    node, reach = graph.nodes[index], graph.ranges[index]
    if node.op is Op.CONST:
        return literal(node.value)
    if node.op is Op.MUL14:
        return _rounded(graph, index, args)
    if node.op in _COMPARED:
        return _compared(node.op, args)
    if node.op is Op.SELECT:
        return _select(args, reach)
    args = [_number(arg, graph.ranges[at]) for arg, at in zip(args, node.args, strict=True)]
    made: Mapping[Op, Callable[[], Expression]] = {
        Op.LOOKUP: lambda: _call("amount", [cast("uint16_t", args[0])]),
        Op.DIVIDE: lambda: _quotient(graph, index, args),
        Op.SHIFT_RIGHT: lambda: _shifted(node.value, args[0], graph.ranges[node.args[0]]),
        Op.NOT: lambda: _unary(node.op, args[0], reach),
        Op.NEG: lambda: _unary(node.op, args[0], reach),
        **dict.fromkeys(_CALLS, lambda: _chosen(node.op, args, reach)),
    }
    return made.get(node.op, lambda: _binary(node.op, args, reach))()


def _number(part: Expression, reach: Range) -> Expression:
    """The same, and no longer a uint16_t."""
    if part.width is not Width.WORD:
        return part
    return shortened(part) if is_within(reach, SHORT) else lengthened(part)


def _called(args: Sequence[Expression]) -> frozenset[str]:
    return frozenset[str]().union(*(arg.calls for arg in args))


def _call(name: str, args: Sequence[Expression], width: Width = Width.INT, *more: str) -> Expression:
    texts = [*(arg.text for arg in args), *more]
    return Expression(f"{name}({', '.join(texts)})", Level.ATOM, width, _called(args) | {name})


def _unary(op: Op, arg: Expression, reach: Range) -> Expression:
    if op is Op.NOT:
        return Expression(f"!{within(arg, Level.ATOM)}", Level.UNARY, Width.INT, arg.calls)
    inner = arg if is_within(reach, SHORT) else lengthened(arg)
    return Expression(f"-{within(inner, Level.ATOM)}", Level.UNARY, inner.width, arg.calls)


def _compared(op: Op, args: Sequence[Expression]) -> Expression:
    """`x > 0` instead of `0 < x`; what is unsigned meets an unsigned number, or is made long."""
    operator, level = BINARY[op]
    left, right = args
    if level is Level.RELATION and left.width is Width.LITERAL:
        left, right, operator = right, left, operator.replace("<", ">")
    if left.width is Width.WORD and right.text.isdigit():
        right = Expression(f"{right.text}u", Level.ATOM)
    else:
        left, right = (lengthened(part) if part.width is Width.WORD else part for part in (left, right))
    return _joined(operator, level, left, right)


def _binary(op: Op, args: Sequence[Expression], reach: Range) -> Expression:
    """Two operands; `x - 3` instead of `x + -3`."""
    operator, level = BINARY[op]
    left, right = args
    if op is Op.ADD and right.text == "0":
        return left
    if op is Op.AND:
        left, right = sorted((left, right), key=_askable)
    arithmetic = level in (Level.SUM, Level.PRODUCT)
    is_long = Width.LONG in (left.width, right.width)
    if arithmetic and not (is_long or is_within(reach, SHORT)):
        left, is_long = lengthened(left), True
    if op is Op.ADD and right.width <= Width.LITERAL and right.text.startswith("-"):
        operator, right = "-", Expression(right.text[1:], Level.ATOM, Width.LITERAL)
    made = _joined(operator, level, left, right)
    return made._replace(width=Width.LONG) if arithmetic and is_long else made


def _askable(flag: Expression) -> int:
    """How soon to ask a flag of several: what is known already first, alternatives last."""
    return 0 if flag.level is Level.ATOM else 2 if flag.level is Level.OR else 1


def _joined(operator: str, level: Level, left: Expression, right: Expression) -> Expression:
    strict = level in (Level.OR, Level.EQUALITY)
    text = f"{within(left, strictly(level, strict))} {operator} {within(right, strictly(level, True))}"
    return Expression(text, level, Width.INT, _called([left, right]))


def _select(args: Sequence[Expression], reach: Range) -> Expression:
    """A choice; an arm that is wider than what comes out fits where it is chosen."""
    condition, *arms = args
    if is_within(reach, SHORT):
        arms = [shortened(arm) for arm in arms]
    elif any(arm.width >= Width.LONG for arm in arms):
        arms = [lengthened(arm) if arm.width is not Width.LITERAL else arm for arm in arms]
    if_true, if_false = arms
    text = f"{within(condition, Level.OR)} ? {within(if_true, Level.OR)} : {if_false.text}"
    return Expression(text, Level.CONDITIONAL, max(arm.width for arm in arms), _called(args))


def _chosen(op: Op, args: Sequence[Expression], reach: Range) -> Expression:
    """The nearest, the least, the most of numbers."""
    is_long = not is_within(reach, SHORT) or any(arg.width is Width.LONG for arg in args)
    return _call(_CALLS[op] + ("_long" if is_long else ""), args, Width.LONG if is_long else Width.INT)


def _quotient(graph: Graph, index: int, args: Sequence[Expression]) -> Expression:
    over, under = graph.nodes[index].args
    reach = graph.ranges[under]
    if graph.nodes[over].value == ONE * ONE and is_within(reach, Range(ONE, SHORT.high)):
        return _call("share_of_full", args[1:])
    return _call("divide", [lengthened(arg) for arg in args], Width.LONG)


def _shifted(bits: int, arg: Expression, reach: Range) -> Expression:
    if reach.low >= 0:
        text = f"{within(arg, Level.PRODUCT)} >> {bits}"
        return Expression(f"({text})", Level.ATOM, arg.width, arg.calls)
    return _call("shift_right", [lengthened(arg)], Width.LONG, str(bits))


def _rounded(graph: Graph, index: int, args: Sequence[Expression]) -> Expression:
    """A Q14 product of two numbers."""
    a, b = graph.nodes[index].args
    one, two, reach = graph.ranges[a], graph.ranges[b], graph.ranges[index]
    short = all(is_within(each, TURNED) for each in (one, two, reach))
    if graph.nodes[b].op is Op.CONST and is_within(one, TURNED) and is_within(reach, TURNED):
        return _scaled(shortened(args[0]), graph.nodes[b].value, one.low >= 0)
    args = [_number(arg, each) for arg, each in zip(args, (one, two), strict=True)]
    if not short:
        return _call("mul14_long", [lengthened(arg) for arg in args], Width.LONG)
    args = [shortened(arg) for arg in args]
    if one.low >= 0 and two.low >= 0:
        return _call("product14", args)
    if two.low >= 0 or one.low >= 0:
        return _call("share14", args if two.low >= 0 else args[::-1])
    return _call("mul14", args)


def _scaled(number: Expression, factor: int, positive: bool) -> Expression:
    """A Q14 product with a constant of at most one, or of whole ones."""
    whole, rest = divmod(abs(factor), ONE)
    made = number
    if rest == BYTE.high and not whole:
        made = _call("duty14" if positive else "signed_duty14", [number])
    elif (held := _bytes_of(rest)) is not None and not whole:
        name = "bytes14" if positive else "signed_bytes14"
        made = _call(name, [number], Width.INT, str(held[0]), f"{held[1]}u")
    elif rest:
        made = _call("part14" if positive else "scale14", [number], Width.INT, f"{4 * rest}u")
    elif whole > 1:
        made = Expression(
            f"{within(number, Level.PRODUCT)} * {whole}", Level.PRODUCT, Width.INT, number.calls
        )
    if factor < 0:
        return Expression(f"-{within(made, Level.ATOM)}", Level.UNARY, Width.INT, made.calls)
    return made


def _bytes_of(factor: int) -> tuple[int, int] | None:
    """A factor as `bytes14` takes it: a byte, and how many bits its product is too large by; else None."""
    if not factor:
        return None
    twos = (factor & -factor).bit_length() - 1
    byte, bits = factor >> twos, 6 - twos
    return (byte, bits) if byte <= 127 and bits > 0 else None


def fitted(kind: str, made: Expression) -> Expression:
    """The number as what stands in an object of that type."""
    if kind == "bool" or made.width is Width.LITERAL:
        return made
    if kind == "int32_t":
        return made if made.width in (Width.LONG, Width.INT) else lengthened(made)
    if kind == "int":
        return shortened(made)
    return made if made.kind == kind else cast(kind, made)
