"""A receiver and switches on the pins of a chip: a log's rows as edges.

Every row is a tick, and its pulses end amid that tick of the board, so that the board measures them in it
and in no other. Edges of different wires lie `APART_US` apart at least, as a receiver sends them that gives
one channel after the other; and where in a tick they end wanders from row to row, since a transmitter's
clock and a board's never agree. A pulse-sum wire carries all channels or none.

A log whose pulses overlap on a wire is refused. What is broken on purpose is played as far as a wire can: a
pulse that would begin too early is shorter then, or none.
"""

from collections.abc import Sequence

from mixer.board.chip.chip import Edge
from mixer.board.incoming import (
    BETWEEN_US,
    GAP_US,
    HANGS_US,
    LOW_US,
    MISSING_US,
    rises_us,
    train_edges,
)
from mixer.board.pins.wires import Pins
from mixer.errors import ChipError

CLEAR_US = 100
"""A log may hold longer pulses than a receiver sends: they are played, but so near to what is none."""
LONGEST_US, LONGEST_SLOT_US = HANGS_US - CLEAR_US, GAP_US - CLEAR_US
SHORTEST_US = 20
APART_US = 16
"""More than an interrupt takes that stamps an edge, on the slower board."""
STAGGER_US = 40
"""How long before one channel's pulse the next one's ends."""
ASIDE_US, STEPS_US = 7, 200
"""How far a pulse steps aside, again and again, from edges that are near; and the room for that."""
WANDERS_US = 64
"""How far the ends of pulses wander."""
_GOLDEN = 40503
"""Spreads row numbers evenly over 16 bits, by the golden ratio (Knuth, volume 3, section 6.4)."""


class Receiver:
    """All wires into one chip. Times are cycles."""

    def __init__(self, pins: Pins, hz: int, tick: int, levels: Sequence[int]) -> None:
        """`tick` is a tick's length; `levels` are those of the contacts at first."""
        self._pins, self._us, self._tick = pins, hz // 1_000_000, tick
        self.margin = min(tick // 2, 1000 * self._us)
        """How long before the tick that reads them pulses end."""
        self._levels = list(levels)
        self._changes: list[list[tuple[int, int]]] = [[(0, level)] for level in levels]
        self._free: dict[str, int] = {}
        """When each wire has ended its last pulse."""
        self._near: list[int] = []
        self.shortens = False
        """Whether pulses that overlap are made shorter, instead of being refused."""
        self.not_played = 0
        """Pulses that no wire carries as they were given: left out, or shortened."""

    @property
    def lead(self) -> int:
        """How long before the end of a row's tick its first edge may come."""
        longest = LONGEST_US if not self._pins.train else BETWEEN_US + self._pins.train * LONGEST_SLOT_US
        away = WANDERS_US + STAGGER_US * len(self._pins.channels) + STEPS_US
        return self.margin + (longest + away) * self._us

    def idle(self) -> list[Edge]:
        """Every wire at rest, from power-up on."""
        low = [Edge(0, pin, 0) for pin in dict.fromkeys(self._pins.channels)]
        pairs = zip(self._pins.contacts, self._levels, strict=True)
        return low + [Edge(0, pin, level) for pin, level in pairs]

    def prelude(self, end: int) -> list[Edge]:
        """What a pulse-sum wire carries before the first row: a train that shows the firmware its place.

        It is over `lead` cycles before `end`; a reader takes no train from power-up on that it has not seen
        beginning after a gap.
        """
        none = [0] * len(self._pins.channels)
        return self._train(-1, none, end - self.lead)[0] if self._pins.train else []

    def carried(self, pulse_us: int) -> bool:
        """Whether a pulse is one that a wire can carry and the firmware tells from a level."""
        if self._pins.train:
            return MISSING_US <= pulse_us <= LONGEST_SLOT_US
        return SHORTEST_US <= pulse_us <= LONGEST_US

    def edges(self, row: int, pulses: Sequence[int], end: int) -> tuple[list[Edge], list[int]]:
        """The edges of one row's pulses, in no order, and the pulses as played; its tick ends at `end`.

        Raises ChipError where a pulse begins before the one before it on its wire has ended.
        """
        last = self.amid(row, end)
        given = [pulse if self.carried(pulse) else 0 for pulse in pulses]
        self.not_played += sum(map(bool, pulses)) - sum(map(bool, given))
        if not any(given):
            return [], given
        return self._train(row, given, last) if self._pins.train else self._wires(row, given, last)

    def amid(self, row: int, end: int) -> int:
        """When a row's last pulse ends, if its tick ends at a cycle."""
        return end - self.margin + (row * _GOLDEN & 0xFFFF) * WANDERS_US * self._us // 0x10000

    def contact(self, number: int, level: int, at: int) -> list[Edge]:
        """A contact's level from a cycle on: an edge, or none. Cycles of one contact never go back."""
        if level == self._levels[number]:
            return []
        self._levels[number] = level
        self._changes[number].append((at, level))
        return [Edge(at, self._pins.contacts[number], level)]

    def levels(self, at: int) -> list[int]:
        """The levels of all contacts at a cycle that nobody asks for an earlier one after."""
        for changes in self._changes:
            while len(changes) > 1 and changes[1][0] <= at:
                del changes[0]
        return [changes[0][1] for changes in self._changes]

    def _wires(self, row: int, pulses: Sequence[int], last: int) -> tuple[list[Edge], list[int]]:
        self._near = [cycle for cycle in self._near if cycle > last - 2 * LONGEST_US * self._us]
        edges: list[Edge] = []
        played = list(pulses)
        for number, pulse in enumerate(pulses):
            if not pulse:
                continue
            pin, wide, fall = (
                self._pins.channels[number],
                pulse * self._us,
                last - STAGGER_US * number * self._us,
            )
            while self._crowded(fall) or self._crowded(fall - wide):
                fall -= ASIDE_US * self._us
            wide = self._fitting(row, pin, wide, fall)
            played[number] = wide // self._us
            self.not_played += played[number] != pulse
            if wide:
                self._free[pin] = fall
                self._near += (fall, fall - wide)
                edges += (Edge(fall - wide, pin, 1), Edge(fall, pin, 0))
        return edges, played

    def _fitting(self, row: int, pin: str, wide: int, fall: int) -> int:
        """How long what ends at a cycle can be on a wire, `wide` or whole µs less; 0 for not at all."""
        free = self._free.get(pin, 0)
        if fall - wide >= free:
            return wide
        if not self.shortens:
            raise ChipError(
                f"tick {row}: the pulse on {pin} would begin before the one before it has ended",
                "a wire cannot carry this log: pulses of one channel come at least their own length apart",
            )
        room = ((fall - free) // self._us - LOW_US) * self._us
        while room > 0 and self._crowded(fall - room):
            room -= ASIDE_US * self._us
        return room if room >= SHORTEST_US * self._us else 0

    def _crowded(self, cycle: int) -> bool:
        apart = APART_US * self._us
        return any(-apart < cycle - other < apart for other in self._near)

    def _train(self, row: int, pulses: Sequence[int], last: int) -> tuple[list[Edge], list[int]]:
        rises = rises_us(self._pins.train, zip(self._pins.slots, pulses, strict=True))
        pin, gap = self._pins.channels[0], BETWEEN_US * self._us
        length = rises[-1] * self._us + gap
        if self._fitting(row, pin, gap + length, last) < gap + length:
            self.not_played += sum(map(bool, pulses))
            return [], [0] * len(pulses)
        self._free[pin] = last
        return list(train_edges(pin, last - length, rises, self._us)), list(pulses)
