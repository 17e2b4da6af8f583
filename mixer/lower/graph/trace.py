"""Tracing: the core run once on symbols becomes a graph, and the graph is then simplified by its bounds.

First pass: `core.tick.tick` with symbols, nothing assumed of the state. Then `twins` finds slots that are
always equal, and `invariants` what the state and every node keep to. Second pass: the same graph built
again with those bounds, which settles comparisons, removes clamps that never bind and replaces slots that
never change.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType
from typing import TypeAlias, cast

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.core.tick import flat_tick
from mixer.errors import InternalError
from mixer.lower.graph.builder import Builder
from mixer.lower.graph.intervals import within
from mixer.lower.graph.invariants import BEYOND, CONTACT_RANGE, PULSE_RANGE, Invariants, find_invariants
from mixer.lower.graph.nodes import Graph, Kind, Node, Op, Range
from mixer.lower.graph.symbol import node_of, unwrapped
from mixer.lower.graph.twins import Merged, merge_twins

_ANYTHING = Range(-BEYOND, BEYOND)

Run: TypeAlias = Callable[[Sequence[int], Sequence[int]], tuple[Mapping[str, int], Sequence[int]]]
"""(inputs, state) -> (signals by name, next state)."""


def trace(plan: Plan, signals: Iterable[str] | None = None) -> Graph:
    """The plan's tick as a graph.

    `signals` names the signals to keep (in the order of the layout, whatever order they come in); None
    keeps all. What serves neither a kept signal nor the state is removed. Raises ValueError for a name
    the plan does not have.
    """
    whole = _traced(plan)
    return whole if signals is None else pruned(whole, signals)


def wire_signals(plan: Plan) -> tuple[str, ...]:
    """The signals a board must have: what each output's wire carries."""
    return tuple(output.wire for output in layout_of(plan).names.outputs)


def pruned(graph: Graph, signals: Iterable[str]) -> Graph:
    """The same graph with fewer signals, and without what only the others needed."""
    chosen = set(signals)
    unknown = chosen - set(graph.signals)
    if unknown:
        raise ValueError(f"no such signal: {', '.join(sorted(unknown))}")
    kept = {name: index for name, index in graph.signals.items() if name in chosen}
    return _compacted(graph, kept)


@lru_cache(maxsize=16)
def _traced(plan: Plan) -> Graph:
    layout = layout_of(plan)

    def run(inputs: Sequence[int], state: Sequence[int]) -> tuple[dict[str, int], Sequence[int]]:
        after = flat_tick(plan, inputs, state)
        if len(after.signals) != len(layout.signals) or len(after.state) != len(layout.state):
            raise InternalError("The core and its layout disagree on how many values a tick leaves behind")
        return dict(zip(layout.signals, after.signals, strict=True)), after.state

    return trace_function(plan, run, layout.state, layout.start)


def trace_function(plan: Plan, run: Run, slots: Sequence[str], start: Sequence[int]) -> Graph:
    """Any function on the plan's inputs and a state of its own as a graph: the core, or the core and more.

    `run(inputs, state)` gives signals by name and the next state; `slots` and `start` are the state's
    names and values at power-up. It must be written as the core is. Not cached.
    """
    inputs = input_ranges(plan)
    raw = Builder(plan, inputs, [_ANYTHING] * len(start))
    named, after = run(_symbols(raw, Op.INPUT, len(inputs)), _symbols(raw, Op.STATE, len(start)))
    state = [node_of(raw, value) for value in after]
    noted = {name: node_of(raw, value) for name, value in named.items()}
    graph = _simplified(plan, raw.nodes, start, state, noted)
    again = merge_twins(graph.nodes, start, graph.state)
    if tuple(again.twins) != graph.twins:  # simplifying has shown more parts of the state to be alike
        known = Invariants(list(graph.ranges), list(graph.state_ranges))
        graph = _simplified(plan, graph.nodes, start, graph.state, graph.signals, known)
    reaches = zip(slots, graph.state_ranges, strict=True)
    fixed = tuple(name for name, reach in reaches if reach.low == reach.high)
    return replace(graph, fixed=fixed, slots=tuple(slots), start=tuple(start))


def _simplified(
    plan: Plan,
    nodes: Sequence[Node],
    start: Sequence[int],
    after: Sequence[int],
    noted: Mapping[str, int],
    known: Invariants | None = None,
) -> Graph:
    """Twins merged, bounds found, and all of it built anew with both; `known` holds of `nodes` already."""
    merged = merge_twins(nodes, start, after)
    if known is not None:
        known = Invariants(_moved(known.nodes, merged), known.state)
    signals = {name: merged.moved[node] for name, node in noted.items()}
    state = [merged.moved[node] for node in after]
    bases = [signals[channel.pulse] for channel in layout_of(plan).names.channels]
    found = find_invariants(merged.nodes, input_ranges(plan), start, state, bases, known)
    return _rebuilt(plan, merged, found, signals, state)


def _moved(reaches: Sequence[Range], merged: Merged) -> list[Range]:
    """The bounds of nodes that have become one hold of it all together."""
    found = [_ANYTHING] * len(merged.nodes)
    for reach, node in zip(reaches, merged.moved, strict=True):
        found[node] = within(found[node], reach)
    return found


def input_ranges(plan: Plan) -> list[Range]:
    """What each input may be: any 16-bit pulse, a contact 0 or 1."""
    return [PULSE_RANGE] * len(plan.channels) + [CONTACT_RANGE] * len(plan.contacts)


def _symbols(builder: Builder, op: Op, count: int) -> Sequence[int]:
    leaves = [unwrapped(builder, builder.make(op, (), number)) for number in range(count)]
    return cast("Sequence[int]", leaves)


def _rebuilt(
    plan: Plan, merged: Merged, found: Invariants, signals: Mapping[str, int], state: Sequence[int]
) -> Graph:
    """The graph built anew with the bounds that were found."""
    builder = Builder(plan, input_ranges(plan), found.state)
    new: list[int] = []
    for node, reach in zip(merged.nodes, found.nodes, strict=True):
        if node.op is Op.TRUTH or (reach.low == reach.high and node.op is not Op.CONST):
            number = node.kind is Kind.NUMBER
            new.append(builder.const(reach.low) if number else builder.truth(reach.low == 1))
            continue
        index = builder.make(node.op, tuple(new[arg] for arg in node.args), node.value, node.place)
        builder.narrow(index, reach)
        new.append(index)
    graph = Graph(
        plan=plan,
        nodes=tuple(builder.nodes),
        ranges=tuple(builder.ranges),
        signals=MappingProxyType({name: new[index] for name, index in signals.items()}),
        state=tuple(new[index] for index in state),
        state_ranges=tuple(found.state),
        fixed=(),
        twins=tuple(merged.twins),
    )
    return _compacted(graph, graph.signals)


def _compacted(graph: Graph, signals: Iterable[str]) -> Graph:
    """Without the nodes that neither `signals` nor the next state need."""
    kept = {name: graph.signals[name] for name in signals}
    order = graph.needed([*kept.values(), *graph.state])
    new = {index: number for number, index in enumerate(order)}
    moved = [graph.nodes[index] for index in order]
    return replace(
        graph,
        nodes=tuple(node._replace(args=tuple(new[arg] for arg in node.args)) for node in moved),
        ranges=tuple(graph.ranges[index] for index in order),
        signals=MappingProxyType({name: new[index] for name, index in kept.items()}),
        state=tuple(new[index] for index in graph.state),
    )
