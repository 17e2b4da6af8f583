"""Whether anything can leave int32, for all inputs at all times: proven, or named.

The bounds come with the graph (`invariants` proves them by induction over ticks). Here every operation is
held against its contract: its result and its unnamed intermediates within int32, a divisor positive. What
breaks is named in the trade's words, with the profile keys behind it.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from mixer.core.ops import HALF
from mixer.core.plan import Plan
from mixer.errors import Problem, ProfileError
from mixer.lower.graph.intervals import product, square
from mixer.lower.graph.names import profile_keys, trade_name
from mixer.lower.graph.nodes import INT32_MAX, INT32_MIN, Graph, Kind, Op, Range
from mixer.lower.graph.trace import trace


@dataclass(frozen=True, slots=True)
class Overflow:
    """One value that may leave int32."""

    signal: str
    """The signal it is, or is needed for."""
    place: str
    """The line of the core."""
    low: int
    high: int
    keys: tuple[str, ...]
    """Profile keys whose numbers lead there."""

    def __str__(self) -> str:
        keys = ", ".join(self.keys)
        words = trade_name(self.signal) or "a value"
        reach = f"may lie between {self.low} and {self.high}, outside 32 bits"
        return f"{words} ({self.place}) {reach}" + (f"; see {keys}" if keys else "")


@dataclass(frozen=True, slots=True)
class RangeReport:
    """What is known of a plan's values."""

    overflows: tuple[Overflow, ...]
    undefined: tuple[str, ...]
    """Divisions of a negative number, or by one that is not positive, as far as bounds can tell."""
    worst: str
    """The signal whose making comes nearest to the edge of int32."""
    largest: int
    """The largest magnitude of any value, intermediates included."""

    @property
    def ok(self) -> bool:
        """Whether nothing can overflow, and every division is defined."""
        return not self.overflows and not self.undefined

    @property
    def headroom(self) -> float:
        """How many times the largest magnitude fits into int32."""
        return INT32_MAX / max(self.largest, 1)


def check_ranges(plan: Plan) -> RangeReport:
    """Hold every operation of the plan's tick against int32.

    Also for a plan that breaks the invariants of `core.plan`: then it names what overflows.
    """
    return report_on(trace(plan))


def report_on(graph: Graph) -> RangeReport:
    """As `check_ranges`, for a graph at hand."""
    overflows: list[Overflow] = []
    worst, largest = 0, 0
    for index, reach in _values(graph):
        size = max(abs(reach.low), abs(reach.high))
        if size > largest:
            worst, largest = index, size
        if reach.low < INT32_MIN or reach.high > INT32_MAX:
            overflows.append(_overflow(graph, index, reach))
    return RangeReport(_first_of_each(overflows), _undefined(graph), graph.owner(worst), largest)


def _undefined(graph: Graph) -> tuple[str, ...]:
    broken = []
    for node in graph.nodes:
        if node.op is Op.DIVIDE:
            over, under = (graph.ranges[arg] for arg in node.args)
            if over.low < 0 or under.low <= 0:
                broken.append(f"{node.place} divides {over.low}..{over.high} by {under.low}..{under.high}")
    return tuple(broken)


def _values(graph: Graph) -> Iterator[tuple[int, Range]]:
    """Every number that is made, intermediates included."""
    for index, node in enumerate(graph.nodes):
        if node.kind is Kind.NUMBER:
            yield index, graph.ranges[index]
        if node.op is Op.MUL14:
            a, b = (graph.ranges[arg] for arg in node.args)
            p = square(a) if node.args[0] == node.args[1] else product(a, b)
            yield index, Range(p.low - 1, p.high + HALF)


def _overflow(graph: Graph, index: int, reach: Range) -> Overflow:
    signal = graph.owner(index)
    return Overflow(
        signal, graph.nodes[index].place, reach.low, reach.high, profile_keys(graph.plan, signal)
    )


def _first_of_each(overflows: list[Overflow]) -> tuple[Overflow, ...]:
    """The first overflow on the way to each signal; what follows from it adds nothing."""
    first: dict[str, Overflow] = {}
    for overflow in overflows:
        first.setdefault(overflow.signal, overflow)
    return tuple(first.values())


def checked_ranges(plan: Plan, where: str) -> RangeReport:
    """No plan goes on whose numbers could leave 32 bits on the board.

    What value-range analysis says of it. Raises ProfileError with `where` it came from and every overflow.
    """
    report = check_ranges(plan)
    if not report.ok:
        remedy = "lower the numbers of those keys"
        found = [*map(str, report.overflows), *report.undefined]
        raise ProfileError([Problem(where, "", said, remedy) for said in found])
    return report
