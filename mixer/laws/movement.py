"""Rules about whether anything may move at all: losses, arming, faults."""

from mixer.core.plan import Guard
from mixer.laws.arithmetic import Flag, both, either, implies, magnitude, negation, same, select
from mixer.laws.expect import loss_ticks, stop_ticks
from mixer.laws.watch import Seen


def all_at_rest(seen: Seen) -> Flag:
    """Every output is at zero command."""
    return both([output.now == 0 for output in seen.outputs])


def _long_silent(seen: Seen) -> list[Flag]:
    return [ticks >= loss_ticks(seen.plan) for ticks in seen.heard.silent]


def stops_on_loss(seen: Seen) -> Flag:
    """All channels silent for the promised time: everything is at zero."""
    return implies(both(_long_silent(seen)), all_at_rest(seen))


def one_bad_channel_stops_all(seen: Seen) -> Flag:
    """Any channel silent for the promised time: everything is at zero."""
    return implies(either(_long_silent(seen)), all_at_rest(seen))


def nothing_before_arming(seen: Seen) -> Flag:
    """Never live since power-up: everything is at zero."""
    return implies(negation(seen.been_live), all_at_rest(seen))


def no_self_start(seen: Seen) -> Flag:
    """While not live no output grows, and none leaves zero; the firmware says live only when it may be."""
    says_live = seen.signals.guard.state == Guard.LIVE
    shrinks = [magnitude(output.now) <= magnitude(output.before) for output in seen.outputs]
    return implies(negation(seen.live), both(shrinks) & negation(says_live))


def disarming_stops(seen: Seen) -> Flag:
    """Not live for as long as a stop takes: everything is at zero."""
    return implies(seen.not_live_for >= stop_ticks(seen.plan), all_at_rest(seen))


def faults_latch(seen: Seen) -> Flag:
    """While a fault is latched, what it stops is at zero."""
    flags = [implies(seen.latched, all_at_rest(seen))]
    for actuator, ends in zip(seen.plan.actuators, seen.actuators, strict=True):
        flags.append(implies(ends.latched, seen.outputs[actuator.output].now == 0))
    says_faulted = seen.signals.guard.state == Guard.FAULTED
    return both(flags) & implies(seen.latched, says_faulted)


def bridging_ends(seen: Seen) -> Flag:
    """A bridged channel stands at its last good pulse, and no longer than promised."""
    over = either([ticks >= seen.plan.guard.lost_ticks for ticks in seen.heard.silent])
    told = seen.signals
    flags = [implies(over, (told.guard.signal == 0) & (told.guard.state != Guard.LIVE))]
    for number, channel in enumerate(seen.plan.channels):
        pulse = told.channels[number].pulse
        flags.append(pulse == seen.heard.pulses[number])
        inside = (pulse >= channel.good_low_us) & (pulse <= channel.good_high_us)
        flags.append(implies(seen.signal, inside))
    return both(flags)


def only_a_hand_arms(seen: Seen) -> Flag:
    """Going live takes an arm switch that was off for as long as a finger needs."""
    goes_live = (seen.signals.guard.state == Guard.LIVE) & negation(seen.was_live)
    return implies(goes_live, seen.off_seen)


def flip_changes_what_it_says(seen: Seen) -> Flag:
    """Upside down once that has lasted; then the sticks that say so are turned round, and nothing else."""
    flipped = seen.heard.flipped
    flags = [same(seen.signals.flip.flipped > 0, flipped)]
    flags.append(same(seen.signals.guard.neutral > 0, seen.neutral))
    for stick, told in zip(seen.plan.sticks, seen.signals.sticks, strict=True):
        turned = select(flipped, -told.rated, told.rated) if stick.flips else told.rated
        flags.append((told.command == turned) & ((told.scaled != 0) | (told.command == 0)))
    return both(flags)
