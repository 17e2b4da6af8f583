"""Where a channel stays put: levels held for a while, whatever happens between them.

A spike never stays, so levels found this way need no guess about how many spikes a log has. Memory is one
number a microsecond of pulse, however long the log.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mixer.runs.log_cells import PLAUSIBLE_US

WIDTH_US = 24
"""Pulses this close together count as one level: a few times a common receiver's noise (from experience)."""
HELD_US = 400_000
"""A level is held from 0.4 s on."""
_BINS = PLAUSIBLE_US[1] + 1


@dataclass(frozen=True, slots=True)
class Level:
    """One level that was held, once or many times."""

    centre_us: int
    """The median of its pulses."""
    low_us: int
    high_us: int
    """Between these lie 99 % of its pulses."""
    pulses: int


class DwellWatch:
    """Collects the levels of one channel."""

    def __init__(self) -> None:
        self.all: NDArray[np.int64] = np.zeros(_BINS, dtype=np.int64)
        """How many pulses of each length came."""
        self._held: NDArray[np.int64] = np.zeros(_BINS, dtype=np.int64)
        self._now: dict[int, int] = {}
        self._low = self._high = 0
        self._since_us = self._until_us = 0

    def add(self, t_us: int, pulse: int) -> None:
        """The next pulse. Those no receiver sends are left out."""
        if not PLAUSIBLE_US[0] <= pulse <= PLAUSIBLE_US[1]:
            return
        self.all[pulse] += 1
        low, high = min(self._low, pulse), max(self._high, pulse)
        if not self._now or high - low > WIDTH_US:
            self._close()
            self._now = {}
            self._since_us = t_us
            low = high = pulse
        self._low, self._high, self._until_us = low, high, t_us
        self._now[pulse] = self._now.get(pulse, 0) + 1

    def _close(self) -> None:
        if self._until_us - self._since_us >= HELD_US:
            for pulse, count in self._now.items():
                self._held[pulse] += count

    def levels(self) -> tuple[Level, ...]:
        """The levels held so far, lowest first."""
        self._close()
        self._now = {}
        self._until_us = self._since_us
        places = np.flatnonzero(self._held)
        if not len(places):
            return ()
        groups = np.split(places, np.flatnonzero(np.diff(places) > WIDTH_US // 2) + 1)
        return tuple(self._level(group) for group in groups)

    def _level(self, places: NDArray[np.intp]) -> Level:
        counts = self._held[places]
        centre, low, high = (quantile(places, counts, share) for share in (0.5, 0.005, 0.995))
        return Level(centre, low, high, int(counts.sum()))


def quantile(values: NDArray[np.intp], counts: NDArray[np.int64], share: float) -> int:
    """The value below which a share of counted values lies."""
    reached = np.cumsum(counts)
    return int(values[np.searchsorted(reached, share * reached[-1])])
