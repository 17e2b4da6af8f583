"""Interval arithmetic on nodes: the bounds of a result from the bounds of its operands.

Numbers here are mathematical integers, so that a result beyond int32 shows instead of wrapping. A SELECT
looks at its condition: within the arm where `x < 0` holds, x is negative, and so on through a few
operations below the arm. That is what makes magnitudes, slews and counters come out tight.
Method: interval arithmetic as in R. E. Moore, Interval Analysis (1966), with conditions as refinements.
"""

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

from mixer.core.ops import HALF
from mixer.lower.graph.nodes import Node, Op, Range

FLAG = Range(0, 1)
_LOOK = 4  # how many operations below an arm a refinement is followed


def is_within(reach: Range, bounds: Range) -> bool:
    """Whether all of one range lies in another."""
    return bounds.low <= reach.low and reach.high <= bounds.high


def hull(a: Range, b: Range) -> Range:
    """The smallest range that holds both."""
    return Range(min(a.low, b.low), max(a.high, b.high))


def meet(a: Range, b: Range) -> Range | None:
    """What both ranges share, or None when that is nothing."""
    low, high = max(a.low, b.low), min(a.high, b.high)
    return Range(low, high) if low <= high else None


def within(reach: Range, limits: Range) -> Range:
    """The part of a range within limits known to hold; the limits themselves where there is none."""
    return meet(reach, limits) or limits


def product(a: Range, b: Range) -> Range:
    """All products of one number from each."""
    corners = (a.low * b.low, a.low * b.high, a.high * b.low, a.high * b.high)
    return Range(min(corners), max(corners))


def square(a: Range) -> Range:
    """All squares of numbers from the range."""
    low = 0 if 0 in a else min(a.low * a.low, a.high * a.high)
    return Range(low, max(a.low * a.low, a.high * a.high))


def rounded(p: int) -> int:
    """A Q14 product brought back to Q14, as `core.ops.mul` does; never falls as p rises."""
    return (p + HALF + (-1 if p < 0 else 0)) >> 14


def _mul14(a: Range, b: Range) -> Range:
    p = product(a, b)
    return Range(rounded(p.low), rounded(p.high))


