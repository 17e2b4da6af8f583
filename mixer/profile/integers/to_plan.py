"""A checked robot as integers: the plan.

Puts things into the order the plan promises (channels by receiver number, the rest as in the file),
leaves out what nothing uses, and turns names into indices. Floats become integers in `quantize`.
Only robots that passed the checks come here; a missing name is our bug and raises KeyError.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from mixer.core import plan as core
from mixer.profile.integers import quantize
from mixer.profile.integers.usage import mixed_names, used_contacts, used_sticks, used_switches
from mixer.profile.schema.channels import LINEAR, Channel, Shape, Stick, Switch
from mixer.profile.schema.outputs import Actuator, Output
from mixer.profile.schema.root import Robot

_POLICIES = {"clip": core.OverRange.CLIP, "scale": core.OverRange.SCALE, "yield": core.OverRange.YIELD}


@dataclass(frozen=True, slots=True)
class _Order:
    """What stands at which index of the plan's tuples."""

    channel: Mapping[str, int]
    stick: Mapping[str, int]
    switch: Mapping[str, int]
    source: Mapping[str, int]
    output: Mapping[str, int]
    contact: Mapping[str, int]


def plan_of(robot: Robot, name: str, wired: Iterable[str] = ()) -> core.Plan:
    """The plan of one robot in one loadout, called `name` in messages.

    `wired` are the base robot's contacts: they keep their numbers in every loadout.
    """
    inputs = {
        contact: number for number, contact in enumerate(dict.fromkeys([*wired, *robot.contact]), start=1)
    }
    tick_ms = robot.robot.tick_ms
    order = _order_of(robot)
    return core.Plan(
        name=name,
        tick_ms=tick_ms,
        channels=tuple(_channel(robot, channel) for channel in order.channel),
        sticks=tuple(_stick(robot, stick, order) for stick in order.stick),
        switches=tuple(_switch(robot.switch[switch], switch, order) for switch in order.switch),
        mixed_switches=tuple(order.switch[source] for source in order.source if source in order.switch),
        contacts=tuple(_contact(robot, contact, tick_ms, inputs[contact]) for contact in order.contact),
        flip=_flip(robot, order),
        groups=tuple(_group(robot, group, order) for group in robot.group),
        outputs=tuple(_output(output, key, order, tick_ms) for key, output in robot.output.items()),
        actuators=tuple(_actuator(item, key, order, tick_ms) for key, item in robot.actuator.items()),
        guard=_guard(robot, order),
    )


def _order_of(robot: Robot) -> _Order:
    sticks, switches = used_sticks(robot), used_switches(robot)
    numbers = {name: robot.stick[name].receiver for name in sticks}
    numbers |= {name: robot.switch[name].receiver for name in switches}
    channels = sorted(numbers, key=numbers.__getitem__)
    in_order = [name for name in channels if name in switches]
    mixed = mixed_names(robot)
    stick_order = [name for name in channels if name in sticks]
    sources = stick_order + [name for name in in_order if name in mixed]
    return _Order(
        channel=_indexed(channels),
        stick=_indexed(stick_order),
        switch=_indexed(in_order),
        source=_indexed(sources),
        output=_indexed(robot.output),
        contact=_indexed(used_contacts(robot)),
    )


def _indexed(names: Iterable[str]) -> dict[str, int]:
    return {name: index for index, name in enumerate(names)}


def _channel(robot: Robot, name: str) -> core.ChannelPlan:
    channel: Channel = robot.stick[name] if name in robot.stick else robot.switch[name]
    low, high = robot.receiver.valid_us
    if isinstance(channel, Stick):
        rest = channel.centre_us
    else:
        rest = channel.high_us if channel.reverse else channel.low_us
    return core.ChannelPlan(
        name=name,
        good_low_us=max(low, channel.lost_below_us or low),
        good_high_us=min(high, channel.lost_above_us or high),
        rest_us=rest,
        median=robot.receiver.median if channel.median is None else channel.median,
        receiver=channel.receiver,
    )


def _stick(robot: Robot, name: str, order: _Order) -> core.StickPlan:
    stick = robot.stick[name]
    low_span, high_span = stick.centre_us - stick.low_us, stick.high_us - stick.centre_us
    chooser, shapes = None, [stick.shape]
    if not isinstance(stick.shape, str):
        switch = stick.shape["switch"]
        chooser = order.switch[switch]
        shapes = [stick.shape[position] for position in robot.switch[switch].positions]
    known = {LINEAR: Shape(), **robot.shape}
    return core.StickPlan(
        name=name,
        channel=order.channel[name],
        centre_us=stick.centre_us,
        low_span_us=low_span,
        high_span_us=high_span,
        low_gain=quantize.reciprocal(low_span),
        high_gain=quantize.reciprocal(high_span),
        reverse=stick.reverse,
        trim=quantize.q14(stick.trim),
        shapes=tuple(quantize.shape_of(known[str(shape)]) for shape in shapes),
        chooser=chooser,
        flips=robot.flip is not None and name in robot.flip.reverses,
    )


