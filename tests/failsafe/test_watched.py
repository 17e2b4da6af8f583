"""The watched tick: the same bits called directly, in numpy and natively, on every kind of input."""

import random
from collections.abc import Sequence

import numpy as np
import pytest

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.errors import InternalError, OptionError
from mixer.failsafe.campaign.lanes import Scenarios, make_scenarios
from mixer.failsafe.campaign.prefix import prefixes
from mixer.live.judge.watched import Watched, watched_graph, watched_tick
from mixer.lower.graph.ranges import report_on
from mixer.lower.graph.trace import trace_function
from mixer.lower.solve.terms import encode
from tests.plans import rig
from tests.strategies import SMALL_SIZE, adversarial, random_plan


def small(seed: int) -> Plan:
    """A random small robot."""
    return random_plan(random.Random(seed), SMALL_SIZE)


def agrees(watched: Watched, scenarios: Scenarios, lanes: int) -> None:
    """Every lane gives what the watched tick gives on ints, tick by tick."""
    plan = watched.plan
    traces = [adversarial(random.Random(lane), plan, 60)[:60] for lane in range(lanes)]
    states = [list(watched.start) for _ in range(lanes)]
    for tick in range(60):
        given = np.array([trace[tick] for trace in traces], np.int32).T
        found = scenarios.step(given)
        for lane in range(lanes):
            signals, states[lane] = watched_tick(plan, traces[lane][tick], states[lane])
            expected = [signals[name] for name in scenarios.names]
            assert found[:, lane].tolist() == expected, (tick, lane)


@pytest.mark.parametrize("seed", range(6))
def test_numpy_lanes_agree_with_the_core_and_the_rules(seed: int) -> None:
    """Signals, broken rules and all."""
    watched = watched_graph(small(seed))
    agrees(watched, make_scenarios("numpy", watched, 3), 3)


@pytest.mark.needs_tool("gcc")
@pytest.mark.parametrize("seed", range(3))
def test_native_lanes_agree_with_the_core_and_the_rules(seed: int) -> None:
    """The same bits from C."""
    watched = watched_graph(small(seed))
    agrees(watched, make_scenarios("native", watched, 3), 3)


def test_a_state_can_be_written_into_a_lane() -> None:
    """A column of `raw` is a board's whole state: powering up one lane leaves the others alone."""
    watched = watched_graph(rig())
    boards = make_scenarios("numpy", watched, 2)
    live = next(way for way in prefixes(watched, 2) if way.guard == Guard.LIVE)
    boards.raw[:] = np.array(live.state, np.int32)[:, None]
    boards.raw[:, 1] = watched.start
    signals = boards.step(np.zeros((len(layout_of(rig()).inputs), 2), np.int32))
    states = signals[boards.names.index("guard.state")]
    assert states.tolist() == [Guard.LIVE, Guard.SEARCHING]


def test_prefixes_reach_what_they_say() -> None:
    """From power-up, real inputs bring the guard into each state, on the belly and on the back."""
    watched = watched_graph(rig())
    slots = watched.slots
    ways = prefixes(watched, 2)
    assert {(way.guard, way.flipped) for way in ways} == {
        (guard, side) for guard in Guard for side in (0, 1)
    }
    for way in ways:
        assert way.state[slots.index("guard.state")] == way.guard
        assert way.guard == Guard.SEARCHING or way.state[slots.index("flip.flipped")] == way.flipped


def test_an_unknown_engine_is_refused() -> None:
    """With the names there are."""
    with pytest.raises(OptionError, match="numpy, native"):
        make_scenarios("abacus", watched_graph(rig()), 4)


@pytest.mark.parametrize("plan", [rig(), rig(ramps=True), *map(small, range(4))])
def test_what_is_proven_of_whole_numbers_stays_within_32_bits(plan: Plan) -> None:
    """Firmware, watcher, rules and relations together: the premise of every proof."""
    report = report_on(watched_graph(plan, for_proof=True).graph)
    assert report.ok, [str(found) for found in report.overflows]


@pytest.mark.needs_tool("z3")
def test_nothing_is_proven_of_a_value_that_may_leave_32_bits() -> None:
    """A watcher that sums up pulses for ever is no graph for the solver: it is refused, with the signal."""
    plan = rig()

    def run(inputs: Sequence[int], state: Sequence[int]) -> tuple[dict[str, int], list[int]]:
        signals, after = watched_tick(plan, inputs, state[:-1])
        return signals | {"watch.sum": state[-1] + inputs[0]}, [*after, state[-1] + inputs[0]]

    right = watched_graph(plan).graph
    wrong = trace_function(plan, run, (*right.slots, "watch.sum"), (*right.start, 0))
    encode(right)
    with pytest.raises(InternalError, match=r"watch sum .* outside 32 bits"):
        encode(wrong)
