"""A receiver's pulses put onto a board's wires: one wire a channel, or all channels on one."""

from collections.abc import Callable, Sequence
from typing import Protocol

from mixer.board.incoming import BETWEEN_US, GAP_US, LONGEST_PULSE_US, LOW_US, rises_us, train_edges
from mixer.core.plan import Plan
from mixer.failsafe.pins.wires.clear import clear
from mixer.failsafe.pins.wires.outside import Outside


class Wires(Protocol):
    """The receiver's wires into the board."""

    ahead_ms: float
    """A tick's pulses are planned so long before they end, which is longer than they are."""

    def begin(self) -> int:
        """What comes before the first tick's pulses; the cycle from which on those may begin."""
        ...

    def plan(self, number: int, ends: Sequence[int], pulses_us: Sequence[int]) -> None:
        """The pulses of a tick, by number: for each channel where it ends, and its length; 0 for none."""
        ...


class ChannelWires:
    """Pulses onto the channels' pins, each kept apart from the one before it on its wire."""

    ahead_ms = 6.0

    def __init__(self, plan: Plan, outside: Outside) -> None:
        self._plan, self._outside, self._us = plan, outside, outside.us
        self._free = [0] * len(plan.channels)

    def begin(self) -> int:
        """Nothing comes before."""
        return self._outside.now

    def plan(self, number: int, ends: Sequence[int], pulses_us: Sequence[int]) -> None:
        """Shorter where the wire is not yet free, none where it never is."""
        del number
        for channel, (fall, pulse_us) in enumerate(zip(ends, pulses_us, strict=True)):
            if not pulse_us:
                continue
            wide = round(clear(self._plan, channel, pulse_us) * self._us)
            rise = max(fall - wide, self._free[channel], self._outside.now)
            if fall - rise < self._us:
                continue
            pin = self._outside.pins.channels[channel]
            self._outside.plan(rise, pin, 1)
            self._outside.plan(fall, pin, 0)
            self._free[channel] = fall + round(LOW_US * self._us)


Spoiled = Callable[[int, list[int]], list[int]]
"""What a fault makes of a train: of its number since the onset and its rises in µs, other rises."""


def whole(number: int, rises: list[int]) -> list[int]:
    """A train that nothing spoils."""
    del number
    return rises


class TrainWire:
    """All channels one after the other on one wire; one that is missing is a slot too short for a pulse.

    A train comes where any channel has a pulse, and not at all where the wire is not yet free.
    """

    def __init__(self, plan: Plan, outside: Outside, onset: int, spoiled: Spoiled) -> None:
        self._plan, self._outside, self._us = plan, outside, outside.us
        self._onset, self._spoiled = onset, spoiled
        self._free, self._trains = 0, 0
        self.ahead_ms = (outside.pins.train * LONGEST_PULSE_US + BETWEEN_US) / 1000

    def begin(self) -> int:
        """A train of missing channels: a reader takes none before which it has seen no gap."""
        rises = rises_us(self._outside.pins.train, ())
        begins = self._outside.now + round(BETWEEN_US * self._us)
        self._send(begins, rises)
        return begins + round((rises[-1] + BETWEEN_US) * self._us)

    def plan(self, number: int, ends: Sequence[int], pulses_us: Sequence[int]) -> None:
        """The train is over, gap and all, where the first of its pulses is to end."""
        if not any(pulses_us):
            return
        pulses = [
            min(clear(self._plan, channel, pulse_us), LONGEST_PULSE_US) if pulse_us else 0
            for channel, pulse_us in enumerate(pulses_us)
        ]
        pins = self._outside.pins
        rises = rises_us(pins.train, zip(pins.slots, pulses, strict=True))
        begins = ends[0] - round((GAP_US + rises[-1]) * self._us)
        if begins < max(self._free, self._outside.now):
            return
        self._free = begins + round((rises[-1] + BETWEEN_US) * self._us)
        if number >= self._onset:
            rises = self._spoiled(self._trains, rises)
            self._trains += 1
        self._send(begins, rises)

    def _send(self, begins: int, rises: Sequence[int]) -> None:
        for edge in train_edges(self._outside.pins.channels[0], begins, rises, self._us):
            self._outside.plan(*edge)
