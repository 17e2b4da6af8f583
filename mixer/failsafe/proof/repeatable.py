"""Equal inputs give equal outputs: the tick reads nothing but its inputs and its state.

A traced tick is a graph whose only leaves are inputs, state slots and constants, so the graph repeats
itself by what it is. That the core is that graph every time is looked at by tracing it twice and by running
it beside the graph for a drive from power-up.
"""

from mixer.core import tick as firmware
from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.failsafe.proof.hunt import a_run
from mixer.lower.graph.nodes import Graph
from mixer.lower.graph.trace import trace_function
from mixer.lower.run.python import compile_graph

_TICKS = 1000


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
    state = list(layout_of(plan).start)
    for number, row in enumerate(a_run(plan, 1, _TICKS)):
        after = firmware.flat_tick(plan, row, state)
        expected = one_tick(row, state)
        if (tuple(after.signals), tuple(after.state)) != expected:
            return f"the core differs from its own graph in tick {number} of a drive"
        state = after.state
    return ""


def _trace(plan: Plan) -> Graph:
    layout = layout_of(plan)

    def run(inputs, state):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202
        after = firmware.flat_tick(plan, inputs, state)
        return dict(zip(layout.signals, after.signals, strict=True)), after.state

    return trace_function(plan, run, layout.state, layout.start)
