"""Runs from power-up that break a rule the solver could not prove: many boards driven well and badly.

What the solver finds is a state, and nobody knows whether a robot can ever come into it. A counter-example
is therefore looked for among runs that begin where every robot begins.
"""

import random
from collections.abc import Iterator, Mapping
from functools import lru_cache
from itertools import islice

import numpy as np

from mixer.core.plan import Plan
from mixer.core.rest import (
    arming,
    contact_levels,
    frame_ticks,
    position_pulse,
    resting_inputs,
    resting_pulses,
)
from mixer.live.judge.watched import Watched
from mixer.lower.run.arrays import ArrayTick, Lanes

Row = tuple[int, ...]
Runs = Mapping[str, tuple[Row, ...]]
"""For each rule a run from power-up, its inputs tick by tick."""

LANES = 180
"""One in three tries again and again to arm, mostly badly; the others are armed and driven."""
TICKS = 500
"""At least, after arming."""


def breaking_runs(watched: Watched) -> Runs:
    """For each rule that breaks the shortest run found, its inputs tick by tick; the last one breaks it."""
    return dict(_first_runs(watched, "broken"))


def reaching_runs(watched: Watched) -> Runs:
    """For each rule the shortest run found in which it has something to say."""
    return dict(_first_runs(watched, "reached"))


def _first_runs(watched: Watched, signal: str) -> Iterator[tuple[str, tuple[Row, ...]]]:
    """Each rule with its shortest run, shortest first."""
    runs = _runs(watched.plan)
    boards = ArrayTick(watched.plan, LANES, graph=watched.only([signal]).graph)
    missing = dict(enumerate(watched.rules))
    for tick in range(runs.shape[1]):
        masks = boards.step(np.ascontiguousarray(runs[:, tick].T))[0]
        for number in [number for number in missing if (masks >> number & 1).any()]:
            lane = int(np.flatnonzero(masks >> number & 1)[0])
            yield missing.pop(number), tuple(map(tuple, runs[lane, : tick + 1].tolist()))


@lru_cache(maxsize=4)
def _runs(plan: Plan) -> Lanes:
    length = len(arming(plan, frame_ticks(plan))) + TICKS
    return np.array([list(a_run(plan, lane, length)) for lane in range(LANES)], np.int32)


def a_run(plan: Plan, seed: int, length: int) -> Iterator[Row]:
    """So many ticks of inputs from power-up: armed in most runs, then driven well and badly."""
    rng = random.Random(seed)  # noqa: S311 - trials, not secrets
    return islice(_arming_badly(plan, rng) if seed % 3 == 2 else _driving(plan, rng), length)


def _driving(plan: Plan, rng: random.Random) -> Iterator[Row]:
    """Armed in most runs, then some manners of driving one after the other, for ever."""
    begin = [] if rng.random() < 0.2 else arming(plan, frame_ticks(plan))
    while True:
        yield from map(tuple, begin)
        for _ in range(rng.randint(4, 14)):
            yield from _spell(plan, rng)
        begin = arming(plan, frame_ticks(plan))


def _spell(plan: Plan, rng: random.Random) -> Iterator[Row]:
    """One manner of driving, pulses once a frame."""
    frame = frame_ticks(plan)
    ticks = rng.choice((frame, 3 * frame, plan.guard.lost_ticks + 2, 10 * frame, 25 * frame))
    pulses, levels = _hands(plan, rng)
    silent = _silent(plan, rng)
    noisy = rng.random() < 0.12
    for tick in range(ticks):
        if noisy and rng.random() < 0.5:
            row = [rng.choice((0, rng.randint(1, 4000), pulse)) for pulse in pulses]
        else:
            due = tick % frame == 0
            row = [pulse if due and at not in silent else 0 for at, pulse in enumerate(pulses)]
        yield (*row, *levels)


def _arming_badly(plan: Plan, rng: random.Random) -> Iterator[Row]:
    """Arm switch off, silence, arm switch on, each as long as it takes or a tick more or less; then pushed.

    For ever. Any of it may be spoilt: by a bad pulse or a missing one, a stick off neutral, a closed stop.
    """
    guard, off, on = plan.guard, resting_inputs(plan, armed=False), resting_inputs(plan, armed=True)
    settle = max((contact.release_ticks for contact in plan.contacts), default=0)
    while True:
        every = rng.choice((1, frame_ticks(plan)))
        yield from _standing(plan, rng, off, every, rng.choice((0, *_about(guard.off_ticks), settle + 9)))
        yield from _standing(plan, rng, on, every, rng.choice((0, every, *_about(guard.hold_ticks))))
        silent = rng.choice((0, 0, *_about(guard.lost_ticks)))
        yield from ((0,) * len(plan.channels) + tuple(on[len(plan.channels) :]) for _ in range(silent))
        yield from _standing(plan, rng, on, every, rng.choice(_about(guard.hold_ticks)))
        if rng.random() < 0.7:
            pulses, levels = _hands(plan, rng)
            yield from _standing(plan, rng, [*pulses, *levels], every, 2 * frame_ticks(plan))


def _about(ticks: int) -> tuple[int, ...]:
    """As long, a tick less or more, half of it, and well beyond it."""
    return ticks // 2, ticks - 1, ticks, ticks + 1, ticks + 40


def _standing(plan: Plan, rng: random.Random, row: list[int], every: int, ticks: int) -> Iterator[Row]:
    """The same inputs for so many ticks, pulses `every` so many, in two of three cases undisturbed.

    What is disturbed is as often the arm switch as anything else.
    """
    count, arm = len(plan.channels), plan.guard.arm
    spoilt, wire = rng.randrange(max(ticks, 1)), rng.randrange(len(row))
    if arm is not None and rng.random() < 0.5:
        wire = plan.switches[arm.switch].channel
    disturbed, lasting = rng.random() < 1 / 3, rng.random() < 0.5
    other = rng.choice((0, 1, 4000, rng.randint(900, 2100))) if wire < count else 1 - row[wire]
    for tick in range(ticks):
        now = [value if at >= count or tick % every == 0 else 0 for at, value in enumerate(row)]
        if disturbed and (tick == spoilt or (lasting and tick > spoilt)):
            now[wire] = other
        yield tuple(now)


def _hands(plan: Plan, rng: random.Random) -> tuple[list[int], list[int]]:
    """Where sticks and switches stand, and what the contacts read, for one spell."""
    armed = rng.random() < 0.93
    pulses = resting_pulses(plan, armed=armed)
    if rng.random() < 0.8:
        for stick in plan.sticks:
            wire = plan.channels[stick.channel]
            ends = wire.good_low_us, wire.good_high_us
            pulses[stick.channel] = rng.choice((*ends, rng.randint(*ends), rng.randint(*ends)))
    for number, switch in enumerate(plan.switches):
        if number != plan.guard.arm_switch and rng.random() < 0.4:
            position = rng.randint(0, len(switch.edges_us))
            pulses[switch.channel] = position_pulse(plan, switch, position)
    closed = [rng.random() < rng.choice((0, 0, 0.5)) for _ in plan.contacts]
    return pulses, contact_levels(plan, closed)


def _silent(plan: Plan, rng: random.Random) -> frozenset[int]:
    """The channels that bring nothing in a spell: most often none."""
    everything = range(len(plan.channels))
    if rng.random() < 0.85:
        return frozenset()
    return frozenset(everything) if rng.random() < 0.5 else frozenset({rng.choice(everything)})
