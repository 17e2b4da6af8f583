"""Rewriting rules: what an operation may be replaced by, given its operands and their bounds.

Each rule returns the index of an equal node, or None to keep the operation. A rule that uses bounds is
right on every run from the start state, which is all a graph promises.
"""

from collections.abc import Mapping
from types import MappingProxyType

from mixer.core.ops import HALF, ONE
from mixer.lower.graph import flags
from mixer.lower.graph.nodes import Op
from mixer.lower.graph.rewriting import Args, Making, Rule


def _add(build: Making, args: Args, _: int, place: str) -> int | None:
    swapped = flags.constant_last(build, Op.ADD, args, place)
    if swapped is not None:
        return swapped
    number = build.value(args[1])
    if number is not None:
        return _add_number(build, args[0], number, place)
    for a, b in (args, args[::-1]):
        node = build.nodes[b]
        if node.op is Op.NEG:
            return build.make(Op.SUB, (a, node.args[0]), 0, place)
    return _cancelled(build, Op.ADD, args, place)


def _add_number(build: Making, a: int, number: int, place: str) -> int | None:
    node = build.nodes[a]
    if number == 0:
        return a
    inner = build.value(node.args[1]) if node.op is Op.ADD else None
    if inner is None:
        return None
    return build.make(Op.ADD, (node.args[0], build.const(number + inner)), 0, place)


def _sub(build: Making, args: Args, _: int, place: str) -> int | None:
    a, b = args
    number, left = build.value(b), build.value(a)
    if a == b:
        return build.const(0)
    if number is not None and left is None:
        return build.make(Op.ADD, (a, build.const(-number)), 0, place)
    if left == 0:
        return build.make(Op.NEG, (b,), 0, place)
    if build.nodes[b].op is Op.NEG:
        return build.make(Op.ADD, (a, build.nodes[b].args[0]), 0, place)
    return _cancelled(build, Op.SUB, args, place)


def _cancelled(build: Making, op: Op, args: Args, place: str) -> int | None:
    """A sum without the terms that are both added and taken away; None where there are none.

    `(a + b) - b` arises wherever a stage adds what the next takes away again (a source that yields is
    taken out of the mix it stands in). Both operands are flattened to how often each term stands in
    them. Only if a term of the second then counts for less than it did in the first was anything
    cancelled; else the sum stays as the core wrote it, since taking it apart would undo sharing. It is
    put together anew with what is added first, so that it never starts with a negation.
    """
    sums = [_terms(build, arg) for arg in args]
    sign = 1 if op is Op.ADD else -1
    total = dict(sums[0])
    for term, count in sums[1].items():
        total[term] = total.get(term, 0) + sign * count
    if not any(abs(total[term]) < abs(sums[0].get(term, 0)) for term in sums[1]):
        return None
    result = build.const(0)
    for term, count in sorted(total.items(), key=lambda pair: pair[1] < 0):
        for _ in range(abs(count)):
            result = build.make(Op.ADD if count > 0 else Op.SUB, (result, term), 0, place)
    return result


_SIGNS = MappingProxyType({Op.ADD: (1, 1), Op.SUB: (1, -1), Op.NEG: (-1,)})


def _terms(build: Making, index: int) -> dict[int, int]:
    """How often each term is added (or, negative, taken away) in a sum."""
    node = build.nodes[index]
    if node.op not in (Op.ADD, Op.SUB, Op.NEG):
        return {index: 1}
    counts: dict[int, int] = {}
    for arg, sign in zip(node.args, _SIGNS[node.op], strict=True):
        for term, count in _terms(build, arg).items():
            counts[term] = counts.get(term, 0) + sign * count
    return counts


def _neg(build: Making, args: Args, _: int, place: str) -> int | None:
    node = build.nodes[args[0]]
    if node.op is Op.NEG:
        return node.args[0]
    if node.op is Op.SUB:
        return build.make(Op.SUB, node.args[::-1], 0, place)
    return None


def _multiply(build: Making, args: Args, _: int, place: str) -> int | None:
    swapped = flags.constant_last(build, Op.MULTIPLY, args, place)
    if swapped is not None:
        return swapped
    number = build.value(args[1])
    if number == 1:
        return args[0]
    return build.make(Op.NEG, (args[0],), 0, place) if number == -1 else None


def _mul14(build: Making, args: Args, _: int, place: str) -> int | None:
    swapped = flags.constant_last(build, Op.MUL14, args, place)
    if swapped is not None:
        return swapped
    number = build.value(args[1])
    if number == ONE:
        return args[0]
    if number == -ONE:
        return build.make(Op.NEG, (args[0],), 0, place)
    offset = _plain_offset(build, args, number)
    if offset is None:
        return None
    p = build.make(Op.MULTIPLY, args, 0, place)
    total = build.make(Op.ADD, (p, build.const(offset)), 0, place)
    return build.make(Op.SHIFT_RIGHT, (total,), 14, place)


def _plain_offset(build: Making, args: Args, number: int | None) -> int | None:
    """The constant that replaces `8192 + (p >> 31)` in a Q14 product p, or None.

    It can when p's sign is known, or when no negative p lies halfway between two results.
    """
    reach = build.ranges[build.make(Op.MULTIPLY, args)]
    if reach.low >= 0:
        return HALF
    if reach.high <= 0:
        return HALF - 1
    if number is None:
        return None
    # p = a * number is halfway when a is an odd multiple of `step`.
    step = HALF // (number & -number)
    if step == 0:
        return HALF
    a = build.ranges[args[0]]
    farthest = -a.low if number > 0 else a.high
    return HALF if farthest < step else None


