"""One run of the firmware: intake, scale, shape, flip, mix, guard, interlock, drive.

`tick(plan, inputs, state)` is the whole firmware; the functions below it are its stages in order.
Inputs, state and signals are flat sequences in the order of `layout_of(plan)`.
"""

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple, TypeAlias

from mixer.core import blend, drive, guard, intake, interlock, shape
from mixer.core.ops import ONE, Flag, Value, as_number, magnitude, negation, select
from mixer.core.plan import ActuatorPlan, GroupPlan, Guard, OverRange, Plan


class Tick(NamedTuple):
    """What a tick leaves behind."""

    signals: list[Value]
    state: list[Value]


class Record(NamedTuple):
    """Where the stages read the old state from, and write the new state and the signals to."""

    was: Iterator[Value]
    keep: list[Value]
    note: list[Value]


class Inputs(NamedTuple):
    """What intake made of the wires."""

    signal: Flag
    """Every channel has a pulse young enough to be trusted."""
    pulses: list[Value]
    """The pulse each channel stands at, the last good one while a gap is bridged."""
    positions: list[Value]
    closed: list[Flag]


Ask: TypeAlias = "Callable[[Plan, Inputs, Value, Record], tuple[list[Value], Flag]]"
"""From what came in, and whether the robot is flipped, to what the sticks ask of each output."""


def ask_sticks(plan: Plan, taken: Inputs, flipped: Value, record: Record) -> tuple[list[Value], Flag]:
    """Scale, shape, flip and mix: what each output is asked for, and whether all sticks rest at neutral.

    Depends on nothing but pulses, positions and flip: no state is read or kept here.
    """
    commands, neutral = bend(plan, taken, flipped, record)
    return blend_outputs(plan, commands, record), neutral


def tick(plan: Plan, inputs: Sequence[Value], state: Sequence[Value], ask: Ask = ask_sticks) -> Tick:
    """Run the firmware once.

    `inputs` holds a pulse in µs for each channel (0 = none arrived since the last tick), then a 0/1
    reading for each contact. Equal arguments give equal results; nothing else is read or written. `ask` may
    be given by an engine that remembers the last answer of `ask_sticks`.
    """
    record = Record(iter(state), [], [])
    taken = take_in(plan, inputs, record)
    flipped = find_flip(plan, taken, record)
    blended, neutral = ask(plan, taken, flipped, record)
    driven = state[len(state) - len(plan.actuators) :]
    state_of_guard, ranges = protect(plan, taken, neutral, driven, record)
    sent = drive_outputs(plan, blended, state_of_guard, ranges, record)
    watch_travel(plan, taken, sent, driven, record)
    return Tick(record.note, record.keep)


def take_in(plan: Plan, inputs: Sequence[Value], record: Record) -> Inputs:
    """Intake: which pulses are good, how old they are, where switches and contacts stand."""
    was, keep, note = record
    signal: Flag = True
    pulses: list[Value] = []
    for channel, pulse in zip(plan.channels, inputs, strict=False):
        age, held = next(was), next(was)
        lost_before = age >= plan.guard.lost_ticks
        good, age = intake.age_after(channel, pulse, age, plan.guard.lost_ticks)
        keep.append(age)
        if channel.median:
            held = _steadied(good, pulse, held, lost_before, record)
        else:
            held = select(good, pulse, held)
            keep.append(held)
        signal = signal & (age < plan.guard.lost_ticks)
        pulses.append(held)
        note += (as_number(good), age, held)
    positions = [intake.position_of(switch, pulses[switch.channel], next(was)) for switch in plan.switches]
    closed = []
    remaining = []
    for contact, reading in zip(plan.contacts, inputs[len(plan.channels) :], strict=True):
        is_closed, left = intake.contact_after(contact, reading, next(was))
        closed.append(is_closed)
        remaining.append(left)
    keep += positions
    keep += remaining
    note += positions
    note += [as_number(flag) for flag in closed]
    return Inputs(signal, pulses, positions, closed)


def _steadied(good: Flag, pulse: Value, held: Value, lost: Flag, record: Record) -> Value:
    """The middle of the last three good pulses; the first one after a loss starts the three anew."""
    newer, older = next(record.was), next(record.was)
    newer_now = select(good, pulse, newer)
    older_now = select(good, select(lost, pulse, newer), older)
    oldest = select(lost, pulse, older)
    held = select(good, intake.median_of_three(pulse, older_now, oldest), held)
    record.keep.extend((held, newer_now, older_now))
    return held


def find_flip(plan: Plan, taken: Inputs, record: Record) -> Value:
    """1 while the robot lies upside down."""
    if plan.flip is None:
        record.note.append(0)
        return 0
    flipped, waited = next(record.was), next(record.was)
    if plan.flip.switch >= 0:
        reading = taken.positions[plan.flip.switch] == plan.flip.position
    else:
        reading = taken.closed[plan.flip.contact]
    flipped, waited = intake.flipped_after(plan.flip, reading, flipped, waited)
    record.keep.extend((flipped, waited))
    record.note.append(flipped)
    return flipped


