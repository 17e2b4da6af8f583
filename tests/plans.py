"""Plans made by hand, for tests that need to know exactly what a robot holds.

The `plain_` makers give parts that do nothing of their own, with whatever is to be different; the robots
below are put together from them. All are our own inventions.
"""

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
from tests.random_plans import rounded_ratio


def plain_channel(name: str, rest_us: int = 1500, **changes: Any) -> ChannelPlan:  # noqa: ANN401
    """Good from 800 to 2200 µs."""
    return replace(ChannelPlan(name, 800, 2200, rest_us, median=False), **changes)


def plain_shape(band: int = 0, expo: int = 0, rate: int = ONE) -> ShapePlan:
    """A shape with the gain that belongs to its band."""
    return ShapePlan(band, rounded_ratio(ONE - band), expo, rate)


STRAIGHT = plain_shape()


def plain_stick(name: str, channel: int, **changes: Any) -> StickPlan:  # noqa: ANN401
    """1000 to 2000 µs around 1500, unbent."""
    gain = rounded_ratio(500)
    stick = StickPlan(name, channel, 1500, 500, 500, gain, gain, False, 0, (STRAIGHT,), None, False)
    return replace(stick, **changes)


def plain_switch(name: str, channel: int, **changes: Any) -> SwitchPlan:  # noqa: ANN401
    """Off below 1500 µs, on above."""
    return replace(SwitchPlan(name, channel, (1500,), 50, False, ("off", "on")), **changes)


def plain_output(name: str, weights: tuple[int, ...], **changes: Any) -> OutputPlan:  # noqa: ANN401
    """On a servo pulse, with neither limit nor slew."""
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
        channels=tuple(plain_channel(f"wire{number}") for number in range(len(sticks))),
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


def with_arm_switch(plan: Plan, **guard: Any) -> Plan:  # noqa: ANN401
    """The plan with one more channel that carries the arm switch."""
    arm = SwitchPosition(len(plan.switches), 1)
    return replace(
        plan,
        channels=(*plan.channels, plain_channel("arm", 1000)),
        switches=(*plan.switches, plain_switch("arm", len(plan.channels))),
        guard=replace(plan.guard, arm=arm, **guard),
    )


def tank_plan(policy: OverRange = OverRange.CLIP) -> Plan:
    """Throttle and turn to a left and a right motor: left = throttle + turn, right = throttle - turn."""
    yielding = 0 if policy is OverRange.YIELD else None
    return plain_plan(((ONE, ONE), (ONE, -ONE)), groups=(GroupPlan("wheels", (0, 1), policy, yielding),))


def lift_plan(**actuator: Any) -> Plan:  # noqa: ANN401
    """One stick that drives a wheel and an actuator with a stop at each end, and an arm switch."""
    lift = ActuatorPlan("lift", 1, 0, 1, both_ticks=3, travel_limit=None, stops_robot=True)
    plan = plain_plan(
        ((ONE,), (ONE,)),
        contacts=(ContactPlan("out", 1, 2), ContactPlan("in", 0, 2)),
        actuators=(replace(lift, **actuator),),
    )
    return with_arm_switch(plan)


def cart_plan(tick_ms: int = 10, lost_ms: int = 200) -> Plan:
    """Throttle, steer, arm; left and right; a hood contact that no part of the mix reads."""
    shapes = (plain_shape(band=328),)
    slewed = {"up_step": 4000, "down_step": 8000}
    plan = plain_plan(
        ((ONE, ONE), (ONE, -ONE)),
        name="cart",
        tick_ms=tick_ms,
        channels=(plain_channel("throttle"), plain_channel("steer")),
        sticks=(plain_stick("throttle", 0, shapes=shapes), plain_stick("steer", 1, shapes=shapes)),
        contacts=(ContactPlan("hood", closed_reads=0, release_ticks=5),),
        outputs=(
            plain_output("left", (ONE, ONE), **slewed),
            plain_output("right", (ONE, -ONE), **slewed),
        ),
    )
    return with_arm_switch(
        plan, lost_ticks=lost_ms // tick_ms, hold_ticks=200 // tick_ms, neutral_within=800
    )


def without_arm_switch(plan: Plan) -> Plan:
    """The same cart, armed by resting at neutral."""
    guard = replace(plan.guard, arm=None, resumes=True)
    return replace(plan, switches=(), channels=plan.channels[:2], guard=guard)


