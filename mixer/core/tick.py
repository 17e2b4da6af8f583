"""One run of the firmware: intake, scale, shape, flip, mix, guard, interlock, drive.

`tick(plan, inputs, state)` is the whole firmware; the functions below it are its stages in order. What
goes in, is remembered and comes out has its fields in `signals`; `flat_tick` is the same on flat rows.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeAlias

from mixer.core import blend, drive, guard, intake, interlock, shape
from mixer.core.layout import flat, layout_of
from mixer.core.ops import ONE, Flag, Value, as_number, magnitude, maximum, minimum, negation, select
from mixer.core.plan import (
    ActuatorPlan,
    ChannelPlan,
    GroupPlan,
    Guard,
    OverRange,
    Plan,
    StickPlan,
    SwitchPosition,
)
from mixer.core.signals import (
    ActuatorSignals,
    ActuatorState,
    ChannelSignals,
    ChannelState,
    ContactSignals,
    ContactState,
    FlipSignals,
    FlipState,
    GuardSignals,
    GuardState,
    Inputs,
    OutputSignals,
    OutputState,
    Signals,
    State,
    StickSignals,
    SwitchSignals,
    SwitchState,
)


class Tick(NamedTuple):
    """What a tick leaves behind."""

    signals: Signals[Value]
    state: State[Value]


class FlatTick(NamedTuple):
    """The same as rows, in the order of the plan's layout."""

    signals: list[Value]
    state: list[Value]


class Heard(NamedTuple):
    """What intake made of the wires."""

    channels: tuple[ChannelSignals[Value], ...]
    positions: list[Value]
    """Where each switch stands."""
    closed: list[Flag]
    """Whether each contact counts as closed."""
    clean: list[Flag]
    """Whether each channel brought no pulse but a good one."""


class Asked(NamedTuple):
    """What the sticks ask for."""

    sticks: tuple[StickSignals[Value], ...]
    neutral: Flag
    """Everything that feeds the mix rests at neutral."""
    mixed: list[Value]
    """For each output its share of every source, and ..."""
    blended: list[Value]
    """... the same brought within range."""


class Allowed(NamedTuple):
    """What guard and interlock let through."""

    guard: GuardSignals[Value]
    actuators: tuple[ActuatorSignals[Value], ...]


Ask: TypeAlias = Callable[[Plan, list[Value], list[Value], Value], Asked]
"""From the pulse of each channel, the position of each switch and the flip, what the sticks ask for."""


def mix_sticks(plan: Plan, pulses: list[Value], positions: list[Value], flipped: Value) -> Asked:
    """Scale, shape, flip and mix. Depends on nothing but its arguments: no state is read or kept here."""
    sticks = tuple([bend(stick, pulses, positions, flipped) for stick in plan.sticks])
    switched = [intake.command_of(plan.switches[index], positions[index]) for index in plan.mixed_switches]
    mixed, blended = blend_outputs(plan, [stick.command for stick in sticks] + switched)
    return Asked(sticks, at_neutral(plan, sticks, switched), mixed, blended)


def tick(plan: Plan, inputs: Inputs[Value], state: State[Value], ask: Ask = mix_sticks) -> Tick:
    """Run the firmware once. Equal arguments give equal results; nothing else is read or written.

    `ask` may be given by an engine that remembers the last answer of `mix_sticks`.
    """
    heard, channels, contacts = take_in(plan, inputs, state)
    flip = find_flip(plan, heard, state.flip)
    flipped: Value = 0 if flip is None else flip.flipped
    asked = ask(plan, [channel.pulse for channel in heard.channels], heard.positions, flipped)
    allowed, guarded, actuators = protect(plan, heard, asked.neutral, state)
    outputs, driven = drive_outputs(plan, asked, allowed, state.outputs)
    signals = Signals(
        channels=heard.channels,
        switches=tuple([SwitchSignals(position) for position in heard.positions]),
        contacts=tuple([ContactSignals(as_number(closed)) for closed in heard.closed]),
        flip=FlipSignals(flipped),
        sticks=asked.sticks,
        guard=allowed.guard,
        actuators=allowed.actuators,
        outputs=outputs,
    )
    after = State(
        channels=channels,
        switches=tuple([SwitchState(position) for position in heard.positions]),
        contacts=contacts,
        flip=flip,
        guard=guarded,
        actuators=watch_travel(plan, heard, outputs, actuators),
        outputs=driven,
    )
    return Tick(signals, after)


def flat_tick(
    plan: Plan, inputs: Sequence[Value], state: Sequence[Value], ask: Ask = mix_sticks
) -> FlatTick:
    """`tick` on rows: `inputs` and `state`, and what comes back, in the order of the plan's layout."""
    layout = layout_of(plan)
    after = tick(plan, layout.inputs_of(inputs), layout.state_of(state), ask)
    return FlatTick(flat(after.signals), flat(after.state))


