"""Rest noise and gaps out of a recording that nobody prepared: sticks rest somewhere in every drive.

The noise is measured over the stretch with the most pulses in which no wire moved by more than `STILL_US`
from one end of its excursion to the other. Rates and gaps are those of the whole recording. Memory is
bounded: at most two stretches of `LONGEST_US` are held.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from mixer.board.frames import Frame
from mixer.link.device_time import DeviceTime
from mixer.link.jitter import JitterReport, measure_jitter
from mixer.runs.log.calibrate import STILL_US

LEAST_US = 1_000_000
LONGEST_US = 30_000_000


@dataclass(frozen=True, slots=True)
class WireRegularity:
    """How regularly one wire's pulses came over the whole recording."""

    name: str
    pulses: int
    rate_hz: float
    worst_gap_ms: float
    """The longest time without a pulse; the whole recording where none came."""


class _Stretch:
    """Frames in a row in which no wire moves."""

    def __init__(self, at_us: int, channels: int) -> None:
        self.frames: list[Frame] = []
        self.begin_us = self.end_us = at_us
        self.pulses = 0
        self._low = [0] * channels
        self._high = [0] * channels

    def add(self, frame: Frame, at_us: int) -> bool:
        """Take the frame in, or say that it is no longer still."""
        low, high = list(self._low), list(self._high)
        for k, width in enumerate(frame.widths[: len(low)]):
            if width:
                low[k], high[k] = min(low[k] or width, width), max(high[k], width)
                if high[k] - low[k] > 2 * STILL_US:
                    return False
        if at_us - self.begin_us > LONGEST_US:
            return False
        self._low, self._high, self.end_us = low, high, at_us
        self.frames.append(frame)
        self.pulses += sum(width > 0 for width in frame.widths[: len(low)])
        return True


class QuietWatch:
    """Fed with every frame of a recording."""

    def __init__(self, names: Sequence[str]) -> None:
        self._names = tuple(names)
        self._time = DeviceTime()
        self._pulses = [0] * len(names)
        self._came_us = [0] * len(names)
        self._gap_us = [0] * len(names)
        self._now_us = 0
        self._stretch = self._best = _Stretch(0, len(names))
        self.frames = 0
        self.worst_frame_gap_ms = 0.0

    @property
    def seconds(self) -> float:
        """Device time from the first frame to the last."""
        return self._now_us / 1e6

    @property
    def frames_hz(self) -> float:
        """Frames a second over the whole recording, 0 before the second frame."""
        return (self.frames - 1) / self.seconds if self.seconds else 0.0

    @property
    def resets(self) -> int:
        """How often the board's clock began anew."""
        return self._time.resets

    def take(self, frame: Frame) -> None:
        """Take in the next frame."""
        now_us = self._time.at(frame)
        self.worst_frame_gap_ms = max(self.worst_frame_gap_ms, (now_us - self._now_us) / 1000)
        self._now_us = now_us
        self.frames += 1
        for k, width in enumerate(frame.widths[: len(self._names)]):
            if width:
                self._gap_us[k] = max(self._gap_us[k], now_us - self._came_us[k])
                self._came_us[k] = now_us
                self._pulses[k] += 1
        if not self._stretch.add(frame, now_us):
            self._stretch = _Stretch(now_us, len(self._names))
            self._stretch.add(frame, now_us)
        if self._stretch.pulses > self._best.pulses:
            self._best = self._stretch

    def wires(self) -> tuple[WireRegularity, ...]:
        """Each channel over the whole recording, in the board's order."""
        return tuple(
            WireRegularity(
                name,
                self._pulses[k],
                self._pulses[k] / self.seconds if self.seconds else 0.0,
                max(self._gap_us[k], self._now_us - self._came_us[k]) / 1000,
            )
            for k, name in enumerate(self._names)
        )

    def rest(self) -> JitterReport | None:
        """The noise at rest; None when nothing rested for a second."""
        best = self._best
        if best.end_us - best.begin_us < LEAST_US or len(best.frames) < 2:
            return None
        return measure_jitter(best.frames, self._names)
