"""What is true of one tick, told from outside: from its inputs, its signals and the watcher's memory.

A second account of the whole firmware, written from the rules and not from the core. It keeps its own
pulses, its own switch positions, its own end stops and its own way up, all from what reaches the board;
of the firmware's findings only the outputs' last commands are remembered, because they are what came out.
What the firmware says beyond that is never believed: the rules hold it against what is worked out here.
Written with the operations of `laws.arithmetic`, so that it runs on ints and on symbols alike.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from mixer.core.plan import ActuatorPlan, ChannelPlan, FlipPlan, Plan, SwitchPlan
from mixer.core.signals import Inputs, Signals
from mixer.laws.arithmetic import (
    Flag,
    Value,
    as_number,
    both,
    clamp,
    either,
    magnitude,
    maximum,
    minimum,
    negation,
    select,
)
from mixer.laws.driving import Free
from mixer.laws.expect import loss_ticks, stop_ticks
from mixer.laws.memory import Memory
from mixer.laws.sticks import Bent, Target, bent, switch_command, targets


class Moved(NamedTuple):
    """One output in this tick and the one before."""

    before: Value
    now: Value
    rested_for: Value
    """Ticks at zero before this one, up to the pause."""
    last_sign: Value
    """The sign of its last movement before this tick."""
    paused: Free
    """Which ways its rest before reversing leaves free."""


class Ends(NamedTuple):
    """One actuator in this tick."""

    out_closed: Flag
    in_closed: Flag
    latched: Flag
    """Its own fault, or the whole robot's."""
    too_far_out: Flag
    too_far_in: Flag
    """Driven longer than the travel can take, that way, without meeting the stop."""
    fault: Flag
    """Both its stops have been closed for too long, now."""
    held: Flag
    """Its own fault is latched, whatever the robot's is."""

    @property
    def free(self) -> Free:
        """Which ways nothing forbids."""
        forward = negation(self.out_closed | self.too_far_out | self.latched)
        return Free(forward, negation(self.in_closed | self.too_far_in | self.latched))


class Heard(NamedTuple):
    """What reached the board, as far as it can be trusted."""

    good: list[Flag]
    """Whether each channel brought a good pulse in this tick."""
    silent: list[Value]
    """Ticks since each channel's last good pulse, this one counted in; up to a promised stop."""
    age: list[Value]
    """The same up to the loss."""
    pulses: list[Value]
    """Where each channel stands: at its last good pulse, or the middle of its last three."""
    positions: list[Value]
    closed: list[Flag]
    flipped: Flag


@dataclass(frozen=True)
class Standing:
    """Where the guard stands."""

    signal: Flag
    neutral: Flag
    arm_on: Flag
    fault: Flag
    """Both stops of an actuator that stops the robot have been closed for too long, now."""
    live: Flag
    was_live: Flag
    been_live: Flag
    """Live in this tick or ever before since power-up."""
    not_live_for: Value
    latched: Flag
    woken: Flag
    """There has been a signal, or a fault, since power-up."""
    off_seen: Flag
    """The arm switch has been off for as long as a finger needs; always, where there is none."""


@dataclass(frozen=True)
class Seen(Standing):
    """Everything the rules may ask about one tick."""

    plan: Plan
    signals: Signals[Value]
    inputs: Inputs[Value]
    heard: Heard
    sticks: list[Bent]
    targets: list[Target]
    outputs: list[Moved]
    actuators: list[Ends]

    def free(self, output: int) -> Free:
        """Which ways nothing forbids an output to go; what stops one actuator on it stops them all."""
        pairs = zip(self.plan.actuators, self.actuators, strict=True)
        on_it = [ends.free for actuator, ends in pairs if actuator.output == output]
        return Free(both([free.forward for free in on_it]), both([free.reverse for free in on_it]))


