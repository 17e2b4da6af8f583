"""What each operation means, written once over whatever carries the numbers.

One function an operation, to be read against `CONTRACTS`: its sums, products and comparisons are Python's
own, and the three things that every carrier says in its own way stand in an `Algebra`. `PLAIN` is that of
ints and numpy arrays; `mixer.lower.solve.terms` has that of a solver's terms. Tests hold the fast
lowerings, and the core itself, against this table.
"""

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Protocol

import numpy as np

from mixer.core.ops import HALF
from mixer.lower.graph.nodes import Op


class Algebra(Protocol):
    """What ints, arrays and terms say each in its own way."""

    def choose(self, flag: Any, a: Any, b: Any) -> Any:  # noqa: ANN401 - any carrier
        """`a` where the flag holds, else `b`."""
        ...

    def shift_right(self, a: Any, bits: int) -> Any:  # noqa: ANN401 - any carrier
        """floor(a / 2**bits)."""
        ...

    def divide(self, a: Any, b: Any) -> Any:  # noqa: ANN401 - any carrier
        """floor(a / b), for a >= 0 and b > 0."""
        ...


def _mul14(on: Algebra, a: Any, b: Any) -> Any:  # noqa: ANN401 - any carrier
    product = a * b
    return on.shift_right(product + HALF + on.shift_right(product, 31), 14)


def _clamp(on: Algebra, a: Any, low: Any, high: Any) -> Any:  # noqa: ANN401 - any carrier
    return on.choose(a < low, low, on.choose(a > high, high, a))


_MEANINGS: Mapping[Op, Callable[..., Any]] = MappingProxyType(
    {
        Op.ADD: lambda _, a, b: a + b,
        Op.SUB: lambda _, a, b: a - b,
        Op.NEG: lambda _, a: -a,
        Op.MULTIPLY: lambda _, a, b: a * b,
        Op.MUL14: _mul14,
        Op.DIVIDE: lambda on, a, b: on.divide(a, b),
        Op.ABSOLUTE: lambda on, a: on.choose(a < 0, -a, a),
        Op.MINIMUM: lambda on, a, b: on.choose(a < b, a, b),
        Op.MAXIMUM: lambda on, a, b: on.choose(a > b, a, b),
        Op.CLAMP: _clamp,
        Op.SELECT: lambda on, flag, a, b: on.choose(flag, a, b),
        Op.LESS: lambda _, a, b: a < b,
        Op.LESS_EQUAL: lambda _, a, b: a <= b,
        Op.EQUAL: lambda _, a, b: a == b,
        Op.NOT_EQUAL: lambda _, a, b: a != b,
        Op.AND: lambda _, a, b: a & b,
        Op.OR: lambda _, a, b: a | b,
        Op.NOT: lambda _, a: a ^ True,
    }
)


def compute(on: Algebra, op: Op, operands: Sequence[Any], value: int) -> Any:  # noqa: ANN401 - any carrier
    """One operation on its operands; not for INPUT and STATE, which have none."""
    if op is Op.CONST:
        return value
    if op is Op.TRUTH:
        return value == 1
    if op is Op.SHIFT_RIGHT:
        return on.shift_right(operands[0], value)
    return _MEANINGS[op](on, *operands)


class _Plain:
    """Ints and numpy arrays."""

    def choose(self, flag: Any, a: Any, b: Any) -> Any:  # noqa: ANN401 - ints and arrays alike
        return np.where(flag, a, b)

    def shift_right(self, a: Any, bits: int) -> Any:  # noqa: ANN401 - ints and arrays alike
        return a >> bits

    def divide(self, a: Any, b: Any) -> Any:  # noqa: ANN401 - ints and arrays alike
        return a // b


PLAIN: Algebra = _Plain()
