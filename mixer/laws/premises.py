"""When each rule has something to say: what has to happen in a tick before it could be broken.

A rule whose premise no run reaches is green for nothing. The campaign counts the scenarios that reach each
premise and keeps one as a witness.
"""

from mixer.laws.arithmetic import Flag, both, either, negation
from mixer.laws.expect import loss_ticks, stop_ticks
from mixer.laws.obeying import neutral_and_live
from mixer.laws.watch import Seen


def _gone(seen: Seen) -> list[Flag]:
    return [ticks >= loss_ticks(seen.plan) for ticks in seen.heard.silent]


def lost_after_driving(seen: Seen) -> Flag:
    """A robot that has been live hears nothing any more."""
    return seen.been_live & both(_gone(seen))


def one_lost_after_driving(seen: Seen) -> Flag:
    """A robot that has been live misses a channel."""
    return seen.been_live & either(_gone(seen))


def bridging(seen: Seen) -> Flag:
    """A robot that has been live misses a fresh pulse: bridged, or lost at once."""
    return seen.been_live & either([negation(good) for good in seen.heard.good])


def not_yet_armed(seen: Seen) -> Flag:
    """There is signal, and the robot has never been live."""
    return seen.signal & negation(seen.been_live)


def held_back(seen: Seen) -> Flag:
    """Signal, arm on and sticks asking, but not live."""
    asked = either([target.limited != 0 for target in seen.targets])
    return seen.signal & seen.arm_on & asked & negation(seen.live)


def disarmed(seen: Seen) -> Flag:
    """Armed once, switched off for as long as a stop takes."""
    long = seen.not_live_for >= stop_ticks(seen.plan)
    return seen.been_live & seen.signal & negation(seen.arm_on) & long


def goes_live(seen: Seen) -> Flag:
    """The tick in which the robot goes live."""
    return seen.live & negation(seen.was_live)


def live(seen: Seen) -> Flag:
    """The robot is live."""
    return seen.live


def moving(seen: Seen) -> Flag:
    """An output is away from zero."""
    return either([moved.now != 0 for moved in seen.outputs])


def changing(seen: Seen) -> Flag:
    """An output that slews has somewhere to go."""
    pairs = zip(seen.targets, seen.outputs, strict=True)
    return seen.live & either([target.limited != moved.before for target, moved in pairs])


def reversing(seen: Seen) -> Flag:
    """An output is asked to turn the other way before it has rested."""
    flags: list[Flag] = []
    for target, moved in zip(seen.targets, seen.outputs, strict=True):
        flags.append((target.limited > 0) & negation(moved.paused.forward))
        flags.append((target.limited < 0) & negation(moved.paused.reverse))
    return seen.live & either(flags)


def at_a_stop(seen: Seen) -> Flag:
    """A live robot asks an actuator to go on into a stop that is closed."""
    return seen.live & either([_asks_into(seen, number) for number in range(len(seen.actuators))])


def _asks_into(seen: Seen, number: int) -> Flag:
    ends, target = seen.actuators[number], seen.targets[seen.plan.actuators[number].output].limited
    return (ends.out_closed & (target > 0)) | (ends.in_closed & (target < 0))


def back_from_a_stop(seen: Seen) -> Flag:
    """A live robot asks an actuator to come back from a stop that is closed, or from too long a way."""
    flags: list[Flag] = []
    for actuator, ends in zip(seen.plan.actuators, seen.actuators, strict=True):
        target = seen.targets[actuator.output].limited
        flags.append((ends.out_closed | ends.too_far_out) & (target < 0))
        flags.append((ends.in_closed | ends.too_far_in) & (target > 0))
    return seen.live & either(flags)


def came_too_far(seen: Seen) -> Flag:
    """An actuator has been driven longer than its travel can take."""
    return seen.live & either([ends.too_far_out | ends.too_far_in for ends in seen.actuators])


def latched(seen: Seen) -> Flag:
    """A fault is latched whose cause is gone."""
    ended = [ends.latched & negation(ends.fault) for ends in seen.actuators]
    return either(ended)


def upside_down(seen: Seen) -> Flag:
    """A live robot lies on its back."""
    return seen.live & seen.heard.flipped


def at_neutral(seen: Seen) -> Flag:
    """A live robot's sticks come back to neutral while something still moves."""
    return neutral_and_live(seen) & either([moved.before != 0 for moved in seen.outputs])


def asked(seen: Seen) -> Flag:
    """A live robot's sticks ask for something."""
    return seen.live & either([target.limited != 0 for target in seen.targets])
