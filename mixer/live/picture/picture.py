"""The parts of a snapshot that come from the firmware's signals."""

from collections.abc import Iterator, Sequence

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, OutputPlan, Plan, StickPlan, Wire
from mixer.core.signals import Signals, State
from mixer.live.picture.holding import held_back
from mixer.live.robot.body import Body
from mixer.live.robot.robot import LiveRobot
from mixer.live.views.snapshot import (
    ActuatorView,
    ChannelView,
    ContactView,
    GuardView,
    OutputView,
    SourceView,
    SwitchView,
)
from mixer.profile.schema.root import Robot
from mixer.runs.explain.reasons import why_not_live
from mixer.runs.explain.steps import command_of_source, shape_number


def last_tick(robot: LiveRobot) -> tuple[Signals[int], State[int]]:
    """The last tick's signals, and what the firmware remembers of it."""
    layout = layout_of(robot.plan)
    return layout.signals_of(robot.signals), layout.state_of(robot.board.state)


def channel_views(
    plan: Plan, signals: Signals[int], live: LiveRobot, frame_ms: float
) -> Iterator[ChannelView]:
    """One for each wire from the receiver."""
    for number, channel in enumerate(plan.channels):
        _, age, pulse = signals.channels[number]
        yield ChannelView(
            name=channel.name,
            pulse_us=pulse,
            arrived_us=live.arrived[number],
            age_ms=age * plan.tick_ms,
            good=live.good[number],
            missing=age * plan.tick_ms > 1.5 * frame_ms,
            lost=age >= plan.guard.lost_ticks,
            low_us=channel.good_low_us,
            high_us=channel.good_high_us,
        )


def source_views(plan: Plan, robot: Robot, signals: Signals[int]) -> Iterator[SourceView]:
    """One for each source of the mix."""
    for stick, now in zip(plan.sticks, signals.sticks, strict=True):
        name = plan.channels[stick.channel].name
        shape = shape_in_use(plan, robot, stick, signals)
        yield SourceView(stick.name, name, "stick", now.scaled, now.rated, now.command, shape)
    for place, index in enumerate(plan.mixed_switches, start=len(plan.sticks)):
        switch = plan.switches[index]
        command = command_of_source(plan, place, signals)
        name = plan.channels[switch.channel].name
        yield SourceView(switch.name, name, "switch", command, command, command, "")


def shape_in_use(plan: Plan, robot: Robot, stick: StickPlan, signals: Signals[int]) -> str:
    """The name of the shape that bends a stick now; empty for none."""
    shape = robot.stick[stick.name].shape
    if stick.chooser is None or isinstance(shape, str):
        return "" if shape == "linear" else str(shape)
    return shape[plan.switches[stick.chooser].position_names[shape_number(stick, signals)]]


def switch_views(plan: Plan, signals: Signals[int]) -> Iterator[SwitchView]:
    """One for each switch."""
    for number, switch in enumerate(plan.switches):
        yield SwitchView(
            switch.name,
            plan.channels[switch.channel].name,
            signals.switches[number].position,
            switch.position_names,
            number == plan.guard.arm_switch,
        )


def output_views(plan: Plan, signals: Signals[int], state: State[int]) -> Iterator[OutputView]:
    """One for each motor channel."""
    groups = {number: group.name for group in plan.groups for number in group.outputs}
    for number, output in enumerate(plan.outputs):
        now = signals.outputs[number]
        yield OutputView(
            name=output.name,
            mixed=now.mixed,
            blended=now.blended,
            wanted=now.wanted,
            command=now.command,
            wire=now.wire,
            unit=_unit(output),
            limit=output.limit,
            group=groups.get(number, ""),
            held=held_back(plan, number, signals, state),
        )


def _unit(output: OutputPlan) -> str:
    return "µs" if output.wire is Wire.PULSE else f"/ {output.high_span}"


def guard_view(plan: Plan, signals: Signals[int], state: State[int]) -> GuardView:
    """The guard, and what it waits for."""
    return GuardView(
        state=Guard(signals.guard.state).name.lower(),
        why=why_not_live(plan, signals, state),
        signal=bool(signals.guard.signal),
        neutral=bool(signals.guard.neutral),
        armed=bool(signals.guard.armed),
        fault=bool(signals.guard.fault),
        arming=min(state.guard.held / plan.guard.hold_ticks, 1.0),
    )


def contact_views(plan: Plan, signals: Signals[int], inputs: Sequence[int]) -> Iterator[ContactView]:
    """One for each digital input."""
    readings = inputs[len(plan.channels) :]
    for contact, reading, now in zip(plan.contacts, readings, signals.contacts, strict=True):
        yield ContactView(contact.name, reading, bool(now.closed))


def actuator_views(plan: Plan, robot: Robot, body: Body, signals: Signals[int]) -> Iterator[ActuatorView]:
    """One for each output with travel."""
    for number, actuator in enumerate(plan.actuators):
        stops = (actuator.out_stop, actuator.in_stop)
        names = ["" if stop is None else plan.contacts[stop].name for stop in stops]
        closed = [stop is not None and bool(signals.contacts[stop].closed) for stop in stops]
        travel = robot.actuator[actuator.name].travel_mm
        position = body.positions[number]
        yield ActuatorView(
            name=actuator.name,
            output=plan.outputs[actuator.output].name,
            position=position,
            position_mm=None if travel is None else position * travel,
            travel_mm=travel,
            out_stop=names[0],
            in_stop=names[1],
            out_closed=closed[0],
            in_closed=closed[1],
            blocked_out=signals.actuators[number].high == 0,
            blocked_in=signals.actuators[number].low == 0,
            fault=bool(signals.actuators[number].fault),
        )