def watch(
    plan: Plan, memory: Sequence[Value], inputs: Inputs[Value], signals: Signals[Value]
) -> tuple[tuple[Value, ...], Seen]:
    """The memory after this tick, and what is true of it.

    `memory` is in the order of `memory_slots(plan)`.
    """
    notes = Memory(plan, tuple(memory))
    heard = _hear(plan, notes, inputs)
    sticks = [
        bent(stick, heard.pulses[stick.channel], heard.positions, heard.flipped) for stick in plan.sticks
    ]
    switched = [switch_command(plan.switches[at], heard.positions[at]) for at in plan.mixed_switches]
    neutral = both(
        [magnitude(stick.scaled) <= plan.guard.neutral_within for stick in sticks]
        + [command == 0 for command in switched]
    )
    faults = [_both_closed(actuator, notes, heard.closed) for actuator in plan.actuators]
    standing, disarmed = _stand(plan, notes, inputs, heard, neutral, _robot_fault(plan, faults))
    outputs = [_move(plan, number, notes, signals) for number in range(len(plan.outputs))]
    actuators = [
        _ends(actuator, notes, heard.closed, broken, standing.latched, disarmed, outputs)
        for actuator, broken in zip(plan.actuators, faults, strict=True)
    ]
    seen = Seen(
        **vars(standing),
        plan=plan,
        signals=signals,
        inputs=inputs,
        heard=heard,
        sticks=sticks,
        targets=targets(plan, [*(stick.command for stick in sticks), *switched]),
        outputs=outputs,
        actuators=actuators,
    )
    return notes.kept(), seen


def _stand(
    plan: Plan, notes: Memory, inputs: Inputs[Value], heard: Heard, neutral: Flag, fault: Flag
) -> tuple[Standing, Flag]:
    """Where the guard stands, and whether a hand has disarmed it."""
    signal = both([age < plan.guard.lost_ticks for age in heard.age])
    arm = plan.guard.arm
    arm_on: Flag = True if arm is None else heard.positions[arm.switch] == arm.position
    disarmed = _hold_off(plan, notes, inputs.channels, signal & negation(arm_on), heard.good)
    latched = _latch_robot(notes, fault, disarmed)
    was_live = notes.was("live") > 0
    live = _go_live(plan, notes, signal, neutral, arm_on, disarmed, fault, latched)
    woken = notes.keep("woken", select(signal | latched, 1, notes.was("woken"))) > 0
    been_live = notes.keep("been_live", select(live, 1, notes.was("been_live"))) > 0
    not_live_for = select(live, 0, minimum(notes.was("not_live_for") + 1, stop_ticks(plan)))
    notes.keep("not_live_for", not_live_for)
    off_seen = notes.kept_now("off_seen") > 0
    return Standing(
        signal, neutral, arm_on, fault, live, was_live, been_live, not_live_for, latched, woken, off_seen
    ), disarmed


def _hear(plan: Plan, notes: Memory, inputs: Inputs[Value]) -> Heard:
    channels = [
        _channel(plan, channel, notes, pulse)
        for channel, pulse in zip(plan.channels, inputs.channels, strict=True)
    ]
    good, silent, age, pulses = (list(row) for row in zip(*channels, strict=True))
    positions = [_position(switch, notes, pulses[switch.channel]) for switch in plan.switches]
    closed = _touch(plan, notes, inputs)
    flipped: Flag = False
    if plan.flip is not None:
        flipped = _turned_over(plan.flip, notes, positions, closed)
    return Heard(good, silent, age, pulses, positions, closed, flipped)


def _channel(
    plan: Plan, channel: ChannelPlan, notes: Memory, pulse: Value
) -> tuple[Flag, Value, Value, Value]:
    """Good or not, silent for how long, silent up to the loss, and where the channel stands."""
    name, lost = channel.name, plan.guard.lost_ticks
    fine = (pulse >= channel.good_low_us) & (pulse <= channel.good_high_us)
    silent = select(fine, 0, minimum(notes.was(f"silent.{name}") + 1, loss_ticks(plan)))
    was_silent = notes.was(f"age.{name}")
    age = select(fine, 0, minimum(was_silent + 1, lost))
    notes.keep(f"silent.{name}", silent)
    notes.keep(f"age.{name}", age)
    if not channel.median:
        return (
            fine,
            silent,
            age,
            notes.keep(f"pulse.{name}", select(fine, pulse, notes.was(f"pulse.{name}"))),
        )
    return fine, silent, age, _middle(notes, name, pulse, fine, was_silent >= lost)


