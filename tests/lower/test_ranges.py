"""No int32 overflows on any valid robot, and where one would, it is named."""

from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings

from mixer.core.ops import ONE
from mixer.core.plan import ActuatorPlan, Plan
from mixer.lower.graph.intervals import _mul14, apply, bounds, hull, looks_at, meet
from mixer.lower.graph.invariants import Invariants, find_invariants
from mixer.lower.graph.nodes import INT32_MAX, Node, Op, Range
from mixer.lower.graph.ranges import check_ranges
from mixer.lower.graph.trace import trace
from tests.plans import carrier
from tests.strategies import FULL_SIZE, plans


@settings(max_examples=30)
@given(plan=plans())
def test_no_valid_robot_overflows(plan: Plan) -> None:
    """Whatever a valid plan says, every value and every unnamed intermediate fits 32 bits."""
    report = check_ranges(plan)
    assert report.ok, "\n".join(map(str, report.overflows))
    assert report.headroom >= 1
    assert check_ranges(plan).undefined == ()


@settings(max_examples=4)
@given(plan=plans(FULL_SIZE))
def test_no_large_robot_overflows(plan: Plan) -> None:
    """Nor does one of full size."""
    assert check_ranges(plan).ok


class Asked(list[Range]):
    """Bounds that note which of them are asked for."""

    def __init__(self, ranges: Sequence[Range]) -> None:
        super().__init__(ranges)
        self.seen: set[int] = set()

    def __getitem__(self, index: int) -> Range:  # type: ignore[override]
        self.seen.add(index)
        return super().__getitem__(index)


@settings(max_examples=5)
@given(plan=plans())
def test_a_nodes_bounds_hang_on_nothing_else_than_is_said(plan: Plan) -> None:
    """What is not worked out anew, because nothing it looks at has moved, would come out the same."""
    graph = trace(plan)
    for node in graph.nodes:
        if node.args:
            asked = Asked(graph.ranges)
            bounds(graph.nodes, asked, node)
            assert asked.seen <= looks_at(graph.nodes, node)


def test_what_was_proven_before_still_holds_where_its_clamp_is_gone() -> None:
    """A count whose limit was simplified away, since other bounds keep it from growing, is not endless."""
    nodes = [Node(Op.STATE, (), 0, ""), Node(Op.CONST, (), 1, ""), Node(Op.ADD, (0, 1), 0, "")]
    alone = find_invariants(nodes, [], [0], [2], [])
    assert alone.state[0].high > INT32_MAX
    five = Range(0, 5)
    found = find_invariants(nodes, [], [0], [2], [], Invariants([five, Range(1, 1), five], [five]))
    assert found == Invariants([five, Range(1, 1), Range(1, 5)], [five])


def with_weights(weights: tuple[int, ...]) -> Plan:
    """The carrier with a mix that no valid profile could have."""
    outputs = carrier().outputs
    return replace(carrier(), outputs=(replace(outputs[0], weights=weights), *outputs[1:]))


def test_an_overflow_is_named_with_its_keys() -> None:
    """A mix far beyond what is allowed: the first value that leaves int32, in words, with the key."""
    report = check_ranges(with_weights((9 * ONE, 9 * ONE, 0)))
    assert not report.ok
    first = report.overflows[0]
    assert first.signal == "output.front_left.mixed"
    assert first.keys == ("output.front_left.mix",)
    said = str(first)
    assert said.startswith("front left, after the mix (blend.py:")
    assert said.endswith("outside 32 bits; see output.front_left.mix")
    assert "-2415919105 and 2415927296" in said or "-2415919104 and 2415919104" in said


def test_a_counter_that_outgrows_int32_is_named() -> None:
    """The sum of an actuator's commands, watched up to a travel that is too long."""
    far = ActuatorPlan("left", 4, 0, 1, 10, 2**31 - 5, True)
    report = check_ranges(replace(carrier(), actuators=(far, carrier().actuators[1])))
    assert [overflow.signal for overflow in report.overflows] == ["actuator.left.driven"]
    assert "actuator.left.full_travel_ms" in str(report.overflows[0])


def test_the_edge_is_exact() -> None:
    """The largest sum a watched travel may reach is found to the last count."""
    for limit, fits in ((2**31 - 1 - ONE, True), (2**31 - ONE, False)):
        actuator = replace(carrier().actuators[0], travel_limit=limit)
        assert check_ranges(replace(carrier(), actuators=(actuator, carrier().actuators[1]))).ok is fits


def test_state_ranges_are_what_the_plan_says() -> None:
    """Counters stop where the plan says, commands stay within the limit, sign and all."""
    graph = trace(carrier())
    reach = dict(zip(graph.slots, graph.state_ranges, strict=True))
    assert reach["channel.throttle.age"] == Range(0, 125)
    assert reach["channel.throttle.pulse"] == Range(800, 2200)
    assert reach["guard.state"] == Range(0, 4)
    assert reach["guard.held"] == Range(0, 250)
    assert reach["output.front_left.command"] == Range(-ONE, ONE)
    assert reach["output.front_left.pause"] == Range(-30, 30)
    assert reach["actuator.left.driven"] == Range(-2000 * ONE, 2000 * ONE)


def test_expo_is_bounded_exactly() -> None:
    """Expo is not monotone to interval arithmetic; running it over every pulse shows that full is full."""
    graph = trace(carrier())
    assert graph.ranges[graph.signals["stick.throttle.curved"]] == Range(-ONE, ONE)


@pytest.mark.parametrize(
    "op", [Op.ADD, Op.SUB, Op.MULTIPLY, Op.MUL14, Op.MINIMUM, Op.MAXIMUM, Op.LESS, Op.EQUAL]
)
def test_interval_rules_are_hulls(op: Op) -> None:
    """The bounds of an operation are the smallest that hold all results, checked by trying all."""
    from mixer.lower.graph.meanings import PLAIN, compute  # noqa: PLC0415
    from mixer.lower.graph.nodes import Node  # noqa: PLC0415

    spans = [Range(-3, 4), Range(2, 5), Range(-7, -1), Range(0, 0)]
    for a in spans:
        for b in spans:
            scale = 5000 if op is Op.MUL14 else 1
            wide = [Range(r.low * scale, r.high * scale) for r in (a, b)]
            results = [
                int(compute(PLAIN, op, [x * scale, y * scale], 0))
                for x in range(a.low, a.high + 1)
                for y in range(b.low, b.high + 1)
            ]
            assert apply(Node(op, (0, 1)), wide) == Range(min(results), max(results))


def test_hull_and_meet() -> None:
    """Hull holds both; meet is what both hold, or nothing."""
    assert hull(Range(0, 2), Range(5, 6)) == Range(0, 6)
    assert meet(Range(0, 4), Range(3, 6)) == Range(3, 4)
    assert meet(Range(0, 2), Range(5, 6)) is None
    assert _mul14(Range(-ONE, ONE), Range(ONE, ONE)) == Range(-ONE, ONE)
