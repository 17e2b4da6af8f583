"""The firmware and the watcher beside it as one graph: a tick that says which rules it broke.

`core.tick.tick` and `laws.watch` are run together on symbols. What both work out alike becomes one node,
and what both remember alike one slot, so that watching costs little and most of a proof is done before
the solver starts. The graph goes through the same lowerings as the firmware alone.

State: the firmware's slots, then the watcher's. Signals: the firmware's own by name; `broken.KEY`, 1 where
a rule does not hold; `broken`, the sum of 2^number over the broken rules; `moving`, 1 unless every output is
at zero; with `for_proof` also `assumed.NAME` and `kept.NAME`, the relations before and after.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Any, cast

from mixer.core import tick as firmware
from mixer.core.layout import layout_of
from mixer.core.ops import Value, as_number, negation, select
from mixer.core.plan import Plan
from mixer.laws import memory_slots, rules_of, start_memory, watch
from mixer.laws.movement import all_at_rest
from mixer.laws.relations import relations
from mixer.laws.watch import Named
from mixer.lower.builder import Builder
from mixer.lower.graph import Graph, Op, Range
from mixer.lower.invariants import BEYOND, Invariants, find_invariants
from mixer.lower.symbol import node_of, unwrapped
from mixer.lower.trace import input_ranges
from mixer.lower.twins import Merged, merge_twins

_ANYTHING = Range(-BEYOND, BEYOND)


@dataclass(frozen=True, eq=False)
class Watched:
    """The graph of one plan's watched tick, and what stands where in it."""

    plan: Plan
    graph: Graph
    start: tuple[int, ...]

    @cached_property
    def slots(self) -> tuple[str, ...]:
        """Names of the state: the firmware's slots, then `watch.NAME` for each of the watcher's."""
        return layout_of(self.plan).state + tuple(f"watch.{slot.name}" for slot in memory_slots(self.plan))

    @cached_property
    def rules(self) -> tuple[str, ...]:
        """Keys of the rules that are judged."""
        return tuple(rule.key for rule in rules_of(self.plan))

    def only(self, signals: Iterable[str]) -> "Watched":
        """The same with fewer signals, and without what only the others needed."""
        chosen = set(signals)
        kept = {name: index for name, index in self.graph.signals.items() if name in chosen}
        return Watched(self.plan, _compacted(self.graph, kept), self.start)


def watched_tick(
    plan: Plan, inputs: Sequence[Value], state: Sequence[Value], *, for_proof: bool = False
) -> tuple[dict[str, Value], list[Value]]:
    """The watched tick itself, on ints or on symbols: signals by name, and the next state."""
    layout = layout_of(plan)
    own, memory = state[: len(layout.state)], state[len(layout.state) :]
    after = firmware.tick(plan, inputs, own)
    memory_after, seen = watch(plan, memory, inputs, Named(plan, after.signals))
    signals = dict(zip(layout.signals, after.signals, strict=True))
    broken: Value = 0
    for number, rule in enumerate(rules_of(plan)):
        flag = negation(rule.holds(seen))
        signals[f"broken.{rule.key}"] = as_number(flag)
        broken = broken + select(flag, 1 << number, 0)
    signals["broken"], signals["moving"] = broken, as_number(negation(all_at_rest(seen)))
    if for_proof:
        for prefix, now, kept in (("assumed", own, memory), ("kept", after.state, memory_after)):
            for name, holds in relations(plan, now, kept).items():
                signals[f"{prefix}.{name}"] = as_number(holds)
    return signals, [*after.state, *memory_after]


def watched_graph(plan: Plan, *, for_proof: bool = False) -> Watched:
    """Trace the watched tick. Not cached: the tests trace firmware that was made wrong on purpose."""
    start = layout_of(plan).start + start_memory(plan)
    inputs = input_ranges(plan)
    raw = Builder(plan, inputs, [_ANYTHING] * len(start))
    leaves = (_leaves(raw, Op.INPUT, len(inputs)), _leaves(raw, Op.STATE, len(start)))
    named, after = watched_tick(plan, *leaves, for_proof=for_proof)
    state = [node_of(raw, value) for value in after]
    signals = {name: node_of(raw, value) for name, value in named.items()}
    merged = merge_twins(raw.nodes, start, state)
    state = [merged.moved[node] for node in state]
    signals = {name: merged.moved[node] for name, node in signals.items()}
    bases = [node for name, node in signals.items() if name.startswith("channel.") and name.endswith(".pulse")]
    found = find_invariants(merged.nodes, inputs, start, state, bases)
    return Watched(plan, _rebuilt(plan, merged, found, signals, state), start)


def _leaves(builder: Builder, op: Op, count: int) -> Sequence[int]:
    leaves = [unwrapped(builder, builder.make(op, (), number)) for number in range(count)]
    return cast("Sequence[int]", leaves)


def _rebuilt(
    plan: Plan, merged: Merged, found: Invariants, signals: dict[str, int], state: Sequence[int]
) -> Graph:
    """The graph built anew with the bounds that were found, so that comparisons they settle vanish."""
    builder = Builder(plan, input_ranges(plan), found.state)
    new: list[int] = []
    for node, reach in zip(merged.nodes, found.nodes, strict=True):
        if node.op is Op.TRUTH or (reach.low == reach.high and node.op is not Op.CONST):
            constant: Any = builder.truth if node.kind.value == "flag" else builder.const
            new.append(constant(reach.low))
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
    needed = {*kept.values(), *graph.state}
    for index in range(len(graph.nodes) - 1, -1, -1):
        if index in needed:
            needed.update(graph.nodes[index].args)
    order = sorted(needed)
    new = {index: number for number, index in enumerate(order)}
    moved = [graph.nodes[index] for index in order]
    return Graph(
        plan=graph.plan,
        nodes=tuple(node._replace(args=tuple(new[arg] for arg in node.args)) for node in moved),
        ranges=tuple(graph.ranges[index] for index in order),
        signals=MappingProxyType({name: new[index] for name, index in kept.items()}),
        state=tuple(new[index] for index in graph.state),
        state_ranges=graph.state_ranges,
        fixed=graph.fixed,
        twins=graph.twins,
    )
