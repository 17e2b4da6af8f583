"""The parts of a snapshot that come from the firmware's signals."""

from collections.abc import Iterator, Mapping, Sequence

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, OutputPlan, Plan, Wire
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
from mixer.runs.explain.steps import command_of_source

Numbers = Mapping[str, int]


def named_signals(robot: LiveRobot) -> dict[str, int]:
    """The last tick's signals by name."""
    return dict(zip(layout_of(robot.plan).signals, robot.signals, strict=True))


def named_state(robot: LiveRobot) -> dict[str, int]:
    """What the firmware remembers, by name."""
    return dict(zip(layout_of(robot.plan).state, robot.board.state, strict=True))


def channel_views(plan: Plan, signals: Numbers, live: LiveRobot, frame_ms: float) -> Iterator[ChannelView]:
    """One for each wire from the receiver."""
    for number, channel in enumerate(plan.channels):
        age = signals[f"channel.{channel.name}.age"]
        yield ChannelView(
            name=channel.name,
            pulse_us=signals[f"channel.{channel.name}.pulse"],
            arrived_us=live.arrived[number],
            age_ms=age * plan.tick_ms,
            good=live.good[number],
            missing=age * plan.tick_ms > 1.5 * frame_ms,
            lost=age >= plan.guard.lost_ticks,
            low_us=channel.good_low_us,
            high_us=channel.good_high_us,
        )


def source_views(plan: Plan, robot: Robot, signals: Numbers) -> Iterator[SourceView]:
    """One for each source of the mix."""
    for stick in plan.sticks:
        scaled, rated, command = (
            signals[f"stick.{stick.name}.{field}"] for field in ("scaled", "rated", "command")
        )
        name = plan.channels[stick.channel].name
        shape = shape_in_use(plan, robot, stick.name, signals)
        yield SourceView(stick.name, name, "stick", scaled, rated, command, shape)
    for place, index in enumerate(plan.mixed_switches, start=len(plan.sticks)):
        switch = plan.switches[index]
        command = command_of_source(plan, place, signals)
        name = plan.channels[switch.channel].name
        yield SourceView(switch.name, name, "switch", command, command, command, "")


def shape_in_use(plan: Plan, robot: Robot, stick: str, signals: Numbers) -> str:
    """The name of the shape that bends a stick now; empty for none."""
    shape = robot.stick[stick].shape
    if isinstance(shape, str):
        return "" if shape == "linear" else shape
    switch = next(item for item in plan.switches if item.name == shape["switch"])
    position = switch.position_names[signals[f"switch.{switch.name}.position"]]
    return shape[position]


def switch_views(plan: Plan, signals: Numbers) -> Iterator[SwitchView]:
    """One for each switch."""
    for number, switch in enumerate(plan.switches):
        yield SwitchView(
            switch.name,
            plan.channels[switch.channel].name,
            signals[f"switch.{switch.name}.position"],
            switch.position_names,
            number == plan.guard.arm_switch,
        )


def output_views(plan: Plan, signals: Numbers, state: Numbers) -> Iterator[OutputView]:
    """One for each motor channel."""
    groups = {number: group.name for group in plan.groups for number in group.outputs}
    for number, output in enumerate(plan.outputs):
        mixed, blended, wanted, command, wire = (
            signals[f"output.{output.name}.{field}"]
            for field in ("mixed", "blended", "wanted", "command", "wire")
        )
        yield OutputView(
            name=output.name,
            mixed=mixed,
            blended=blended,
            wanted=wanted,
            command=command,
            wire=wire,
            unit=_unit(output),
            wire_rest=output.rest,
            wire_low=output.rest - output.low_span,
            wire_high=output.rest + output.high_span,
            limit=output.limit,
            group=groups.get(number, ""),
            held=held_back(plan, number, signals, state),
        )


def _unit(output: OutputPlan) -> str:
    return "µs" if output.wire is Wire.PULSE else f"/ {output.high_span}"


def guard_view(plan: Plan, signals: Numbers, state: Numbers) -> GuardView:
    """The guard, and what it waits for."""
    return GuardView(
        state=Guard(signals["guard.state"]).name.lower(),
        why=why_not_live(plan, signals, state),
        signal=bool(signals["guard.signal"]),
        neutral=bool(signals["guard.neutral"]),
        armed=bool(signals["guard.armed"]),
        fault=bool(signals["guard.fault"]),
        arming=min(state["guard.held"] / plan.guard.hold_ticks, 1.0),
    )


def contact_views(plan: Plan, signals: Numbers, inputs: Sequence[int]) -> Iterator[ContactView]:
    """One for each digital input."""
    for contact, reading in zip(plan.contacts, inputs[len(plan.channels) :], strict=True):
        yield ContactView(contact.name, reading, bool(signals[f"contact.{contact.name}.closed"]))


def actuator_views(plan: Plan, robot: Robot, body: Body, signals: Numbers) -> Iterator[ActuatorView]:
    """One for each output with travel."""
    for number, actuator in enumerate(plan.actuators):
        names = [
            "" if stop is None else plan.contacts[stop].name
            for stop in (actuator.out_stop, actuator.in_stop)
        ]
        closed = [bool(name) and bool(signals[f"contact.{name}.closed"]) for name in names]
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
            blocked_out=signals[f"actuator.{actuator.name}.high"] == 0,
            blocked_in=signals[f"actuator.{actuator.name}.low"] == 0,
            fault=bool(signals[f"actuator.{actuator.name}.fault"]),
        )
