"""What a graph promises: its order, its contracts, its names, and that tracing stays honest."""

import random
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mixer.core import ops
from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.errors import InternalError
from mixer.lower.graph.builder import Builder
from mixer.lower.graph.meanings import PLAIN, compute
from mixer.lower.graph.names import profile_keys, trade_name
from mixer.lower.graph.nodes import CONTRACTS, Graph, Kind, Op, Range
from mixer.lower.graph.symbol import Symbol, node_of
from mixer.lower.graph.trace import pruned, trace, trace_function, wire_signals
from mixer.testing.evaluation import evaluate, evaluate_nodes
from mixer.testing.inputs import rows
from tests.plans import carrier
from tests.strategies import plans

ANY = Range(-(10**6), 10**6)


@settings(max_examples=25)
@given(plan=plans())
def test_graphs_are_well_formed(plan: Plan) -> None:
    """Operands come first and have the kind the contract asks for; every signal and slot is there."""
    graph = trace(plan)
    for index, node in enumerate(graph.nodes):
        assert all(arg < index for arg in node.args)
        assert tuple(graph.nodes[arg].kind for arg in node.args) == CONTRACTS[node.op].takes
        assert node.op is not Op.TRUTH
    assert tuple(graph.signals) == layout_of(plan).signals
    assert len(graph.state) == len(graph.state_ranges) == len(layout_of(plan).state)
    roots = (*graph.signals.values(), *graph.state)
    assert all(graph.nodes[root].kind is Kind.NUMBER for root in roots)
    assert all(use > 0 for use in graph.uses), "a node nobody needs was kept"
    keys = [(node.op, node.args, node.value) for node in graph.nodes]
    assert len(set(keys)) == len(keys), "the same operation stands there twice"


@settings(max_examples=12)
@given(plan=plans(), seed=st.integers(0, 2**32))
def test_values_stay_within_their_ranges(plan: Plan, seed: int) -> None:
    """Every node and slot stays within the bounds the graph states for it."""
    graph = trace(plan)
    state: Sequence[int] = graph.start
    for row in rows(plan, 150, random.Random(seed)):
        values = evaluate_nodes(graph, row, state)
        for value, reach in zip(values, graph.ranges, strict=True):
            assert reach.low <= value <= reach.high
        state = [values[index] for index in graph.state]
        assert all(value in reach for value, reach in zip(state, graph.state_ranges, strict=True))


def test_twins_and_fixed_slots_are_found() -> None:
    """Wheels of one side are one computation; a latch that cannot be set is a constant."""
    graph = trace(carrier())
    slot = {name: number for number, name in enumerate(graph.slots)}
    assert graph.twins[slot["output.rear_left.command"]] == slot["output.front_left.command"]
    assert graph.twins[slot["output.front_right.command"]] == slot["output.front_right.command"]
    assert graph.signals["output.rear_left.wire"] == graph.signals["output.front_left.wire"]
    assert graph.fixed == ("actuator.left.latched", "actuator.right.latched")
    left, right = (replace(output, name=output.name) for output in carrier().outputs[:2])
    parted = replace(carrier(), outputs=(left, replace(right, up_step=161), *carrier().outputs[2:]))
    assert trace(parted).twins[slot["output.rear_left.command"]] == slot["output.rear_left.command"]


def test_what_nobody_needs_is_left_out() -> None:
    """With only the wires asked for, what serves only other signals is gone."""
    plan = carrier()
    wires = trace(plan, wire_signals(plan))
    assert tuple(wires.signals) == wire_signals(plan)
    assert len(wires.nodes) < len(trace(plan).nodes)
    with pytest.raises(ValueError, match=r"no such signal: output\.tail\.wire"):
        pruned(wires, ["output.tail.wire"])


def test_nodes_speak_of_the_robot() -> None:
    """A node without a name of its own belongs to the signal it helps to make, and knows its line."""
    graph = trace(carrier())
    slews = [index for index, node in enumerate(graph.nodes) if node.place.endswith(" slew")]
    assert slews
    owners = {trade_name(graph.owner(index)) for index in slews}
    assert owners <= {
        f"{name}, after slew" for name in ("front left", "front right", "left screw", "right screw")
    }
    assert all(re.match(r"drive\.py:\d+ slew$", graph.nodes[index].place) for index in slews)


def test_names_in_words() -> None:
    """Signals and slots have words; what is unknown keeps its name, readable."""
    assert trade_name("output.left_front.wanted") == "left front, before slew"
    assert trade_name("channel.throttle.age") == "channel throttle, ticks since the last good pulse"
    assert trade_name("guard.state") == "guard, state"
    assert trade_name("watch.odd_one") == "watch odd one"
    every = layout_of(carrier()).signals + layout_of(carrier()).state
    assert all("," in trade_name(name) for name in every), "a signal of the layout has no words"
    assert profile_keys(carrier(), "output.front_left.mixed") == ("output.front_left.mix",)