def _switch(switch: Switch, name: str, order: _Order) -> core.SwitchPlan:
    return core.SwitchPlan(
        name=name,
        channel=order.channel[name],
        edges_us=quantize.edges_of(switch.low_us, switch.high_us, len(switch.positions)),
        hysteresis_us=switch.hysteresis_us,
        reverse=switch.reverse,
        position_names=switch.positions,
    )


def _contact(robot: Robot, name: str, tick_ms: int, number: int) -> core.ContactPlan:
    contact = robot.contact[name]
    release = quantize.ticks(contact.debounce_ms, tick_ms)
    return core.ContactPlan(name, contact.closed_reads, release, number)


def _flip(robot: Robot, order: _Order) -> core.FlipPlan | None:
    flip = robot.flip
    if flip is None:
        return None
    settle = quantize.ticks(flip.settle_ms, robot.robot.tick_ms, 1)
    if flip.switch is None or flip.position is None:
        return core.FlipPlan(order.contact[str(flip.contact)], settle)
    return core.FlipPlan(_standing(robot, order, flip.switch, flip.position), settle)


def _standing(robot: Robot, order: _Order, switch: str, position: str) -> core.SwitchPosition:
    return core.SwitchPosition(order.switch[switch], robot.switch[switch].positions.index(position))


def _group(robot: Robot, name: str, order: _Order) -> core.GroupPlan:
    group = robot.group[name]
    yielding = order.source[group.yields] if group.yields is not None else None
    outputs = tuple(order.output[output] for output in group.outputs)
    return core.GroupPlan(name, outputs, _POLICIES[group.over_range], yielding)


def _output(output: Output, name: str, order: _Order, tick_ms: int) -> core.OutputPlan:
    pulse = output.wire == "pulse"
    return core.OutputPlan(
        name=name,
        weights=tuple(quantize.q14(output.mix.get(source, 0.0)) for source in order.source),
        gain=quantize.q14_share(output.gain),
        limit=quantize.q14_share(output.limit),
        breakaway=quantize.q14_below_one(output.breakaway),
        up_step=quantize.step(output.slew_up_ms, tick_ms),
        down_step=quantize.step(output.slew_down_ms, tick_ms),
        pause_ticks=quantize.ticks(output.reversal_pause_ms, tick_ms),
        wire=core.Wire.PULSE if pulse else core.Wire.DUTY,
        reverse=output.reverse,
        rest=output.centre_us if pulse else 0,
        low_span=output.centre_us - output.low_us if pulse else output.top,
        high_span=output.high_us - output.centre_us if pulse else output.top,
        brake=not pulse and output.at_zero == "brake",
    )


def _actuator(actuator: Actuator, name: str, order: _Order, tick_ms: int) -> core.ActuatorPlan:
    limit = None
    if actuator.full_travel_ms is not None:
        limit = quantize.travel_limit(actuator.full_travel_ms, actuator.travel_margin, tick_ms)
    return core.ActuatorPlan(
        name=name,
        output=order.output[actuator.output],
        out_stop=None if actuator.out_stop is None else order.contact[actuator.out_stop],
        in_stop=None if actuator.in_stop is None else order.contact[actuator.in_stop],
        both_ticks=quantize.ticks(actuator.both_closed_ms, tick_ms, 1),
        travel_limit=limit,
        stops_robot=actuator.both_closed == "stop-robot",
    )


def _guard(robot: Robot, order: _Order) -> core.GuardPlan:
    guard, tick_ms = robot.guard, robot.robot.tick_ms
    arm = None if guard.arm is None else _standing(robot, order, guard.arm.switch, guard.arm.position)
    return core.GuardPlan(
        lost_ticks=quantize.ticks(guard.lost_after_ms, tick_ms, 1),
        hold_ticks=quantize.ticks(guard.arm_hold_ms, tick_ms, 1),
        neutral_within=quantize.q14(guard.neutral_within),
        arm=arm,
        resumes=guard.after_loss == "resume",
        ramps=guard.stop == "ramp",
        off_ticks=quantize.ticks(guard.arm_off_ms, tick_ms, 1),
    )
