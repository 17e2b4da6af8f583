"""What an output's pins make its driver do: commands again, as a controller or bridge would take them.

    driven = Driven(pins, plan, hz)
    driven.add(seen)                           # everything the chip shows, stretch by stretch
    commands = driven.commands(cycle, cycles)  # Q14, by what pins have shown up to a cycle

A pulse counts from its end until the next one, or until none has come for `SILENT_MS`: without pulses a
controller rests (common practice, no source). Of a duty the mean over some cycles counts, as the motor has
it; its sign is the direction's level meanwhile. A pin that nobody drives is low, by its pull-down.
"""

from collections import deque
from collections.abc import Sequence
from itertools import pairwise

from mixer.board.chip.chip import Seen
from mixer.board.pins.wires import OutputPins, Pins, Shape
from mixer.core.ops import ONE
from mixer.core.plan import OutputPlan, Plan

SILENT_MS = 100
"""Five periods of a servo pulse."""


class _Wire:
    """One pin: its pulses, as far back as somebody asks."""

    def __init__(self) -> None:
        self.trains: deque[tuple[int, int, int, int]] = deque()
        """(first rise, high, period, repeats), oldest first."""
        self.up = -1
        """When it rose that has not fallen; -1: it is low."""
        self.rises: deque[tuple[int, int]] = deque([(0, 0)])
        """(cycle, level): what it was driven to; of a pin that gives no duty."""

    def level(self, cycle: int) -> int:
        """What it was driven to last."""
        return next((level for at, level in reversed(self.rises) if at <= cycle), 0)

    def edge(self, cycle: int, level: int) -> None:
        """A change."""
        self.rises.append((cycle, int(level == 1)))
        if level == 1:
            self.up = cycle if self.up < 0 else self.up
        elif self.up >= 0:
            if cycle > self.up:
                self.trains.append((self.up, cycle - self.up, 1, 1))
            self.up = -1

    def changes(self, first: int, last: int) -> list[int]:
        """When it was driven otherwise, within two cycles."""
        return [at for at, _ in self.rises if first < at < last]

    def high(self, first: int, last: int) -> int:
        """For how many cycles of those between two it was high."""
        found = max(last - max(self.up, first), 0) if self.up >= 0 else 0
        for train in reversed(self.trains):
            if _end(train) <= first:
                break
            rise, high, period, repeats = train
            one = max((first - high - rise) // period + 1, 0)
            end = min(-(-(last - rise) // period), repeats)
            if one < end:
                begin, stop = rise + one * period, rise + (end - 1) * period + high
                found += (end - one) * high - max(first - begin, 0) - max(stop - last, 0)
        return found

    def forget(self, before: int) -> None:
        """Drop what was over before a cycle, but for the last of it."""
        while len(self.trains) > 1 and _end(self.trains[0]) < before:
            self.trains.popleft()
        while len(self.rises) > 1 and self.rises[1][0] < before:
            self.rises.popleft()


def _end(train: tuple[int, int, int, int]) -> int:
    rise, high, period, repeats = train
    return rise + (repeats - 1) * period + high


class Driven:
    """All outputs of one board."""

    def __init__(self, pins: Pins, plan: Plan, hz: int) -> None:
        self._outputs = list(zip(pins.outputs, plan.outputs, strict=True))
        self._wires = {pin: _Wire() for output in pins.outputs for pin in output.pins}
        self._us = hz / 1e6

    def add(self, seen: Seen) -> None:
        """What came of a stretch; nothing is asked about what was over long before it."""
        said = [(edge.cycle, edge.pin, edge.level, 0, 0) for edge in seen.edges]
        said += [(train.cycle, train.pin, train.high, train.period, train.repeats) for train in seen.trains]
        # of one pin and cycle as they were: one that rises as a reset comes is let go after that
        for cycle, pin, level, period, repeats in sorted(said, key=lambda each: each[:2]):
            wire = self._wires.get(pin)
            if wire is not None and repeats:
                wire.trains.append((cycle, level, period, repeats))
            elif wire is not None:
                wire.edge(cycle, level)

    def commands(self, cycle: int, cycles: int) -> Sequence[int]:
        """What each output was told, Q14, by what its pins showed in so many cycles before one."""
        found = []
        for pins, output in self._outputs:
            sent = (
                self._pulse(pins, output, cycle)
                if pins.shape is Shape.PULSE
                else self._duty(pins, cycle - cycles, cycle)
            )
            found.append(round(max(min(-sent if output.reverse else sent, 1.0), -1.0) * ONE))
        for wire in self._wires.values():
            wire.forget(cycle - round(SILENT_MS * 1000 * self._us))
        return found

    def _pulse(self, pins: OutputPins, output: OutputPlan, cycle: int) -> float:
        trains = [train for train in self._wires[pins.pin].trains if train[0] + train[1] <= cycle]
        if not trains:
            return 0.0
        rise, high, period, repeats = trains[-1]
        last = rise + min((cycle - high - rise) // period, repeats - 1) * period
        if cycle - last > SILENT_MS * 1000 * self._us:
            return 0.0
        away = high / self._us - output.rest
        span = output.high_span if away > 0 else output.low_span
        return away / span if span else 0.0

    def _duty(self, pins: OutputPins, first: int, last: int) -> float:
        one, other = self._wires[pins.pin], self._wires[pins.second]
        if pins.shape is Shape.BRIDGE:
            return (one.high(first, last) - other.high(first, last)) / (last - first)
        turns = [first, *other.changes(first, last), last]
        highs = (
            -one.high(begin, end) if other.level(begin) else one.high(begin, end)
            for begin, end in pairwise(turns)
        )
        return sum(highs) / (last - first)
