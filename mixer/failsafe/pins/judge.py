"""Held against the account: what the output pins showed, and when they last told a motor to move.

An output of a robot that is not live shows rest and nothing else: its rest pulse or none, no duty, or a pin
that nobody drives. One of a live robot shows what its wire carries, within a microsecond, or that very
count; only where nobody knows what the board has read, within what a microsecond at each channel can
change. Where it may have dropped pulses, it may show as well what they had been before, or rest, as if they
had stayed away. A servo pulse says what was so when it began or a little before: it is set a tick ahead.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from mixer.board.pins.wires import Shape
from mixer.core.plan import OutputPlan, Plan
from mixer.failsafe.pins.account import Account
from mixer.failsafe.pins.play import Played
from mixer.failsafe.pins.wires.readings import Known
from mixer.failsafe.pins.wires.shown import PinTrace, ShownOutput, traces
from mixer.failsafe.report.stop import WIRE_FRAME_MS

NEAR = 0.03
"""Of an output's span: what a microsecond more or less at every channel may change of it."""
STEP = 1.0
"""µs by which a servo pulse may be off ..."""
HALF = 0.5
"""... and counts by which a duty may: it is that very count."""
MOST_NOTED = 1000
AHEAD_TICKS = 2
"""A servo pulse may show what its wire carried so many ticks before it."""


@dataclass(frozen=True, slots=True)
class Difference:
    """Where pins and account part."""

    output: str
    ms: float
    """From the beginning of the script, by the board's clock."""
    words: str
    rests: bool
    """Whether it showed rest where it had to move."""
    moves: bool
    """Whether it moves where it has to rest; else it carries what it should not, or turns under duty."""


class _Due(NamedTuple):
    """What an output may show at one time."""

    wires: list[int]
    stands: bool
    """Whether only rest is due."""
    known: int
    """`Known`: how well."""


@dataclass
class Found:
    """What was seen of one played script."""

    differences: list[Difference] = field(default_factory=list)
    moved_at_onset: bool = False
    last_moving: int | None = None
    """The cycle in which pins last told any motor to move; None if never since the onset.

    What moves after everything had rested, and hands or the plan have begun anew, is another drive.
    """
    cut: int = 0
    """Pulses that a reset has cut short: no board can help that."""
    exact: int = 0
    """Pulses and duties of a robot that may move, held to the microsecond or count ..."""
    near: int = 0
    """... and within `NEAR` only, as nobody knows what the board has read."""

    def add(self, difference: Difference) -> None:
        """Note one; a thousand of each output are enough."""
        if sum(each.output == difference.output for each in self.differences) < MOST_NOTED:
            self.differences.append(difference)


def judged(plan: Plan, played: Played, account: Account) -> Found:
    """Everything about one played script."""
    outside = played.outside
    pins = [pin for output in outside.pins.outputs for pin in output.pins]
    seen = traces(outside.seen, pins, played.end)
    found = Found()
    for number, (output, wire) in enumerate(zip(plan.outputs, outside.pins.outputs, strict=True)):
        shown = ShownOutput(wire, seen, outside.us)
        _Judge(output, shown, played, account, account.wires[:, number].tolist(), found).run()
        if wire.shape is Shape.PULSE:
            found.cut += sum(played.onset <= cycle for cycle in seen[wire.pin].cut)
    return found


