"""Rules about a live robot: that it does what its sticks say, no more and no less, and says so."""

from collections.abc import Iterator
from itertools import pairwise

from mixer.core.plan import Guard, OutputPlan, Plan
from mixer.laws.arithmetic import ONE, Flag, both, implies, magnitude, negation, same, select
from mixer.laws.driving import closer_to_rest, next_command, wire_of
from mixer.laws.watch import Seen


def readings_are_true(seen: Seen) -> Flag:
    """Pulses, positions, contacts and the way up are told as the watcher has them from the wires."""
    told, heard = seen.signals, seen.heard
    flags: list[Flag] = []
    for number, channel in enumerate(told.channels):
        flags.append(same(channel.good > 0, heard.good[number]))
        flags.append((channel.age == heard.age[number]) & (channel.pulse == heard.pulses[number]))
    flags += [switch.position == at for switch, at in zip(told.switches, heard.positions, strict=True)]
    flags += [same(contact.closed > 0, at) for contact, at in zip(told.contacts, heard.closed, strict=True)]
    return both(flags) & same(told.flip.flipped > 0, heard.flipped)


def guard_says_what_is(seen: Seen) -> Flag:
    """Signal, neutral, arm switch, fault and state are told as the watcher finds them."""
    told = seen.signals.guard
    states = (
        (Guard.LIVE, seen.live),
        (Guard.FAULTED, seen.latched),
        (Guard.RESTING, seen.signal & negation(seen.live | seen.latched)),
        (Guard.SEARCHING, negation(seen.woken)),
    )
    flags = [same(told.state == state, holds) for state, holds in states]
    words = (
        (told.signal, seen.signal),
        (told.neutral, seen.neutral),
        (told.armed, seen.arm_on),
        (told.fault, seen.fault),
    )
    return both(flags) & both([same(word > 0, holds) for word, holds in words])


def asked_by_the_mix(seen: Seen) -> Flag:
    """Every stick, bent step by step, and every output's target are those of the plan's own numbers."""
    flags: list[Flag] = []
    for said, stick in zip(seen.signals.sticks, seen.sticks, strict=True):
        flags += [word == value for word, value in zip(said, stick, strict=True)]
    for told, target in zip(seen.signals.outputs, seen.targets, strict=True):
        flags += [word == value for word, value in zip(told, target, strict=False)]
        flags.append(told.wanted == select(seen.live, target.limited, 0))
    return both(flags)


def heads_for_the_sticks(seen: Seen) -> Flag:
    """Each command is the last one moved towards its target as far as slew, pause and stops allow."""
    cut = seen.latched if seen.plan.guard.ramps else negation(seen.live)
    flags: list[Flag] = []
    for number, (output, moved) in enumerate(zip(seen.plan.outputs, seen.outputs, strict=True)):
        target = select(seen.live, seen.targets[number].limited, 0)
        wanted = next_command(output, target, moved.before, seen.free(number), moved.paused, cut)
        flags.append(moved.now == wanted)
    return both(flags)


def neutral_rests(seen: Seen) -> Flag:
    """Sticks at neutral, or going live in this very tick: every output comes nearer to zero, or stays.

    That sticks at neutral ask for nothing is tried with every pulse (`creep`), so it may be taken for
    granted here.
    """
    nothing_asked = both([target.limited == 0 for target in seen.targets])
    closer = [
        magnitude(moved.now) <= closer_to_rest(output, moved.before)
        for output, moved in zip(seen.plan.outputs, seen.outputs, strict=True)
    ]
    return implies(neutral_and_live(seen) & nothing_asked, both(closer))


def neutral_and_live(seen: Seen) -> Flag:
    """Live with its sticks at neutral; a robot is in the tick in which it goes live."""
    return seen.live & (seen.neutral | negation(seen.was_live))


def equal_rows_equal(seen: Seen) -> Flag:
    """Outputs with equal rows and equal settings that stood alike go on alike, as from power-up they do."""
    flags: list[Flag] = []
    for one, other in ((seen.outputs[a], seen.outputs[b]) for a, b in equal_outputs(seen.plan)):
        paused = zip(one.paused, other.paused, strict=True)
        alike = (one.before == other.before) & both([same(a, b) for a, b in paused])
        flags.append(implies(alike, one.now == other.now))
    return both(flags)


def equal_outputs(plan: Plan) -> Iterator[tuple[int, int]]:
    """Pairs of outputs that must always do the same; an actuator's is never one of them."""
    driven = {actuator.output for actuator in plan.actuators}
    groups = {index: number for number, group in enumerate(plan.groups) for index in group.outputs}
    alike: dict[object, list[int]] = {}
    for index, output in enumerate(plan.outputs):
        if index not in driven:
            alike.setdefault((groups.get(index), _settings(output)), []).append(index)
    for members in alike.values():
        yield from pairwise(members)


def _settings(output: OutputPlan) -> object:
    steps = output.up_step, output.down_step, output.pause_ticks
    return output.weights, output.gain, output.limit, output.breakaway, steps


def wires_carry_commands(seen: Seen) -> Flag:
    """Each wire carries its command, the right way round, to the nearest step."""
    outputs = zip(seen.plan.outputs, seen.outputs, seen.signals.outputs, strict=True)
    return both([told.wire == wire_of(output, moved.now) for output, moved, told in outputs])


def stops_are_told(seen: Seen) -> Flag:
    """What the firmware allows an actuator is what its stops, its way and its faults leave free."""
    flags: list[Flag] = []
    for ends, told in zip(seen.actuators, seen.signals.actuators, strict=True):
        flags.append(told.high == select(ends.out_closed | ends.too_far_out | ends.held, 0, ONE))
        flags.append(told.low == select(ends.in_closed | ends.too_far_in | ends.held, 0, -ONE))
        flags.append(same(told.fault > 0, ends.fault))
    return both(flags)
