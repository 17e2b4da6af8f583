"""The few operations whose meaning differs between Python, C, numpy and a solver: one contract each.

Everything else in the core is `+ - *`, comparisons and `&` `|` on flags. A flag is the result of a
comparison. Each operation takes Python ints, or symbols that bring their own `choose`, `shifted_right`
and `divided`; no operation asks a symbol for its truth. The plain-int paths are written out because
they run a hundred times a tick.

`ONE` is full stick and full output (Q14: 14 fractional bits).
"""

from typing import Any, TypeAlias

ONE = 16384
HALF = ONE // 2

Value: TypeAlias = int
"""A signed 32-bit integer, or (when a plan is traced) a symbol standing for one."""
Flag: TypeAlias = bool
"""The outcome of a comparison, or a symbol standing for one. Combine with ``&`` and ``|`` only."""


def select(condition: Flag, if_true: Value, if_false: Value) -> Value:
    """`if_true` where the condition holds, else `if_false`; both are always computed."""
    if condition is True:
        return if_true
    if condition is False:
        return if_false
    symbol: Any = condition
    return symbol.choose(if_true, if_false)


def negation(flag: Flag) -> Flag:
    """The opposite flag (Python's `not` would ask a symbol for its truth)."""
    return flag ^ True


def as_number(flag: Flag) -> Value:
    """1 where the flag holds, else 0."""
    return 1 if flag is True else 0 if flag is False else select(flag, 1, 0)


def minimum(a: Value, b: Value) -> Value:
    """The smaller of two values."""
    less = a < b
    return a if less is True else b if less is False else select(less, a, b)


def maximum(a: Value, b: Value) -> Value:
    """The larger of two values."""
    more = a > b
    return a if more is True else b if more is False else select(more, a, b)


def clamp(x: Value, low: Value, high: Value) -> Value:
    """`x` held within [low, high]. Callers guarantee low <= high."""
    above = x > high
    held = high if above is True else x if above is False else select(above, high, x)
    below = x < low
    return low if below is True else held if below is False else select(below, low, held)


def magnitude(x: Value) -> Value:
    """The absolute value. Callers guarantee x > -2**31."""
    return select(x < 0, -x, x)


def shift_right(x: Value, bits: int) -> Value:
    """Arithmetic shift: floor(x / 2**bits), also for negative `x`. 0 <= bits <= 31, a constant."""
    if x.__class__ is int:
        return x >> bits
    symbol: Any = x
    return symbol.shifted_right(bits)  # type: ignore[no-any-return]


def divide(a: Value, b: Value) -> Value:
    """floor(a / b). Callers guarantee a >= 0 and b > 0, where every host agrees on the answer."""
    if a.__class__ is int and b.__class__ is int:
        return a // b
    symbol: Any = b if a.__class__ is int else a
    return symbol.divided(a, b)  # type: ignore[no-any-return]


def mul(a: Value, b: Value) -> Value:
    """Q14 product, rounding to nearest, halves away from zero.

    Exactly odd: mul(-a, b) == -mul(a, b), so mirrored sticks give mirrored outputs. Callers guarantee
    abs(a * b) <= 2**31 - 1 - HALF.
    """
    product = a * b
    if product.__class__ is int:
        return (product + HALF + (product >> 31)) >> 14
    return shift_right(product + HALF + shift_right(product, 31), 14)