def bend(plan: Plan, taken: Inputs, flipped: Value, record: Record) -> tuple[list[Value], Flag]:
    """Scale, shape and flip: a command for each source of the mix, and whether all rest at neutral.

    Upside down by rolling over, each wheel pushes the other way and the sides change places:
    (left, right) acts as (-right, -left). To get v ± w on the floor the mix must be asked for
    -v and w: sticks that drive forward are negated, sticks that turn are not.
    """
    neutral: Flag = True
    commands: list[Value] = []
    for stick in plan.sticks:
        scaled = intake.scale(stick, taken.pulses[stick.channel])
        neutral = neutral & (magnitude(scaled) <= plan.guard.neutral_within)
        if stick.chooser >= 0:
            bent = shape.shape_chosen(stick.shapes, taken.positions[stick.chooser], scaled)
        else:
            bent = shape.shape(stick.shapes[0], scaled)
        command = select(flipped > 0, -bent.rated, bent.rated) if stick.flips else bent.rated
        commands.append(command)
        record.note.extend((scaled, *bent, command))
    for index in plan.mixed_switches:
        command = intake.command_of(plan.switches[index], taken.positions[index])
        neutral = neutral & (command == 0)
        commands.append(command)
    return commands, neutral


def blend_outputs(plan: Plan, commands: Sequence[Value], record: Record) -> list[Value]:
    """Mix: every output's share of every source, brought within range by its group's policy."""
    mixed = [blend.mix(output.weights, commands) for output in plan.outputs]
    grouped = {index for group in plan.groups for index in group.outputs}
    blended = [value if index in grouped else blend.clip(value) for index, value in enumerate(mixed)]
    for group in plan.groups:
        members = _within_range(plan, group, mixed, commands)
        for index, value in zip(group.outputs, members, strict=True):
            blended[index] = value
    record.note.extend(mixed)
    record.note.extend(blended)
    return blended


def _within_range(
    plan: Plan, group: GroupPlan, mixed: Sequence[Value], commands: Sequence[Value]
) -> list[Value]:
    members = [mixed[index] for index in group.outputs]
    if group.policy is OverRange.CLIP:
        return [blend.clip(value) for value in members]
    if group.policy is OverRange.SCALE:
        return blend.scale_together(members)
    weights = [plan.outputs[index].weights for index in group.outputs]
    giver = group.yielding
    yielding = [blend.contribution(row[giver], commands[giver]) for row in weights]
    rest = [value - part for value, part in zip(members, yielding, strict=True)]
    if any(sum(map(abs, row)) - abs(row[giver]) > ONE for row in weights):
        rest = blend.scale_together(rest)
    return blend.give_way(yielding, rest)


def protect(
    plan: Plan, taken: Inputs, neutral: Flag, driven: Sequence[Value], record: Record
) -> tuple[Value, dict[int, tuple[Value, Value]]]:
    """Guard and interlock: the guard's state, and the allowed range of each actuator's output."""
    was, keep, note = record
    before = guard.GuardState(next(was), next(was), next(was))
    memories = [(next(was), next(was)) for _ in plan.actuators]
    fault: Flag = False
    faults: list[tuple[Flag, Value]] = []
    for actuator, (both, _) in zip(plan.actuators, memories, strict=True):
        out_closed, in_closed = stops_of(actuator, taken)
        faults.append(interlock.both_closed(actuator, out_closed, in_closed, both))
        if actuator.stops_robot:
            fault = fault | faults[-1][0]
    switch = plan.guard.arm_switch
    arm_on: Flag = taken.positions[switch] == plan.guard.arm_position if switch >= 0 else True
    after, disarmed = guard.guard_after(plan.guard, before, taken.signal, neutral, arm_on, fault)
    keep += after
    note += (as_number(taken.signal), as_number(neutral), as_number(arm_on), as_number(fault), after.state)
    ranges: dict[int, tuple[Value, Value]] = {}
    for number, actuator in enumerate(plan.actuators):
        broken, both = faults[number]
        latched: Value = 0
        if not actuator.stops_robot:
            latched = interlock.latch(broken, disarmed, memories[number][1])
        out_closed, in_closed = stops_of(actuator, taken)
        low, high = interlock.allowed(actuator, out_closed, in_closed, latched, driven[number])
        ranges[actuator.output] = low, high
        note += (low, high, as_number(broken))
        keep += (both, latched)
    return after.state, ranges


def stops_of(actuator: ActuatorPlan, taken: Inputs) -> tuple[Flag, Flag]:
    """Whether the outer and the inner end stop are closed; an end without a switch never is."""
    return (
        taken.closed[actuator.out_stop] if actuator.out_stop >= 0 else False,
        taken.closed[actuator.in_stop] if actuator.in_stop >= 0 else False,
    )


def drive_outputs(
    plan: Plan,
    blended: Sequence[Value],
    state_of_guard: Value,
    ranges: dict[int, tuple[Value, Value]],
    record: Record,
) -> list[Value]:
    """Drive: each output's next command within what is allowed, and what its wire carries."""
    sent: list[Value] = []
    live = state_of_guard == Guard.LIVE
    cut = (state_of_guard == Guard.FAULTED) if plan.guard.ramps else negation(live)
    for index, output in enumerate(plan.outputs):
        before = drive.OutputState(next(record.was), next(record.was))
        wanted = select(live, drive.level(output, blended[index]), 0)
        low, high = ranges.get(index, (-ONE, ONE))
        after = drive.drive(output, wanted, low, high, cut, before)
        record.keep.extend(after)
        record.note.extend((wanted, after.command, drive.on_wire(output, after.command)))
        sent.append(after.command)
    return sent


def watch_travel(
    plan: Plan, taken: Inputs, sent: Sequence[Value], driven: Sequence[Value], record: Record
) -> None:
    """Add what each actuator was driven in this tick to the way it has come since its last stop."""
    for actuator, before in zip(plan.actuators, driven, strict=True):
        out_closed, in_closed = stops_of(actuator, taken)
        command = sent[actuator.output]
        record.keep.append(interlock.driven_after(actuator, command, out_closed, in_closed, before))
