"""What a plan promises, as plain integers: how long a stop takes.

Worked out from the plan's numbers alone. The rules compare the firmware with these, so nothing here calls
a stage of the core.
"""

from mixer.core.plan import Plan


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


LATE_TICKS = 1
"""A tick that begins so many whole ticks after its time has come late: the ticks between were not run."""


def late_stops(late: int) -> bool:
    """Whether a board has to be as if just powered up, since its next tick begins so many whole ticks late.

    Outputs stand as they last were until it begins, and are at rest from then on.
    """
    return late >= LATE_TICKS


def rest_ms(plan: Plan) -> int:
    """From the tick that reads sticks at neutral to all outputs of a live robot at 0."""
    ticks = max(-(-output.limit // output.down_step) for output in plan.outputs)
    return (ticks - 1) * plan.tick_ms
