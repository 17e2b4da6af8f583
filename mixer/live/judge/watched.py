"""The firmware and the watcher beside it as one graph: a tick that says which rules it broke.

`core.tick.flat_tick` and `laws.watch` are run together on symbols. What both work out alike becomes one
node, and what both remember alike one slot, so that watching costs little and most of a proof is done
before the solver starts. The graph goes through the same lowerings as the firmware alone.

State: the firmware's slots, then the watcher's. Signals: the firmware's own by name; `broken.KEY`, 1 where
a rule does not hold; `broken`, the sum of 2^number over the broken rules, and `reached` over those that
have something to say; `moving`, 1 unless every output is at zero; `live`, 1 while the watcher calls the
robot live; with `for_proof` also `assumed.NAME` and `kept.NAME`, the relations before and after.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from mixer.core import tick as firmware
from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.core.signals import Inputs
from mixer.laws.arithmetic import Value, as_number, negation, select
from mixer.laws.memory import memory_slots, start_memory
from mixer.laws.movement import all_at_rest
from mixer.laws.relations import relations
from mixer.laws.rules import rules_of
from mixer.laws.watch import watch
from mixer.lower.graph.nodes import Graph
from mixer.lower.graph.trace import pruned, trace_function


@dataclass(frozen=True, eq=False)
class Watched:
    """The graph of one plan's watched tick, and what stands where in it."""

    plan: Plan
    graph: Graph

    @property
    def slots(self) -> tuple[str, ...]:
        """Names of the state: the firmware's slots, then `watch.NAME` for each of the watcher's."""
        return self.graph.slots

    @property
    def start(self) -> tuple[int, ...]:
        """The state at power-up."""
        return self.graph.start

    @property
    def rules(self) -> tuple[str, ...]:
        """Keys of the rules that are judged."""
        return tuple(rule.key for rule in rules_of(self.plan))

    def only(self, signals: Iterable[str]) -> "Watched":
        """The same with fewer signals, and without what only the others needed."""
        return Watched(self.plan, pruned(self.graph, signals))


def watched_tick(
    plan: Plan, inputs: Sequence[Value], state: Sequence[Value], *, for_proof: bool = False
) -> tuple[dict[str, Value], list[Value]]:
    """The watched tick itself, on ints or on symbols: signals by name, and the next state."""
    layout, wires = layout_of(plan), len(plan.channels)
    own, memory = state[: len(layout.state)], state[len(layout.state) :]
    after = firmware.flat_tick(plan, inputs, own)
    read = Inputs(tuple(inputs[:wires]), tuple(inputs[wires:]))  # the watcher reads its rows by itself
    memory_after, seen = watch(plan, memory, read, layout.signals_of(after.signals))
    signals = dict(zip(layout.signals, after.signals, strict=True))
    broken: Value = 0
    reached: Value = 0
    for number, rule in enumerate(rules_of(plan)):
        flag = negation(rule.holds(seen))
        signals[f"broken.{rule.key}"] = as_number(flag)
        broken = broken + select(flag, 1 << number, 0)
        reached = reached + select(rule.premise(seen), 1 << number, 0)
    signals["broken"], signals["reached"] = broken, reached
    signals["moving"] = as_number(negation(all_at_rest(seen)))
    signals["live"] = as_number(seen.live)
    if for_proof:
        for prefix, now, kept in (("assumed", own, memory), ("kept", after.state, memory_after)):
            for name, holds in relations(plan, layout.state_of(now), kept).items():
                signals[f"{prefix}.{name}"] = as_number(holds)
    return signals, [*after.state, *memory_after]


@lru_cache(maxsize=4)  # a report asks for its robot's three times
def watched_graph(plan: Plan, *, for_proof: bool = False) -> Watched:
    """Trace the watched tick."""

    def run(inputs: Sequence[int], state: Sequence[int]) -> tuple[dict[str, int], list[int]]:
        return watched_tick(plan, inputs, state, for_proof=for_proof)

    slots = layout_of(plan).state + tuple(f"watch.{slot.name}" for slot in memory_slots(plan))
    start = layout_of(plan).start + start_memory(plan)
    return Watched(plan, trace_function(plan, run, slots, start))
