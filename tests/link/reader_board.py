"""A powered board with the pulse reader in it, on the simulated ATmega328P, in step with the test."""

from collections.abc import Callable, Iterable, Iterator
from heapq import merge
from itertools import count

from mixer.board.chip.avr import HZ, AvrChip
from mixer.board.chip.chip import Edge
from mixer.board.image.elf import image_of

MHZ = HZ // 1_000_000


class Board:
    """The chip, its pins played by tracks that may be endless, its serial line read by the test."""

    def __init__(self, elf: bytes, seed: int = 1) -> None:
        self.chip = AvrChip(image_of(elf, "firmware.elf"), seed)
        self._edges: Iterator[Edge] = iter(())
        self._next: Edge | None = None
        self._sent = bytearray()

    @property
    def cycle(self) -> int:
        """Cycles since power-up."""
        return self.chip.cycle

    def set_pin(self, pin: str, level: int) -> None:
        """Drive a pin from now on."""
        self._run(self.cycle + 1, [Edge(self.cycle + 1, pin, level)])

    def play(self, *tracks: Iterable[Edge]) -> None:
        """Drive the pins by these tracks from now on, each in order of time."""
        self._edges = merge(*tracks)
        self._next = next(self._edges, None)

    def run_until(self, cycle: int) -> None:
        """Run to a cycle."""
        edges = []
        while self._next and self._next.cycle <= cycle:
            edges.append(self._next)
            self._next = next(self._edges, None)
        self._run(cycle, edges)

    def run_seconds(self, seconds: float) -> None:
        """Run on for so long."""
        self.run_until(self.cycle + round(seconds * HZ))

    def take(self) -> bytes:
        """What the serial port has sent since the last call."""
        data = bytes(self._sent)
        self._sent.clear()
        return data

    def close(self) -> None:
        """Switch it off."""
        self.chip.close()

    def _run(self, cycle: int, edges: list[Edge]) -> None:
        self._sent += bytes(byte for byte, _ in self.chip.run(cycle, edges).sent)


def pulses(
    pin: str,
    width_us: Callable[[int], float],
    period_us: float,
    offset_us: float = 0.0,
    number: int | None = None,
) -> Iterator[Edge]:
    """A pulse train, endless unless a number is given. `width_us` gives the n-th width."""
    for n in count() if number is None else range(number):
        rise = round((offset_us + n * period_us) * MHZ)
        yield Edge(rise, pin, 1)
        yield Edge(rise + round(width_us(n) * MHZ), pin, 0)