@pytest.mark.parametrize(
    ("ask", "what"),
    [
        (bool, "the truth"),
        (int, "the number"),
        (hash, "the hash"),
        ([1, 2].__getitem__, "the number, as an index,"),
    ],
)
def test_asking_for_data_names_the_line(ask: Callable[[Any], object], what: str) -> None:
    """A branch on data fails while tracing, with the line that asks and the one that made it."""

    def stage(inputs: Sequence[Any], _: Sequence[Any]) -> tuple[dict[str, int], list[int]]:
        doubled = inputs[0] * 2
        ask(doubled > 7 if ask is bool else doubled)
        return {}, []

    said = rf"^test_graph\.py:\d+ stage asks for {what} of a value made at test_graph\.py:\d+ stage"
    with pytest.raises(InternalError, match=said):
        trace_function(carrier(), stage, (), ())


def test_flags_are_no_numbers() -> None:
    """Adding a flag fails while tracing; numpy would have let it pass."""

    def stage(inputs: Sequence[Any], _: Sequence[Any]) -> tuple[dict[str, int], list[int]]:
        return {"x": (inputs[0] > 1) + 1}, []

    with pytest.raises(InternalError, match=r"^test_graph\.py:\d+ stage mixes flags and numbers in add"):
        trace_function(carrier(), stage, (), ())


def simplified(build: Callable[..., Any], count: int) -> tuple[Graph, int]:
    """A function of `count` numbers within ANY as a graph, and its root."""
    builder = Builder(carrier(), [ANY] * count, [])
    root = node_of(builder, build(*(Symbol(builder, builder.make(Op.INPUT, (), n)) for n in range(count))))
    graph = Graph(carrier(), tuple(builder.nodes), tuple(builder.ranges), {"r": root}, (), (), (), ())
    return graph, root


CASES: dict[str, tuple[Callable[..., Any], int, Op]] = {
    "x + 0": (lambda x: x + 0, 1, Op.INPUT),
    "x * 1": (lambda x: x * 1, 1, Op.INPUT),
    "x - x": (lambda x: x - x, 1, Op.CONST),
    "(x + y) - x": (lambda x, y: (x + y) - x, 2, Op.INPUT),
    "mul": (ops.mul, 2, Op.MUL14),
    "mul by ONE": (lambda x: ops.mul(x, ops.ONE), 1, Op.INPUT),
    "square has no sign": (lambda x: ops.mul(x, x), 1, Op.SHIFT_RIGHT),
    "magnitude": (ops.magnitude, 1, Op.ABSOLUTE),
    "minimum": (ops.minimum, 2, Op.MINIMUM),
    "maximum": (ops.maximum, 2, Op.MAXIMUM),
    "clamp": (lambda x: ops.clamp(x, -5, 9), 1, Op.CLAMP),
    "clamp that never binds": (lambda x: ops.clamp(x, -(10**7), 10**7), 1, Op.INPUT),
    "clamp that binds above only": (lambda x: ops.clamp(x, -(10**7), 9), 1, Op.MINIMUM),
    "equal arms": (lambda x, y: ops.select(x > 0, y, y), 2, Op.INPUT),
    "decided": (lambda x, y: ops.select(x < 10**7, x, y), 2, Op.INPUT),
    "flag and back": (lambda x, y: ops.select(ops.as_number(x > 3) > 0, x, y), 2, Op.SELECT),
}


@pytest.mark.parametrize("case", CASES)
def test_rewriting_finds_the_operation(case: str) -> None:
    """Identities and the compound operations of the core are recognised."""
    build, count, wanted = CASES[case]
    graph, root = simplified(build, count)
    assert graph.nodes[root].op is wanted


@given(data=st.data(), case=st.sampled_from(sorted(CASES)))
def test_rewriting_keeps_the_value(data: st.DataObject, case: str) -> None:
    """What was recognised gives what the core's own operation gives."""
    build, count, _ = CASES[case]
    wide = st.integers(ANY.low, ANY.high) if case != "mul" else st.integers(-40000, 40000)
    near = st.integers(-40000, 40000) | st.sampled_from([-8192, 8192, -24576, 0, 1, -1])
    numbers = [data.draw(near if "square" in case else wide | near) for _ in range(count)]
    graph, _ = simplified(build, count)
    assert evaluate(graph, numbers, [])[0] == [build(*numbers)]


@given(
    bits=st.integers(0, 13),
    odd=st.integers(-15, 15).map(lambda number: 2 * number + 1),
    times=st.integers(-20, 20),
    off=st.sampled_from([0, 0, 0, 1, -1]),
)
def test_rounding_is_simplified_only_where_it_may_be(bits: int, odd: int, times: int, off: int) -> None:
    """A Q14 product by a number is the core's, also halfway between two results.

    odd * 2**bits times an odd multiple of 2**(13 - bits) lies exactly halfway.
    """
    number, a = odd << bits, (2 * times + 1 << 13 - bits) + off
    for reach in (Range(a, a + 300), Range(a - 300, a), Range(-abs(a), abs(a))):
        builder = Builder(carrier(), [reach], [])
        symbol: Any = Symbol(builder, builder.make(Op.INPUT, (), 0))
        root = node_of(builder, ops.mul(symbol, number))
        values: list[Any] = []
        for node in builder.nodes:
            operands = [values[arg] for arg in node.args]
            values.append(a if node.op is Op.INPUT else compute(PLAIN, node.op, operands, node.value))
        assert values[root] == ops.mul(a, number)
