"""Where a channel stays put: levels held for a while, whatever happens between them.

Each pulse is taken as the middle one of itself and its two neighbours, so that a lone spike counts for
nothing and does not end a level; the noise within a level is that of the pulses as they came. Memory is one
number a microsecond of pulse, however long the log.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mixer.core.intake import median_of_three
from mixer.runs.log.cells import PLAUSIBLE_US

WIDTH_US = 24
"""Pulses this close together count as one level: a few times a receiver's usual noise (no source)."""
WIDTH_SIGMAS = 7
"""The same for a noisier one, in standard deviations: hardly a pulse of normal noise is further out."""
HELD_US = 400_000
"""A level is held from 0.4 s on."""
EDGE_US = 100_000
"""The first and last tenth of a second of a level are left out: there the stick arrives or leaves."""
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
    deviation_us: float
    """Standard deviation of its pulses."""
    first_us: int
    last_us: int
    """Where it stood the first and the last time it was held, each the middle of that time's pulses."""


def noise_of(pulses: Sequence[int]) -> float:
    """Standard deviation of the noise on pulses in µs, whether they rest or are swept.

    A steady sweep cancels in second differences, whose deviation is sqrt(1 + 4 + 1) times the noise's;
    their median size, over 0.6745, is not moved by spikes (normal distribution).
    """
    if len(pulses) < 3:
        return 0.0
    seen = np.asarray(pulses, np.float64)
    return float(np.median(np.abs(seen[:-2] - 2 * seen[1:-1] + seen[2:])) / 0.6745 / 6**0.5)


class DwellWatch:
    """Collects the levels of one channel."""

    def __init__(self, sigma_us: float = 0.0) -> None:
        """`sigma_us` is the channel's noise."""
        self._width = max(WIDTH_US, round(WIDTH_SIGMAS * sigma_us))
        self._times: list[tuple[int, int]] = []
        """When each level was held, and the middle of its pulses then."""
        self.steadied: NDArray[np.int64] = np.zeros(_BINS, dtype=np.int64)
        """How many pulses of each length came, spikes taken out."""
        self._last: tuple[int, int] | None = None
        """The pulse before the last one, and the last one."""
        self._held: NDArray[np.int64] = np.zeros(_BINS, dtype=np.int64)
        self._now: dict[int, int] = {}
        self._recent: deque[tuple[int, int]] = deque()
        """Pulses that may still turn out to be the beginning of a move."""
        self._low = self._high = 0
        self._since_us = self._until_us = 0

    def add(self, t_us: int, pulse: int) -> None:
        """The next pulse. Those no receiver sends are left out."""
        if not PLAUSIBLE_US[0] <= pulse <= PLAUSIBLE_US[1]:
            return
        older, newer = self._last or (pulse, pulse)
        self._last = newer, pulse
        middle = median_of_three(older, newer, pulse)
        self.steadied[middle] += 1
        low, high = min(self._low, middle), max(self._high, middle)
        if not self._recent or high - low > self._width:
            self._close()
            self._since_us = t_us
            low = high = middle
        self._low, self._high, self._until_us = low, high, t_us
        self._recent.append((t_us, newer if abs(newer - middle) <= self._width else middle))
        while self._recent[0][0] < t_us - EDGE_US:
            came_us, settled = self._recent.popleft()
            if came_us > self._since_us + EDGE_US:
                self._now[settled] = self._now.get(settled, 0) + 1

    def _close(self) -> None:
        if self._until_us - self._since_us >= HELD_US:
            for pulse, count in self._now.items():
                self._held[pulse] += count
            if self._now:
                places = np.array(sorted(self._now))
                counts = np.array([self._now[pulse] for pulse in places.tolist()])
                self._times.append((self._since_us, quantile(places, counts, 0.5)))
        self._now = {}
        self._recent.clear()

    def levels(self) -> tuple[Level, ...]:
        """The levels held so far, lowest first."""
        self._close()
        places = np.flatnonzero(self._held)
        if not len(places):
            return ()
        groups = np.split(places, np.flatnonzero(np.diff(places) > self._width // 2) + 1)
        return tuple(self._level(group) for group in groups)

    def _level(self, places: NDArray[np.intp]) -> Level:
        counts = self._held[places]
        centre, low, high = (quantile(places, counts, share) for share in (0.5, 0.005, 0.995))
        mean = float(np.average(places, weights=counts))
        deviation = float(np.average((places - mean) ** 2, weights=counts)) ** 0.5
        stood = [middle for _, middle in self._times if places[0] <= middle <= places[-1]]
        first, last = (stood[0], stood[-1]) if stood else (centre, centre)
        return Level(centre, low, high, int(counts.sum()), deviation, first, last)


def quantile(values: NDArray[np.intp], counts: NDArray[np.int64], share: float) -> int:
    """The value below which a share of counted values lies."""
    reached = np.cumsum(counts)
    return int(values[np.searchsorted(reached, share * reached[-1])])