def _divide(a: Range, b: Range) -> Range:
    over = Range(max(b.low, 1), max(b.high, 1))
    return Range(max(a.low, 0) // over.high, max(a.high, 0) // over.low)


def _absolute(a: Range) -> Range:
    return Range(0 if 0 in a else min(abs(a.low), abs(a.high)), max(abs(a.low), abs(a.high)))


def _clamp(a: Range, b: Range, c: Range) -> Range:
    return Range(max(b.low, min(a.low, c.low)), max(b.high, min(a.high, c.high)))


def _select(a: Range, b: Range, c: Range) -> Range:
    return b if a.low == 1 else c if a.high == 0 else hull(b, c)


def _less(a: Range, b: Range) -> Range:
    return Range(1, 1) if a.high < b.low else Range(0, 0) if a.low >= b.high else FLAG


def _less_equal(a: Range, b: Range) -> Range:
    return Range(1, 1) if a.high <= b.low else Range(0, 0) if a.low > b.high else FLAG


def _equal(a: Range, b: Range) -> Range:
    if meet(a, b) is None:
        return Range(0, 0)
    return Range(1, 1) if a == b and a.low == a.high else FLAG


def _not(a: Range) -> Range:
    return Range(1 - a.high, 1 - a.low)


Rule = Callable[..., Range]
RULES: Mapping[Op, Rule] = MappingProxyType(
    {
        Op.ADD: lambda a, b: Range(a.low + b.low, a.high + b.high),
        Op.SUB: lambda a, b: Range(a.low - b.high, a.high - b.low),
        Op.NEG: lambda a: Range(-a.high, -a.low),
        Op.MULTIPLY: product,
        Op.MUL14: _mul14,
        Op.DIVIDE: _divide,
        Op.ABSOLUTE: _absolute,
        Op.MINIMUM: lambda a, b: Range(min(a.low, b.low), min(a.high, b.high)),
        Op.MAXIMUM: lambda a, b: Range(max(a.low, b.low), max(a.high, b.high)),
        Op.CLAMP: _clamp,
        Op.SELECT: _select,
        Op.LESS: _less,
        Op.LESS_EQUAL: _less_equal,
        Op.EQUAL: _equal,
        Op.NOT_EQUAL: lambda a, b: _not(_equal(a, b)),
        Op.AND: lambda a, b: Range(min(a.low, b.low), min(a.high, b.high)),
        Op.OR: lambda a, b: Range(max(a.low, b.low), max(a.high, b.high)),
        Op.NOT: _not,
    }
)


def apply(node: Node, args: Sequence[Range]) -> Range:
    """A node's bounds from those of its operands; not for INPUT and STATE, whose bounds are given."""
    op = node.op
    if op is Op.CONST or op is Op.TRUTH:
        return Range(node.value, node.value)
    if op is Op.SHIFT_RIGHT:
        return Range(args[0].low >> node.value, args[0].high >> node.value)
    if (op is Op.MULTIPLY or op is Op.MUL14) and node.args[0] == node.args[1]:
        p = square(args[0])
        return p if op is Op.MULTIPLY else Range(rounded(p.low), rounded(p.high))
    return RULES[op](*args)


def bounds(nodes: Sequence[Node], ranges: Sequence[Range], node: Node) -> Range:
    """A node's bounds from those of all earlier nodes, a SELECT's condition taken into account."""
    if node.op is not Op.SELECT:
        return apply(node, [ranges[arg] for arg in node.args])
    condition, if_true, if_false = node.args
    decided = ranges[condition]
    arms = []
    for arm, truth in ((if_true, 1), (if_false, 0)):
        if truth not in decided:
            continue
        facts: dict[int, Range] = {}
        if _assume(nodes, ranges, condition, truth == 1, facts):
            arms.append(_under(nodes, ranges, facts, arm, _LOOK))
    if not arms:
        return ranges[if_false]
    return arms[0] if len(arms) == 1 else hull(arms[0], arms[1])


def looks_at(nodes: Sequence[Node], node: Node) -> set[int]:
    """The nodes whose bounds `bounds` may ask for."""
    seen = set(node.args)
    if node.op is Op.SELECT:
        condition, *arms = node.args
        _add_compared(nodes, condition, seen)
        for arm in arms:
            _add_below(nodes, arm, _LOOK, seen)
    return seen


def _add_below(nodes: Sequence[Node], index: int, look: int, seen: set[int]) -> None:
    """What `_under` looks at."""
    seen.add(index)
    for arg in nodes[index].args if look else ():
        _add_below(nodes, arg, look - 1, seen)


def _add_compared(nodes: Sequence[Node], condition: int, seen: set[int]) -> None:
    """What `_assume` looks at."""
    node = nodes[condition]
    if node.op in _COMPARISONS:
        seen.update(node.args)
    elif node.op in (Op.NOT, Op.AND, Op.OR):
        for arg in node.args:
            _add_compared(nodes, arg, seen)


def _under(
    nodes: Sequence[Node], ranges: Sequence[Range], facts: dict[int, Range], index: int, look: int
) -> Range:
    """A node's bounds where `facts` hold."""
    known = facts.get(index)
    if known is not None or look == 0:
        return known if known is not None else ranges[index]
    node = nodes[index]
    if not node.args:
        return ranges[index]
    before = [ranges[arg] for arg in node.args]
    after = [_under(nodes, ranges, facts, arg, look - 1) for arg in node.args]
    if after == before:
        return ranges[index]
    return meet(apply(node, after), ranges[index]) or ranges[index]


def _assume(
    nodes: Sequence[Node], ranges: Sequence[Range], condition: int, truth: bool, facts: dict[int, Range]
) -> bool:
    """Add what follows from a condition to `facts`; False when it cannot be."""
    node = nodes[condition]
    if node.op is Op.NOT:
        return _assume(nodes, ranges, node.args[0], not truth, facts)
    if node.op in (Op.AND, Op.OR):
        if truth != (node.op is Op.AND):
            return True
        return all(_assume(nodes, ranges, arg, truth, facts) for arg in node.args)
    if node.op not in _COMPARISONS:
        return True
    op = node.op if truth else _OPPOSITE[node.op]
    a, b = node.args if truth or op not in (Op.LESS, Op.LESS_EQUAL) else node.args[::-1]
    held = [facts.get(index, ranges[index]) for index in (a, b)]
    for index, new in zip((a, b), _compared(op, *held), strict=True):
        if new is None:
            return False
        facts[index] = new
    return True


_COMPARISONS = frozenset({Op.LESS, Op.LESS_EQUAL, Op.EQUAL, Op.NOT_EQUAL})
# The opposite of a comparison; of LESS and LESS_EQUAL with the operands exchanged.
_OPPOSITE = MappingProxyType(
    {
        Op.LESS: Op.LESS_EQUAL,
        Op.LESS_EQUAL: Op.LESS,
        Op.EQUAL: Op.NOT_EQUAL,
        Op.NOT_EQUAL: Op.EQUAL,
    }
)


def _compared(op: Op, a: Range, b: Range) -> tuple[Range | None, Range | None]:
    """The bounds of both operands where the comparison holds."""
    if op is Op.EQUAL:
        return meet(a, b), meet(a, b)
    if op is Op.NOT_EQUAL:
        return _trimmed(a, b), _trimmed(b, a)
    gap = 1 if op is Op.LESS else 0
    left, right = Range(a.low, min(a.high, b.high - gap)), Range(max(b.low, a.low + gap), b.high)
    return (left if left.low <= left.high else None), (right if right.low <= right.high else None)


def _trimmed(a: Range, b: Range) -> Range | None:
    """`a` without the one value of `b`, where that is an end of `a`."""
    if b.low != b.high or b.low not in (a.low, a.high):
        return a
    cut = Range(a.low + (a.low == b.low), a.high - (a.high == b.low))
    return cut if cut.low <= cut.high else None
