"""What is true of one tick, told from outside: from its inputs, its signals and the watcher's memory.

A second account of the guard and the interlocks, written from the rules and not from the core. Of the
firmware's own findings only the pulse each channel stands at, the bent stick commands, the outputs'
commands and wires, and the guard's words are looked at; the rules hold those against what is worked
out here. Written with the operations of `core.ops`, so that it runs on ints and on symbols alike.
"""

from collections.abc import Sequence
from functools import reduce
from typing import NamedTuple

from mixer.core.ops import (
    Flag,
    Value,
    as_number,
    clamp,
    minimum,
    negation,
    select,
)
from mixer.core.plan import ActuatorPlan, Plan, SwitchPlan
from mixer.core.signals import Inputs, Signals
from mixer.laws.expect import loss_ticks, neutral_windows, stop_ticks
from mixer.laws.memory import Memory


class Moved(NamedTuple):
    """One output in this tick and the one before."""

    before: Value
    now: Value
    rested_for: Value
    """Ticks at zero before this one, up to the pause."""
    last_sign: Value
    """The sign of its last movement before this tick."""


class Ends(NamedTuple):
    """One actuator in this tick."""

    out_closed: Flag
    in_closed: Flag
    latched: Flag
    """Its own fault, or the whole robot's."""
    too_far_out: Flag
    too_far_in: Flag
    """Driven longer than the travel can take, that way, without meeting the stop."""


class Seen(NamedTuple):
    """Everything the rules may ask about one tick."""

    plan: Plan
    signals: Signals[Value]
    inputs: Inputs[Value]
    good: list[Flag]
    silent: list[Value]
    """Ticks since each channel's last good pulse, this one counted in."""
    pulse_before: list[Value]
    signal: Flag
    neutral: Flag
    arm_on: Flag
    live: Flag
    been_live: Flag
    """Live in this tick or ever before since power-up."""
    not_live_for: Value
    latched: Flag
    closed: list[Flag]
    outputs: list[Moved]
    actuators: list[Ends]


def both(flags: Sequence[Flag]) -> Flag:
    """Whether all of them hold."""
    return reduce(lambda a, b: a & b, flags, True)


def either(flags: Sequence[Flag]) -> Flag:
    """Whether one of them holds."""
    return reduce(lambda a, b: a | b, flags, False)


def implies(given: Flag, then: Flag) -> Flag:
    """`then` holds wherever `given` does."""
    return negation(given) | then


def same(a: Flag, b: Flag) -> Flag:
    """Both hold or neither does."""
    return (a & b) | negation(a | b)


def watch(
    plan: Plan, memory: Sequence[Value], inputs: Inputs[Value], signals: Signals[Value]
) -> tuple[tuple[Value, ...], Seen]:
    """The memory after this tick, and what is true of it.

    `memory` is in the order of `memory_slots(plan)`.
    """
    notes = Memory(plan, tuple(memory))
    good, silent, pulse_before = _hear(plan, notes, inputs, signals)
    signal = both([ticks < plan.guard.lost_ticks for ticks in silent])
    positions = [_position(switch, notes, signals) for switch in plan.switches]
    neutral = _neutral(plan, positions, signals)
    closed = _touch(plan, notes, inputs)
    arm = plan.guard.arm
    arm_on: Flag = True if arm is None else positions[arm.switch] == arm.position
    disarmed = _hold_off(plan, notes, inputs.channels, signal & negation(arm_on), good)
    faults = [_both_closed(actuator, notes, closed) for actuator in plan.actuators]
    latched = _latch_robot(plan, notes, faults, disarmed)
    live = _go_live(plan, notes, signal, neutral, arm_on, disarmed, _robot_fault(plan, faults), latched)
    been_live = notes.keep("been_live", select(live, 1, notes.was("been_live"))) > 0
    not_live_for = select(live, 0, minimum(notes.was("not_live_for") + 1, stop_ticks(plan)))
    notes.keep("not_live_for", not_live_for)
    outputs = [_move(plan, number, notes, signals) for number in range(len(plan.outputs))]
    actuators = [
        _ends(actuator, notes, closed, fault, latched, disarmed, outputs)
        for actuator, fault in zip(plan.actuators, faults, strict=True)
    ]
    seen = Seen(
        plan, signals, inputs, good, silent, pulse_before, signal, neutral, arm_on, live, been_live,
        not_live_for, latched, closed, outputs, actuators,
    )  # fmt: skip
    return notes.kept(), seen


