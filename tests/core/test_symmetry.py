"""Symmetry of the whole tick: mirrored sticks, swapped sides."""

import random
from dataclasses import replace

import pytest

from mixer.core.plan import GroupPlan, OutputPlan, Plan
from tests.core.ticks import named
from tests.lengths import cases
from tests.strategies import Trace, adversarial, driving, random_plan, run_core

pytestmark = pytest.mark.no_cover

SEEDS = cases(range(10), range(10, 60))


def evened(plan: Plan) -> Plan:
    """The plan with sticks equal both ways and untrimmed, and nothing one-sided in or after the mix."""
    sticks = []
    for stick in plan.sticks:
        span, gain = (
            (stick.high_span_us, stick.high_gain)
            if stick.high_span_us
            else (stick.low_span_us, stick.low_gain)
        )
        sticks.append(
            replace(stick, low_span_us=span, high_span_us=span, low_gain=gain, high_gain=gain, trim=0)
        )
    return replace(
        plan,
        channels=tuple(replace(channel, good_low_us=1, good_high_us=4000) for channel in plan.channels),
        sticks=tuple(sticks),
        mixed_switches=(),
        actuators=(),
        outputs=tuple(
            replace(output, weights=output.weights[: len(sticks)], high_span=output.low_span)
            for output in plan.outputs
        ),
        groups=tuple(
            group
            if group.yielding is None
            else replace(group, yielding=min(group.yielding, len(sticks) - 1))
            for group in plan.groups
        ),
    )


def mirrored(plan: Plan, trace: Trace, sticks: set[int]) -> Trace:
    """The trace with the pulses of these sticks mirrored about their centres; missing ones stay so."""
    centres = {plan.sticks[number].channel: plan.sticks[number].centre_us for number in sticks}
    return [
        tuple(
            2 * centres[number] - value if number in centres and value else value
            for number, value in enumerate(row)
        )
        for row in trace
    ]


def within(trace: Trace) -> Trace:
    """The trace with every pulse near enough to the centre that its mirror image is a good pulse."""
    return [tuple(value if value <= 1 else min(max(value, 500), 2500) for value in row) for row in trace]


def trace_for(plan: Plan, seed: int) -> Trace:
    """Driving for even seeds, anything for odd ones."""
    rng = random.Random(seed)
    make = adversarial if seed % 2 else driving
    trace = within(make(rng, plan, 150))
    return [
        tuple(0 if value == 1 else value for value in row[: len(plan.channels)]) + row[len(plan.channels) :]
        for row in trace
    ]


@pytest.mark.parametrize("seed", SEEDS)
def test_mirrored_sticks_give_mirrored_outputs(seed: int) -> None:
    """Over whole drives, guard, slew and pauses included: every command, and every wire about its rest."""
    plan = evened(random_plan(random.Random(seed)))
    trace = trace_for(plan, seed)
    other = mirrored(plan, trace, set(range(len(plan.sticks))))
    moved = False
    for here, there in zip(run_core(plan, trace), run_core(plan, other), strict=True):
        ours, theirs = named(plan, here), named(plan, there)
        for output in plan.outputs:
            key = f"output.{output.name}"
            assert ours[f"{key}.command"] == -theirs[f"{key}.command"]
            assert ours[f"{key}.wire"] - output.rest == output.rest - theirs[f"{key}.wire"]
            moved |= ours[f"{key}.command"] != 0
        assert ours["guard.state"] == theirs["guard.state"]
    assert moved or seed % 2 or not any(any(output.weights) for output in plan.outputs)


def doubled(plan: Plan, steering: int) -> Plan:
    """Each output once more on the other side: the same but for the sign of its steering weight."""
    outputs: list[OutputPlan] = []
    for output in plan.outputs:
        weights = list(output.weights)
        weights[steering] = -weights[steering]
        outputs += [
            replace(output, name=f"{output.name} left"),
            replace(output, name=f"{output.name} right", weights=tuple(weights)),
        ]
    groups = tuple(
        GroupPlan(
            group.name,
            tuple(2 * index + side for index in group.outputs for side in (0, 1)),
            group.policy,
            group.yielding,
        )
        for group in plan.groups
    )
    return replace(plan, outputs=tuple(outputs), groups=groups)


@pytest.mark.parametrize("seed", SEEDS)
def test_mirrored_steering_swaps_the_sides(seed: int) -> None:
    """Steering mirrored and all else as it was: the left side does what the right did, tick for tick."""
    rng = random.Random(seed)
    plan = evened(random_plan(rng))
    steering = rng.randrange(len(plan.sticks))
    plan = doubled(plan, steering)
    trace = trace_for(plan, seed)
    other = mirrored(plan, trace, {steering})
    for here, there in zip(run_core(plan, trace), run_core(plan, other), strict=True):
        ours, theirs = named(plan, here), named(plan, there)
        for left, right in zip(plan.outputs[::2], plan.outputs[1::2], strict=True):
            for field in ("command", "wire"):
                assert ours[f"output.{left.name}.{field}"] == theirs[f"output.{right.name}.{field}"]
                assert ours[f"output.{right.name}.{field}"] == theirs[f"output.{left.name}.{field}"]
