"""Small robots with short times for the tests of the tester: quick to run, every feature once."""

from dataclasses import replace
from typing import Any

from mixer.core.ops import ONE
from mixer.core.plan import (
    ActuatorPlan,
    ChannelPlan,
    ContactPlan,
    FlipPlan,
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

TICK_MS = 10


def _stick(name: str, channel: int, *, flips: bool) -> StickPlan:
    gain = round(ONE * ONE / 500)
    shape = ShapePlan(band=820, gain=round(ONE * ONE / (ONE - 820)), expo=4000, rate=12000)
    return StickPlan(name, channel, 1500, 500, 500, gain, gain, False, 0, (shape,), None, flips)


def _output(name: str, weights: tuple[int, ...], **changes: Any) -> OutputPlan:  # noqa: ANN401
    output = OutputPlan(
        name, weights, ONE, ONE, 0, ONE // 6, ONE // 4, 3, Wire.DUTY, False, 0, 255, 255, brake=True
    )
    return replace(output, **changes)


def rig(**guard: Any) -> Plan:  # noqa: ANN401
    """Two wheels, two actuators (one stops the robot, one itself), an arm switch and a flip switch."""
    channels = tuple(
        ChannelPlan(name, 900, 2100, rest, False)
        for name, rest in (("throttle", 1500), ("turn", 1500), ("arm", 2000), ("over", 1000))
    )
    arm = SwitchPlan("arm", 2, (1500,), 60, True, ("off", "on"))
    over = SwitchPlan("over", 3, (1500,), 40, False, ("no", "yes"))
    contacts = tuple(
        ContactPlan(name, level, 4)
        for name, level in (("a_out", 1), ("a_in", 0), ("b_out", 1), ("b_in", 1))
    )
    settings = GuardPlan(10, 8, ONE // 16, SwitchPosition(0, 1), resumes=False, ramps=False)
    return Plan(
        name="rig",
        tick_ms=TICK_MS,
        channels=channels,
        sticks=(_stick("throttle", 0, flips=True), _stick("turn", 1, flips=False)),
        switches=(arm, over),
        mixed_switches=(),
        contacts=contacts,
        flip=FlipPlan(SwitchPosition(1, 1), 3),
        groups=(GroupPlan("wheels", (0, 1), OverRange.SCALE, None),),
        outputs=(
            _output("left", (ONE, ONE)),
            _output("right", (ONE, -ONE), reverse=True),
            _output("lift", (ONE, 0), limit=14000, pause_ticks=0),
            _output("grip", (0, ONE), limit=9000, pause_ticks=0, up_step=ONE, down_step=ONE),
        ),
        actuators=(
            ActuatorPlan("lift", 2, 0, 1, both_ticks=3, travel_limit=30 * ONE, stops_robot=True),
            ActuatorPlan("grip", 3, 2, 3, both_ticks=3, travel_limit=None, stops_robot=False),
        ),
        guard=replace(settings, **guard),
    )
