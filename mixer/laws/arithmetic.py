"""The watcher's own arithmetic, on ints and on symbols alike.

The same contracts as `core.ops` and a second text of them on purpose: a rule that counted with the
firmware's own operations could not tell when one of those is wrong. The tests hold the two together.
"""

from collections.abc import Sequence
from functools import reduce
from typing import Any, TypeAlias

ONE = 16384
"""Full stick and full output, Q14."""

Value: TypeAlias = int
"""A whole number, or a symbol standing for one."""
Flag: TypeAlias = bool
"""Whether something is so, or a symbol standing for that."""


def select(condition: Flag, if_true: Value, if_false: Value) -> Value:
    """`if_true` where the condition holds, else `if_false`."""
    if condition is True or condition is False:
        return if_true if condition else if_false
    symbol: Any = condition
    chosen: Value = symbol.choose(if_true, if_false)
    return chosen


def negation(flag: Flag) -> Flag:
    """The opposite."""
    return flag ^ True


def as_number(flag: Flag) -> Value:
    """1 where it is so, else 0."""
    return select(flag, 1, 0)


def minimum(a: Value, b: Value) -> Value:
    """The smaller one."""
    return select(a < b, a, b)


def maximum(a: Value, b: Value) -> Value:
    """The larger one."""
    return select(a > b, a, b)


def clamp(x: Value, low: Value, high: Value) -> Value:
    """`x`, or the end of [low, high] it lies beyond; low <= high."""
    return select(x < low, low, select(x > high, high, x))


def magnitude(x: Value) -> Value:
    """How far from zero."""
    return select(x < 0, -x, x)


def mul(a: Value, b: Value) -> Value:
    """The Q14 product to the nearest whole number, halves away from zero; |a * b| < 2**31 - ONE."""
    product: Any = a * b
    if isinstance(product, int):
        half = ONE // 2
        return (product + half) // ONE if product >= 0 else -((half - product) // ONE)
    rounded: Value = (product + ONE // 2 + product.shifted_right(31)).shifted_right(14)
    return rounded


def divide(a: Value, b: Value) -> Value:
    """The quotient without its remainder; a >= 0, b > 0."""
    if isinstance(a, int) and isinstance(b, int):
        return a // b
    symbol: Any = b if isinstance(a, int) else a
    quotient: Value = symbol.divided(a, b)
    return quotient


def both(flags: Sequence[Flag]) -> Flag:
    """Whether all of them hold."""
    return reduce(lambda a, b: a & b, flags, True)


def either(flags: Sequence[Flag]) -> Flag:
    """Whether one of them holds."""
    return reduce(lambda a, b: a | b, flags, False)


def implies(given: Flag, then: Flag) -> Flag:
    """`then` holds wherever `given` does."""
    return negation(given) | then


def same(a: Flag, b: Flag) -> Flag:
    """Both hold or neither does."""
    return (a & b) | negation(a | b)
