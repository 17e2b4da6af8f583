"""What C says shorter than the graph, and small boards do quicker: counting, bounds, sums held at full."""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from mixer.core.ops import ONE
from mixer.lower.c.plain.expressions import Level
from mixer.lower.c.tick.expressions import BYTE, Expression, Width, fitted, within
from mixer.lower.graph.intervals import is_within
from mixer.lower.graph.nodes import Graph, Op, Range

_FULL = Range(-ONE, ONE)
_WORD = 2**16


class Idiom(NamedTuple):
    """A node written from what stands below its operands."""

    given: tuple[int, ...]
    """What it is written from."""
    spelled: Callable[[Sequence[Expression]], Expression]
    work: int = 2


def idioms_of(graph: Graph) -> Mapping[int, Idiom]:
    """All of a graph, by node."""
    found: dict[int, Idiom] = {}
    finders = {
        Op.AND: _bounded,
        Op.MINIMUM: _counted,
        Op.MAXIMUM: _counted_down,
        Op.CLAMP: _clipped,
        Op.SELECT: _counted_for_sure,
    }
    for index, node in enumerate(graph.nodes):
        finder = finders.get(node.op)
        idiom = None if finder is None else finder(graph, index)
        if idiom is not None:
            found[index] = idiom
    return found


def _number(graph: Graph, index: int) -> int | None:
    node = graph.nodes[index]
    return node.value if node.op is Op.CONST else None


def _bounded(graph: Graph, index: int) -> Idiom | None:
    """A number of 16 bits within two bounds: how far x is above the lower bound, and one comparison."""
    sides = [graph.nodes[arg] for arg in graph.nodes[index].args]
    if any(side.op is not Op.LESS_EQUAL for side in sides):
        return None
    low, high = _number(graph, sides[0].args[0]), _number(graph, sides[1].args[1])
    number = sides[0].args[1]
    if low is None or high is None or number != sides[1].args[0]:
        return None
    reach = graph.ranges[number]
    wraps = reach.high - low < _WORD and reach.low - low + _WORD > high - low
    if low < 1 or high < low or not (is_within(reach, Range(0, _WORD - 1)) and wraps):
        return None

    def spelled(args: Sequence[Expression]) -> Expression:
        unsigned = "u" if args[0].width is Width.WORD else ""
        text = f"(uint16_t)({within(args[0], Level.SUM)} - {low}{unsigned}) <= {high - low}u"
        return Expression(text, Level.RELATION, Width.INT, args[0].calls)

    return Idiom((number,), spelled)


def _counted(graph: Graph, index: int) -> Idiom | None:
    """One more, up to a number."""
    total, most = graph.nodes[index].args
    count, limit = _count(graph, total, 1), _number(graph, most)
    if (
        count is None
        or limit is None
        or not is_within(graph.ranges[count], Range(0, min(limit, BYTE.high)))
    ):
        return None
    return Idiom((count,), lambda args: _of_bytes("counted", args[0], f", {limit}u"))


def _counted_for_sure(graph: Graph, index: int) -> Idiom | None:
    """One more, up to a number; without a sign that makes it sure one less is the most, once below."""
    flag, sure, unsure = graph.nodes[index].args
    counted = _counted(graph, sure) if graph.nodes[sure].op is Op.MINIMUM else None
    either, held = graph.nodes[flag], graph.nodes[unsure]
    if counted is None or either.op is not Op.OR or held.op is not Op.MINIMUM or held.args[0] != sure:
        return None
    (count,), most = counted.given, _number(graph, graph.nodes[sure].args[1])
    full = graph.nodes[either.args[1]]
    is_full = full.op is Op.LESS_EQUAL and full.args[1] == count and _number(graph, full.args[0]) == most
    if most is None or not is_full or _number(graph, held.args[1]) != most - 1:
        return None

    def spelled(args: Sequence[Expression]) -> Expression:
        choice = f", {within(args[1], Level.OR)} ? {most}u : {most - 1}u"
        made = _of_bytes("counted", args[0], choice)
        return made._replace(calls=made.calls | args[1].calls)

    return Idiom((count, either.args[0]), spelled)


def _counted_down(graph: Graph, index: int) -> Idiom | None:
    """One less, down to 0."""
    total, least = graph.nodes[index].args
    count = _count(graph, total, -1)
    if count is None or _number(graph, least) != 0 or not is_within(graph.ranges[count], BYTE):
        return None
    return Idiom((count,), lambda args: _of_bytes("counted_down", args[0], ""))


def _count(graph: Graph, total: int, step: int) -> int | None:
    node = graph.nodes[total]
    return node.args[0] if node.op is Op.ADD and _number(graph, node.args[1]) == step else None


def _of_bytes(name: str, count: Expression, more: str) -> Expression:
    text = f"{name}({fitted('uint8_t', count).text}{more})"
    return Expression(text, Level.ATOM, Width.INT, count.calls | {name}, "uint8_t")


def _clipped(graph: Graph, index: int) -> Idiom | None:
    """The sum of two commands, or their difference, held within full: in 16 bits, which it may leave."""
    total, *ends = graph.nodes[index].args
    node = graph.nodes[total]
    name = {Op.ADD: "clipped_sum", Op.SUB: "clipped_difference"}.get(node.op)
    if name is None or [_number(graph, end) for end in ends] != [-ONE, ONE]:
        return None
    if not all(is_within(graph.ranges[arg], _FULL) for arg in node.args):
        return None

    def spelled(args: Sequence[Expression]) -> Expression:
        calls = frozenset[str]().union(*(arg.calls for arg in args)) | {name}
        return Expression(f"{name}({args[0].text}, {args[1].text})", Level.ATOM, Width.INT, calls)

    return Idiom(node.args, spelled, 4)
