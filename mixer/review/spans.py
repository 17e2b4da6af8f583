"""Stretches of time in which something is so, found in flags that come a stretch of ticks at a time."""

import heapq
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mixer.runs.play.stretch import Numbers, Stretch

MOST_SPANS = 200
"""The longest so many are kept, so that memory stays flat; any others are counted."""


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """Once that it was so."""

    ticks: int
    first_tick: int
    row: tuple[int, ...]
    """All signals of the first tick, in the order of the plan's layout."""
    ended: bool = True
    """False when the log ends within it."""


class Spans:
    """Collects them; where the stretches are cut makes no difference."""

    def __init__(self, least: int = 1) -> None:
        """Those of fewer than `least` ticks are passed over."""
        self._least = least
        self._kept: list[Span] = []
        self._open: tuple[int, tuple[int, ...]] | None = None
        self._end = 0
        self.count = 0
        """How many ended so far."""
        self.ticks = 0
        """Ticks of all of them, short ones included."""

    def add(self, stretch: Stretch, flags: NDArray[np.bool_]) -> None:
        """The next stretch, (ticks,) flags of when it is so."""
        self._end = stretch.first_tick + len(flags)
        self.ticks += int(np.count_nonzero(flags))
        before = np.concatenate(([self._open is not None], flags[:-1]))
        edges = np.flatnonzero(before != flags)
        if self._open is not None and len(edges):
            first, row = self._open
            self._open = None
            if stretch.first_tick + int(edges[0]) - first >= self._least:
                self._keep(Span(stretch.first_tick + int(edges[0]) - first, first, row))
            edges = edges[1:]
        pairs = edges[: len(edges) // 2 * 2].reshape(-1, 2)
        for start, end in pairs[pairs[:, 1] - pairs[:, 0] >= self._least].tolist():
            self._keep(Span(end - start, stretch.first_tick + start, _row(stretch.signals, start)))
        if len(edges) % 2:
            self._open = stretch.first_tick + int(edges[-1]), _row(stretch.signals, int(edges[-1]))

    def _keep(self, span: Span) -> None:
        self.count += 1
        push = heapq.heappush if len(self._kept) < MOST_SPANS else heapq.heappushpop
        push(self._kept, span)

    def found(self) -> tuple[Span, ...]:
        """The longest of those so far in the order of time, what still lasts included."""
        spans = list(self._kept)
        if self._open is not None and self._end - self._open[0] >= self._least:
            spans.append(Span(self._end - self._open[0], *self._open, ended=False))
        return tuple(sorted(spans, key=lambda span: span.first_tick))

    def longest(self) -> Span | None:
        """The longest so far, None where it never was so."""
        return max(self.found(), default=None)


def _row(signals: Numbers, at: int) -> tuple[int, ...]:
    return tuple(signals[at].tolist())
