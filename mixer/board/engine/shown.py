"""What output pins have shown, as arrays: every pulse of every pin with its rise and its length."""

from collections import defaultdict
from collections.abc import Iterable
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from mixer.board.chip.chip import UNDRIVEN, Seen

Cycles: TypeAlias = NDArray[np.int64]


class Pulses(NamedTuple):
    """One pin's pulses that are over, in order of time."""

    rises: Cycles
    lengths: Cycles


class PinHistory:
    """What some pins have shown since they were asked for last."""

    def __init__(self, pins: Iterable[str]) -> None:
        self.pins = tuple(dict.fromkeys(pins))
        self.floated: dict[str, int] = {}
        """Pins that the chip let go of, with the cycle; a pin that it never drove as well, from 0 on."""
        self._rises: dict[str, list[Cycles]] = defaultdict(list)
        self._lengths: dict[str, list[Cycles]] = defaultdict(list)
        self._up: dict[str, int] = {}

    def add(self, seen: Seen) -> None:
        """What came of a stretch."""
        edges: dict[str, list[tuple[int, int]]] = {pin: [] for pin in self.pins}
        for edge in seen.edges:
            if edge.pin in edges:
                edges[edge.pin].append((edge.cycle, edge.level))
        singles = {pin: self._pairs(pin, edges[pin]) for pin in self.pins}
        for train in seen.trains:
            if train.pin in edges:
                rises = train.cycle + np.arange(train.repeats, dtype=np.int64) * train.period
                self._rises[train.pin].append(rises)
                self._lengths[train.pin].append(np.full(train.repeats, train.high, np.int64))
        for pin, pairs in singles.items():
            if pairs:
                array = np.array(pairs, np.int64)
                self._rises[pin].append(array[:, 0])
                self._lengths[pin].append(array[:, 1])

    def _pairs(self, pin: str, edges: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
        pairs = []
        for cycle, level in edges:
            if level == 1:
                self._up.setdefault(pin, cycle)
            elif pin in self._up:
                rise = self._up.pop(pin)
                pairs.append((rise, cycle - rise))
            if level == UNDRIVEN:
                self.floated[pin] = cycle
            else:
                self.floated.pop(pin, None)
        return pairs

    def pulses(self, pin: str) -> Pulses:
        """All pulses of a pin that are kept."""
        if not self._rises[pin]:
            none = np.empty(0, np.int64)
            return Pulses(none, none)
        rises, lengths = np.concatenate(self._rises[pin]), np.concatenate(self._lengths[pin])
        order = np.argsort(rises, kind="stable")
        self._rises[pin], self._lengths[pin] = [rises[order]], [lengths[order]]
        return Pulses(self._rises[pin][0], self._lengths[pin][0])

    def up_since(self, pin: str) -> int | None:
        """Since when a pin is high and has not fallen; None while it is low."""
        return self._up.get(pin)

    def forget(self, before: int) -> None:
        """Drop pulses that rose before a cycle, but for the last of each pin."""
        for pin in self.pins:
            rises, lengths = self.pulses(pin)
            keep = max(int(np.searchsorted(rises, before)) - 1, 0)
            self._rises[pin], self._lengths[pin] = [rises[keep:]], [lengths[keep:]]