def take_in(
    plan: Plan, inputs: Inputs[Value], state: State[Value]
) -> tuple[Heard, tuple[ChannelState[Value], ...], tuple[ContactState[Value], ...]]:
    """Intake: which pulses are good and how old, where switches and contacts stand; what is kept of it."""
    channels = [
        hear(channel, pulse, before, plan.guard.lost_ticks)
        for channel, pulse, before in zip(plan.channels, inputs.channels, state.channels, strict=True)
    ]
    positions = [
        intake.position_of(switch, channels[switch.channel][0].pulse, before.position)
        for switch, before in zip(plan.switches, state.switches, strict=True)
    ]
    contacts = [
        intake.contact_after(contact, reading, before.remaining)
        for contact, reading, before in zip(plan.contacts, inputs.contacts, state.contacts, strict=True)
    ]
    said = tuple([signals for signals, _ in channels])
    clean = [
        (pulse == 0) | (signals.good > 0) for pulse, signals in zip(inputs.channels, said, strict=True)
    ]
    heard = Heard(said, positions, [closed for closed, _ in contacts], clean)
    kept = tuple([after for _, after in channels])
    return heard, kept, tuple([ContactState(remaining) for _, remaining in contacts])


def hear(
    channel: ChannelPlan, pulse: Value, before: ChannelState[Value], lost_ticks: int
) -> tuple[ChannelSignals[Value], ChannelState[Value]]:
    """One channel: the last good pulse stands while a gap is bridged.

    With a median it is the middle of the last three good ones; the first one after a loss starts them anew.
    """
    good, age = intake.age_after(channel, pulse, before.age, lost_ticks)
    if before.newer is None or before.older is None:
        held = select(good, pulse, before.pulse)
        return ChannelSignals(as_number(good), age, held), ChannelState(age, held, None, None)
    lost = before.age >= lost_ticks
    newer = select(good, pulse, before.newer)
    older = select(good, select(lost, pulse, before.newer), before.older)
    oldest = select(lost, pulse, before.older)
    held = select(good, intake.median_of_three(pulse, older, oldest), before.pulse)
    return ChannelSignals(as_number(good), age, held), ChannelState(age, held, newer, older)


def has_signal(plan: Plan, channels: Sequence[ChannelSignals[Value]]) -> Flag:
    """Every channel has a pulse young enough to be trusted."""
    signal: Flag = True
    for channel in channels:
        signal = signal & (channel.age < plan.guard.lost_ticks)
    return signal


def find_flip(plan: Plan, heard: Heard, before: FlipState[Value] | None) -> FlipState[Value] | None:
    """Whether the robot lies upside down; None where it never turns over."""
    if plan.flip is None or before is None:
        return None
    source = plan.flip.told_by
    if isinstance(source, SwitchPosition):
        reading = heard.positions[source.switch] == source.position
    else:
        reading = heard.closed[source]
    return FlipState(*intake.flipped_after(plan.flip, reading, before.flipped, before.waited))


def bend(
    stick: StickPlan, pulses: Sequence[Value], positions: Sequence[Value], flipped: Value
) -> StickSignals[Value]:
    """Scale, shape and flip: one stick's command for the mix.

    Upside down by rolling over, each wheel pushes the other way and the sides change places:
    (left, right) acts as (-right, -left). To get v ± w on the floor the mix must be asked for
    -v and w: sticks that drive forward are negated, sticks that turn are not.
    """
    scaled = intake.scale(stick, pulses[stick.channel])
    if stick.chooser is None:
        bent = shape.shape(stick.shapes[0], scaled)
    else:
        bent = shape.shape_chosen(stick.shapes, positions[stick.chooser], scaled)
    command = select(flipped > 0, -bent.rated, bent.rated) if stick.flips else bent.rated
    return StickSignals(scaled, *bent, command)


def at_neutral(plan: Plan, sticks: Sequence[StickSignals[Value]], switched: Sequence[Value]) -> Flag:
    """Every stick near enough to its centre (before any shape), every switch that feeds the mix at 0."""
    neutral: Flag = True
    for stick in sticks:
        neutral = neutral & (magnitude(stick.scaled) <= plan.guard.neutral_within)
    for command in switched:
        neutral = neutral & (command == 0)
    return neutral


def blend_outputs(plan: Plan, commands: Sequence[Value]) -> tuple[list[Value], list[Value]]:
    """Mix: every output's share of every source, and the same within range by its group's policy."""
    mixed = [blend.mix(output.weights, commands) for output in plan.outputs]
    grouped = {index for group in plan.groups for index in group.outputs}
    blended = [value if index in grouped else blend.clip(value) for index, value in enumerate(mixed)]
    for group in plan.groups:
        members = _within_range(plan, group, mixed, commands)
        for index, value in zip(group.outputs, members, strict=True):
            blended[index] = value
    return mixed, blended


