"""Rules about single outputs: limits, slew, reversal, end stops."""

from mixer.core.plan import ActuatorPlan, OutputPlan
from mixer.laws.arithmetic import Flag, both, either, implies, magnitude, negation
from mixer.laws.driving import never_at_once
from mixer.laws.watch import Moved, Seen


def within_limits(seen: Seen) -> Flag:
    """The command within the output's limit, the wire within its ends and at rest at zero."""
    flags: list[Flag] = []
    told = seen.signals.outputs
    for output, moved, wire in zip(seen.plan.outputs, seen.outputs, (t.wire for t in told), strict=True):
        flags.append(magnitude(moved.now) <= output.limit)
        flags.append((wire >= output.rest - output.low_span) & (wire <= output.rest + output.high_span))
        flags.append(implies(moved.now == 0, wire == output.rest))
        sent = -moved.now if output.reverse else moved.now
        flags.append(implies(sent > 0, wire >= output.rest) & implies(sent < 0, wire <= output.rest))
    return both(flags)


def within_slew(seen: Seen) -> Flag:
    """No faster than its slew, never through zero; straight to zero only where it has to stop."""
    flags: list[Flag] = []
    for number, (output, moved) in enumerate(zip(seen.plan.outputs, seen.outputs, strict=True)):
        if never_at_once(output):
            flags.append(_slews(output, moved, _has_to_stop(seen, number, moved)))
    return both(flags)


def _slews(output: OutputPlan, moved: Moved, has_to_stop: Flag) -> Flag:
    before, now = magnitude(moved.before), magnitude(moved.now)
    crossed = ((moved.before > 0) & (moved.now < 0)) | ((moved.before < 0) & (moved.now > 0))
    falls = (before - now <= output.down_step) | ((moved.now == 0) & has_to_stop)
    return negation(crossed) & (now - before <= output.up_step) & falls


def _has_to_stop(seen: Seen, number: int, moved: Moved) -> Flag:
    """Not live, or the way it went is now blocked."""
    causes = [negation(seen.live)]
    for actuator, ends in zip(seen.plan.actuators, seen.actuators, strict=True):
        if actuator.output == number:
            causes.append((moved.before > 0) & negation(ends.free.forward))
            causes.append((moved.before < 0) & negation(ends.free.reverse))
    return either(causes)


def rests_before_reversing(seen: Seen) -> Flag:
    """An output goes the other way only after its pause at zero."""
    flags: list[Flag] = []
    for output, moved in zip(seen.plan.outputs, seen.outputs, strict=True):
        if output.pause_ticks:
            reverses = ((moved.now > 0) & (moved.last_sign < 0)) | ((moved.now < 0) & (moved.last_sign > 0))
            flags.append(implies(reverses, moved.rested_for >= output.pause_ticks))
    return both(flags)


def closed_stop_not_driven_into(seen: Seen) -> Flag:
    """A closed stop: nothing drives towards it."""
    flags: list[Flag] = []
    for actuator, ends in zip(seen.plan.actuators, seen.actuators, strict=True):
        command = seen.outputs[actuator.output].now
        flags.append(implies(ends.out_closed, command <= 0) & implies(ends.in_closed, command >= 0))
    return both(flags)


def other_way_free(seen: Seen) -> Flag:
    """Where nothing forbids a direction, a live robot that asks for it from rest goes there."""
    flags: list[Flag] = []
    for actuator in seen.plan.actuators:
        free = seen.free(actuator.output)
        flags.append(implies(free.forward, _moves(seen, actuator, 1)))
        flags.append(implies(free.reverse, _moves(seen, actuator, -1)))
    return both(flags)


def _moves(seen: Seen, actuator: ActuatorPlan, way: int) -> Flag:
    """Asked to go this way from rest, with no reversal pause running, it goes this way."""
    moved = seen.outputs[actuator.output]
    asked = seen.targets[actuator.output].limited * way > 0
    rested = moved.paused.forward if way > 0 else moved.paused.reverse
    return implies(seen.live & asked & (moved.before == 0) & rested, moved.now * way > 0)


def travel_is_watched(seen: Seen) -> Flag:
    """Driven as far as the travel can take without meeting a stop: no further that way."""
    flags: list[Flag] = []
    for actuator, ends in zip(seen.plan.actuators, seen.actuators, strict=True):
        command = seen.outputs[actuator.output].now
        flags.append(implies(ends.too_far_out, command <= 0) & implies(ends.too_far_in, command >= 0))
    return both(flags)
