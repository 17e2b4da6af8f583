"""The rules of safe driving over random robots and random inputs, seen from outside."""

import random
from dataclasses import replace

import pytest
from hypothesis import given

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.core.tick import flat_tick
from mixer.failsafe.proof.hunt import a_run
from tests.core.checked import checked, plain
from tests.core.ticks import commands_of, named
from tests.core.watch import Watch
from tests.failsafe.wrong_cores import RICH, SHARED
from tests.laws.monitor import Monitor
from tests.lengths import cases, examples
from tests.strategies import (
    FULL_SIZE,
    Trace,
    adversarial,
    arming,
    attacked_plans,
    driven_plans,
    driving,
    neutral_row,
    random_plan,
    run_core,
)


def watch_over(plan: Plan, trace: Trace) -> None:
    """Run a trace under the eyes of a watch."""
    watch = Watch(plan)
    for row, after in zip(trace, run_core(plan, trace), strict=True):
        watch.see(row, after)


@given(driven_plans())
def test_rules_hold_while_driving(drawn: tuple[Plan, Trace]) -> None:
    """No rule is broken by any robot driven plausibly."""
    watch_over(*drawn)


@pytest.mark.no_cover
@examples(30, 120)
@given(attacked_plans())
def test_rules_hold_under_attack(drawn: tuple[Plan, Trace]) -> None:
    """No rule is broken by any robot, whatever pulses, dropouts and bounces come in."""
    watch_over(*drawn)


@pytest.mark.no_cover
@pytest.mark.parametrize("seed", cases(range(12), range(12, 150)))
def test_rules_hold_for_large_robots(seed: int) -> None:
    """The same for plans up to full size, which hypothesis would draw slowly."""
    rng = random.Random(seed)
    plan = random_plan(rng, FULL_SIZE if seed % 3 == 0 else None)
    watch_over(plan, adversarial(rng, plan, 150))
    watch_over(plan, driving(rng, plan, 150))


@pytest.mark.parametrize("seed", cases(range(16), range(16, 40)))
def test_each_single_channel_stops_every_output(seed: int) -> None:
    """One silent channel alone, whichever it is, stops all outputs in the promised ticks."""
    rng = random.Random(seed)
    plan = random_plan(rng)
    quick = tuple(replace(output, down_step=max(output.down_step, 800)) for output in plan.outputs)
    plan = replace(plan, outputs=quick)
    rows = driving(rng, plan, 120)
    live = list(run_core(plan, rows))[-1]
    for channel in range(len(plan.channels)):
        state = live.state
        for _ in range(plan.guard.lost_ticks):
            row = list(rows[0][: len(plan.channels)]) + list(rows[-1][len(plan.channels) :])
            row[channel] = 0
            after = flat_tick(plan, row, state)
            state = after.state
        assert named(plan, after)["guard.state"] in (Guard.STOPPED, Guard.FAULTED)
        longest = max(-(-output.limit // output.down_step) for output in plan.outputs)
        for _ in range(longest - 1 if plan.guard.ramps else 0):
            after = flat_tick(plan, row, after.state)
        assert commands_of(plan, after) == (0,) * len(plan.outputs)


@pytest.mark.parametrize("seed", cases(range(24), range(24, 60)))
def test_no_start_by_itself_after_a_reset_with_arm_on(seed: int) -> None:
    """Powered up with the arm switch on and everything at rest, a robot never goes live."""
    plan = random_plan(random.Random(seed))
    if plan.guard.arm is None:
        return
    trace = [neutral_row(plan, armed=True)] * (4 * (plan.guard.hold_ticks + plan.guard.lost_ticks))
    for after in run_core(plan, trace):
        assert named(plan, after)["guard.state"] != Guard.LIVE


@pytest.mark.no_cover
@examples(30, 120)
@given(attacked_plans(ticks=60))
def test_equal_inputs_give_equal_outputs(drawn: tuple[Plan, Trace]) -> None:
    """A tick reads nothing but its arguments and changes none of them."""
    plan, trace = drawn
    state = list(layout_of(plan).start)
    for row in trace:
        given_row, given_state = list(row), list(state)
        first = flat_tick(plan, given_row, given_state)
        assert (given_row, given_state) == (list(row), state)
        assert flat_tick(plan, tuple(row), tuple(state)) == first
        assert flat_tick(replace(plan), row, state) == first
        state = first.state


def watch_numbers(plan: Plan, trace: Trace) -> None:
    """Run a trace on ints and on watched numbers and compare bit for bit."""
    state = list(layout_of(plan).start)
    for row in trace:
        expected = flat_tick(plan, row, state)
        watched = flat_tick(plan, checked(row), checked(state))  # type: ignore[arg-type]
        assert plain(watched.signals) == expected.signals
        assert plain(watched.state) == expected.state
        state = expected.state


@pytest.mark.no_cover
@examples(30, 120)
@given(attacked_plans(ticks=60))
def test_no_stage_branches_on_data_or_leaves_int32(drawn: tuple[Plan, Trace]) -> None:
    """On numbers without truth every tick runs through, fits int32 and equals the one on ints."""
    plan, trace = drawn
    watch_numbers(plan, trace[:150])


@pytest.mark.no_cover
@pytest.mark.parametrize("seed", cases(range(12), range(12, 40)))
def test_no_stage_leaves_int32_in_large_robots(seed: int) -> None:
    """The same for plans up to full size at the ends of every range."""
    rng = random.Random(seed)
    plan = random_plan(rng, FULL_SIZE)
    watch_numbers(plan, arming(plan)[::3] + adversarial(rng, plan, 30)[-30:])


@pytest.mark.long
@pytest.mark.timeout(1200)
def test_rules_hold_over_a_campaign() -> None:
    """A thousand more robots, each attacked and driven for 300 ticks."""
    for seed in range(10_000, 11_000):
        rng = random.Random(seed)
        plan = random_plan(rng, FULL_SIZE if seed % 3 == 0 else None)
        watch_over(plan, adversarial(rng, plan, 300))
        watch_over(plan, driving(rng, plan, 300))


@pytest.mark.parametrize("plan", [RICH, SHARED], ids=["rich", "shared"])
def test_the_core_is_what_its_watcher_works_out(plan: Plan) -> None:
    """A second account of the whole firmware agrees with it tick by tick, in drives of every kind."""
    layout = layout_of(plan)
    for seed in range(6):
        monitor, state = Monitor(plan), list(layout.start)
        for row in a_run(plan, seed, 300):
            signals, state = flat_tick(plan, row, state)
            assert monitor.step(signals, row) == ()
            own = zip(plan.actuators, layout.state_of(state).actuators, strict=True)
            assert not any(kept.latched for actuator, kept in own if actuator.stops_robot)
