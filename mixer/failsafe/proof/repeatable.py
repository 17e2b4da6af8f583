"""Equal inputs give equal outputs: the tick reads nothing but its inputs and its state.

A traced tick is a graph whose only leaves are inputs, state slots and constants, so the graph repeats
itself by what it is. That the core is that graph every time is looked at by tracing it twice and by running
it beside the graph on scattered inputs.
"""

import random

from mixer.core import tick as firmware
from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.lower.graph.nodes import Graph
from mixer.lower.graph.trace import trace_function
from mixer.lower.run.python import compile_graph

_TICKS = 200


def repeats_itself(plan: Plan) -> str:
    """An empty text, or what was seen to differ."""
    first, second = _trace(plan), _trace(plan)
    if (first.nodes, first.state, dict(first.signals)) != (
        second.nodes,
        second.state,
        dict(second.signals),
    ):
        return "the core gives another graph when it is traced again"
    one_tick = compile_graph(first)
    state, rng = list(layout_of(plan).start), random.Random(1)  # noqa: S311 - trials, not secrets
    for number in range(_TICKS):
        row = _scattered(plan, rng, number)
        after = firmware.flat_tick(plan, row, state)
        expected = one_tick(row, state)
        if (tuple(after.signals), tuple(after.state)) != expected:
            return f"the core differs from its own graph in tick {number} of scattered inputs"
        state = after.state
    return ""


def _trace(plan: Plan) -> Graph:
    layout = layout_of(plan)

    def run(inputs, state):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202
        after = firmware.flat_tick(plan, inputs, state)
        return dict(zip(layout.signals, after.signals, strict=True)), after.state

    return trace_function(plan, run, layout.state, layout.start)


def _scattered(plan: Plan, rng: random.Random, number: int) -> list[int]:
    pulses = [rng.choice((0, 1000, 1500, 1500, 2000, rng.randint(1, 4000))) for _ in plan.channels]
    held = pulses if number % 3 else [1500] * len(plan.channels)
    return held + [rng.randint(0, 1) for _ in plan.contacts]
