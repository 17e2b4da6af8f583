"""Every lowering gives the bits the core gives, on random robots and random and adversarial inputs."""

import random
import re
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.lower.graph.trace import trace, wire_signals
from mixer.lower.run.arrays import ArrayTick
from mixer.lower.run.python import compile_tick
from mixer.testing.evaluation import evaluate
from mixer.testing.lowering import OneTick, check_lanes, check_lowering
from tests.lengths import examples
from tests.plans import carrier
from tests.strategies import attacked_plans, plans, random_plan, run_core

SEEDS = st.integers(0, 2**32)


def evaluator(plan: Plan) -> OneTick:
    """The graph, evaluated contract by contract."""
    graph = trace(plan)
    return lambda inputs, state: evaluate(graph, inputs, state)


@pytest.mark.no_cover
@examples(8, 24)
@given(plan=plans(), seed=SEEDS)
def test_the_graph_means_what_the_core_does(plan: Plan, seed: int) -> None:
    """The traced graph, evaluated by its contracts, is the core."""
    check_lowering(evaluator, plan, 150, seed)


@pytest.mark.no_cover
@examples(15, 60)
@given(plan=plans(), seed=SEEDS)
def test_generated_python_is_the_core(plan: Plan, seed: int) -> None:
    """Straight-line Python gives every signal and slot of the core."""
    check_lowering(compile_tick, plan, 600, seed)


@pytest.mark.no_cover
@examples(8, 30)
@given(plan=plans(), seed=SEEDS, lanes=st.integers(2, 4))
def test_arrays_are_the_core_in_every_lane(plan: Plan, seed: int, lanes: int) -> None:
    """Lanes with inputs of their own each run as the core would alone."""
    check_lanes(ArrayTick, plan, lanes, 150, seed)


@examples(8, 30)
@given(attacked_plans(ticks=60))
def test_generated_python_follows_any_trace(case: tuple[Plan, list[tuple[int, ...]]]) -> None:
    """The same on traces that hypothesis can shrink."""
    plan, inputs = case
    one_tick = compile_tick(plan)
    state: Sequence[int] = layout_of(plan).start
    for row, wanted in zip(inputs, run_core(plan, inputs), strict=True):
        signals, state = one_tick(row, state)
        assert (list(signals), list(state)) == (wanted.signals, wanted.state)


@pytest.mark.no_cover
def test_the_check_reaches_live() -> None:
    """The conformance check is worth something: robots are live for a good part of it."""
    assert check_lowering(compile_tick, carrier(), 4000, 3) > 400
    assert check_lanes(ArrayTick, carrier(), 3, 1000, 3) > 100


def test_blocks_of_lanes_do_not_disturb_each_other(monkeypatch: pytest.MonkeyPatch) -> None:
    """More lanes than fit a block are worked through in several, with the same results."""
    monkeypatch.setattr("mixer.lower.run.arrays._BLOCK", 3)
    check_lanes(ArrayTick, carrier(), 8, 300, 5)


def test_chosen_signals_are_those_of_all() -> None:
    """Fewer signals leave the others and the state as they were."""
    plan = carrier()
    chosen = (*wire_signals(plan), "guard.state")
    some, every = compile_tick(plan, chosen), compile_tick(plan)
    lanes = ArrayTick(plan, 2, chosen)
    state: Sequence[int] = layout_of(plan).start
    names = [name for name in layout_of(plan).signals if name in chosen]
    for row in (
        [1500, 1500, 1500, 1000, 1500, 1500, 1, 1, 1, 1],
        [2000, 900, 1700, 2000, 0, 1, 0, 1, 1, 0],
    ):
        few, after = some(row, state)
        all_, state = every(row, state)
        by_name = dict(zip(layout_of(plan).signals, all_, strict=True))
        assert after == state
        assert list(few) == [by_name[name] for name in names]
        assert lanes.step(np.array([row, row], np.int32).T)[:, 1].tolist() == list(few)
    assert lanes.names == tuple(names)


def test_a_mistake_is_named() -> None:
    """A lowering that is one off in one signal is told which and when."""

    def wrong(plan: Plan) -> OneTick:
        right, at, calls = compile_tick(plan), layout_of(plan).index("output.rear_left.wire"), []

        def one_tick(inputs: Sequence[int], state: Sequence[int]) -> tuple[Sequence[int], Sequence[int]]:
            signals, after = right(inputs, state)
            calls.append(1)
            off = len(calls) == 12
            return [value + (off and number == at) for number, value in enumerate(signals)], after

        return one_tick

    said = re.escape("signal output.rear_left.wire (rear left, on the wire) differs first, at tick 11")
    with pytest.raises(AssertionError, match=f"^{said}: the core gives 1500, the lowering 1501"):
        check_lowering(wrong, carrier(), 50, 1)


def test_one_lane_is_refused() -> None:
    """An array of one lane could hide a mistake, so there is none."""
    with pytest.raises(ValueError, match="two lanes"):
        ArrayTick(carrier(), 1)
    with pytest.raises(ValueError, match="two at least"):
        check_lanes(ArrayTick, carrier(), 1, 10, 1)


def test_wrong_inputs_are_refused() -> None:
    """Arrays take integers in the right shape only."""
    lanes = ArrayTick(carrier(), 2)
    with pytest.raises(ValueError, match="shape"):
        lanes.step(np.zeros((3, 2), np.int32))
    with pytest.raises(TypeError, match="Cannot cast"):
        lanes.step(np.zeros((10, 2), np.float64))  # type: ignore[arg-type]


def test_reset_powers_up_again() -> None:
    """After a reset the lanes run as at first."""
    lanes = ArrayTick(carrier(), 2)
    first = lanes.step(np.full((10, 2), 1, np.int32)).copy()
    lanes.step(np.full((10, 2), 0, np.int32))
    lanes.reset()
    assert lanes.state[:, 0].tolist() == list(layout_of(carrier()).start)
    assert (lanes.step(np.full((10, 2), 1, np.int32)) == first).all()


@pytest.mark.long
@pytest.mark.timeout(1800)
def test_a_million_ticks_agree() -> None:
    """10^6 ticks in all, over many robots: generated Python and arrays against the core."""
    total = 0
    for seed in range(100):
        plan = carrier() if seed == 0 else random_plan(random.Random(seed))
        check_lowering(compile_tick, plan, 9400, seed)
        check_lanes(ArrayTick, plan, 3, 200, seed)
        total += 9400 + 3 * 200
    assert total == 1_000_000
