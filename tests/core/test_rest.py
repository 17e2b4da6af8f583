"""A robot at rest: what hands off send, and that the firmware agrees it is neutral."""

from dataclasses import replace

import pytest

from mixer.core.intake import position_of, scale
from mixer.core.layout import layout_of
from mixer.core.ops import ONE, magnitude
from mixer.core.plan import FlipPlan, Guard, Plan, SwitchPosition
from mixer.core.rest import (
    arming,
    can_go_live,
    contact_levels,
    frame_ticks,
    neutral_pulse,
    position_pulse,
    resting_inputs,
    resting_position,
    resting_pulses,
)
from mixer.core.tick import flat_tick
from tests.core.ticks import named
from tests.plans import cart_plan, lift_plan, rig, tank_plan, with_arm_switch


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize("trim", [-ONE, -6000, -3, 0, 3, 1638, 6000, ONE])
@pytest.mark.parametrize("spans", [(500, 500), (300, 450), (0, 400), (400, 0)])
def test_no_pulse_is_nearer_to_neutral(spans: tuple[int, int], trim: int, reverse: bool) -> None:
    """Of all good pulses none gives a smaller command, nor as small a one from nearer the centre."""
    plan = tank_plan()
    stick = replace(
        plan.sticks[0],
        low_span_us=spans[0],
        high_span_us=spans[1],
        low_gain=round(ONE * ONE / spans[0]) if spans[0] else 0,
        high_gain=round(ONE * ONE / spans[1]) if spans[1] else 0,
        trim=trim,
        reverse=reverse,
    )
    wire = plan.channels[stick.channel]

    def badness(pulse: int) -> tuple[int, int]:
        return magnitude(scale(stick, pulse)), abs(pulse - stick.centre_us)

    found = neutral_pulse(plan, stick)
    assert badness(found) == min(map(badness, range(wire.good_low_us, wire.good_high_us + 1)))


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize("edges", [(1500,), (1250, 1750)])
def test_a_position_is_reached_from_every_other(edges: tuple[int, ...], reverse: bool) -> None:
    """Its pulse is the middle of all good ones that bring the switch there, whatever it was before."""
    plan = with_arm_switch(tank_plan())
    switch = replace(plan.switches[0], edges_us=edges, hysteresis_us=61, reverse=reverse)
    wire, everywhere = plan.channels[switch.channel], range(len(edges) + 1)
    for position in everywhere:
        good = [
            pulse
            for pulse in range(wire.good_low_us, wire.good_high_us + 1)
            if {position_of(switch, pulse, before) for before in everywhere} == {position}
        ]
        assert position_pulse(plan, switch, position) == (good[0] + good[-1]) // 2


def test_the_arm_switch_rests_off_and_the_flip_switch_upright() -> None:
    """Disarmed is a position beside the one that arms; upright one beside upside down."""
    plan = with_arm_switch(tank_plan())
    assert plan.guard.arm is not None
    arm, on = plan.guard.arm.switch, plan.guard.arm.position
    assert resting_position(plan, arm, armed=True) == on
    assert resting_position(plan, arm, armed=False) != on
    for position in (0, 1):
        turned = replace(
            plan,
            flip=FlipPlan(SwitchPosition(arm, position), 1),
            guard=replace(plan.guard, arm=None),
        )
        assert resting_position(turned, arm, armed=True) == 1 - position


def test_a_mixed_switch_rests_without_effect() -> None:
    """A switch that feeds the mix stands where its command is 0."""
    plan = with_arm_switch(tank_plan())
    mixed = replace(plan, mixed_switches=(0,), guard=replace(plan.guard, arm=None))
    assert resting_position(mixed, 0, armed=True) == len(mixed.switches[0].edges_us) - 1
    plain = replace(mixed, mixed_switches=())
    assert resting_position(plain, 0, armed=True) == 0


def test_contacts_read_open_unless_told() -> None:
    """The level of an open contact is the other one than its closed level."""
    plan = lift_plan()
    opened = contact_levels(plan)
    closed = contact_levels(plan, [True] * len(plan.contacts))
    assert [one + other for one, other in zip(opened, closed, strict=True)] == [1] * len(plan.contacts)
    assert resting_inputs(plan, armed=True) == resting_pulses(plan, armed=True) + opened


@pytest.mark.parametrize("every", [1, 4])
@pytest.mark.parametrize("plan", [tank_plan(), with_arm_switch(tank_plan()), lift_plan()])
def test_arming_brings_a_robot_to_life(plan: Plan, every: int) -> None:
    """Run through the firmware the rows end live, from power-up and from live alike."""
    assert can_go_live(plan)
    state = resting = None
    for row in arming(plan, every) * 2:
        after = flat_tick(plan, row, state if state is not None else _start(plan))
        state, resting = after.state, named(plan, after)["guard.state"]
    assert resting == Guard.LIVE


def test_a_stick_without_a_neutral_pulse_keeps_a_robot_from_going_live() -> None:
    """A channel whose good pulses all ask for more than neutral allows."""
    plan = tank_plan()
    stick = plan.sticks[0]
    wires = list(plan.channels)
    wires[stick.channel] = replace(wires[stick.channel], good_low_us=stick.centre_us + 300)
    assert not can_go_live(replace(plan, channels=tuple(wires)))


def _start(plan: Plan) -> tuple[int, ...]:
    return layout_of(plan).start


def test_a_stick_centred_beyond_what_is_good_rests_at_the_end() -> None:
    """Never at a pulse that counts as missing."""
    plan = tank_plan()
    assert neutral_pulse(plan, replace(plan.sticks[0], centre_us=2300)) == plan.channels[0].good_high_us


def test_a_mixed_switch_of_three_positions_rests_in_the_middle() -> None:
    """Its command is 0 there; one that feeds nothing rests at its first."""
    plan = with_arm_switch(tank_plan())
    plan = replace(plan, switches=(replace(plan.switches[0], edges_us=(1300, 1700)),))
    for mixed, position in (((0,), 1), ((), 0)):
        other = replace(plan, mixed_switches=mixed, guard=replace(plan.guard, arm=None))
        assert resting_position(other, 0, armed=True) == position


def test_a_frame_is_never_longer_than_a_loss() -> None:
    """20 ms in ticks, as far as the plan bridges."""
    assert frame_ticks(cart_plan(tick_ms=2, lost_ms=200)) == 10
    assert frame_ticks(cart_plan(tick_ms=2, lost_ms=12)) == 6


@pytest.mark.parametrize(
    ("plan", "every", "off", "on"),
    [(tank_plan(), 1, 4, 6), (lift_plan(), 1, 6, 6), (lift_plan(), 4, 16, 16), (rig(), 1, 11, 11)],
)
def test_arming_takes_as_long_as_it_must(plan: Plan, every: int, off: int, on: int) -> None:
    """Three frames and the times to settle, then three and the hold; whole frames, no pulse between."""
    rows = arming(plan, every)
    assert len(rows) == off + on
    assert rows[0] == resting_inputs(plan, armed=False)
    assert rows[off] == resting_inputs(plan, armed=True)
    silent = [row[: len(plan.channels)] for at, row in enumerate(rows) if at % every]
    assert not any(map(any, silent))
