"""Where an output's next command has to be: towards its target, by its own slew, pause and stops.

A second account of the drive stage, from what the plan promises of an output.
"""

from typing import NamedTuple

from mixer.core.plan import OutputPlan
from mixer.laws.arithmetic import ONE, Flag, Value, clamp, magnitude, maximum, minimum, mul, select


class Free(NamedTuple):
    """Which ways an output may go now."""

    forward: Flag
    reverse: Flag


def never_at_once(output: OutputPlan) -> bool:
    """Whether the output's speed of change is limited at all."""
    return min(output.up_step, output.down_step) < ONE or output.pause_ticks > 0


def next_command(
    output: OutputPlan, target: Value, before: Value, stops: Free, paused: Free, cut: Flag
) -> Value:
    """The command after this tick.

    `stops` says what end stops, travel and faults leave free: what they forbid ends at once. `paused`
    says what the rest before reversing leaves free: that only keeps the target away.
    """
    low, high = select(stops.reverse, -ONE, 0), select(stops.forward, ONE, 0)
    aim = clamp(target, low, high)
    if output.pause_ticks:
        aim = clamp(aim, select(paused.reverse, -ONE, 0), select(paused.forward, ONE, 0))
    if never_at_once(output):
        down = select(before > 0, maximum(before - output.down_step, 0), before - output.up_step)
        up = select(before < 0, minimum(before + output.down_step, 0), before + output.up_step)
        aim = clamp(aim, down, up)
    return select(cut, 0, clamp(aim, low, high))


def closer_to_rest(output: OutputPlan, before: Value) -> Value:
    """The largest magnitude an output may have left a tick after it was told to come to rest."""
    return maximum(magnitude(before) - output.down_step, 0)


def wire_of(output: OutputPlan, command: Value) -> Value:
    """What the wire carries for a command: µs of a pulse, or the signed duty count."""
    sent = -command if output.reverse else command
    if output.low_span == output.high_span:
        return output.rest + mul(sent, output.high_span)
    return output.rest + select(sent < 0, mul(sent, output.low_span), mul(sent, output.high_span))
