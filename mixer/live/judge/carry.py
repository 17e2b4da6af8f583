"""A running robot taken over into a changed plan, between two ticks.

What a slot of the same name held goes on, brought into what the new plan allows, and the watcher's memory
is made to agree with it: `mixer.laws.relations` holds afterwards, so that no rule is broken by the change
itself. A channel that was lost stays lost and one that was not is not lost by the change alone; a command
above a lowered limit comes down at once; a robot that is stopping stays within its promise.
"""

from collections.abc import Mapping, Sequence

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, OutputPlan, Plan
from mixer.core.signals import OutputState
from mixer.laws.expect import stop_ticks
from mixer.laws.memory import memory_slots, start_memory

Numbers = dict[str, int]


def carry_over(before: Plan, saved: Sequence[int], after: Plan) -> tuple[int, ...]:
    """Firmware state and watcher's memory of a board with plan `before`, for plan `after`."""
    old_state, old_memory = _by_name(before, saved)
    state = dict(zip(layout_of(after).state, layout_of(after).start, strict=True))
    memory = dict(zip((slot.name for slot in memory_slots(after)), start_memory(after), strict=True))
    state.update({name: value for name, value in old_state.items() if name in state})
    memory.update({name: value for name, value in old_memory.items() if name in memory})
    _stops(before, after, old_memory, memory)
    _channels(before, after, state, memory)
    _wires(after, state, memory)
    slots = layout_of(after).slot_names
    state[slots.guard.held] = memory["ready_for"] = min(state[slots.guard.held], after.guard.hold_ticks)
    state[slots.guard.off_for] = memory["off_for"] = min(state[slots.guard.off_for], after.guard.off_ticks)
    for output, slot in zip(after.outputs, slots.outputs, strict=True):
        _output(after, output, slot, state, memory)
    _actuators(after, state, memory)
    return (*state.values(), *memory.values())


def memory_beside(plan: Plan, state: Sequence[int]) -> tuple[int, ...]:
    """Firmware state with the memory of a watcher who had been there: for a start in the middle of a drive.

    Taken as just stopped where outputs still move, else as at rest for long.
    """
    core = layout_of(plan).state_of(state)
    memory = dict(zip((slot.name for slot in memory_slots(plan)), start_memory(plan), strict=True))
    live = core.guard.state == Guard.LIVE
    moving = any(output.command for output in core.outputs)
    memory["live"], memory["been_live"] = int(live), int(live or moving)
    memory["not_live_for"] = 0 if live else 1 if moving else memory["not_live_for"]
    memory["latched"] = int(core.guard.state == Guard.FAULTED)
    memory["off_seen"] = core.guard.seen_off
    memory["woken"] = int(core.guard.state != Guard.SEARCHING)
    return carry_over(plan, (*state, *memory.values()), plan)


def _by_name(plan: Plan, saved: Sequence[int]) -> tuple[Numbers, Numbers]:
    names = layout_of(plan).state
    state = dict(zip(names, saved, strict=False))
    slots = (slot.name for slot in memory_slots(plan))
    return state, dict(zip(slots, saved[len(names) :], strict=True))


def _stops(before: Plan, after: Plan, old: Mapping[str, int], memory: Numbers) -> None:
    """Ticks since the robot stopped being live: once over, over."""
    ticks = old["not_live_for"]
    memory["not_live_for"] = (
        stop_ticks(after) if ticks >= stop_ticks(before) else min(ticks, stop_ticks(after))
    )


def _channels(before: Plan, after: Plan, state: Numbers, memory: Numbers) -> None:
    lost = after.guard.lost_ticks
    known = {channel.name for channel in before.channels}
    for channel, slot in zip(after.channels, layout_of(after).slot_names.channels, strict=True):
        if channel.name not in known:
            continue
        age = state[slot.age]
        age = lost if age >= before.guard.lost_ticks else min(age, lost - 1)
        state[slot.age] = memory[f"silent.{channel.name}"] = memory[f"age.{channel.name}"] = age
        held = memory[f"pulse.{channel.name}"] = state[slot.pulse]
        for name, earlier in (("newer", slot.newer), ("older", slot.older)):
            if not earlier:
                continue
            if not channel.good_low_us <= state[earlier] <= channel.good_high_us:
                state[earlier] = held if age < lost else 0
            memory[f"{name}.{channel.name}"] = state[earlier]


def _wires(after: Plan, state: Numbers, memory: Numbers) -> None:
    slots = layout_of(after).slot_names
    for switch, (slot,) in zip(after.switches, slots.switches, strict=True):
        state[slot] = memory[f"position.{switch.name}"] = min(state[slot], len(switch.edges_us))
    for contact, (slot,) in zip(after.contacts, slots.contacts, strict=True):
        state[slot] = memory[f"closed_for.{contact.name}"] = min(state[slot], contact.release_ticks)
    if after.flip is not None and slots.flip is not None:
        waited = min(state[slots.flip.waited], after.flip.settle_ticks - 1)
        state[slots.flip.waited] = memory["turning_for"] = waited
        memory["flipped"] = state[slots.flip.flipped]


def _output(
    after: Plan, output: OutputPlan, slot: OutputState[str], state: Numbers, memory: Numbers
) -> None:
    ticks = memory["not_live_for"]
    most = output.limit
    if ticks:
        most = max(most - ticks * min(output.down_step, most), 0) if after.guard.ramps else 0
        most = 0 if ticks >= stop_ticks(after) else most
    command = min(max(state[slot.command], -most), most)
    state[slot.command] = memory[f"command.{output.name}"] = command
    pause = state[slot.pause]
    full = output.pause_ticks
    if not full:
        state[slot.pause] = 0
        return
    sign = _sign(command) or _sign(pause) or memory[f"last_sign.{output.name}"]
    left = full if command else min(abs(pause), full)
    state[slot.pause] = sign * left
    memory[f"rested_for.{output.name}"] = full - left
    memory[f"last_sign.{output.name}"] = sign


def _sign(value: int) -> int:
    return (value > 0) - (value < 0)


def _actuators(after: Plan, state: Numbers, memory: Numbers) -> None:
    slots = layout_of(after).slot_names.actuators
    for actuator, slot in zip(after.actuators, slots, strict=True):
        state[slot.both] = memory[f"both_for.{actuator.name}"] = min(state[slot.both], actuator.both_ticks)
        memory[f"latched.{actuator.name}"] = state[slot.latched]
        most = actuator.travel_limit or 0
        state[slot.driven] = min(max(state[slot.driven], -most), most)
        if most:
            memory[f"way.{actuator.name}"] = state[slot.driven]
