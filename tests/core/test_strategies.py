"""The random plans and traces themselves: valid, reproducible, and alive where they promise it."""

import random

import pytest
from hypothesis import given

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Guard, OverRange, Plan, Wire
from tests.lengths import cases
from tests.strategies import (
    FULL_SIZE,
    Trace,
    adversarial,
    arming,
    attacked_plans,
    driven_plans,
    driving,
    random_plan,
    run_core,
)


def assert_valid(plan: Plan) -> None:
    """Every invariant that plan.py writes under a field."""
    assert 1 <= len(plan.channels) <= 16
    assert 1 <= len(plan.outputs) <= 24
    assert len(plan.actuators) <= 8
    for channel in plan.channels:
        assert 1 <= channel.good_low_us < channel.good_high_us <= 4000
    for stick in plan.sticks:
        assert stick.low_span_us >= 0
        assert stick.high_span_us >= 0
        assert stick.low_span_us + stick.high_span_us > 0
        wanted = 1 if stick.chooser is None else len(plan.switches[stick.chooser].position_names)
        assert len(stick.shapes) == wanted
        for shape in stick.shapes:
            assert 0 <= shape.band < ONE
            assert shape.gain == round(ONE * ONE / (ONE - shape.band))
            assert -ONE // 2 <= shape.expo <= ONE
            assert 0 < shape.rate <= ONE
    for switch in plan.switches:
        assert list(switch.edges_us) == sorted(set(switch.edges_us))
        assert len(switch.position_names) == len(switch.edges_us) + 1
    assert_valid_outputs(plan)


def assert_valid_outputs(plan: Plan) -> None:
    """The invariants of outputs, groups, actuators and guard."""
    for output in plan.outputs:
        assert len(output.weights) == len(plan.sources)
        assert all(abs(weight) <= 2 * ONE for weight in output.weights)
        assert sum(map(abs, output.weights)) <= 4 * ONE
        assert 0 < output.gain <= 2 * ONE
        assert 0 < output.limit <= ONE
        assert 0 <= output.breakaway < ONE
        assert 1 <= output.up_step <= ONE
        assert 1 <= output.down_step <= ONE
        assert 0 <= output.low_span <= 16383
        assert 0 <= output.high_span <= 16383
        assert output.wire is Wire.DUTY or not output.brake
        assert output.wire is Wire.PULSE or output.rest == 0
    members = [index for group in plan.groups for index in group.outputs]
    assert len(members) == len(set(members))
    assert all((group.yielding is not None) == (group.policy is OverRange.YIELD) for group in plan.groups)
    assert len({actuator.output for actuator in plan.actuators}) == len(plan.actuators)
    assert all(actuator.both_ticks >= 1 for actuator in plan.actuators)
    assert plan.guard.lost_ticks >= 1
    assert plan.guard.hold_ticks >= 1


@pytest.mark.parametrize("seed", range(40))
def test_seeded_plans_are_valid_and_reproducible(seed: int) -> None:
    """Equal seeds give equal, valid plans and traces; full size stays within the core's limits."""
    plan = random_plan(random.Random(seed))
    assert_valid(plan)
    assert_valid(random_plan(random.Random(seed), FULL_SIZE))
    assert plan == random_plan(random.Random(seed))
    again = adversarial(random.Random(seed), plan, 50)
    assert again == adversarial(random.Random(seed), plan, 50)


@pytest.mark.parametrize("seed", cases(range(15), range(15, 40)))
def test_driving_reaches_live(seed: int) -> None:
    """Arming ends live for every random plan, so that laws about driving are not vacuous."""
    plan = random_plan(random.Random(seed))
    state = layout_of(plan).index("guard.state")
    states = [after.signals[state] for after in run_core(plan, driving(random.Random(seed), plan, 100))]
    assert states[len(arming(plan)) - 1] == Guard.LIVE


@given(driven_plans())
def test_drawn_plans_are_valid(drawn: tuple[Plan, Trace]) -> None:
    """What hypothesis draws keeps the same invariants and fits the plan's layout."""
    plan, trace = drawn
    assert_valid(plan)
    assert {len(row) for row in trace} == {len(layout_of(plan).inputs)}


@given(attacked_plans())
def test_layout_names_what_the_tick_writes(drawn: tuple[Plan, Trace]) -> None:
    """Layout and tick agree on how many numbers there are, and no name stands twice."""
    plan, trace = drawn
    layout = layout_of(plan)
    assert len(set(layout.state)) == len(layout.state) == len(layout.start)
    assert len(set(layout.signals)) == len(layout.signals)
    for after in run_core(plan, trace):
        assert len(after.state) == len(layout.state)
        assert len(after.signals) == len(layout.signals)
