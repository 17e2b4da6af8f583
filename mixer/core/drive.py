"""Drive: from a wanted command to what the output's wire carries."""

from typing import NamedTuple

from mixer.core.ops import ONE, Flag, Value, clamp, maximum, minimum, mul, select
from mixer.core.plan import OutputPlan
from mixer.core.signals import OutputState


class Level(NamedTuple):
    """The command an output should reach, after each step."""

    gained: Value
    started: Value
    """After the jump over static friction."""
    limited: Value


def breakaway(x: Value, jump: int) -> Value:
    """A jump over static friction: anything but 0 starts at ±jump, full stays full. Odd."""
    if not jump:
        return x
    start = select(x > 0, jump, select(x < 0, -jump, 0))
    return start + mul(x, ONE - jump)


def level(plan: OutputPlan, blended: Value) -> Level:
    """Gain, breakaway, limit: the command this output should reach. Exactly odd. |blended| <= ONE."""
    gained = mul(blended, plan.gain) if plan.gain != ONE else blended
    within = clamp(gained, -ONE, ONE) if plan.gain > ONE else gained
    started = breakaway(within, plan.breakaway)
    return Level(within, started, clamp(started, -plan.limit, plan.limit))


def slew(plan: OutputPlan, wanted: Value, before: Value) -> Value:
    """One tick towards `wanted`: at most `up_step` away from zero, at most `down_step` towards it.

    Never crosses zero within a tick, so a reversal rests at zero for one tick at least.
    """
    least = select(before > 0, maximum(before - plan.down_step, 0), before - plan.up_step)
    most = select(before < 0, minimum(before + plan.down_step, 0), before + plan.up_step)
    return clamp(wanted, least, most)


def pause_after(plan: OutputPlan, command: Value, pause: Value) -> Value:
    """Full while moving, then one tick nearer to 0 for each tick at zero."""
    full = plan.pause_ticks
    resting = select(pause > 0, pause - 1, minimum(pause + 1, 0))
    return select(command > 0, full, select(command < 0, -full, resting))


def drive(
    plan: OutputPlan, wanted: Value, low: Value, high: Value, cut: Flag, before: OutputState[Value]
) -> OutputState[Value]:
    """The output's next command: towards `wanted`, within [low, high] now, and 0 at once when cut.

    `low <= 0 <= high` is what guard and interlock allow. Leaving that range is the one change that may
    be faster than the slew, because it only ever stops.
    """
    target = clamp(wanted, low, high)
    if plan.pause_ticks:
        target = clamp(target, select(before.pause > 0, 0, -ONE), select(before.pause < 0, 0, ONE))
    moved = slew(plan, target, before.command) if plan.slews else target
    command = select(cut, 0, clamp(moved, low, high))
    return OutputState(command, pause_after(plan, command, before.pause) if plan.pause_ticks else 0)


def on_wire(plan: OutputPlan, command: Value) -> Value:
    """The pulse in µs, or the signed duty count. Within [rest - low_span, rest + high_span]."""
    sent = -command if plan.reverse else command
    if plan.low_span == plan.high_span:
        return plan.rest + mul(sent, plan.high_span)
    return plan.rest + select(sent < 0, mul(sent, plan.low_span), mul(sent, plan.high_span))
