"""Small hand-made plans for tests that need to know exactly what they hold."""

from dataclasses import replace
from typing import Any

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import (
    ActuatorPlan,
    ChannelPlan,
    ContactPlan,
    GroupPlan,
    GuardPlan,
    OutputPlan,
    OverRange,
    Plan,
    ShapePlan,
    StickPlan,
    SwitchPlan,
    SwitchPosition,
    Wire,
)
from mixer.core.tick import FlatTick
from tests.strategies import rounded_ratio

STRAIGHT = ShapePlan(band=0, gain=ONE, expo=0, rate=ONE)


def plain_shape(band: int = 0, expo: int = 0, rate: int = ONE) -> ShapePlan:
    """A shape with the gain that belongs to its band."""
    return ShapePlan(band, rounded_ratio(ONE - band), expo, rate)


def plain_stick(name: str, channel: int, **changes: Any) -> StickPlan:  # noqa: ANN401
    """1000 to 2000 µs around 1500, unbent, with whatever is to be different."""
    gain = rounded_ratio(500)
    stick = StickPlan(name, channel, 1500, 500, 500, gain, gain, False, 0, (STRAIGHT,), None, False)
    return replace(stick, **changes)


def plain_switch(name: str, channel: int) -> SwitchPlan:
    """Off below 1500 µs, on above."""
    return SwitchPlan(name, channel, (1500,), 50, False, ("off", "on"))


def plain_output(name: str, weights: tuple[int, ...], **changes: Any) -> OutputPlan:  # noqa: ANN401
    """A servo-pulse output that does nothing of its own, with whatever is to be different."""
    output = OutputPlan(
        name, weights, ONE, ONE, 0, ONE, ONE, 0, Wire.PULSE, False, 1500, 500, 500, brake=False
    )
    return replace(output, **changes)


def plain_guard(**changes: Any) -> GuardPlan:  # noqa: ANN401
    """Lost after 5 ticks, live after 3 at rest, no arm switch, cuts and must be armed anew."""
    return replace(GuardPlan(5, 3, ONE // 50, None, resumes=False, ramps=False), **changes)


def plain_plan(rows: tuple[tuple[int, ...], ...], **changes: Any) -> Plan:  # noqa: ANN401
    """As many sticks as the rows have weights, as many outputs as there are rows."""
    sticks = tuple(plain_stick(f"stick{number}", number) for number in range(len(rows[0])))
    plan = Plan(
        name="plain",
        tick_ms=20,
        channels=tuple(
            ChannelPlan(f"wire{number}", 800, 2200, 1500, False) for number in range(len(sticks))
        ),
        sticks=sticks,
        switches=(),
        mixed_switches=(),
        contacts=(),
        flip=None,
        groups=(),
        outputs=tuple(plain_output(f"motor{number}", row) for number, row in enumerate(rows)),
        actuators=(),
        guard=plain_guard(),
    )
    return replace(plan, **changes)


def tank_plan(policy: OverRange = OverRange.CLIP) -> Plan:
    """Throttle and turn to a left and a right motor: left = throttle + turn, right = throttle - turn."""
    yielding = 0 if policy is OverRange.YIELD else None
    return plain_plan(((ONE, ONE), (ONE, -ONE)), groups=(GroupPlan("wheels", (0, 1), policy, yielding),))


def with_arm_switch(plan: Plan, **guard: Any) -> Plan:  # noqa: ANN401
    """The plan with one more channel that carries the arm switch."""
    channel = ChannelPlan("arm", 800, 2200, 1000, False)
    return replace(
        plan,
        channels=(*plan.channels, channel),
        switches=(*plan.switches, plain_switch("arm", len(plan.channels))),
        guard=replace(plan.guard, arm=SwitchPosition(len(plan.switches), 1), **guard),
    )


def lift_plan(**actuator: Any) -> Plan:  # noqa: ANN401
    """One stick that drives a wheel and an actuator with a stop at each end, and an arm switch."""
    lift = ActuatorPlan("lift", 1, 0, 1, both_ticks=3, travel_limit=None, stops_robot=True)
    plan = plain_plan(
        ((ONE,), (ONE,)),
        contacts=(ContactPlan("out", 1, 2), ContactPlan("in", 0, 2)),
        actuators=(replace(lift, **actuator),),
    )
    return with_arm_switch(plan)


def named(plan: Plan, after: FlatTick) -> dict[str, int]:
    """A tick's signals by name."""
    return dict(zip(layout_of(plan).signals, after.signals, strict=True))


def commands_of(plan: Plan, after: FlatTick) -> tuple[int, ...]:
    """The outputs' commands."""
    signals = named(plan, after)
    return tuple(signals[f"output.{output.name}.command"] for output in plan.outputs)