def tipper_plan(name: str = "small", *, expo: int = 0, steer: int = ONE) -> Plan:
    """Two wheels that scale together, one actuator between two end stops, an arm switch."""
    shapes = (plain_shape(expo=expo),)
    sticks = ("throttle", "steering", "tip")
    wheel = {"up_step": 4000, "down_step": 4000, "pause_ticks": 3}
    return plain_plan(
        ((ONE, 0, 0),),
        name=name,
        tick_ms=2,
        channels=tuple(plain_channel(channel) for channel in (*sticks, "arm")),
        sticks=tuple(plain_stick(stick, index, shapes=shapes) for index, stick in enumerate(sticks)),
        switches=(plain_switch("arm", 3),),
        contacts=(ContactPlan("stop_out", 1, 2), ContactPlan("stop_in", 1, 2)),
        groups=(GroupPlan("wheels", (0, 1), OverRange.SCALE, None),),
        outputs=(
            plain_output("left", (ONE, steer, 0), **wheel),
            plain_output("right", (ONE, -steer, 0), **wheel),
            plain_output("tray", (0, 0, ONE), limit=ONE // 2),
        ),
        actuators=(ActuatorPlan("tray", 2, 0, 1, 4, ONE * 500, True),),
        guard=plain_guard(lost_ticks=10, hold_ticks=5, neutral_within=983, arm=SwitchPosition(0, 1)),
    )


def carrier() -> Plan:
    """Three sticks, two switches, four end stops; drive outputs share one scaling group."""
    shapes = (plain_shape(ONE // 25, expo=4915),)
    sticks = ("throttle", "steering", "tilt")
    weights = {
        "front_left": (ONE, ONE, 0),
        "rear_left": (ONE, ONE, 0),
        "front_right": (ONE, -ONE, 0),
        "rear_right": (ONE, -ONE, 0),
        "left_screw": (0, 0, ONE),
        "right_screw": (0, 0, ONE),
    }
    own = {"breakaway": 800, "up_step": 160, "down_step": 400, "pause_ticks": 30}
    return plain_plan(
        ((ONE, 0, 0),),
        name="carrier",
        tick_ms=2,
        channels=tuple(plain_channel(channel) for channel in (*sticks, "arm", "pace", "spare")),
        sticks=tuple(plain_stick(stick, index, shapes=shapes) for index, stick in enumerate(sticks)),
        switches=(
            plain_switch("arm", 3),
            plain_switch("pace", 4, edges_us=(1250, 1750), position_names=("slow", "mid", "fast")),
        ),
        contacts=tuple(ContactPlan(contact, 0, 10) for contact in ("out_l", "in_l", "out_r", "in_r")),
        groups=(GroupPlan("drive", (0, 1, 2, 3), OverRange.SCALE, None),),
        outputs=tuple(plain_output(output, row, **own) for output, row in weights.items()),
        actuators=(
            ActuatorPlan("left", 4, 0, 1, 10, ONE * 2000, True),
            ActuatorPlan("right", 5, 2, 3, 10, ONE * 2000, True),
        ),
        guard=plain_guard(lost_ticks=125, hold_ticks=250, neutral_within=983, arm=SwitchPosition(0, 1)),
    )


def rig(**guard: Any) -> Plan:  # noqa: ANN401
    """Every feature once, in short times: two wheels, two actuators, an arm switch and a flip switch.

    One actuator's fault stops the robot, the other's only itself.
    """
    shapes = (plain_shape(820, expo=4000, rate=12000),)
    names = (("throttle", 1500), ("turn", 1500), ("arm", 2000), ("over", 1000))
    duty = {
        "up_step": ONE // 6, "down_step": ONE // 4, "pause_ticks": 3, "wire": Wire.DUTY, "rest": 0,
        "low_span": 255, "high_span": 255, "brake": True,
    }  # fmt: skip
    return plain_plan(
        ((ONE, 0),),
        name="rig",
        tick_ms=10,
        channels=tuple(
            plain_channel(name, rest, good_low_us=900, good_high_us=2100) for name, rest in names
        ),
        sticks=(
            plain_stick("throttle", 0, shapes=shapes, flips=True),
            plain_stick("turn", 1, shapes=shapes),
        ),
        switches=(
            plain_switch("arm", 2, hysteresis_us=60, reverse=True),
            plain_switch("over", 3, hysteresis_us=40, position_names=("no", "yes")),
        ),
        contacts=tuple(
            ContactPlan(name, level, 4)
            for name, level in (("a_out", 1), ("a_in", 0), ("b_out", 1), ("b_in", 1))
        ),
        flip=FlipPlan(SwitchPosition(1, 1), 3),
        groups=(GroupPlan("wheels", (0, 1), OverRange.SCALE, None),),
        outputs=(
            plain_output("left", (ONE, ONE), **duty),
            plain_output("right", (ONE, -ONE), **{**duty, "reverse": True}),
            plain_output("lift", (ONE, 0), **{**duty, "limit": 14000, "pause_ticks": 0}),
            plain_output(
                "grip",
                (0, ONE),
                **{**duty, "limit": 9000, "pause_ticks": 0, "up_step": ONE, "down_step": ONE},
            ),
        ),
        actuators=(
            ActuatorPlan("lift", 2, 0, 1, both_ticks=3, travel_limit=30 * ONE, stops_robot=True),
            ActuatorPlan("grip", 3, 2, 3, both_ticks=3, travel_limit=None, stops_robot=False),
        ),
        guard=plain_guard(
            **{
                "lost_ticks": 10,
                "hold_ticks": 8,
                "neutral_within": 800,
                "arm": SwitchPosition(0, 1),
                **guard,
            }
        ),
    )
