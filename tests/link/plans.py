"""A small robot for these tests: two sticks, an arm switch, two motors, one end stop. Our own invention."""

from dataclasses import replace

from mixer.core.ops import ONE
from mixer.core.plan import (
    ChannelPlan,
    ContactPlan,
    GuardPlan,
    OutputPlan,
    Plan,
    ShapePlan,
    StickPlan,
    SwitchPlan,
    SwitchPosition,
    Wire,
)

_SPAN = 500
_GAIN = round(ONE * ONE / _SPAN)


def _stick(name: str, channel: int) -> StickPlan:
    shape = ShapePlan(band=328, gain=round(ONE * ONE / (ONE - 328)), expo=0, rate=ONE)
    return StickPlan(
        name, channel, 1500, _SPAN, _SPAN, _GAIN, _GAIN, reverse=False, trim=0, shapes=(shape,),
        chooser=None, flips=False,
    )  # fmt: skip


def _output(name: str, weights: tuple[int, ...]) -> OutputPlan:
    return OutputPlan(
        name, weights, gain=ONE, limit=ONE, breakaway=0, up_step=4000, down_step=8000, pause_ticks=0,
        wire=Wire.PULSE, reverse=False, rest=1500, low_span=500, high_span=500, brake=False,
    )  # fmt: skip


def small_plan(tick_ms: int = 10, lost_ms: int = 200) -> Plan:
    """Throttle, steer, arm; left and right."""
    channels = tuple(
        ChannelPlan(name, 800, 2200, rest, median=False)
        for name, rest in (("throttle", 1500), ("steer", 1500), ("arm", 1000))
    )
    return Plan(
        name="cart",
        tick_ms=tick_ms,
        channels=channels,
        sticks=(_stick("throttle", 0), _stick("steer", 1)),
        switches=(SwitchPlan("arm", 2, (1500,), 50, reverse=False, position_names=("off", "on")),),
        mixed_switches=(),
        contacts=(ContactPlan("hood", closed_reads=0, release_ticks=5),),
        flip=None,
        groups=(),
        outputs=(_output("left", (ONE, ONE)), _output("right", (ONE, -ONE))),
        actuators=(),
        guard=GuardPlan(
            lost_ticks=lost_ms // tick_ms, hold_ticks=200 // tick_ms, neutral_within=800,
            arm=SwitchPosition(0, 1), resumes=False, ramps=False,
        ),
    )  # fmt: skip


def without_arm_switch(plan: Plan) -> Plan:
    """The same cart, armed by resting at neutral."""
    guard = replace(plan.guard, arm=None, resumes=True)
    return replace(plan, switches=(), channels=plan.channels[:2], guard=guard)
