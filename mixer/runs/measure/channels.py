"""How well each channel came in."""

from dataclasses import dataclass

import numpy as np

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.runs.clock import TickTime
from mixer.runs.play.stretch import Stretch

MOST_INTERVAL = 2000
"""Ticks between two pulses that are told apart; longer ones are counted together."""


@dataclass(frozen=True, slots=True)
class ChannelMeasure:
    """One channel over the whole log. Times in ms."""

    name: str
    pulses: int
    """Good ones."""
    bad_pulses: int
    """Outside what this channel takes for a pulse."""
    missing_pulses: int
    """Ticks in which another channel's pulse came and this one's did not."""
    frame_ms: float | None
    """The median time between two good pulses; None when there were fewer than two."""
    longest_gap_ms: float
    """The longest time without a good pulse, the log's two ends included."""
    lost_s: float
    """Time for which the channel counted as lost."""


class ChannelWatch:
    """Watches one channel's pulses."""

    def __init__(self, plan: Plan, index: int) -> None:
        self._name = plan.channels[index].name
        self._input = index
        self._channels = len(plan.channels)
        self._good, self._age, _ = layout_of(plan).places.channels[index]
        self._lost_ticks = plan.guard.lost_ticks
        self._pulses = self._bad = self._missing = self._lost = self._ticks = 0
        self._last_good = -1
        self._longest = 0
        self._intervals = np.zeros(MOST_INTERVAL + 1, dtype=np.int64)

    def add(self, stretch: Stretch) -> None:
        """The next stretch."""
        good = stretch.signals[:, self._good]
        pulses = stretch.inputs[:, self._input]
        came = np.count_nonzero(pulses)
        any_came = np.count_nonzero(stretch.inputs[:, : self._channels].any(axis=1))
        places = np.flatnonzero(good) + stretch.first_tick
        self._pulses += len(places)
        self._bad += int(came - len(places))
        self._missing += int(any_came - came)
        self._lost += int(np.count_nonzero(stretch.signals[:, self._age] >= self._lost_ticks))
        self._ticks = stretch.first_tick + len(good)
        if len(places):
            self._note_intervals(places)

    def _note_intervals(self, places: np.ndarray) -> None:
        steps = np.diff(places, prepend=max(self._last_good, 0))
        if self._last_good < 0:
            self._longest = int(steps[0])
            steps = steps[1:]
        if len(steps):
            self._longest = max(self._longest, int(steps.max()))
            self._intervals += np.bincount(np.minimum(steps, MOST_INTERVAL), minlength=MOST_INTERVAL + 1)
        self._last_good = int(places[-1])

    def measure(self, time: TickTime) -> ChannelMeasure:
        """What has been seen so far."""
        tail = self._ticks - max(self._last_good, 0)
        count = int(self._intervals.sum())
        frame = int(np.searchsorted(np.cumsum(self._intervals), (count + 1) // 2)) if count else None
        return ChannelMeasure(
            name=self._name,
            pulses=self._pulses,
            bad_pulses=self._bad,
            missing_pulses=self._missing,
            frame_ms=None if frame is None else time.seconds(frame) * 1000,
            longest_gap_ms=time.seconds(max(self._longest, tail)) * 1000,
            lost_s=time.seconds(self._lost),
        )
