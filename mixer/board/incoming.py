"""What a receiver sends: each channel's pulses on a wire of its own, or all on one, as trains.

Common practice, no source. A train is a rise before, between and after its slots, where the time from one
rise to the next is a channel's pulse, and a gap that closes it. What is promised of a loss counts on these
numbers, and whoever plays a receiver keeps to them. The firmware's `reader.c` has its own, being C, and so
has whoever judges a board from outside (`failsafe/pins/wires/carried.py`), as a check: tests confront them.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import accumulate

from mixer.board.chip.chip import Edge

LONGEST_PULSE_US = 2500
"""The longest pulse of a channel, so the longest slot of a train."""
LOW_US = 30
"""Between two pulses of one wire, at least."""
HANGS_US = 5000
"""What is high for longer is no pulse but a wire that hangs high."""
GAP_US = 2700
"""So long after its last rise a train is over."""
BETWEEN_US = GAP_US + 300
"""From a train's last rise to the next one's first, at least: the gap and some."""
HIGH_US = 150
"""How long each pulse of a train is high."""
MISSING_US = 400
"""The slot of a channel that is missing: too short for a pulse."""


def rises_us(slots: int, pulses_us: Iterable[tuple[int, int]]) -> list[int]:
    """When a train of so many slots rises, in µs from its first rise.

    `pulses_us` has a slot's number, from 1, and its pulse; 0, or no such number: the channel is missing.
    """
    lengths = [MISSING_US] * slots
    for number, pulse_us in pulses_us:
        lengths[number - 1] = pulse_us or MISSING_US
    return [0, *accumulate(lengths)]


def train_edges(pin: str, begins: int, rises: Sequence[int], cycles_per_us: float) -> Iterator[Edge]:
    """The edges of a train that begins at a cycle and rises so many µs after that."""
    for rise_us in rises:
        rise = begins + round(rise_us * cycles_per_us)
        yield Edge(rise, pin, 1)
        yield Edge(rise + round(HIGH_US * cycles_per_us), pin, 0)
