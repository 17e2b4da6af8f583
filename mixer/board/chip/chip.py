"""What a simulated chip can be asked, whichever chip and whichever simulator it is.

    seen = chip.run(until=chip.hz, edges=[Edge(16_000, "PB0", 1), Edge(40_000, "PB0", 0)])

There is no wall clock. All times are cycles of the chip's own clock since power-up, and a run is repeatable
to the cycle: two calls one after the other are the same as one call over both. What no simulator has is
said here once: analog levels between high and low, what a supply does while it rises or falls, the times
that fuses or crystals add to a start. A reset begins and ends where it is told to.
"""

from collections.abc import Iterable, Sequence
from enum import IntFlag
from typing import NamedTuple, Protocol

UNDRIVEN = -1
"""The level of a pin that nobody drives: seen from outside, the chip lets it float, or pulls at it
weakly; as an input, the outside has let go."""

BOOT_MS = 400
"""Whatever shows no sign of life so long after power-up shows none."""
HELD_US = 200
"""How long a reset from outside lasts."""


class Edge(NamedTuple):
    """A pin's level from a cycle on."""

    cycle: int
    pin: str
    """As the data sheet calls it: ``PB1``, ``GP16``."""
    level: int
    """0 or 1, or `UNDRIVEN`."""


class Train(NamedTuple):
    """Equal pulses one after the other: `repeats` rises, `period` apart, each `high` cycles long."""

    cycle: int
    """The first rise."""
    pin: str
    high: int
    period: int
    repeats: int


class Reset(IntFlag):
    """Why a chip starts, as the firmware's HAL_STARTED_ flags count it."""

    POWER = 1
    """Power came: RAM holds anything."""
    PIN = 2
    LOW_SUPPLY = 4
    """The supply fell below the brown-out level; RAM is kept here, which no chip promises."""
    WATCHDOG = 8


class Seen(NamedTuple):
    """What a stretch of running showed outside the chip, each list in order of time."""

    edges: list[Edge]
    """Pins the chip itself drives, or lets go, never those driven from outside; all that is in no train."""
    trains: list[Train]
    """Duty in short: thousands of edges a second, each exactly as told."""
    sent: list[tuple[int, int]]
    """Serial bytes, each with the cycle in which its stop bit was through."""
    resets: list[tuple[int, Reset]]


def edges_of(seen: Seen) -> list[Edge]:
    """Every edge that was seen, those of the trains among them, in order of time."""
    edges = list[Edge]()
    for train in seen.trains:
        for n in range(train.repeats):
            rise = train.cycle + n * train.period
            edges += (Edge(rise, train.pin, 1), Edge(rise + train.high, train.pin, 0))
    return in_turn([*edges, *seen.edges])


def in_turn(edges: Iterable[Edge]) -> list[Edge]:
    """By time; those of one cycle as they were: a pin that rises as a reset comes is let go after that."""
    return sorted(edges, key=lambda edge: edge.cycle)


class Chip(Protocol):
    """One powered chip running one image. At power-up nothing outside drives a pin."""

    @property
    def hz(self) -> int:
        """Cycles a second, nominal."""
        ...

    @property
    def cycle(self) -> int:
        """Cycles since power-up."""
        ...

    def run(self, until: int, edges: Sequence[Edge] = ()) -> Seen:
        """Run to a cycle, driving pins from outside; edges after it are kept for later calls.

        Edges come in order of time, over all calls. Raises ChipError when the program crashes.
        """
        ...

    def set_analog_mv(self, pin: str, millivolts: int) -> None:
        """Put a voltage on an analog input, from now on."""
        ...

    def send(self, data: bytes, at: int) -> None:
        """Bytes into its serial input, one after the other at its own rate, the first from a cycle on."""
        ...

    def peek(self, symbol: str) -> bytes:
        """A variable's bytes now. Raises KeyError for a name the image does not have."""
        ...

    def poke(self, symbol: str, data: bytes, offset: int = 0) -> None:
        """Write into a variable. Raises KeyError as `peek` does, ValueError beyond its end."""
        ...

    def reset(self, reason: Reset, held: int = 0) -> None:
        """Reset it now and hold it so for some cycles, its pins floating; then it starts."""
        ...

    def hang(self, symbol: str = "") -> None:
        """From now on the program stands still where it is, or where a function begins, until a reset.

        Interrupts and what runs beside the program go on.
        """
        ...

    def halt(self, cycles: int) -> None:
        """For so many cycles the program stands still where it is, as `hang` has it, then it goes on."""
        ...

    def close(self) -> None:
        """Switch it off. Closing twice is no mistake."""
        ...