def _hear(
    plan: Plan, notes: Memory, inputs: Inputs[Value], signals: Signals[Value]
) -> tuple[list[Flag], list[Value], list[Value]]:
    good: list[Flag] = []
    silent: list[Value] = []
    before: list[Value] = []
    for channel, pulse, told in zip(plan.channels, inputs.channels, signals.channels, strict=True):
        fine = (pulse >= channel.good_low_us) & (pulse <= channel.good_high_us)
        grown = minimum(notes.was(f"silent.{channel.name}") + 1, loss_ticks(plan))
        good.append(fine)
        silent.append(notes.keep(f"silent.{channel.name}", select(fine, 0, grown)))
        before.append(notes.was(f"pulse.{channel.name}"))
        notes.keep(f"pulse.{channel.name}", told.pulse)
    return good, silent, before


def _position(switch: SwitchPlan, notes: Memory, signals: Signals[Value]) -> Value:
    """Counted from the low end of the pulse, an edge passed only beyond its hysteresis."""
    pulse = signals.channels[switch.channel].pulse
    last = len(switch.edges_us)
    was = notes.was(f"position.{switch.name}")
    raised = last - was if switch.reverse else was
    edges = enumerate(switch.edges_us, start=1)
    passed = [
        ((raised >= number) & (pulse >= edge - switch.hysteresis_us))
        | (pulse >= edge + switch.hysteresis_us)
        for number, edge in edges
    ]
    count = sum((as_number(flag) for flag in passed), 0)
    return notes.keep(f"position.{switch.name}", last - count if switch.reverse else count)


def _neutral(plan: Plan, positions: Sequence[Value], signals: Signals[Value]) -> Flag:
    flags: list[Flag] = []
    for stick, window in zip(plan.sticks, neutral_windows(plan), strict=True):
        pulse = signals.channels[stick.channel].pulse
        flags.append((pulse >= window.low_us) & (pulse <= window.high_us))
    middles = [(index, len(plan.switches[index].edges_us) - 1) for index in plan.mixed_switches]
    return both(flags + [positions[index] == middle for index, middle in middles])


def _touch(plan: Plan, notes: Memory, inputs: Inputs[Value]) -> list[Flag]:
    """Closed while touching, and until it has read open for its release time."""
    closed: list[Flag] = []
    for contact, reading in zip(plan.contacts, inputs.contacts, strict=True):
        touching = reading == contact.closed_reads
        grown = minimum(notes.was(f"open_for.{contact.name}") + 1, contact.release_ticks)
        open_for = notes.keep(f"open_for.{contact.name}", select(touching, 0, grown))
        closed.append(touching | (open_for < contact.release_ticks))
    return closed


def _at(closed: Sequence[Flag], contact: int | None) -> Flag:
    return False if contact is None else closed[contact]


def _both_closed(actuator: ActuatorPlan, notes: Memory, closed: Sequence[Flag]) -> Flag:
    together = _at(closed, actuator.out_stop) & _at(closed, actuator.in_stop)
    grown = minimum(notes.was(f"both_for.{actuator.name}") + 1, actuator.both_ticks)
    return notes.keep(f"both_for.{actuator.name}", select(together, grown, 0)) >= actuator.both_ticks


def _robot_fault(plan: Plan, faults: Sequence[Flag]) -> Flag:
    return either(
        [fault for actuator, fault in zip(plan.actuators, faults, strict=True) if actuator.stops_robot]
    )


def _latch_robot(plan: Plan, notes: Memory, faults: Sequence[Flag], disarmed: Flag) -> Flag:
    held = (notes.was("latched") > 0) & negation(disarmed)
    return notes.keep("latched", as_number(_robot_fault(plan, faults) | held)) > 0


