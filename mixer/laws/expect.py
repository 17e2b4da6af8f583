"""What a plan promises, as plain integers: how long a stop takes, which pulses are neutral.

Worked out once a plan from its numbers alone. The rules compare the firmware with these, so nothing
here calls a stage of the core; `ops` gives the arithmetic both share.
"""

from functools import lru_cache
from typing import NamedTuple

from mixer.core.ops import ONE, clamp, mul
from mixer.core.plan import Plan, StickPlan


class Window(NamedTuple):
    """The pulses from `low_us` to `high_us`, ends counted in; empty when low exceeds high."""

    low_us: int
    high_us: int


def stop_ticks(plan: Plan) -> int:
    """Ticks from the one in which the robot stops being live, counted in, until every output is at 0.

    A cut takes that one tick; a ramp from the limit takes ceil(limit / down_step).
    """
    if not plan.guard.ramps:
        return 1
    return max(-(-output.limit // output.down_step) for output in plan.outputs)


def loss_ticks(plan: Plan) -> int:
    """Ticks without a good pulse on a channel after which every output is at 0."""
    return plan.guard.lost_ticks + stop_ticks(plan) - 1


def lost_ms(plan: Plan) -> int:
    """From the last good pulse to the tick in which its channel counts as lost."""
    return plan.guard.lost_ticks * plan.tick_ms


def loss_ms(plan: Plan) -> int:
    """From the tick that read the last good pulse to all outputs at 0; a pulse waits up to a tick more."""
    return loss_ticks(plan) * plan.tick_ms


def stop_ms(plan: Plan) -> int:
    """From the tick that stops the robot for any cause to all outputs at 0; a cut takes no further tick."""
    return (stop_ticks(plan) - 1) * plan.tick_ms


def stick_command(stick: StickPlan, pulse: int) -> int:
    """The command a stick's pulse stands for, before its shape: from the plan's numbers alone."""
    away = clamp(pulse - stick.centre_us, -stick.low_span_us, stick.high_span_us)
    command = mul(away, stick.low_gain if away < 0 else stick.high_gain)
    if stick.reverse:
        command = -command
    return clamp(command + stick.trim, -ONE, ONE)


@lru_cache(maxsize=256)
def neutral_windows(plan: Plan) -> tuple[Window, ...]:
    """For each stick the pulses at which it is at neutral, among the good ones of its channel.

    A stick's command never turns back as its pulse rises, so these pulses have no gap between them.
    """
    return tuple(_window(plan, stick) for stick in plan.sticks)


def _window(plan: Plan, stick: StickPlan) -> Window:
    channel = plan.channels[stick.channel]
    everywhere = range(channel.good_low_us, channel.good_high_us + 1)
    inside = [p for p in everywhere if abs(stick_command(stick, p)) <= plan.guard.neutral_within]
    return Window(inside[0], inside[-1]) if inside else Window(1, 0)