class _Judge:
    """One output."""

    def __init__(
        self,
        output: OutputPlan,
        shown: ShownOutput,
        played: Played,
        account: Account,
        wires: list[int],
        found: Found,
    ) -> None:
        self._output, self._shown, self._wire = output, shown, shown.output
        self._played, self._found = played, found
        self._ticks, self._over = account.ticks.tolist(), account.over.tolist()
        self._wires = wires
        self._live = account.live.tolist()
        self._restarts = account.restarts
        self._known, self._last_known = account.known.tolist(), account.last_known.tolist()
        self._period, self._end = played.tick, played.end
        self._seen_whole = frozenset(at for at in self._ticks if at + self._period // 4 < played.end)
        self._anew = _lives_again(account, played.onset)
        self._resets = sorted(cycle for cycle, _ in played.outside.seen.resets)
        self._step = STEP if self._wire.shape is Shape.PULSE else HALF
        self._near = self._step + NEAR * max(output.low_span, output.high_span)

    def run(self) -> None:
        """Look at all of it."""
        if self._wire.shape is Shape.PULSE:
            self._pulses()
        else:
            self._duties()
            for cycle in self._shown.turns_under_duty():
                self._differ(cycle, "turns its direction while its duty is high", moves=False)

    def _pulses(self) -> None:
        rest = self._output.rest
        for rise, width in self._shown.pulses(self._played.began, self._end):
            due = self._due(rise)
            moves = abs(width - rest) > STEP
            if moves:
                self._moved(rise)
            if moves and due.stands:
                self._differ(rise, f"shows {width:.1f} µs where it has to rest", moves=True)
            elif not self._fits(width, due):
                words = f"shows {width:.1f} µs where {_span(due.wires)} is due"
                self._differ(rise, words, moves=False, rests=not moves)

    def _fits(self, value: float, due: _Due) -> bool:
        """Whether it may show this."""
        if due.known == Known.EXACT:
            self._found.exact += not due.stands
            return any(abs(value - wire) <= self._step for wire in due.wires)
        self._found.near += not due.stands
        return min(due.wires) - self._near <= value <= max(due.wires) + self._near

    def _due(self, rise: int) -> _Due:
        """What a pulse that begins here may show, of the last ticks and what came between."""
        at = bisect_right(self._ticks, rise)
        late = at > 0 and rise >= self._over[at - 1]
        # a tick that hung before its mix has set nothing
        last = max(at - 2 if late else at - 1, 0)
        first = min(bisect_left(self._ticks, rise - (AHEAD_TICKS + 1) * self._period), last)
        due = self._wires[first:at]
        stands = not any(self._live[first:at]) and set(due) <= {self._output.rest}
        anew = any(tick in self._restarts for tick in range(first, at + 1))
        if not due or anew or late or self._reset_between(self._ticks[at - 1] if at else 0, rise):
            due = [*due, self._output.rest]
        return self._as_known(due, stands, first, at)

    def _as_known(self, due: list[int], stands: bool, first: int, end: int) -> _Due:
        """That by what is known of these ticks; what it may be as well, if pulses were dropped."""
        known = max(self._known[first:end], default=Known.EXACT)
        if known < Known.UNKNOWN:
            return _Due(due, stands, known)
        since = self._last_known[first]
        return _Due([*self._wires[since:end], *due, self._output.rest], False, known)

    def _reset_between(self, first: int, last: int) -> bool:
        at = bisect_left(self._resets, first)
        return at < len(self._resets) and self._resets[at] <= last

    def _duties(self) -> None:
        span = self._usual_period()
        for first, last, due in self._stretches():
            drive = self._shown.drive(first, last)
            moves = drive.forward + drive.backward > 0
            if moves:
                self._moved(drive.last)
            if moves and due.stands:
                self._differ(first, "drives where it has to rest", moves=True)
            elif last - first > span > 0 and last in self._seen_whole:
                self._carries(last, span, due)

    def _stretches(self) -> Iterator[tuple[int, int, _Due]]:
        """From tick to tick, parted by resets, with what is due at the end."""
        marks = sorted({self._played.began, *self._ticks, *self._resets, self._end})
        for first, last in pairwise(marks):
            at = bisect_right(self._ticks, first) - 1
            if first in self._resets or at < 0 or self._reset_between(self._ticks[at] + 1, first):
                yield first, last, _Due([0], stands=True, known=Known.EXACT)
                continue
            before = at - 1 if at and at not in self._restarts else at
            due = self._wires[before : at + 1]
            stands = not any(due) and not any(self._live[before : at + 1])
            late = last >= self._over[at]
            due = [*due, 0] if late else due[-1:]
            yield first, last, self._as_known(due, stands, before, at + 1)

    def _carries(self, last: int, span: int, due: _Due) -> None:
        """At the end of a tick the duty has long been what it is."""
        drive = self._shown.drive(last - span, last)
        value = (drive.forward - drive.backward) / span * self._wire.top
        if not self._fits(value, due):
            words = f"carries {value:.1f} where {_span(due.wires)} is due"
            self._differ(last, words, moves=False, rests=not drive.last)

    def _usual_period(self) -> int:
        """Some whole periods of its duty, a quarter of a tick at most; 0 where it never had any."""
        found = [
            _most_common(trace) for trace in (self._shown.main, self._shown.second) if trace is not None
        ]
        period = max(found)
        return self._period // 4 // period * period if period else self._period // 4

    def _moved(self, cycle: int) -> None:
        onset = self._played.onset
        if cycle >= self._anew:
            return
        if cycle >= onset:
            self._found.last_moving = max(self._found.last_moving or cycle, cycle)
        elif cycle >= onset - 2 * max(self._period, round(WIRE_FRAME_MS * 1000 * self._played.outside.us)):
            self._found.moved_at_onset = True

    def _differ(self, cycle: int, words: str, *, moves: bool, rests: bool = False) -> None:
        self._found.add(Difference(self._output.name, self._played.ms(cycle), words, rests, moves))


def _lives_again(account: Account, onset: int) -> int:
    """The cycle of the first tick that is live after one since the onset was not; beyond all if none is."""
    since = int(np.searchsorted(account.ticks, onset))
    live = account.live[since:]
    again = np.flatnonzero(live & (np.cumsum(~live) > 0))
    return int(account.ticks[since + again[0]]) if len(again) else 1 << 62


def _most_common(trace: PinTrace) -> int:
    periods = [run.period for run in trace.runs if run.repeats > 1]
    return int(np.median(periods)) if periods else 0


def _span(due: list[int]) -> str:
    low, high = min(due), max(due)
    return f"{low}" if low == high else f"{low} to {high}"
