"""When each tick was due, and before which of them a board must have begun anew: a whole tick was missing.

A tick is due a tick's length after the one before it was. One that is late by less than that again is a
tick as any other. From outside a board shows only that it has begun one, a little after it looked at its
clock.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

LATE = 2
"""Ticks' lengths from when one was due, from which on the next one is a whole tick late."""
SHOWN_US = 50
"""From a look at the clock to the tick's pin, where nothing comes between (about 5 µs were seen) ..."""
EDGE_US = 6
"""... and so much more for each edge that does (the slower board takes 4 µs for one)."""


class Due(NamedTuple):
    """Of one tick."""

    at: int
    """The cycle; where a board has begun anew, that of its first tick, as good as it is known."""
    anew: bool
    """Whether it was late by a whole tick."""


def dues(
    ticks: Sequence[int], resets: Sequence[int], edges: Sequence[int], period: int, us: float
) -> Iterator[Due]:
    """Of each tick; all in cycles, `us` of them a microsecond and `period` a tick, each sequence in order.

    Where `edges` on its wires may have kept a board from showing in time that it had looked in time, it has
    the benefit of the doubt for half a tick: one that began anew shows no tick before a whole one is over.
    """
    due = None
    for before, tick in pairwise([-1, *ticks]):
        if due is None or _between(resets, before, tick):
            due = Due(tick, anew=False)
        else:
            held_up = _between(edges, tick - period // 2, tick)
            shown = min(round((SHOWN_US + EDGE_US * held_up) * us), period // 2)
            late = tick >= due.at + LATE * period + shown
            due = Due(tick if late else min(due.at + period, tick), late)
        yield due


def _between(cycles: Sequence[int], after: int, until: int) -> int:
    """How many there are."""
    return bisect_left(cycles, until + 1) - bisect_left(cycles, after + 1)
