"""Inputs for conformance checks: a plan armed as its guard wants it, then driven well and badly.

A row holds a pulse in µs for each channel (0 = none came), then a reading for each contact.
"""

import random
from collections.abc import Iterator
from typing import TypeAlias

from mixer.core.plan import Plan
from mixer.core.rest import arming, contact_levels, resting_pulses

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
    yield from map(tuple, arming(plan))
    for _ in range(rng.randint(2, 12)):
        spell = rng.choice((_driven, _driven, _driven, _gap, _noise, _edges, _stops))
        yield from spell(plan, rng, rng.randint(1, _SPELL))


def _driven(plan: Plan, rng: random.Random, ticks: int) -> Iterator[Row]:
    """Sticks anywhere within the good pulses, held or sweeping; switches but for arming anywhere."""
    pulses = resting_pulses(plan, armed=True)
    arm = None if plan.guard.arm is None else plan.switches[plan.guard.arm.switch].channel
    moving = [number for number in range(len(pulses)) if number != arm and rng.random() < 0.8]
    readings = contact_levels(plan)
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
    readings = contact_levels(plan)
    for _ in range(ticks):
        yield (*(rng.choice(each) for each in beside), *readings)


def _stops(plan: Plan, rng: random.Random, ticks: int) -> Iterator[Row]:
    """Driving with end stops closing, bouncing, or closed both at once."""
    closed = [rng.random() < 0.5 for _ in plan.contacts]
    for row in _driven(plan, rng, ticks):
        readings = (
            contact.level(closed=shut and rng.random() < 0.9)
            for contact, shut in zip(plan.contacts, closed, strict=True)
        )
        yield (*row[: len(plan.channels)], *readings)
