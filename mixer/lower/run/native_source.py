"""The C of the native engines: the exported mix with arrays in place of structs, and all wanted signals.

Two forms of one graph: numbers one by one, or a vector of scenarios in gcc's and clang's vector types,
where a flag is a mask of all ones or all zeros and a choice is two ands and an or.
"""

from collections.abc import Sequence

from mixer.core.layout import layout_of
from mixer.lower.c.plain.body import SCALAR, Dialect, Target, body_of
from mixer.lower.c.plain.expressions import Expression, Level, Width
from mixer.lower.c.program import fill, runtime
from mixer.lower.graph.nodes import Graph, Op

_LANES = {
    Op.ADD: "{} + {}",
    Op.SUB: "{} - {}",
    Op.NEG: "-{}",
    Op.MULTIPLY: "{} * {}",
    Op.LESS: "{} < {}",
    Op.LESS_EQUAL: "{} <= {}",
    Op.EQUAL: "{} == {}",
    Op.NOT_EQUAL: "{} != {}",
    Op.AND: "{} & {}",
    Op.OR: "{} | {}",
    Op.NOT: "~{}",
}
_LANE_CALLS = {
    Op.MUL14: "mul14",
    Op.DIVIDE: "divide",
    Op.ABSOLUTE: "magnitude",
    Op.MINIMUM: "minimum",
    Op.MAXIMUM: "maximum",
    Op.CLAMP: "clamp",
    Op.SELECT: "choose",
}


def _lane_expression(graph: Graph, index: int, args: Sequence[Expression]) -> Expression:
    """The node's operation in every lane at once."""
    node = graph.nodes[index]
    calls = frozenset[str]().union(*(arg.calls for arg in args))
    if node.op is Op.CONST:
        number = "INT32_MIN" if node.value == -(2**31) else str(node.value)
        return Expression(f"all({number})", Level.ATOM, Width.LONG, frozenset({"all"}))
    if node.op is Op.SHIFT_RIGHT:
        text = f"shift_right({args[0].text}, {node.value})"
        return Expression(text, Level.ATOM, Width.LONG, calls | {"shift_right"})
    called = _LANE_CALLS.get(node.op)
    if called is not None:
        text = f"{called}({', '.join(arg.text for arg in args)})"
        return Expression(text, Level.ATOM, Width.LONG, calls | {called})
    shown = (arg.text if arg.level is Level.ATOM else f"({arg.text})" for arg in args)
    return Expression(_LANES[node.op].format(*shown), Level.CONDITIONAL, Width.LONG, calls)


LANES = Dialect("lanes", "lanes", _lane_expression)


def native_source(graph: Graph) -> str:
    """C with `run(in, state, out, ticks)`: the graph's signals of every tick, the state brought forward."""
    return _filled(graph, SCALAR, "in[{}]", "out[{}]", frozenset())


def lanes_source(graph: Graph, width: int) -> str:
    """C with `run_lanes(in, kept, out, ticks, stride)` for so many scenarios a vector."""
    own = frozenset({"all", "choose", "minimum", "maximum"})
    return _filled(
        graph, LANES, "READ(in, {})", "AT(out, {})", own, slots=str(len(graph.slots)), width=str(width)
    )


def _filled(
    graph: Graph, dialect: Dialect, read: str, write: str, own: frozenset[str], **sizes: str
) -> str:
    """A dialect's template; `own` are the functions it calls by itself."""
    layout = layout_of(graph.plan)
    changing = [number for number, name in enumerate(graph.slots) if name not in graph.fixed]
    targets = [Target(f"state[{number}]", graph.state[number]) for number in changing]
    targets += [Target(write.format(number), node) for number, node in enumerate(graph.signals.values())]
    inputs = [Expression(read.format(number), Level.ATOM) for number in range(len(layout.inputs))]
    state = [Expression(f"state[{number}]", Level.ATOM) for number in range(len(graph.slots))]
    body = body_of(graph, targets, inputs, state, dialect=dialect)
    return fill(
        f"native{'_lanes' if dialect is LANES else ''}.c",
        functions=runtime("lanes.c" if dialect is LANES else "scalar.c", body.calls | own),
        body="\n".join(body.lines),
        inputs=str(len(layout.inputs)),
        signals=str(len(graph.signals)),
        **sizes,
    )