def _within_range(
    plan: Plan, group: GroupPlan, mixed: Sequence[Value], commands: Sequence[Value]
) -> list[Value]:
    members, giver = [mixed[index] for index in group.outputs], group.yielding
    if group.policy is OverRange.SCALE:
        return blend.scale_together(members)
    if giver is None:
        return [blend.clip(value) for value in members]
    weights = [plan.outputs[index].weights for index in group.outputs]
    yielding = [blend.contribution(row[giver], commands[giver]) for row in weights]
    rest = [value - part for value, part in zip(members, yielding, strict=True)]
    if any(sum(map(abs, row)) - abs(row[giver]) > ONE for row in weights):
        rest = blend.scale_together(rest)
    return blend.give_way(yielding, rest)


def protect(
    plan: Plan, heard: Heard, neutral: Flag, state: State[Value]
) -> tuple[Allowed, GuardState[Value], list[ActuatorState[Value]]]:
    """Guard and interlock: where the guard stands, and the allowed range of each actuator's output."""
    stops = [stops_of(actuator, heard) for actuator in plan.actuators]
    fault: Flag = False
    faults: list[tuple[Flag, Value]] = []
    for actuator, (out_closed, in_closed), before in zip(
        plan.actuators, stops, state.actuators, strict=True
    ):
        faults.append(interlock.both_closed(actuator, out_closed, in_closed, before.both))
        if actuator.stops_robot:
            fault = fault | faults[-1][0]
    signal, arm_on = has_signal(plan, heard.channels), is_armed(plan, heard.positions)
    arm = plan.guard.arm
    wire = 0 if arm is None else plan.switches[arm.switch].channel
    fresh, clean = heard.channels[wire].good > 0, heard.clean[wire]
    after, disarmed = guard.guard_after(
        plan.guard, state.guard, signal, neutral, arm_on, fault, fresh, clean
    )
    words = GuardSignals(
        as_number(signal), as_number(neutral), as_number(arm_on), as_number(fault), after.state
    )
    ranges: list[ActuatorSignals[Value]] = []
    kept: list[ActuatorState[Value]] = []
    for number, actuator in enumerate(plan.actuators):
        (broken, both), before = faults[number], state.actuators[number]
        latched: Value = 0
        if not actuator.stops_robot:
            latched = interlock.latch(broken, disarmed, before.latched)
        low, high = interlock.allowed(actuator, *stops[number], latched, before.driven)
        ranges.append(ActuatorSignals(low, high, as_number(broken)))
        kept.append(ActuatorState(both, latched, before.driven))
    return Allowed(words, tuple(ranges)), after, kept


def is_armed(plan: Plan, positions: Sequence[Value]) -> Flag:
    """The arm switch is on; always, where there is none."""
    arm = plan.guard.arm
    return True if arm is None else positions[arm.switch] == arm.position


def stops_of(actuator: ActuatorPlan, heard: Heard) -> tuple[Flag, Flag]:
    """Whether the outer and the inner end stop are closed; an end without a switch never is."""
    return (
        False if actuator.out_stop is None else heard.closed[actuator.out_stop],
        False if actuator.in_stop is None else heard.closed[actuator.in_stop],
    )


def drive_outputs(
    plan: Plan, asked: Asked, allowed: Allowed, before: Sequence[OutputState[Value]]
) -> tuple[tuple[OutputSignals[Value], ...], tuple[OutputState[Value], ...]]:
    """Drive: each output's next command within what is allowed, and what its wire carries."""
    state = allowed.guard.state
    live = state == Guard.LIVE
    cut = (state == Guard.FAULTED) if plan.guard.ramps else negation(live)
    ranges: dict[int, tuple[Value, Value]] = {}
    for actuator, now in zip(plan.actuators, allowed.actuators, strict=True):
        low, high = now.low, now.high
        if actuator.output in ranges:  # one controller for several: what stops one of them stops them all
            low, high = maximum(low, ranges[actuator.output][0]), minimum(high, ranges[actuator.output][1])
        ranges[actuator.output] = low, high
    signals: list[OutputSignals[Value]] = []
    kept: list[OutputState[Value]] = []
    for index, output in enumerate(plan.outputs):
        level = drive.level(output, asked.blended[index])
        wanted = select(live, level.limited, 0)
        low, high = ranges.get(index, (-ONE, ONE))
        after = drive.drive(output, wanted, low, high, cut, before[index])
        wire = drive.on_wire(output, after.command)
        signals.append(
            OutputSignals(asked.mixed[index], asked.blended[index], *level, wanted, after.command, wire)
        )
        kept.append(after)
    return tuple(signals), tuple(kept)


def watch_travel(
    plan: Plan,
    heard: Heard,
    outputs: Sequence[OutputSignals[Value]],
    before: Sequence[ActuatorState[Value]],
) -> tuple[ActuatorState[Value], ...]:
    """Add what each actuator was driven in this tick to the way it has come since its last stop."""
    after = []
    for actuator, state in zip(plan.actuators, before, strict=True):
        out_closed, in_closed = stops_of(actuator, heard)
        command = outputs[actuator.output].command
        driven = interlock.driven_after(actuator, command, out_closed, in_closed, state.driven)
        after.append(ActuatorState(state.both, state.latched, driven))
    return tuple(after)
