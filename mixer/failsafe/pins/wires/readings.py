"""What a board's frames say it has read, held against what was played before any of it is believed.

A board measures to half a microsecond, and a mix turns that into more at its outputs. So that those can be
held to the count, a tick's pulses are the board's own readings where they are within a microsecond of what
was played; where they are not, or no frame tells, they are what was played.
"""

from bisect import bisect_right
from collections.abc import Sequence

from mixer.board.chip.chip import Seen
from mixer.board.frames import Decoder, Frame

WITHIN_US = 1.0
"""How far a reading may be from the pulse that was played, to be taken ..."""
CROWDED_WITHIN_US = 4.0
"""... and where edges came so close together that one had to wait to be stamped (3.3 µs were seen)."""
BITS_A_BYTE = 10
"""Eight, a start and a stop bit."""


def widths_by_tick(seen: Seen, ticks: Sequence[int], hz: int, baud: int) -> dict[int, tuple[int, ...]]:
    """For each tick, by number, whose frame arrived whole: what it read on every channel, in half µs.

    A tick's frame begins on the serial line while it works or just after, so it is the last one before.
    """
    found: dict[int, tuple[int, ...]] = {}
    decoder, frame, began = Decoder(), bytearray(), 0
    for byte, cycle in seen.sent:
        if not frame:
            began = cycle - hz * BITS_A_BYTE // baud
        frame.append(byte)
        if byte:
            continue
        for event in decoder.feed(bytes(frame)):
            if isinstance(event, Frame):
                found[bisect_right(ticks, began) - 1] = event.widths
        frame.clear()
    return found


def agrees(half_us: int, played_us: float, *, crowded: bool) -> bool:
    """Whether a reading is what was played, as near as a board has to measure."""
    return abs(half_us / 2 - played_us) <= (CROWDED_WITHIN_US if crowded else WITHIN_US)
