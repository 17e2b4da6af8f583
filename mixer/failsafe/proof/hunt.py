"""Runs from power-up that break a rule the solver could not prove: many boards driven well and badly.

What the solver finds is a state, and nobody knows whether a robot can ever come into it. A counter-example
is therefore looked for among runs that begin where every robot begins.
"""

import random
from collections.abc import Iterator, Mapping
from functools import lru_cache

import numpy as np

from mixer.core.plan import Plan
from mixer.core.rest import arming, contact_levels, frame_ticks, position_pulse, resting_pulses
from mixer.live.judge.watched import Watched
from mixer.lower.run.arrays import ArrayTick, Lanes

Row = tuple[int, ...]

LANES = 120
TICKS = 500
"""At least, after arming."""


def breaking_runs(watched: Watched) -> Mapping[str, tuple[Row, ...]]:
    """For each rule that breaks the shortest run found, its inputs tick by tick; the last one breaks it."""
    return dict(_first_runs(watched, "broken"))


def reaching_runs(watched: Watched) -> Mapping[str, tuple[Row, ...]]:
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
    made = 0
    skips = rng.random() < 0.2
    while made < length:
        begin = [] if skips and not made else arming(plan, frame_ticks(plan))
        for row in [*map(tuple, begin), *_spells(plan, rng)]:
            if made < length:
                yield row
                made += 1


def _spells(plan: Plan, rng: random.Random) -> Iterator[Row]:
    """Some manners of driving one after the other, pulses once a frame."""
    frame = frame_ticks(plan)
    for _ in range(rng.randint(4, 14)):
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
