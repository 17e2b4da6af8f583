"""What outputs had to show, worked out from what was played at the pins: by core and watcher, tick by tick.

A tick's inputs are the pulses that ended before it and the levels of the contacts; that a board began anew
follows from its resets and from ticks that came late. Of the board itself only the last half microsecond of
each pulse is taken (`readings.py`).
"""

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from mixer.core.layout import layout_of
from mixer.core.plan import ChannelPlan, Plan
from mixer.failsafe.pins.due import LATE, dues
from mixer.failsafe.pins.play import Played
from mixer.failsafe.pins.wires.carried import LONGEST_US, Pulse, carried
from mixer.failsafe.pins.wires.outside import level_at
from mixer.failsafe.pins.wires.readings import Known, Reading, reading, widths_by_tick
from mixer.live.judge.watched import Watched, watched_graph
from mixer.lower.run.arrays import ArrayTick

ROOM = 60
"""Edges that the boards here have room for at least, until they are taken."""
FRESH = 3
"""So many pulses of a channel, and nothing of those before them is remembered: it may be a median's."""


@dataclass(frozen=True, eq=False)
class Account:
    """Of one played script."""

    ticks: NDArray[np.int64]
    """(ticks,): the cycle of each ..."""
    over: NDArray[np.int64]
    """... and the one from which on the next is a whole tick late."""
    wires: NDArray[np.int32]
    """(ticks, outputs): what each wire had to carry from then on."""
    live: NDArray[np.bool_]
    moving: NDArray[np.bool_]
    """(ticks,): whether the robot was live, and whether any output was away from zero."""
    known: NDArray[np.int8]
    """(ticks,): `Known`, how well it is known what the board has read, and so what its wires carry."""
    last_known: NDArray[np.int64]
    """(ticks,): the last tick by then, by number, of which as much is known that no pulse was dropped."""
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
    return [_account(plan, row, told[: len(row.ticks), :, lane]) for lane, row in enumerate(rows)]


def _account(plan: Plan, row: "_Rows", told: NDArray[np.int32]) -> Account:
    wires, live = told[:, :-3], told[:, -3] > 0
    numbers = np.arange(len(row.ticks))
    rests = ~live & (wires == [output.rest for output in plan.outputs]).all(axis=1)
    known = _known(row, live, rests)
    return Account(
        ticks=np.array(row.ticks, np.int64),
        over=np.array([due.at for due in row.dues], np.int64) + LATE * row.period,
        wires=wires,
        live=live,
        moving=told[:, -2] > 0,
        known=known,
        last_known=np.maximum.accumulate(np.where(known < Known.UNKNOWN, numbers, 0)),
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
        self.period, self._us = played.tick, outside.us
        wired = dict.fromkeys(outside.pins.channels)
        self._edges = sorted(cycle for pin in wired for cycle, _ in outside.played.get(pin, ()))
        resets = sorted(cycle for cycle, _ in outside.seen.resets)
        self.dues = list(dues(self.ticks, resets, self._edges, self.period, self._us))
        self._began = list(self._begin(played))
        """(cycle, tick): from when on a board that began anew reads, and its first tick after that."""
        self.restarts = frozenset(tick for _, tick in self._began)
        pins, played_on = outside.pins, outside.played
        read = widths_by_tick(outside.seen, self.ticks, outside.chip.hz, pins.baud)
        wires = zip(plan.channels, pins.slots, carried(pins, played_on, self._us), strict=True)
        self._floods = [self._flooded(tick) for tick in self.ticks]
        readings = [
            list(self._readings(channel, self._by_tick(pulses), slot - 1, read))
            for channel, slot, pulses in wires
        ]
        self._pulses = [[reading.pulse for reading in row] for row in readings]
        self.known = [[reading.known for reading in row] for row in readings]
        """Of each channel and tick: how well its pulse is known; None: it has no good one."""
        contacts = [played_on.get(pin, []) for pin in pins.contacts]
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
        for number, (due, now) in enumerate(zip(self.dues, ticks, strict=True)):
            if due.anew:
                before = ticks[number - 1]
                ends = [end for _, end in played.stood if before < end <= now]
                yield (ends[-1] if ends else self.dues[number - 1].at + LATE * self.period), number

    def _by_tick(self, pulses: Sequence[Pulse]) -> dict[int, Pulse]:
        """The newest pulse that each tick finds, by ticks that find one."""
        found = {}
        begins = sorted(self._began)
        for pulse in pulses:
            begun = bisect_right(begins, (pulse.end, len(self.ticks))) - 1
            if begun < 0 or pulse.since > begins[begun][0]:
                found[bisect_right(self.ticks, pulse.end)] = pulse
        return found

    def _readings(
        self,
        channel: ChannelPlan,
        pulses: Mapping[int, Pulse],
        slot: int,
        read: Mapping[int, Sequence[int]],
    ) -> Iterator[Reading]:
        waits = None
        for number, flooded in enumerate(self._floods):
            told = read[number][slot] if number in read else None
            played = pulses.get(number, waits)
            yield (found := reading(channel, played, told, flooded=flooded))
            waits = played if found.dropped else None

    def _flooded(self, tick: int) -> bool:
        """Whether so many edges came in the time it looks back on that a board may have lost some."""
        since = tick - self.period - round(LONGEST_US * self._us)
        return bisect_right(self._edges, tick) - bisect_right(self._edges, since) > ROOM


def _known(row: _Rows, live: NDArray[np.bool_], rests: NDArray[np.bool_]) -> NDArray[np.int8]:
    """Of each tick, how well its wires are known.

    No better than the pulses so far, until everything rests and each channel has brought enough that are
    known to the half µs, or the board has begun anew. A robot that is not live does not come to life by
    pulses that a board has dropped.
    """
    found = np.zeros(len(row.ticks), np.int8)
    known, fresh = Known.EXACT, [FRESH] * len(row.known)
    for tick in range(len(row.ticks)):
        if tick in row.restarts:
            known, fresh = Known.EXACT, [FRESH] * len(row.known)
        for channel, readings in enumerate(row.known):
            this = readings[tick]
            if this is not None:
                fresh[channel] = fresh[channel] + 1 if this is Known.EXACT else 0
                known = max(known, this if live[tick] else min(this, Known.NEAR))
        if rests[tick] and min(fresh) >= FRESH:
            known = Known.EXACT
        found[tick] = known
    return found