def _middle(notes: Memory, name: str, pulse: Value, fine: Flag, afresh: Flag) -> Value:
    """The middle of the last three good pulses; the first after a loss counts for all three."""
    one, two = notes.was(f"newer.{name}"), notes.was(f"older.{name}")
    second = select(fine, select(afresh, pulse, one), two)
    third = select(afresh, pulse, two)
    middle = maximum(minimum(pulse, second), minimum(maximum(pulse, second), third))
    notes.keep(f"newer.{name}", select(fine, pulse, one))
    notes.keep(f"older.{name}", second)
    return notes.keep(f"pulse.{name}", select(fine, middle, notes.was(f"pulse.{name}")))


def _position(switch: SwitchPlan, notes: Memory, pulse: Value) -> Value:
    """Counted from the low end of the pulse, an edge passed only beyond its hysteresis."""
    last, around = len(switch.edges_us), switch.hysteresis_us
    was = notes.was(f"position.{switch.name}")
    raised = last - was if switch.reverse else was
    count: Value = 0
    for number, edge in enumerate(switch.edges_us, start=1):
        count = count + as_number(pulse >= select(raised >= number, edge - around, edge + around))
    return notes.keep(f"position.{switch.name}", last - count if switch.reverse else count)


def _touch(plan: Plan, notes: Memory, inputs: Inputs[Value]) -> list[Flag]:
    """Closed while touching, and until it has read open for its release time."""
    closed: list[Flag] = []
    for contact, reading in zip(plan.contacts, inputs.contacts, strict=True):
        touching = reading == contact.closed_reads
        left = maximum(notes.was(f"closed_for.{contact.name}") - 1, 0)
        left = notes.keep(f"closed_for.{contact.name}", select(touching, contact.release_ticks, left))
        closed.append(touching | (left > 0))
    return closed


def _turned_over(flip: FlipPlan, notes: Memory, positions: Sequence[Value], closed: Sequence[Flag]) -> Flag:
    """Upside down once that has been read for long enough without a break, and back the same way."""
    told_by = flip.told_by
    reads = closed[told_by] if isinstance(told_by, int) else positions[told_by.switch] == told_by.position
    was = notes.was("flipped")
    other = as_number(negation(was > 0))
    waited = select(as_number(reads) == other, notes.was("turning_for") + 1, 0)
    settled = waited >= flip.settle_ticks
    notes.keep("turning_for", select(settled, 0, waited))
    return notes.keep("flipped", select(settled, other, was)) > 0


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


def _latch_robot(notes: Memory, fault: Flag, disarmed: Flag) -> Flag:
    held = (notes.was("latched") > 0) & negation(disarmed)
    return notes.keep("latched", as_number(fault | held)) > 0


def _hold_off(plan: Plan, notes: Memory, pulses: Sequence[Value], off: Flag, good: Sequence[Flag]) -> Flag:
    """Whether pulses have said off for as long as a finger needs, and none between said anything else.

    From the first such pulse to the last; a position that only stands for want of pulses adds nothing.
    """
    if plan.guard.arm is None:
        notes.keep("off_for", 0)
        return False
    enough = plan.guard.off_ticks
    channel = plan.switches[plan.guard.arm.switch].channel
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
        return Moved(before, now, 0, 0, Free(forward=True, reverse=True))
    rested, sign = notes.was(f"rested_for.{output.name}"), notes.was(f"last_sign.{output.name}")
    grown = minimum(rested + 1, output.pause_ticks)
    notes.keep(f"rested_for.{output.name}", select(now == 0, grown, 0))
    notes.keep(f"last_sign.{output.name}", select(now > 0, 1, select(now < 0, -1, sign)))
    over = rested >= output.pause_ticks
    return Moved(before, now, rested, sign, Free((sign >= 0) | over, (sign <= 0) | over))


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
    held = own > 0
    return Ends(out_closed, in_closed, robot_latched | held, too_far_out, too_far_in, fault, held)


def _way_after(most: int, way: Value, command: Value, out_closed: Flag, in_closed: Flag) -> Value:
    """The sum of the commands one way; anew after turning round or on meeting the stop driven towards."""
    turned = ((command > 0) & (way < 0)) | ((command < 0) & (way > 0))
    since = select(turned, 0, way)
    met = ((since > 0) & out_closed) | ((since < 0) & in_closed)
    return select(met, 0, clamp(since + command, -most, most))
