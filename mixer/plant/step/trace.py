"""Arithmetic on symbols: the coupled step, called once with them, becomes a graph without branches.

The step is written once over plain arithmetic and the operations of `Arithmetic`. Called with floats
it is the reference; called with symbols it leaves a graph that `compile` turns into straight-line
Python for one robot and into numpy calls for many. Constants are folded on the way, so that a wheel
that stands at y = 0, or gearing without loss, costs nothing.
"""

import math
from collections.abc import Sequence
from typing import Any, Protocol, TypeAlias

from mixer.plant.parts.battery import interpolate

Value: TypeAlias = Any
"""A float, an array of lanes, or a symbol."""
Points: TypeAlias = tuple[tuple[float, float], ...]


class Arithmetic(Protocol):
    """What the step needs beyond `+ - * /` and comparisons."""

    def sqrt(self, x: Value) -> Value:
        """Square root."""

    def sine(self, x: Value) -> Value:
        """Sine of an angle in rad."""

    def cosine(self, x: Value) -> Value:
        """Cosine of an angle in rad."""

    def select(self, condition: Value, if_true: Value, if_false: Value) -> Value:
        """One of two values; both may be computed, so neither may be impossible."""

    def clamp(self, x: Value, low: Value, high: Value) -> Value:
        """`x` held within [low, high]."""

    def along(self, points: Points, x: Value) -> Value:
        """Straight lines between points of rising x."""


class FloatArithmetic:
    """The reference meaning, on floats."""

    def sqrt(self, x: Value) -> Value:
        """Square root."""
        return math.sqrt(x)

    def sine(self, x: Value) -> Value:
        """Sine of an angle in rad."""
        return math.sin(x)

    def cosine(self, x: Value) -> Value:
        """Cosine of an angle in rad."""
        return math.cos(x)

    def select(self, condition: Value, if_true: Value, if_false: Value) -> Value:
        """One of two values."""
        return if_true if condition else if_false

    def clamp(self, x: Value, low: Value, high: Value) -> Value:
        """`x` held within [low, high]."""
        return low if x < low else min(x, high)

    def along(self, points: Points, x: Value) -> Value:
        """Straight lines between points."""
        return interpolate(points, x)


class FloatSymbol:
    """A node of a trace. Has no truth value: data may not steer the step."""

    __slots__ = ("index", "trace")

    def __init__(self, trace: "Trace", index: int) -> None:
        self.trace = trace
        self.index = index

    def __bool__(self) -> bool:
        raise TypeError("a symbol has no truth value: use select")

    def __add__(self, other: Value) -> Value:
        return self if _is(other, 0.0) else self.trace.node("+", self, other)

    def __radd__(self, other: Value) -> Value:
        return self if _is(other, 0.0) else self.trace.node("+", other, self)

    def __sub__(self, other: Value) -> Value:
        return self if _is(other, 0.0) else self.trace.node("-", self, other)

    def __rsub__(self, other: Value) -> Value:
        return -self if _is(other, 0.0) else self.trace.node("-", other, self)

    def __mul__(self, other: Value) -> Value:
        if _is(other, 0.0):
            return 0.0
        return self if _is(other, 1.0) else self.trace.node("*", self, other)

    __rmul__ = __mul__

    def __truediv__(self, other: Value) -> Value:
        return self * (1 / other) if isinstance(other, float | int) else self.trace.node("/", self, other)

    def __rtruediv__(self, other: Value) -> Value:
        return 0.0 if _is(other, 0.0) else self.trace.node("/", other, self)

    def __neg__(self) -> Value:
        return self.trace.node("neg", self)

    def __abs__(self) -> Value:
        return self.trace.node("abs", self)

    def __lt__(self, other: Value) -> Value:
        return self.trace.node("<", self, other)

    def __gt__(self, other: Value) -> Value:
        return self.trace.node(">", self, other)

    def __le__(self, other: Value) -> Value:
        return self.trace.node("<=", self, other)

    def __ge__(self, other: Value) -> Value:
        return self.trace.node(">=", self, other)

    def __and__(self, other: Value) -> Value:
        return self.trace.node("&", self, other)

    def __or__(self, other: Value) -> Value:
        return self.trace.node("|", self, other)


def _is(value: Value, number: float) -> bool:
    return isinstance(value, float | int) and value == number


class Trace:
    """Nodes in the order of their making, equal ones only once. Also the `Arithmetic` of symbols."""

    def __init__(self) -> None:
        self.nodes: list[tuple[Any, ...]] = []
        self._seen: dict[tuple[Any, ...], int] = {}

    def inputs(self, prefix: str, count: int) -> list[FloatSymbol]:
        """`count` symbols read from the sequence named `prefix`."""
        return [self._made(("input", f"{prefix}[{number}]")) for number in range(count)]

    def node(self, name: str, *operands: Value) -> FloatSymbol:
        """The node of an operation; operands are symbols (kept by index) or plain numbers."""
        parts = (("s", part.index) if isinstance(part, FloatSymbol) else ("c", part) for part in operands)
        return self._made((name, *parts))

    def _made(self, key: tuple[Any, ...]) -> FloatSymbol:
        if key not in self._seen:
            self._seen[key] = len(self.nodes)
            self.nodes.append(key)
        return FloatSymbol(self, self._seen[key])

    def sqrt(self, x: Value) -> Value:
        """Square root."""
        return self.node("sqrt", x) if isinstance(x, FloatSymbol) else math.sqrt(x)

    def sine(self, x: Value) -> Value:
        """Sine of an angle in rad."""
        return self.node("sin", x) if isinstance(x, FloatSymbol) else math.sin(x)

    def cosine(self, x: Value) -> Value:
        """Cosine of an angle in rad."""
        return self.node("cos", x) if isinstance(x, FloatSymbol) else math.cos(x)

    def select(self, condition: Value, if_true: Value, if_false: Value) -> Value:
        """One of two values."""
        if not isinstance(condition, FloatSymbol):
            return if_true if condition else if_false
        return if_true if _same(if_true, if_false) else self.node("select", condition, if_true, if_false)

    def clamp(self, x: Value, low: Value, high: Value) -> Value:
        """`x` held within [low, high]."""
        if _is(low, 0.0) and _is(high, 0.0):
            return 0.0
        if any(isinstance(part, FloatSymbol) for part in (x, low, high)):
            return self.node("clamp", x, low, high)
        return FloatArithmetic().clamp(x, low, high)

    def along(self, points: Points, x: Value) -> Value:
        """Straight lines between points."""
        if len({y for _, y in points}) == 1:
            return points[0][1]
        return self.node("along", points, x) if isinstance(x, FloatSymbol) else interpolate(points, x)


def _same(a: Value, b: Value) -> bool:
    if isinstance(a, FloatSymbol) and isinstance(b, FloatSymbol):
        return a.index == b.index
    return not isinstance(a, FloatSymbol) and not isinstance(b, FloatSymbol) and bool(a == b)


def operands_of(node: tuple[Any, ...]) -> Sequence[int]:
    """Indices of the nodes a node reads."""
    return [] if node[0] == "input" else [value for kind, value in node[1:] if kind == "s"]
