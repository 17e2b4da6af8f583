"""What only the whole tick shows: ramping against cutting, the median, switches in the mix."""

from dataclasses import replace

import pytest

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Guard, Plan
from tests.core.ticks import commands_of, named
from tests.plans import lift_plan, plain_guard, plain_plan, plain_switch, with_arm_switch
from tests.strategies import Row, run_core

QUARTER = ONE // 4


def slow_plan(*, ramps: bool) -> Plan:
    """One stick, one output that needs four ticks to stop, an arm switch; lost at once."""
    plan = plain_plan(((ONE,),), guard=plain_guard(lost_ticks=1, hold_ticks=1))
    output = replace(plan.outputs[0], down_step=QUARTER)
    return with_arm_switch(replace(plan, outputs=(output,)), ramps=ramps)


def commands_after(plan: Plan, rows: list[Row]) -> list[int]:
    """The first output's commands over these rows, from full speed ahead."""
    start = [(1500, 1000), (1500, 2000), (2000, 2000)]
    after = [commands_of(plan, step)[0] for step in run_core(plan, start + rows)]
    assert after[2] == ONE
    return after[3:]


@pytest.mark.parametrize("row", [(0, 0), (2000, 0), (0, 2000), (2000, 1000)])
def test_a_stop_cuts_or_ramps_as_the_plan_says(row: Row) -> None:
    """All lost, one lost, or disarmed: 0 at once, or down by the output's own slew and no longer."""
    assert commands_after(slow_plan(ramps=False), [row] * 5) == [0] * 5
    ramp = [3 * QUARTER, 2 * QUARTER, QUARTER, 0, 0]
    assert commands_after(slow_plan(ramps=True), [row] * 5) == ramp


def test_a_fault_cuts_even_where_stops_ramp() -> None:
    """Both end stops closed stop the wheel at once, whatever the slew."""
    plan = lift_plan(both_ticks=1)
    outputs = tuple(replace(output, down_step=1) for output in plan.outputs)
    plan = replace(plan, outputs=outputs, guard=replace(plan.guard, ramps=True))
    rows = [(1500, 1000, 0, 1), *[(1500, 2000, 0, 1)] * 3, (2000, 2000, 0, 1), (2000, 2000, 1, 0)]
    steps = list(run_core(plan, rows))
    assert commands_of(plan, steps[-2]) == (ONE, ONE)
    assert commands_of(plan, steps[-1]) == (0, 0)
    assert named(plan, steps[-1])["guard.state"] == Guard.FAULTED


def median_plan() -> Plan:
    """One stick behind a median of three, lost after three ticks."""
    plan = plain_plan(((ONE,),), guard=plain_guard(lost_ticks=3))
    return replace(plan, channels=(replace(plan.channels[0], median=True),))


MEDIANS = [
    ("the first pulse counts at once", [1700], [1700]),
    ("one wild pulse never gets through", [1500, 1500, 2100, 1500, 900, 1500], [1500] * 6),
    ("a step comes one pulse late", [1500, 1500, 1800, 1800], [1500, 1500, 1500, 1800]),
    ("the middle of three", [1500, 1600, 1550, 1900, 1520], [1500, 1500, 1550, 1600, 1550]),
    ("bad and missing pulses do not count", [1500, 1600, 0, 5000, 1700], [1500, 1500, 1500, 1500, 1600]),
    ("the first one after a loss starts anew", [1900, 1900, 0, 0, 0, 1100, 1200], [1900] * 5 + [1100] * 2),
    ("a short gap does not start anew", [1900, 1900, 0, 0, 1100, 1100], [1900] * 5 + [1100]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("pulses", "expected"), [row[1:] for row in MEDIANS], ids=[row[0] for row in MEDIANS]
)
def test_median_of_the_last_three_good_pulses(pulses: list[int], expected: list[int]) -> None:
    """What the channel stands at, pulse by pulse."""
    plan = median_plan()
    seen = [
        named(plan, step)["channel.wire0.pulse"] for step in run_core(plan, [(pulse,) for pulse in pulses])
    ]
    assert seen == expected


def test_a_switch_in_the_mix_drives_and_must_rest_before_going_live() -> None:
    """Thrown before arming it keeps the robot resting; afterwards it is full ahead through its weight."""
    plan = plain_plan(((ONE,),))
    channel = replace(plan.channels[0], name="wire1", rest_us=1000)
    switch = plain_switch("boost", 1)
    output = replace(plan.outputs[0], weights=(ONE, -ONE))
    plan = replace(
        plan,
        channels=(*plan.channels, channel),
        switches=(switch,),
        mixed_switches=(0,),
        outputs=(output,),
    )
    assert plan.sources == ("stick0", "boost")
    thrown = list(run_core(plan, [(1500, 2000)] * 10))
    assert {named(plan, step)["guard.state"] for step in thrown} == {Guard.RESTING}
    assert {commands_of(plan, step) for step in thrown} == {(0,)}
    rested = list(run_core(plan, [(1500, 1000)] * 4 + [(1500, 2000)]))
    assert commands_of(plan, rested[-1]) == (-ONE,)


def test_a_layout_knows_its_signals() -> None:
    """A signal is found by its name, and an unknown name is refused."""
    layout = layout_of(median_plan())
    assert layout.signals[layout.index("output.motor0.wire")] == "output.motor0.wire"
    with pytest.raises(ValueError, match="not in tuple"):
        layout.index("output.motor9.wire")