def _hold_off(plan: Plan, notes: Memory, pulses: Sequence[Value], off: Flag, good: Sequence[Flag]) -> Flag:
    """Whether pulses have said off for as long as a finger needs, and none between said anything else.

    From the first such pulse to the last; a position that only stands for want of pulses adds nothing.
    """
    arm = plan.guard.arm
    if arm is None:
        notes.keep("off_for", 0)
        return False
    enough = plan.guard.off_ticks
    channel = plan.switches[arm.switch].channel
    disturbed = (pulses[channel] != 0) & negation(good[channel])
    was = notes.was("off_for")
    waits = (was >= enough - 1) & (was < enough) & negation(good[channel])
    grown = select(waits, was, minimum(was + 1, enough))
    return notes.keep("off_for", select(off & negation(disturbed), grown, 0)) >= enough


def _go_live(
    plan: Plan,
    notes: Memory,
    signal: Flag,
    neutral: Flag,
    arm_on: Flag,
    disarmed: Flag,
    fault: Flag,
    latched: Flag,
) -> Flag:
    """Live after everything needed has held long enough; live no more in the tick in which it ends."""
    guard = plan.guard
    off_seen: Value = 1
    if guard.arm is not None:
        was = notes.was("off_seen")
        remembered = was if guard.resumes else select(signal, was, 0)
        off_seen = select(disarmed, 1, remembered)
    notes.keep("off_seen", off_seen)
    ready = signal & neutral & arm_on & (off_seen > 0) & negation(fault)
    ready_for = select(ready, minimum(notes.was("ready_for") + 1, guard.hold_ticks), 0)
    notes.keep("ready_for", ready_for)
    stays = (notes.was("live") > 0) & arm_on
    live = signal & negation(latched) & ((ready_for >= guard.hold_ticks) | stays)
    return notes.keep("live", as_number(live)) > 0


def _move(plan: Plan, number: int, notes: Memory, signals: Signals[Value]) -> Moved:
    output = plan.outputs[number]
    before = notes.was(f"command.{output.name}")
    now = notes.keep(f"command.{output.name}", signals.outputs[number].command)
    if not output.pause_ticks:
        return Moved(before, now, 0, 0)
    rested, sign = notes.was(f"rested_for.{output.name}"), notes.was(f"last_sign.{output.name}")
    grown = minimum(rested + 1, output.pause_ticks)
    notes.keep(f"rested_for.{output.name}", select(now == 0, grown, 0))
    notes.keep(f"last_sign.{output.name}", select(now > 0, 1, select(now < 0, -1, sign)))
    return Moved(before, now, rested, sign)


def _ends(
    actuator: ActuatorPlan,
    notes: Memory,
    closed: Sequence[Flag],
    fault: Flag,
    robot_latched: Flag,
    disarmed: Flag,
    outputs: Sequence[Moved],
) -> Ends:
    out_closed, in_closed = _at(closed, actuator.out_stop), _at(closed, actuator.in_stop)
    own = select(fault, 1, select(disarmed, 0, notes.was(f"latched.{actuator.name}")))
    own = notes.keep(f"latched.{actuator.name}", 0 if actuator.stops_robot else own)
    too_far_out: Flag = False
    too_far_in: Flag = False
    most = actuator.travel_limit
    if most is not None:
        way = notes.was(f"way.{actuator.name}")
        too_far_out, too_far_in = way >= most, way <= -most
        command = outputs[actuator.output].now
        notes.keep(f"way.{actuator.name}", _way_after(most, way, command, out_closed, in_closed))
    return Ends(out_closed, in_closed, robot_latched | (own > 0), too_far_out, too_far_in)


def _way_after(most: int, way: Value, command: Value, out_closed: Flag, in_closed: Flag) -> Value:
    """The sum of the commands one way; anew after turning round or on meeting the stop driven towards."""
    turned = ((command > 0) & (way < 0)) | ((command < 0) & (way > 0))
    since = select(turned, 0, way)
    met = ((since > 0) & out_closed) | ((since < 0) & in_closed)
    return select(met, 0, clamp(since + command, -most, most))
