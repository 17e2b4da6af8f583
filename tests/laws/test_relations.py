"""The relations between the firmware's state and the watcher's memory hold on every run."""

import random

import pytest
from hypothesis import given

from mixer.core.layout import layout_of, power_up
from mixer.core.plan import Plan
from mixer.laws.memory import memory_slots, start_memory
from mixer.laws.relations import relations
from tests.laws.monitor import Monitor
from tests.lengths import examples
from tests.plans import rig
from tests.strategies import Trace, adversarial, attacked_plans, run_core


@pytest.mark.no_cover
@examples(40, 120)
@given(attacked_plans(ticks=60))
def test_relations_hold_from_power_up_on(drawn: tuple[Plan, Trace]) -> None:
    """At start and after every tick of any run."""
    plan, trace = drawn
    layout = layout_of(plan)
    assert all(relations(plan, power_up(plan), start_memory(plan)).values())
    monitor = Monitor(plan)
    for row, after in zip(trace, run_core(plan, trace), strict=True):
        monitor.step(after.signals, row)
        found = relations(plan, layout.state_of(after.state), monitor.memory)
        assert [name for name, holds in found.items() if not holds] == []


def test_each_memory_is_tied_to_the_state() -> None:
    """No remembered number is free: change any after a run, and some relation fails."""
    plan = rig()
    monitor = Monitor(plan)
    trace = adversarial(random.Random(5), plan, 60)
    state: list[int] = []
    for row, after in zip(trace, run_core(plan, trace), strict=True):
        monitor.step(after.signals, row)
        state = after.state
    free = set()
    for number, slot in enumerate(memory_slots(plan)):
        for value in {slot.low, slot.high, monitor.memory[number] + 1} - {monitor.memory[number]}:
            memory = list(monitor.memory)
            memory[number] = value
            if all(relations(plan, layout_of(plan).state_of(state), memory).values()):
                free.add(slot.name)
    tied = {slot.name for slot in memory_slots(plan)} - free
    assert {"silent.throttle", "pulse.turn", "off_seen", "ready_for", "live", "command.left"} <= tied
