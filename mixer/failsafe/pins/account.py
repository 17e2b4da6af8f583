"""What outputs had to show, worked out from what was played at the pins: by core and watcher, tick by tick.

A tick's inputs are the pulses that ended before it and the levels of the contacts; that a board began anew
follows from its resets and from ticks that came late. Nothing of it is asked of the board.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.failsafe.pins.outside import level_at, pulses_in
from mixer.failsafe.pins.play import Played
from mixer.live.judge.watched import Watched, watched_graph
from mixer.lower.run.arrays import ArrayTick

LATE = 1.5
"""Ticks from one to the next by which one has come late: a whole one is missing between them."""
LONGEST_US = 5000
"""A longer pulse is a wire that hangs high."""


@dataclass(frozen=True, eq=False)
class Account:
    """Of one played script."""

    ticks: NDArray[np.int64]
    """(ticks,): the cycle of each."""
    wires: NDArray[np.int32]
    """(ticks, outputs): what each wire had to carry from then on."""
    live: NDArray[np.bool_]
    moving: NDArray[np.bool_]
    """(ticks,): whether the robot was live, and whether any output was away from zero."""
    restarts: frozenset[int]
    """Ticks, by number, before which the board began anew."""
    broken: int
    """Rules that core and watcher broke in this account itself, as the sum of 2^number."""


def accounts_of(plan: Plan, many: Sequence[Played]) -> list[Account]:
    """Of each of some played scripts, side by side."""
    rows = [_Rows(plan, played) for played in many]
    longest = max(len(row.ticks) for row in rows)
    boards = ArrayTick(plan, max(len(rows), 2), graph=_slim(plan).graph)
    names = layout_of(plan).names.outputs
    kept = [
        boards.names.index(name)
        for name in (*(output.wire for output in names), "live", "moving", "broken")
    ]
    start = boards.raw[:, 0].copy()
    inputs = np.zeros((len(layout_of(plan).inputs), boards.lanes), np.int32)
    told = np.zeros((longest, len(kept), len(rows)), np.int32)
    for tick in range(longest):
        for lane, row in enumerate(rows):
            inputs[:, lane] = row.inputs(tick)
            if tick in row.restarts:
                boards.raw[:, lane] = start
        told[tick] = boards.step(inputs)[kept, : len(rows)]
    return [_account(row, told[: len(row.ticks), :, lane]) for lane, row in enumerate(rows)]


def _account(row: "_Rows", told: NDArray[np.int32]) -> Account:
    return Account(
        ticks=np.array(row.ticks, np.int64),
        wires=told[:, :-3],
        live=told[:, -3] > 0,
        moving=told[:, -2] > 0,
        restarts=row.restarts,
        broken=int(np.bitwise_or.reduce(told[:, -1])) if len(told) else 0,
    )


@lru_cache(maxsize=2)
def _slim(plan: Plan) -> Watched:
    outputs = [output.wire for output in layout_of(plan).names.outputs]
    return watched_graph(plan).only([*outputs, "live", "moving", "broken"])


class _Rows:
    """The inputs of each tick of one played script."""

    def __init__(self, plan: Plan, played: Played) -> None:
        outside = played.outside
        self.ticks = outside.ticks
        hz = outside.chip.hz
        self._period = hz * plan.tick_ms / 1000
        self._began = list(self._begin(played))
        """(cycle, tick): from when on a board that began anew reads, and its first tick after that."""
        self.restarts = frozenset(tick for _, tick in self._began)
        played_on = outside.played
        channels = [pulses_in(played_on.get(pin, ())) for pin in outside.pins.channels]
        self._pulses = [list(self._by_tick(pulses, hz / 1e6)) for pulses in channels]
        contacts = [played_on.get(pin, []) for pin in outside.pins.contacts]
        self._contacts = [[level_at(edges, cycle) for cycle in self.ticks] for edges in contacts]
        self._gap = [0] * (len(plan.channels) + len(plan.contacts))

    def inputs(self, tick: int) -> list[int]:
        """Pulses in µs, 0 for none, then contact levels; nothing after the last tick."""
        if tick >= len(self.ticks):
            return self._gap
        return [row[tick] for row in self._pulses] + [row[tick] for row in self._contacts]

    def _begin(self, played: Played) -> Iterator[tuple[int, int]]:
        ticks, outside = self.ticks, played.outside
        awake = sorted({edge.cycle for edge in outside.seen.edges if edge.level >= 0})
        for cycle, _ in outside.seen.resets:
            at = bisect_right(awake, cycle)
            yield (awake[at] if at < len(awake) else cycle), bisect_right(ticks, cycle)
        resets = [cycle for cycle, _ in outside.seen.resets]
        for number in range(1, len(ticks)):
            before, now = ticks[number - 1], ticks[number]
            if now - before > LATE * self._period and not any(before < cycle <= now for cycle in resets):
                ends = [end for _, end in played.stood if before < end <= now]
                yield (ends[-1] if ends else round(before + 2 * self._period)), number

    def _by_tick(self, pulses: Sequence[tuple[int, int]], cycles_per_us: float) -> Iterator[int]:
        """The newest pulse that each tick finds, in µs."""
        found = [0] * len(self.ticks)
        begins = sorted(self._began)
        for rise, fall in pulses:
            tick = bisect_right(self.ticks, fall)
            since = bisect_right(begins, (fall, len(self.ticks))) - 1
            width = round((fall - rise) / cycles_per_us)
            if tick < len(found) and width <= LONGEST_US and (since < 0 or rise > begins[since][0]):
                found[tick] = width
        return iter(found)
