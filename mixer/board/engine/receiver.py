"""A receiver and switches on the pins of a chip: a log's rows as edges.

Every row is a tick, and its pulses end amid that tick of the board, so that the board measures them in it
and in no other. Edges of different wires lie `APART_US` apart at least, as a receiver sends them that gives
one channel after the other; and where in a tick they end wanders from row to row, since a transmitter's
clock and a board's never agree. A pulse-sum wire carries all channels or none; a missing one is a slot of
`HOLE_US`, which every mix takes for no pulse.
"""

from collections.abc import Iterator, Sequence

from mixer.board.chip.chip import Edge
from mixer.board.pins.wires import Pins
from mixer.errors import ChipError

LONGEST_US = 4900
"""A longer pulse is a wire that hangs high to the firmware (reader.c), and is not played."""
SHORTEST_US = 20
APART_US = 16
"""More than an interrupt takes that stamps an edge, on the slower board."""
HOLE_US, HIGH_US = 400, 200
"""Of a pulse-sum train: the slot of a channel that is missing, and how long each pulse is high."""
GAP_US = 3000
"""From a train's last rise until the firmware takes it for ended, and some."""
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
        self._high_until: dict[str, int] = {}
        self._near: list[int] = []

    @property
    def lead(self) -> int:
        """How long before the end of a row's tick its first edge may come."""
        longest = LONGEST_US if not self._pins.train else GAP_US + self._pins.train * 2600
        return self.margin + (longest + WANDERS_US + 40 * len(self._pins.channels) + 200) * self._us

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
        return list(self._train(-1, none, end - self.lead)) if self._pins.train else []

    def carried(self, pulse_us: int) -> bool:
        """Whether a pulse is one that a wire can carry and the firmware tells from a level."""
        return SHORTEST_US <= pulse_us <= LONGEST_US

    def edges(self, row: int, inputs: Sequence[int], end: int) -> list[Edge]:
        """The edges of one row whose tick ends at a cycle, in no order.

        Raises ChipError where a pulse begins before the one before it on its wire has ended.
        """
        count = len(self._pins.channels)
        last = end - self.margin + (row * _GOLDEN & 0xFFFF) * WANDERS_US * self._us // 0x10000
        pulses = [pulse if self.carried(pulse) else 0 for pulse in inputs[:count]]
        edges: list[Edge] = []
        if any(pulses):
            edges += self._train(row, pulses, last) if self._pins.train else self._wires(row, pulses, last)
        for number, level in enumerate(inputs[count:]):
            if level != self._levels[number]:
                self._levels[number] = level
                edges.append(Edge(last, self._pins.contacts[number], level))
        return edges

    def _wires(self, row: int, pulses: Sequence[int], last: int) -> Iterator[Edge]:
        self._near = [cycle for cycle in self._near if cycle > last - 2 * LONGEST_US * self._us]
        for number, pulse in enumerate(pulses):
            if not pulse:
                continue
            pin, wide = self._pins.channels[number], pulse * self._us
            fall = last - 40 * number * self._us
            while self._crowded(fall) or self._crowded(fall - wide):
                fall -= 7 * self._us
            self._begin(row, pin, fall - wide, fall)
            self._near += (fall, fall - wide)
            yield Edge(fall - wide, pin, 1)
            yield Edge(fall, pin, 0)

    def _crowded(self, cycle: int) -> bool:
        apart = APART_US * self._us
        return any(-apart < cycle - other < apart for other in self._near)

    def _train(self, row: int, pulses: Sequence[int], last: int) -> Iterator[Edge]:
        slots = [HOLE_US] * self._pins.train
        for number, pulse in zip(self._pins.slots, pulses, strict=True):
            slots[number - 1] = pulse or HOLE_US
        pin, at = self._pins.channels[0], last - (GAP_US + sum(slots)) * self._us
        self._begin(row, pin, at - GAP_US * self._us, last)
        for slot in (*slots, 0):
            yield Edge(at, pin, 1)
            yield Edge(at + HIGH_US * self._us, pin, 0)
            at += slot * self._us

    def _begin(self, row: int, pin: str, rise: int, end: int) -> None:
        if rise < self._high_until.get(pin, 0):
            raise ChipError(
                f"tick {row}: the pulse on {pin} would begin before the one before it has ended",
                "a wire cannot carry this log: pulses of one channel come at least their own length apart",
            )
        self._high_until[pin] = end