def _shift_right(build: Making, args: Args, bits: int, place: str) -> int | None:
    """Recognise `core.ops.mul`."""
    if bits == 0:
        return args[0]
    outer = build.nodes[args[0]]
    if bits != 14 or outer.op is not Op.ADD:
        return None
    for half, sign in (outer.args, outer.args[::-1]):
        inner, shifted = build.nodes[half], build.nodes[sign]
        if inner.op is not Op.ADD or build.value(inner.args[1]) != HALF:
            continue
        if shifted.op is not Op.SHIFT_RIGHT or shifted.value != 31 or shifted.args[0] != inner.args[0]:
            continue
        factors = build.nodes[inner.args[0]]
        if factors.op is Op.MULTIPLY:
            return build.make(Op.MUL14, factors.args, 0, place)
    return None


def _divide(build: Making, args: Args, _: int, _place: str) -> int | None:
    return args[0] if build.value(args[1]) == 1 else None


def _absolute(build: Making, args: Args, _: int, place: str) -> int | None:
    reach, node = build.ranges[args[0]], build.nodes[args[0]]
    if reach.low >= 0:
        return args[0]
    if reach.high <= 0:
        return build.make(Op.NEG, args, 0, place)
    return build.make(Op.ABSOLUTE, node.args, 0, place) if node.op is Op.NEG else None


def _minimum(build: Making, args: Args, _: int, place: str) -> int | None:
    a, b = args
    if a == b or build.ranges[a].high <= build.ranges[b].low:
        return a
    if build.ranges[b].high <= build.ranges[a].low:
        return b
    return flags.constant_last(build, Op.MINIMUM, args, place)


def _maximum(build: Making, args: Args, _: int, place: str) -> int | None:
    a, b = args
    if a == b or build.ranges[a].low >= build.ranges[b].high:
        return a
    if build.ranges[b].low >= build.ranges[a].high:
        return b
    return flags.constant_last(build, Op.MAXIMUM, args, place)


def _clamp(build: Making, args: Args, _: int, place: str) -> int | None:
    x, low, high = (build.ranges[arg] for arg in args)
    if x.high <= high.low:
        return build.make(Op.MAXIMUM, args[:2], 0, place)
    return build.make(Op.MINIMUM, (args[0], args[2]), 0, place) if x.low >= low.high else None


def _select(build: Making, args: Args, _: int, place: str) -> int | None:
    condition, a, b = args
    decided, node = build.value(condition), build.nodes[condition]
    if decided is not None or a == b:
        return a if decided or a == b else b
    if node.op is Op.NOT:
        return build.make(Op.SELECT, (node.args[0], b, a), 0, place)
    for arm, other, side in ((a, b, 1), (b, a, 2)):
        inner = build.nodes[arm]
        if inner.op is Op.SELECT and inner.args[0] == condition:
            kept = inner.args[side]
            arms = (kept, other) if side == 1 else (other, kept)
            return build.make(Op.SELECT, (condition, *arms), 0, place)
    if node.op in (Op.LESS, Op.LESS_EQUAL):
        return _extreme(build, node.op, node.args, (a, b), place)
    return None


def _extreme(build: Making, op: Op, compared: Args, arms: Args, place: str) -> int | None:
    """Recognise minimum, maximum, clamp and magnitude in `select(c < d, a, b)`.

    The core writes a clamp as `select(x < low, low, select(x > high, high, x))`; the inner choice has
    become a MINIMUM by the time the outer one is looked at, because operands are simplified first. The
    last rule turns a choice by `c <= d` round where `d < c` is there already, so that both share it.
    """
    (c, d), (a, b) = compared, arms
    if (c, d) == (a, b):
        return build.make(Op.MINIMUM, (a, b), 0, place)
    if (d, c) == (a, b):
        return build.make(Op.MAXIMUM, (a, b), 0, place)
    held = build.nodes[b]
    if op is Op.LESS and a == d and held.op is Op.MINIMUM and c in held.args:
        high = held.args[1] if held.args[0] == c else held.args[0]
        return build.make(Op.CLAMP, (c, d, high), 0, place)
    if op is Op.LESS and build.value(d) == 0 and b == c and build.make(Op.NEG, (c,), 0, place) == a:
        return build.make(Op.ABSOLUTE, (c,), 0, place)
    opposite = build.found(Op.LESS_EQUAL if op is Op.LESS else Op.LESS, d, c)
    if opposite is not None and op is Op.LESS_EQUAL:
        return build.make(Op.SELECT, (opposite, b, a), 0, place)
    return None


RULES: Mapping[Op, Rule] = MappingProxyType(
    {
        Op.ADD: _add,
        Op.SUB: _sub,
        Op.NEG: _neg,
        Op.MULTIPLY: _multiply,
        Op.MUL14: _mul14,
        Op.SHIFT_RIGHT: _shift_right,
        Op.DIVIDE: _divide,
        Op.ABSOLUTE: _absolute,
        Op.MINIMUM: _minimum,
        Op.MAXIMUM: _maximum,
        Op.CLAMP: _clamp,
        Op.SELECT: _select,
        Op.EQUAL: flags.equal,
        Op.NOT_EQUAL: flags.not_equal,
        Op.LESS: flags.less,
        Op.LESS_EQUAL: flags.less_equal,
        Op.AND: lambda build, args, _, place: flags.either_or_both(build, Op.AND, args, place),
        Op.OR: lambda build, args, _, place: flags.either_or_both(build, Op.OR, args, place),
        Op.NOT: flags.opposite,
    }
)
