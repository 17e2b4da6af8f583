"""Time as whole numbers: microseconds of a log, ticks of the firmware.

Nothing in this package asks the machine what time it is. Whoever runs in real time (a command, the
bench) hands in a `Clock`; a replay needs none, because its time comes from the log.
"""

from dataclasses import dataclass
from typing import Protocol

US_PER_MS = 1000
US_PER_S = 1_000_000


class Clock(Protocol):
    """Something that knows a time that never runs backwards."""

    def now_us(self) -> int:
        """Microseconds since a moment of the clock's own choosing."""
        ...


@dataclass(frozen=True, slots=True)
class TickTime:
    """The firmware's ticks on the time line of a log, tick 0 beginning at `start_us`.

    A moment belongs to the tick in which it falls: tick k covers [start + k·tick, start + (k+1)·tick).
    """

    tick_us: int
    start_us: int = 0

    def tick_at(self, t_us: int) -> int:
        """The tick in which a moment falls. `t_us` >= `start_us`."""
        return (t_us - self.start_us) // self.tick_us

    def seconds(self, ticks: int) -> float:
        """How long so many ticks take."""
        return ticks * self.tick_us / US_PER_S


def tick_time(tick_ms: int, start_us: int = 0) -> TickTime:
    """The time line of a plan's tick."""
    return TickTime(tick_ms * US_PER_MS, start_us)
