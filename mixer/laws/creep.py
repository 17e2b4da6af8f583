"""What a robot does with its sticks at what it calls neutral: nothing, or it creeps.

Every pulse that counts as neutral is tried, at every switch position and both ways up.
"""

from bisect import bisect_left, bisect_right
from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

from mixer.core.plan import Plan, StickPlan
from mixer.laws.arithmetic import ONE, magnitude
from mixer.laws.sticks import bent, stick_command, switch_command, targets


class Creep(NamedTuple):
    """One output that moves with every stick at neutral."""

    output: str
    share: float
    """Of full, at most, with one stick at the worst end of its neutral."""
    stick: str
    """The stick that does it."""


def neutral_is_rest(plan: Plan) -> bool:
    """Whether sticks at neutral ask nothing of any output."""
    return not creeps(plan)


@lru_cache(maxsize=32)
def creeps(plan: Plan) -> tuple[Creep, ...]:
    """Each output that creeps, with the stick that moves it most."""
    worst: dict[int, tuple[int, str]] = {}
    switched = [switch_command(plan.switches[at], len(plan.switches[at].edges_us) - 1)
                for at in plan.mixed_switches]  # fmt: skip
    for number, stick in enumerate(plan.sticks):
        for command in _at_neutral(plan, stick):
            if number and not command:
                continue  # all at 0 has been looked at with the first stick
            commands = [command if at == number else 0 for at in range(len(plan.sticks))]
            for index, target in enumerate(targets(plan, commands + switched)):
                size = magnitude(target.limited)
                if size > worst.get(index, (0, ""))[0]:
                    worst[index] = size, stick.name
    return tuple(
        Creep(plan.outputs[index].name, size / ONE, name) for index, (size, name) in sorted(worst.items())
    )


@lru_cache(maxsize=32)
def widest_rest(plan: Plan) -> int:
    """The widest `neutral_within`, Q14, at which sticks at neutral ask nothing of any output."""
    moves = ONE
    for number, stick in enumerate(plan.sticks):
        if any(output.weights[number] for output in plan.outputs):
            moves = min(moves, _first_that_moves(plan, stick))
    return moves - 1


def creep_remedy(plan: Plan) -> str:
    """What to change so that neutral is rest, in the profile's own keys."""
    widest = int(widest_rest(plan) * 1000 / ONE) / 1000
    wider = f"give the sticks' shapes a deadband of {plan.guard.neutral_within / ONE:.3g} or more"
    return f"set neutral_within to {widest:g} or less, or {wider}" if widest >= 0.01 else wider


def _first_that_moves(plan: Plan, stick: StickPlan) -> int:
    """The smallest command of the stick, before its shape, that some shape lets through."""
    channel, found = plan.channels[stick.channel], ONE
    for position in range(len(stick.shapes)):
        positions = [position] * len(plan.switches)
        for pulse in range(channel.good_low_us, channel.good_high_us + 1):
            asked = bent(stick, pulse, positions, False)
            if asked.command:
                found = min(found, magnitude(asked.scaled))
    return found


def _at_neutral(plan: Plan, stick: StickPlan) -> frozenset[int]:
    channel = plan.channels[stick.channel]
    return commands_at_neutral(stick, channel.good_low_us, channel.good_high_us, plan.guard.neutral_within)


@lru_cache(maxsize=64)  # an edit on a bench leaves most sticks as they were
def commands_at_neutral(stick: StickPlan, low_us: int, high_us: int, within: int) -> frozenset[int]:
    """The farthest commands into the mix that some neutral pulse of a stick gives, either way, and 0."""
    pulses, found = _neutral_pulses(stick, range(low_us, high_us + 1), within), {0}
    for shape in set(stick.shapes):
        shaped = replace(stick, shapes=(shape,), chooser=None)
        given = [bent(shaped, pulse, (), False).command for pulse in pulses]
        found |= {min(given, default=0), max(given, default=0)}
    return frozenset(found)


def _neutral_pulses(stick: StickPlan, good: range, within: int) -> range:
    """The good pulses that count as neutral: all from one to another, since a stick only rises or falls."""

    def rising(pulse: int) -> int:
        command: int = stick_command(stick, pulse)
        return -command if stick.reverse else command

    return good[bisect_left(good, -within, key=rising) : bisect_right(good, within, key=rising)]
