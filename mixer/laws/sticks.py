"""What the sticks ask for, worked out a second time: from pulses and switch positions to output targets.

Nothing here calls a stage of the core. Its rounding is the firmware's (every product to the nearest part
of 16384), so that the two can be held together to the last part. The tests hold it to exact fractions, at
every pulse of every stick and in every shape, within a few parts (`failsafe.proof.exact`).
"""

from collections.abc import Sequence
from typing import NamedTuple

from mixer.core.plan import GroupPlan, OutputPlan, OverRange, Plan, ShapePlan, StickPlan, SwitchPlan
from mixer.laws.arithmetic import ONE, Flag, Value, clamp, divide, magnitude, maximum, mul, select


class Bent(NamedTuple):
    """One stick, step by step."""

    scaled: Value
    banded: Value
    curved: Value
    rated: Value
    command: Value


class Target(NamedTuple):
    """What one output should reach, step by step."""

    mixed: Value
    blended: Value
    gained: Value
    started: Value
    limited: Value


def stick_command(stick: StickPlan, pulse: Value) -> Value:
    """The command a stick's pulse stands for, before its shape: from the plan's numbers alone."""
    way = pulse - stick.centre_us
    if stick.low_span_us == stick.high_span_us:
        command = mul(clamp(way, -stick.low_span_us, stick.high_span_us), stick.high_gain)
    else:
        back = mul(clamp(way, -stick.low_span_us, 0), stick.low_gain)
        ahead = mul(clamp(way, 0, stick.high_span_us), stick.high_gain)
        command = select(way < 0, back, ahead)
    command = -command if stick.reverse else command
    return clamp(command + stick.trim, -ONE, ONE) if stick.trim else command


def bent(stick: StickPlan, pulse: Value, positions: Sequence[Value], flipped: Flag) -> Bent:
    """One stick's pulse on its way into the mix."""
    scaled = stick_command(stick, pulse)
    banded, curved, rated = _shaped(stick.shapes[-1], scaled)
    at = 0 if stick.chooser is None else positions[stick.chooser]
    for position, shape in enumerate(stick.shapes[:-1]):
        here = at == position
        steps = zip(_shaped(shape, scaled), (banded, curved, rated), strict=True)
        banded, curved, rated = (select(here, a, b) for a, b in steps)
    command = select(flipped, -rated, rated) if stick.flips else rated
    return Bent(scaled, banded, curved, rated, command)


def _shaped(shape: ShapePlan, x: Value) -> tuple[Value, Value, Value]:
    """After the deadband, the expo and the rate."""
    beyond = x - clamp(x, -shape.band, shape.band) if shape.band else x
    banded = mul(beyond, shape.gain) if shape.band else x
    cubed = mul(shape.expo, mul(banded, banded)) if shape.expo else 0
    curved = mul(banded, (ONE - shape.expo) + cubed) if shape.expo else banded
    return banded, curved, curved if shape.rate == ONE else mul(curved, shape.rate)


def switch_command(switch: SwitchPlan, position: Value) -> Value:
    """What a switch adds to the mix: 0 at the last position but one, full a step away from it."""
    return (position - (len(switch.edges_us) - 1)) * ONE


def targets(plan: Plan, commands: Sequence[Value]) -> list[Target]:
    """What each output should reach when the mix is fed with these commands, and the robot is live."""
    mixed = [_row(output, commands) for output in plan.outputs]
    blended = [clamp(value, -ONE, ONE) for value in mixed]
    for group in plan.groups:
        for index, value in zip(group.outputs, _group(plan, group, mixed, commands), strict=True):
            blended[index] = value
    levels = zip(plan.outputs, mixed, blended, strict=True)
    return [Target(full, held, *_level(output, held)) for output, full, held in levels]


def _part(weight: int, command: Value) -> Value:
    if not weight:
        return 0
    return command if weight == ONE else -command if weight == -ONE else mul(command, weight)


def _row(output: OutputPlan, commands: Sequence[Value]) -> Value:
    total: Value = 0
    for weight, command in zip(output.weights, commands, strict=True):
        total = total + _part(weight, command) if weight else total
    return total


def _group(plan: Plan, group: GroupPlan, mixed: Sequence[Value], commands: Sequence[Value]) -> list[Value]:
    """The members of a group within range, by its policy."""
    members = [mixed[index] for index in group.outputs]
    if group.policy is OverRange.SCALE:
        return _shrunk(members)
    giver = group.yielding
    if giver is not None:
        weights = [plan.outputs[index].weights for index in group.outputs]
        parts = [_part(row[giver], commands[giver]) for row in weights]
        kept = [value - part for value, part in zip(members, parts, strict=True)]
        crowded = any(sum(map(abs, row)) - abs(row[giver]) > ONE for row in weights)
        return _yielded(parts, _shrunk(kept) if crowded else kept)
    return [clamp(value, -ONE, ONE) for value in members]


def _shrunk(members: Sequence[Value]) -> list[Value]:
    """All by the one factor that brings the largest to full."""
    largest: Value = ONE
    for value in members:
        largest = maximum(largest, magnitude(value))
    share = divide(ONE * ONE, largest)
    return [clamp(mul(value, share), -ONE, ONE) for value in members]


def _yielded(parts: Sequence[Value], kept: Sequence[Value]) -> list[Value]:
    """What gives way shrinks by the one factor at which the tightest output is just full."""
    room: Value = ONE
    wanted: Value = ONE
    for part, rest in zip(parts, kept, strict=True):
        asks, left = magnitude(part), ONE - select(part < 0, -rest, rest)
        tighter = left * wanted < room * asks
        room, wanted = select(tighter, left, room), select(tighter, asks, wanted)
    share = clamp(divide(room * ONE, maximum(wanted, 1)), 0, ONE)
    return [clamp(rest + mul(part, share), -ONE, ONE) for part, rest in zip(parts, kept, strict=True)]


def _level(output: OutputPlan, blended: Value) -> tuple[Value, Value, Value]:
    """After the gain, the jump over static friction, and the limit."""
    gained = mul(blended, output.gain) if output.gain != ONE else blended
    gained = clamp(gained, -ONE, ONE) if output.gain > ONE else gained
    started = gained
    if output.breakaway:
        jump = select(gained > 0, output.breakaway, select(gained < 0, -output.breakaway, 0))
        started = jump + mul(gained, ONE - output.breakaway)
    return gained, started, clamp(started, -output.limit, output.limit)
