"""What a board's frames say it has read, held against what was played before any of it is believed.

A board measures to half a microsecond, and a mix turns that into more at its outputs. So that those can be
held to the count, a tick's pulses are the board's own readings where they are within a microsecond of what
was played; where they are not, or no frame tells, they are what was played. In a flood of edges a board may
say as well that it has read nothing.
"""

from bisect import bisect_right
from collections.abc import Sequence
from enum import IntEnum
from typing import NamedTuple

from mixer.board.chip.chip import Seen
from mixer.board.frames import Decoder, Frame
from mixer.board.wiring.line import BITS_A_BYTE
from mixer.core.plan import ChannelPlan
from mixer.failsafe.pins.wires.carried import Pulse

WITHIN_US = 1.0
"""How far a reading may be from the pulse that was played, to be taken ..."""
CROWDED_WITHIN_US = 4.0
"""... and where edges came so close together that one had to wait to be stamped (3.3 µs were seen)."""


class Known(IntEnum):
    """How well it is known what a board has read."""

    EXACT = 0
    """To the half µs."""
    NEAR = 1
    """A board that measures well enough has read it, to a µs or some."""
    UNKNOWN = 2
    """It came in a flood of edges and may have been dropped, and no frame tells."""


class Reading(NamedTuple):
    """A channel's pulse in one tick."""

    pulse: int
    """µs as the mix has it; 0 for none."""
    known: Known | None
    """None where there is no good pulse."""
    dropped: bool = False
    """Whether the board says that it has read none: it may have been late, and comes in the next tick."""


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


def reading(channel: ChannelPlan, played: Pulse | None, told: int | None, *, flooded: bool) -> Reading:
    """What a channel has in a tick: of the pulse that was played, and of what a frame tells in half µs."""
    us = 0.0 if played is None else played.us
    agreed = told is not None and agrees(told, us, crowded=played is not None and played.crowded)
    pulse = (told + 1) >> 1 if agreed and told is not None else round(us)
    good = channel.good_low_us <= pulse <= channel.good_high_us
    if good and not agreed and flooded and not told:
        return Reading(round(us), Known.UNKNOWN) if told is None else Reading(0, Known.EXACT, dropped=True)
    return Reading(
        pulse, (Known.EXACT if agreed else Known.NEAR) if good or (told and not agreed) else None
    )


def agrees(half_us: int, played_us: float, *, crowded: bool) -> bool:
    """Whether a reading is what was played, as near as a board has to measure."""
    return abs(half_us / 2 - played_us) <= (CROWDED_WITHIN_US if crowded else WITHIN_US)
