"""Log rows at the firmware's tick: which pulse the board would have measured in which tick.

The first row's time is the beginning of tick 0. A pulse appears in the tick in which it arrived and in no
other; contacts hold their level until the log gives another one, and stand open before the first. Equal
rows give equal arrays: nothing but the log's own time is used.
"""

from collections.abc import Iterable, Iterator
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from mixer.core.plan import Plan
from mixer.runs.clock import tick_time
from mixer.runs.log.cells import NO_PULSE, NOT_READ, Row
from mixer.runs.log.notices import Notices

Numbers: TypeAlias = NDArray[np.int32]
CHUNK_TICKS = 4096


class Chunk(NamedTuple):
    """A stretch of inputs."""

    first_tick: int
    inputs: Numbers
    """(ticks, inputs), in the order of the plan's layout."""


class Feed:
    """Turns rows into chunks. Iterate once; `notices` is complete after that."""

    def __init__(
        self,
        rows: Iterable[Row],
        plan: Plan,
        notices: Notices | None = None,
        chunk_ticks: int = CHUNK_TICKS,
    ) -> None:
        self._rows = rows
        self._plan = plan
        self._chunk_ticks = chunk_ticks
        self._open = tuple(contact.level(closed=False) for contact in plan.contacts)
        self._levels = self._open
        self.notices = notices or Notices("log")

    def __iter__(self) -> Iterator[Chunk]:
        self._levels = self._open
        pending: list[tuple[int, Row]] = []
        first = 0
        for tick, row in self._by_tick():
            while tick >= first + self._chunk_ticks:
                yield self._chunk(first, self._chunk_ticks, pending)
                first += self._chunk_ticks
                pending = []
            if pending and pending[-1][0] == tick:
                pending[-1] = tick, self._merged(pending[-1][1], row)
            else:
                pending.append((tick, row))
        if pending:
            yield self._chunk(first, pending[-1][0] + 1 - first, pending)

    def _by_tick(self) -> Iterator[tuple[int, Row]]:
        rows = iter(self._rows)
        first = next(rows, None)
        if first is None:
            return
        tick_at = tick_time(self._plan.tick_ms, first.t_us).tick_at
        yield 0, first
        for row in rows:
            yield tick_at(row.t_us), row

    def _merged(self, older: Row, newer: Row) -> Row:
        said = "two rows fall into one tick, the newer pulses win"
        self.notices.add("one tick", said, line=newer.line)
        pulses = tuple([b if b != NO_PULSE else a for a, b in zip(older.pulses, newer.pulses, strict=True)])
        levels = tuple(
            [b if b != NOT_READ else a for a, b in zip(older.contacts, newer.contacts, strict=True)]
        )
        return newer._replace(pulses=pulses, contacts=levels)

    def _chunk(self, first: int, ticks: int, pending: list[tuple[int, Row]]) -> Chunk:
        channels = len(self._plan.channels)
        inputs = np.zeros((ticks, channels + len(self._open)), dtype=np.int32)
        places = [tick - first for tick, _ in pending]
        if places:
            inputs[places, :channels] = [row.pulses for _, row in pending]
        if self._open:
            held = [self._levels]
            for _, row in pending:
                self._levels = self._held(row.contacts)
                held.append(self._levels)
            lengths = np.diff([0, *places, ticks])
            inputs[:, channels:] = np.repeat(np.array(held, dtype=np.int32), lengths, axis=0)
        return Chunk(first, inputs)

    def _held(self, contacts: tuple[int, ...]) -> tuple[int, ...]:
        if NOT_READ not in contacts:
            return contacts
        return tuple([b if b != NOT_READ else a for a, b in zip(self._levels, contacts, strict=True)])


def feed(
    rows: Iterable[Row], plan: Plan, notices: Notices | None = None, chunk_ticks: int = CHUNK_TICKS
) -> Iterator[Chunk]:
    """Chunks of inputs at the plan's tick, `chunk_ticks` long but for the last."""
    return iter(Feed(rows, plan, notices, chunk_ticks))
