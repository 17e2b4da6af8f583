"""Interlock: what may veto one output in one direction. Positive commands extend an actuator."""

from mixer.core.ops import ONE, Flag, Value, clamp, maximum, minimum, select
from mixer.core.plan import ActuatorPlan


def both_closed(plan: ActuatorPlan, out_closed: Flag, in_closed: Flag, both: Value) -> tuple[Flag, Value]:
    """Whether both stops have been closed long enough to be a fault (TON of IEC 61131-3)."""
    both = select(out_closed & in_closed, minimum(both + 1, plan.both_ticks), 0)
    return both >= plan.both_ticks, both


def latch(fault: Flag, disarmed: Flag, latched: Value) -> Value:
    """Set-dominant latch (SR of IEC 61131-3): a fault that is still there cannot be cleared."""
    return select(fault, 1, select(disarmed, 0, latched))


def allowed(
    plan: ActuatorPlan, out_closed: Flag, in_closed: Flag, latched: Value, driven: Value
) -> tuple[Value, Value]:
    """The lowest and highest command the actuator may get now.

    A closed stop takes away its own direction and never the other. So does having driven longer than
    the travel can take without meeting that stop, until reversed. A latched fault takes away both.
    """
    out_blocked, in_blocked = out_closed, in_closed
    if plan.travel_limit is not None:
        out_blocked = out_blocked | (driven >= plan.travel_limit)
        in_blocked = in_blocked | (driven <= -plan.travel_limit)
    if not plan.stops_robot:
        out_blocked = out_blocked | (latched > 0)
        in_blocked = in_blocked | (latched > 0)
    return select(in_blocked, 0, -ONE), select(out_blocked, 0, ONE)


def driven_after(
    plan: ActuatorPlan, command: Value, out_closed: Flag, in_closed: Flag, driven: Value
) -> Value:
    """How far the actuator has been driven one way without meeting a stop.

    Half command counts half, since it covers half the way. Reversing starts anew; meeting the stop
    that was driven towards starts anew as well.
    """
    if plan.travel_limit is None:
        return 0
    start = select(command > 0, maximum(driven, 0), select(command < 0, minimum(driven, 0), driven))
    met = (out_closed & (start > 0)) | (in_closed & (start < 0))
    return select(met, 0, clamp(start + command, -plan.travel_limit, plan.travel_limit))
