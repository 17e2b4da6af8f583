"""Inputs for conformance checks: a plan armed as its guard wants it, then driven well and badly.

A row holds a pulse in µs for each channel (0 = none came), then a reading for each contact.
"""

import random
from collections.abc import Iterator
from functools import lru_cache
from typing import TypeAlias

from mixer.core import intake
from mixer.core.plan import Plan, StickPlan, SwitchPlan

Row: TypeAlias = tuple[int, ...]

_SPELL = 40  # most ticks of one manner of driving


def rows(plan: Plan, ticks: int, rng: random.Random) -> Iterator[Row]:
    """`ticks` rows: arming first, then spells of driving, gaps, noise, edge values and broken contacts.

    Arming is repeated now and then, so that the plan is live for a good part of the time.
    """
    made = 0
    while made < ticks:
        for row in _stretch(plan, rng):
            if made == ticks:
                return
            yield row
            made += 1


def _stretch(plan: Plan, rng: random.Random) -> Iterator[Row]:
    yield from arming(plan)
    for _ in range(rng.randint(2, 12)):
        spell = rng.choice((_driven, _driven, _driven, _gap, _noise, _edges, _stops))
        yield from spell(plan, rng, rng.randint(1, _SPELL))


def arming(plan: Plan) -> Iterator[Row]:
    """Signal with the arm switch off, then on, every stick at neutral: live at the end."""
    open_ = tuple(1 - contact.closed_reads for contact in plan.contacts)
    settled = 2 + max((contact.release_ticks for contact in plan.contacts), default=0)
    for armed, ticks in ((False, settled + 3), (True, plan.guard.hold_ticks + 3)):
        row = neutral(plan, armed=armed) + open_
        for _ in range(ticks):
            yield row


@lru_cache(maxsize=64)
def neutral(plan: Plan, *, armed: bool) -> Row:
    """Good pulses that ask for nothing, the arm switch on or off."""
    pulses = [(channel.good_low_us + channel.good_high_us) // 2 for channel in plan.channels]
    for stick in plan.sticks:
        pulses[stick.channel] = _neutral_pulse(plan, stick)
    for number, switch in enumerate(plan.switches):
        position = len(switch.edges_us) - 1 if number in plan.mixed_switches else 0
        if number == plan.guard.arm_switch:
            on = plan.guard.arm_position
            position = on if armed else (on + 1) % (len(switch.edges_us) + 1)
        pulses[switch.channel] = _position_pulse(plan, switch, position)
    return tuple(pulses)


def _neutral_pulse(plan: Plan, stick: StickPlan) -> int:
    channel = plan.channels[stick.channel]
    good = range(channel.good_low_us, channel.good_high_us + 1)
    return min(good, key=lambda pulse: (abs(intake.scale(stick, pulse)), abs(pulse - stick.centre_us)))


def _position_pulse(plan: Plan, switch: SwitchPlan, position: int) -> int:
    """A good pulse that brings the switch to a position whatever it was before; else the middle."""
    channel = plan.channels[switch.channel]
    everywhere = range(len(switch.edges_us) + 1)
    good = range(channel.good_low_us, channel.good_high_us + 1)
    fitting = (pulse for pulse in good if _leads(switch, pulse, everywhere, position))
    return next(fitting, (channel.good_low_us + channel.good_high_us) // 2)


def _leads(switch: SwitchPlan, pulse: int, before: range, position: int) -> bool:
    return all(intake.position_of(switch, pulse, old) == position for old in before)


def _driven(plan: Plan, rng: random.Random, ticks: int) -> Iterator[Row]:
    """Sticks anywhere within the good pulses, held or sweeping; switches but for arming anywhere."""
    pulses = list(neutral(plan, armed=True))
    arm = plan.switches[plan.guard.arm_switch].channel if plan.guard.arm_switch >= 0 else -1
    moving = [number for number in range(len(pulses)) if number != arm and rng.random() < 0.8]
    readings = tuple(1 - contact.closed_reads for contact in plan.contacts)
    for tick in range(ticks):
        for number in moving:
            channel = plan.channels[number]
            if tick == 0 or rng.random() < 0.2:
                pulses[number] = rng.randint(channel.good_low_us, channel.good_high_us)
        yield (*pulses, *readings)


def _gap(plan: Plan, rng: random.Random, ticks: int) -> Iterator[Row]:
    """Some channels fall silent, or all do."""
    silent = (
        [rng.random() < 0.5 for _ in plan.channels] if rng.random() < 0.5 else [True] * len(plan.channels)
    )
    for row in _driven(plan, rng, min(ticks, 2 * plan.guard.lost_ticks)):
        pulses = (0 if quiet else pulse for quiet, pulse in zip(silent, row, strict=False))
        yield (*pulses, *row[len(plan.channels) :])


def _noise(plan: Plan, rng: random.Random, ticks: int) -> Iterator[Row]:
    """Anything a 16-bit timer and a loose contact can give."""
    for _ in range(ticks):
        pulses = tuple(
            rng.choice((0, rng.randint(1, 65535), rng.randint(700, 2300))) for _ in plan.channels
        )
        yield pulses + tuple(rng.randint(0, 1) for _ in plan.contacts)


def _edges(plan: Plan, rng: random.Random, ticks: int) -> Iterator[Row]:
    """Pulses on and beside every edge there is."""
    edges = [{0, 65535, channel.good_low_us, channel.good_high_us} for channel in plan.channels]
    for stick in plan.sticks:
        ends = (stick.centre_us - stick.low_span_us, stick.centre_us, stick.centre_us + stick.high_span_us)
        edges[stick.channel].update(ends)
    for switch in plan.switches:
        for edge in switch.edges_us:
            edges[switch.channel].update((edge - switch.hysteresis_us, edge + switch.hysteresis_us))
    beside = [
        sorted({min(max(0, edge + step), 65535) for edge in each for step in (-1, 0, 1)}) for each in edges
    ]
    readings = tuple(1 - contact.closed_reads for contact in plan.contacts)
    for _ in range(ticks):
        yield (*(rng.choice(each) for each in beside), *readings)


def _stops(plan: Plan, rng: random.Random, ticks: int) -> Iterator[Row]:
    """Driving with end stops closing, bouncing, or closed both at once."""
    closed = [rng.random() < 0.5 for _ in plan.contacts]
    for row in _driven(plan, rng, ticks):
        readings = (
            contact.closed_reads if shut and rng.random() < 0.9 else 1 - contact.closed_reads
            for contact, shut in zip(plan.contacts, closed, strict=True)
        )
        yield (*row[: len(plan.channels)], *readings)
