"""What output pins have shown: pulses, drive within a stretch of time, where nobody drove them.

`board/engine` keeps accounts of its own of the same edges, as each of those questions wants them: every
pulse for parity (`shown.py`), what a driver makes of them as they come (`driven.py`). The judge's is made
of neither, so that a pulse misread there is not misread here.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from mixer.board.chip.chip import UNDRIVEN, Edge, Seen
from mixer.board.pins.wires import OutputPins, Shape

Span = tuple[int, int]
"""From a cycle to another."""


class Run(NamedTuple):
    """Equal pulses of one pin, one after the other."""

    cycle: int
    """The first rise."""
    high: int
    period: int
    repeats: int

    @property
    def end(self) -> int:
        """The last fall."""
        return self.cycle + (self.repeats - 1) * self.period + self.high


class PinTrace:
    """One pin's levels over a stretch of time."""

    def __init__(
        self, runs: Iterable[Run], floating: Sequence[Span], cut: frozenset[int], opened: frozenset[int]
    ) -> None:
        self.runs = sorted(runs)
        self.floating = tuple(floating)
        """Where nobody drove it."""
        self.cut = cut
        """Rises of pulses that ended with a reset, which lets go of the pin."""
        self.partial = cut | opened
        """And of those whose end nobody saw."""
        self.starts = [run.cycle for run in self.runs]

    def high(self, first: int, last: int) -> Iterator[Span]:
        """Each time it was high, within a stretch, in order."""
        at = max(bisect_right(self.starts, first) - 1, 0)
        for run in self.runs[at:]:
            if run.cycle >= last:
                return
            skipped = max((first - run.cycle - run.high) // run.period, 0) if run.repeats > 1 else 0
            for number in range(skipped, run.repeats):
                rise = run.cycle + number * run.period
                if rise >= last:
                    break
                if rise + run.high > first:
                    yield max(rise, first), min(rise + run.high, last)

    def total(self, first: int, last: int) -> tuple[int, int]:
        """For how long it was high within a stretch, and until when; runs are reckoned, not stepped."""
        found, until = 0, 0
        at = max(bisect_right(self.starts, first) - 1, 0)
        for run in self.runs[at:]:
            if run.cycle >= last:
                break
            high, end = _high_until(run, last)
            before, _ = _high_until(run, first)
            if high > before:
                found, until = found + high - before, max(until, end)
        return found, until

    def level(self, cycle: int) -> int:
        """1 where it is high then."""
        return int(any(True for _ in self.high(cycle, cycle + 1)))


def _high_until(run: Run, cycle: int) -> tuple[int, int]:
    """For how long a run had been high by a cycle, and until when."""
    if cycle <= run.cycle:
        return 0, 0
    whole = min((cycle - run.cycle - 1) // run.period, run.repeats - 1)
    begun = run.cycle + whole * run.period
    return whole * run.high + min(cycle - begun, run.high), min(begun + run.high, cycle)


def traces(seen: Seen, pins: Iterable[str], end: int) -> dict[str, PinTrace]:
    """What each of the pins did until `end`."""
    wanted = set(pins)
    runs: dict[str, list[Run]] = defaultdict(list)
    for train in seen.trains:
        if train.pin in wanted:
            runs[train.pin].append(Run(train.cycle, train.high, train.period, train.repeats))
    edges: dict[str, list[Edge]] = defaultdict(list)
    for edge in seen.edges:
        if edge.pin in wanted:
            edges[edge.pin].append(edge)
    return {pin: _trace(runs[pin], edges[pin], end) for pin in wanted}


def _trace(runs: list[Run], edges: Sequence[Edge], end: int) -> PinTrace:
    floating: list[Span] = []
    cut: set[int] = set()
    opened: set[int] = set()
    rise = loose = -1
    for edge in edges:
        if rise == edge.cycle and edge.level != 1:
            rise = -1
        if rise >= 0 and edge.level != 1:
            runs.append(Run(rise, edge.cycle - rise, max(edge.cycle - rise, 1), 1))
            if edge.level == UNDRIVEN:
                cut.add(rise)
            rise = -1
        if loose >= 0 and edge.level != UNDRIVEN:
            floating.append((loose, edge.cycle))
            loose = -1
        if edge.level == 1 and rise < 0:
            rise = edge.cycle
        if edge.level == UNDRIVEN and loose < 0:
            loose = edge.cycle
    if rise >= 0:
        runs.append(Run(rise, end - rise, max(end - rise, 1), 1))
        opened.add(rise)
    if loose >= 0:
        floating.append((loose, end))
    return PinTrace(runs, floating, frozenset(cut), frozenset(opened))


class Drive(NamedTuple):
    """What an output's pins told its motor within a stretch, in cycles."""

    forward: int
    backward: int
    last: int
    """The cycle after which it drove no more within it; 0 where it never did."""


class ShownOutput:
    """One output over a stretch of time."""

    def __init__(self, output: OutputPins, pins: dict[str, PinTrace], cycles_per_us: float) -> None:
        self.output = output
        self.main = pins[output.pin]
        self.second = pins.get(output.second)
        self._us = cycles_per_us

    def pulses(self, first: int, last: int) -> Iterator[tuple[int, float]]:
        """Rise and width in µs of each whole servo pulse that begins in a stretch."""
        at = bisect_right(self.main.starts, first - 1)
        for run in self.main.runs[max(at - 1, 0) :]:
            if run.cycle >= last:
                return
            for number in range(run.repeats):
                rise = run.cycle + number * run.period
                if first <= rise < last and rise not in self.main.partial:
                    yield rise, run.high / self._us

    def drive(self, first: int, last: int) -> Drive:
        """How long a duty's pins drove each way in a stretch; both inputs of a bridge high drive none."""
        assert self.second is not None
        mine_high, mine_last = self.main.total(first, last)
        other_high, other_last = self.second.total(first, last)
        if not mine_high and (not other_high or self.output.shape is Shape.DUTY):
            return Drive(0, 0, 0)
        if not other_high:
            return Drive(mine_high, 0, mine_last)
        if not mine_high:
            return Drive(0, other_high, other_last)
        if self.output.shape is Shape.DUTY and other_high == last - first:
            return Drive(0, mine_high, mine_last)
        mine = list(self.main.high(first, last))
        other = list(self.second.high(first, last)) if mine or self.output.shape is Shape.BRIDGE else []
        if self.output.shape is Shape.DUTY:
            back = _common(mine, other)
            return Drive(_total(mine) - back, back, mine[-1][1] if mine else 0)
        ones, others = _apart(mine, other), _apart(other, mine)
        ends = [spans[-1][1] for spans in (ones, others) if spans]
        return Drive(_total(ones), _total(others), max(ends, default=0))

    def turns_under_duty(self) -> list[int]:
        """Cycles in which a direction changed while its duty was high: it must never."""
        if self.output.shape is not Shape.DUTY or self.second is None:
            return []
        changes = [cycle for run in self.second.runs for cycle in (run.cycle, run.end)]
        loose = {cycle for span in self.second.floating for cycle in span}
        return [cycle for cycle in changes if cycle not in loose and self.main.level(cycle)]


def _total(spans: Iterable[Span]) -> int:
    return sum(last - first for first, last in spans)


def _common(ones: Sequence[Span], others: Sequence[Span]) -> int:
    """How long both are so."""
    found, at = 0, 0
    for first, last in ones:
        while at < len(others) and others[at][1] <= first:
            at += 1
        for low, high in others[at:]:
            if low >= last:
                break
            found += min(high, last) - max(low, first)
    return found


def _apart(ones: Sequence[Span], others: Sequence[Span]) -> list[Span]:
    """Where the first is so and the second is not."""
    found = []
    for first, last in ones:
        at = first
        for low, high in others:
            if low < last and high > at:
                if low > at:
                    found.append((at, low))
                at = min(high, last)
        if at < last:
            found.append((at, last))
    return found
