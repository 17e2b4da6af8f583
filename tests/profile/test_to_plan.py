"""Every key of the firmware's sections at a value of its own, against a plan written by hand."""

import pytest

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
from mixer.profile.profile import parse_profile

TEXT = """\
[robot]
name = "all keys"
tick_ms = 4
[receiver]
valid_us = [850, 2150]
median = true
[stick.throttle]
receiver = 7
low_us = 1000
centre_us = 1400
high_us = 2024
reverse = true
trim = -0.25
lost_below_us = 900
lost_above_us = 2100
median = false
shape = { switch = "pace", slow = "soft", fast = "linear" }
[stick.steering]
receiver = 3
[switch.pace]
receiver = 5
positions = ["fast", "slow"]
low_us = 1000
high_us = 1900
hysteresis_us = 30
reverse = true
[switch.arm]
receiver = 2
positions = ["a", "b", "c"]
[shape.soft]
deadband = 0.5
expo = 0.25
rate = 0.75
[flip]
switch = "pace"
position = "slow"
settle_ms = 9
reverses = ["throttle"]
[output.left]
pin = 1
mix = { throttle = 1.0, steering = -0.5, pace = 0.25 }
gain = 1.5
reverse = true
limit = 0.5
breakaway = 0.125
slew_up_ms = 32
slew_down_ms = 16
reversal_pause_ms = 10
low_us = 1100
centre_us = 1450
high_us = 2000
[output.lift]
pin = 2
mix = { throttle = 2.0 }
wire = "duty"
top = 1000
at_zero = "brake"
[group.g]
outputs = ["lift", "left"]
over_range = "yield"
yields = "steering"
[contact.unused]
pin = 3
[contact.far]
pin = 4
closed_reads = 1
debounce_ms = 9
[contact.near]
pin = 5
[actuator.lift]
output = "lift"
out_stop = "far"
in_stop = "near"
both_closed = "stop-robot"
both_closed_ms = 30
full_travel_ms = 1000
travel_margin = 2
[guard]
lost_after_ms = 101
stop = "ramp"
arm = { switch = "arm", position = "b" }
arm_off_ms = 118
arm_hold_ms = 403
neutral_within = 0.125
after_loss = "resume"
"""

SOFT = ShapePlan(band=8192, gain=32768, expo=4096, rate=12288)
STRAIGHT = ShapePlan(band=0, gain=ONE, expo=0, rate=ONE)
BY_HAND = Plan(
    name="all keys",
    tick_ms=4,
    channels=(
        ChannelPlan("arm", 850, 2150, 1000, median=True, receiver=2),
        ChannelPlan("steering", 850, 2150, 1500, median=True, receiver=3),
        ChannelPlan("pace", 850, 2150, 1900, median=True, receiver=5),
        ChannelPlan("throttle", 900, 2100, 1400, median=False, receiver=7),
    ),
    sticks=(
        StickPlan("steering", 1, 1500, 500, 500, 536871, 536871, False, 0, (STRAIGHT,), None, flips=False),
        StickPlan(
            "throttle", 3, 1400, 400, 624, 671089, 430185, True, -4096, (STRAIGHT, SOFT), 1, flips=True
        ),
    ),
    switches=(
        SwitchPlan("arm", 0, (1250, 1750), 40, reverse=False, position_names=("a", "b", "c")),
        SwitchPlan("pace", 2, (1450,), 30, reverse=True, position_names=("fast", "slow")),
    ),
    mixed_switches=(1,),
    contacts=(ContactPlan("far", 1, 3, 2), ContactPlan("near", 0, 3, 3)),
    flip=FlipPlan(SwitchPosition(1, 1), settle_ticks=3),
    groups=(GroupPlan("g", (1, 0), OverRange.YIELD, 0),),
    outputs=(
        OutputPlan(
            name="left",
            weights=(-8192, ONE, 4096),
            gain=24576,
            limit=8192,
            breakaway=2048,
            up_step=2048,
            down_step=4096,
            pause_ticks=3,
            wire=Wire.PULSE,
            reverse=True,
            rest=1450,
            low_span=350,
            high_span=550,
            brake=False,
        ),
        OutputPlan(
            name="lift",
            weights=(0, 2 * ONE, 0),
            gain=ONE,
            limit=ONE,
            breakaway=0,
            up_step=ONE,
            down_step=ONE,
            pause_ticks=0,
            wire=Wire.DUTY,
            reverse=False,
            rest=0,
            low_span=1000,
            high_span=1000,
            brake=True,
        ),
    ),
    actuators=(ActuatorPlan("lift", 1, 0, 1, both_ticks=8, travel_limit=500 * ONE, stops_robot=True),),
    guard=GuardPlan(
        lost_ticks=26,
        hold_ticks=101,
        neutral_within=2048,
        arm=SwitchPosition(0, 1),
        resumes=True,
        ramps=True,
        off_ticks=30,
    ),
)


def test_every_key_comes_out_where_the_plan_expects_it() -> None:
    """The whole plan, worked out by hand: order, indices, folded ranges and every integer."""
    assert parse_profile(TEXT, "p.toml").plan() == BY_HAND


@pytest.mark.parametrize(
    ("old", "new", "guard"),
    [
        ('after_loss = "resume"', 'after_loss = "re-arm"', "resumes"),
        ('stop = "ramp"', 'stop = "cut"', "ramps"),
    ],
)
def test_other_choices_of_the_guard_come_out_too(old: str, new: str, guard: str) -> None:
    """Each of the guard's two choices turns its flag."""
    assert getattr(parse_profile(TEXT.replace(old, new), "p.toml").plan().guard, guard) is False


def test_flip_by_contact_names_the_contact() -> None:
    """A contact that tells of lying upside down is used."""
    text = TEXT.replace('switch = "pace"\nposition = "slow"\n', 'contact = "unused"\n')

    assert parse_profile(text, "p.toml").plan().flip == FlipPlan(0, 3)


def test_coasting_and_stopping_the_actuator_alone_are_the_defaults() -> None:
    """Without at_zero a bridge coasts; without both_closed a fault stops the actuator alone."""
    text = TEXT.replace('at_zero = "brake"\n', "").replace('both_closed = "stop-robot"\n', "")
    plan = parse_profile(text, "p.toml").plan()

    assert (plan.outputs[1].brake, plan.actuators[0].stops_robot) == (False, False)
