"""What a profile asks for that its builder will regret, in the builder's words."""

from collections.abc import Iterator
from dataclasses import dataclass

from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.laws.creep import creep_remedy, creeps
from mixer.laws.expect import loss_ms, stop_ms
from mixer.profile.schema.root import Robot

LONG_BRIDGE_MS = 500
LONG_STOP_MS = 500
WIDE_NEUTRAL = 0.15
SHORT_HOLD_MS = 100
NOISE_US = (700, 2300)
"""Pulses no healthy receiver sends (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Warned:
    """One thing to think about again."""

    key: str
    """The profile's key it is about."""
    words: str
    remedy: str


def warnings_of(plan: Plan, robot: Robot | None = None) -> tuple[Warned, ...]:
    """Everything worth a warning; `robot` adds what only the profile knows."""
    found = [*_arming(plan), *_neutral(plan), *_loss(plan), *_pulses(plan), *_stops(plan)]
    if robot is not None:
        found += _physical(robot)
    return tuple(found)


def _arming(plan: Plan) -> Iterator[Warned]:
    guard = plan.guard
    if guard.arm is None:
        yield Warned(
            "guard.arm",
            "There is no arm switch: whoever lets go of the sticks near this robot makes it live.",
            "give one switch of the radio to arming",
        )
    if guard.resumes:
        yield Warned(
            "guard.after_loss",
            "After a loss the robot goes on by itself once the sticks are let go.",
            'set after_loss = "re-arm"',
        )
    hold = guard.hold_ticks * plan.tick_ms
    if hold < SHORT_HOLD_MS:
        yield Warned(
            "guard.arm_hold_ms",
            f"Sticks need to rest for {hold} ms only: one that swings through neutral is enough.",
            "hold for 300 ms or more",
        )


def _neutral(plan: Plan) -> Iterator[Warned]:
    for item in creeps(plan):
        yield Warned(
            "guard.neutral_within",
            f"With {item.stick} still at neutral, {item.output} creeps at up to {item.share:.1%} of full: "
            "the robot drives off when it goes live.",
            creep_remedy(plan),
        )
    if plan.guard.neutral_within > WIDE_NEUTRAL * ONE:
        yield Warned(
            "guard.neutral_within",
            f"A stick pushed {plan.guard.neutral_within / ONE:.0%} of its way still counts as neutral.",
            "stay below 0.1",
        )


def _loss(plan: Plan) -> Iterator[Warned]:
    bridge = plan.guard.lost_ticks * plan.tick_ms
    if bridge > LONG_BRIDGE_MS:
        yield Warned(
            "guard.lost_after_ms",
            f"When the radio goes the robot drives on for {bridge / 1000:g} s as the sticks last stood.",
            "250 ms bridges a dozen frames and is long enough for most receivers",
        )
    if stop_ms(plan) > LONG_STOP_MS:
        yield Warned(
            "guard.stop",
            f"The ramp adds {stop_ms(plan)} ms to every stop; all in all a loss takes {loss_ms(plan)} ms.",
            'set stop = "cut", or shorten slew_down_ms',
        )


def _pulses(plan: Plan) -> Iterator[Warned]:
    for stick in plan.sticks:
        channel = plan.channels[stick.channel]
        low = stick.centre_us - stick.low_span_us
        high = stick.centre_us + stick.high_span_us
        if channel.good_low_us > low or channel.good_high_us < high:
            yield Warned(
                f"stick.{stick.name}.lost_below_us",
                f"{stick.name} pushed to its end sends the very pulse that is taken for a lost signal.",
                f"keep the mark outside {low} to {high} µs",
            )
    if not any(_has_mark(plan, number) for number in range(len(plan.channels))):
        yield Warned(
            "stick.NAME.lost_below_us",
            "No channel has a mark for a lost signal. A receiver with presets inside the stick range, sent "
            "when the radio goes, cannot be told from a hand on the stick: the robot drives on.",
            "set the receiver to send no pulses, or presets outside the stick range and a mark; rehearse",
        )
    widest = min(c.good_low_us for c in plan.channels), max(c.good_high_us for c in plan.channels)
    if widest[0] < NOISE_US[0] or widest[1] > NOISE_US[1]:
        yield Warned(
            "receiver.valid_us",
            f"Pulses from {widest[0]} to {widest[1]} µs count as good; noise can look like that.",
            "850 to 2150 µs takes in every healthy receiver",
        )


def _has_mark(plan: Plan, number: int) -> bool:
    """Whether this channel is narrower than the widest, which only a mark does."""
    lows = min(channel.good_low_us for channel in plan.channels)
    highs = max(channel.good_high_us for channel in plan.channels)
    channel = plan.channels[number]
    return channel.good_low_us > lows or channel.good_high_us < highs


def _stops(plan: Plan) -> Iterator[Warned]:
    for actuator in plan.actuators:
        if not actuator.travel_limit:
            yield Warned(
                f"actuator.{actuator.name}.full_travel_ms",
                f"Nothing ends the way of {actuator.name} when it misses an end stop: driven for ever.",
                "measure the whole travel and give full_travel_ms",
            )
        for end in (actuator.out_stop, actuator.in_stop):
            if end is not None and plan.contacts[end].closed_reads == 0:
                name = plan.contacts[end].name
                yield Warned(
                    f"contact.{name}.closed_reads",
                    f"With its cable off, {name} reads open for ever: the end stop is gone, unnoticed.",
                    "use a switch that opens at the end, closed_reads = 1",
                )


def _physical(robot: Robot) -> Iterator[Warned]:
    for name, actuator in robot.actuator.items():
        if actuator.stops_in_circuit:
            yield Warned(
                f"actuator.{name}.stops_in_circuit",
                f"The end stops of {name} sit in the motor's circuit: no firmware can see or check them.",
                "try both ends by hand before every event",
            )
    for name, channel in (robot.stick | robot.switch).items():
        if channel.lost_below_us is None and channel.lost_above_us is None and name == _throttle(robot):
            yield Warned(
                f"stick.{name}.lost_below_us",
                f"{name} has no mark for a lost signal, though it drives every wheel.",
                "give it one if the receiver has a preset for it",
            )


def _throttle(robot: Robot) -> str:
    """The stick with the most outputs behind it, where some other channel has a mark already."""
    channels = {**robot.stick, **robot.switch}
    if not any(channel.lost_below_us or channel.lost_above_us for channel in channels.values()):
        return ""
    uses = {name: sum(name in output.mix for output in robot.output.values()) for name in robot.stick}
    return max(uses, key=uses.__getitem__) if uses else ""
