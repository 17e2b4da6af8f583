"""What wires into a board have carried, by the edges that were played: the pulses a reader finds there.

The rules are those of the wires, not of a program: a pulse lies between rise and fall of its wire; of a
pulse-sum train each lies between two rises, and the train counts once a gap has closed it, with as many
pulses as it has slots and after a gap that was seen to begin. Whoever plays trains takes their numbers from
`board/incoming.py`; here they are said again, so that one that is wrong there is found.
"""

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from mixer.board.pins.wires import Pins

LONGEST_US = 5000
"""A longer pulse is a wire that hangs high."""
GAP_US = 2700
"""So long after the last rise a train is over (between rises lie 0.7 to 2.5 ms; common practice)."""
CROWDED_US = 16
"""Edges nearer than this to one another may wait for each other to be stamped."""

Played = Mapping[str, Sequence[tuple[int, int]]]
"""For each pin driven from outside the (cycle, level) of its edges."""


class Pulse(NamedTuple):
    """One pulse of one channel."""

    since: int
    """A reader that began after this cycle has not got it."""
    end: int
    """The first cycle in which a tick finds it."""
    us: float
    crowded: bool
    """Whether another edge was near one of its two."""


def carried(pins: Pins, played: Played, cycles_per_us: float) -> list[list[Pulse]]:
    """For each channel of the plan its pulses, in order of their ends."""
    every = sorted(
        cycle for pin in dict.fromkeys(pins.channels) for cycle, _ in _changes(played.get(pin, ()))
    )
    apart = round(CROWDED_US * cycles_per_us)

    def crowded(*edges: int) -> bool:
        return any(_near(every, edge, apart) for edge in edges)

    if not pins.train:
        return [
            [
                Pulse(rise, fall, (fall - rise) / cycles_per_us, crowded(rise, fall))
                for rise, fall in pulses_in(played.get(pin, ()))
                if fall - rise <= LONGEST_US * cycles_per_us
            ]
            for pin in pins.channels
        ]
    trains = list(_trains(played.get(pins.channels[0], ()), pins.train, round(GAP_US * cycles_per_us)))
    return [
        [
            Pulse(
                since,
                end,
                (rises[slot] - rises[slot - 1]) / cycles_per_us,
                crowded(*rises[slot - 1 : slot + 1]),
            )
            for since, end, rises in trains
        ]
        for slot in pins.slots
    ]


def _changes(edges: Sequence[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """Those that change the level; a wire is low at first."""
    level = 0
    for cycle, new in edges:
        if (new == 1) != (level == 1):
            yield cycle, new
            level = new


def _near(every: Sequence[int], edge: int, apart: int) -> bool:
    """Whether there is another edge about; that of another wire in the same cycle as well."""
    at = bisect_left(every, edge - apart)
    return len(every[at : at + 2]) > 1 and every[at + 1] <= edge + apart


def pulses_in(edges: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """(rise, fall) of each whole pulse on a pin driven from outside."""
    found, rise = [], -1
    for cycle, level in _changes(edges):
        if level == 1:
            rise = cycle
        elif rise >= 0:
            found.append((rise, cycle))
    return found


def _trains(
    edges: Sequence[tuple[int, int]], slots: int, gap: int
) -> Iterator[tuple[int, int, Sequence[int]]]:
    """Each whole train: the last rise before its gap, the cycle at which it is over, its rises."""
    before, rises = -1, list[int]()
    for cycle, _ in [*((cycle, level) for cycle, level in _changes(edges) if level == 1), (1 << 62, 1)]:
        if rises and cycle - rises[-1] > gap:
            if len(rises) == slots + 1 and before >= 0:
                yield before, rises[-1] + gap, rises
            before, rises = rises[-1], []
        rises = [*rises, cycle] if len(rises) <= slots + 1 else [*rises[:-1], cycle]
