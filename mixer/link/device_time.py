"""The board's clock as one line: unwrapped, from the first frame on, across resets.

Device time is the only clock of a recording. Host times, which jitter by milliseconds, never enter it.
"""

from mixer.board.frames import Frame, microseconds_between

USUAL_PERIOD_US = 20_000


class DeviceTime:
    """Frames in their order -> µs since the first of them."""

    def __init__(self) -> None:
        self._last: int | None = None
        self._period_us = USUAL_PERIOD_US
        self.now_us = 0
        self.resets = 0
        """How often the board's clock began anew; each counts as one period, the true gap is unknown."""

    def at(self, frame: Frame) -> int:
        """The time of this frame, in µs, always later than the frame before."""
        if self._last is not None:
            passed = microseconds_between(self._last, frame.time_us)
            if passed <= 0:
                self.resets += 1
                passed = self._period_us
            else:
                self._period_us = min(passed, USUAL_PERIOD_US)
            self.now_us += passed
        self._last = frame.time_us
        return self.now_us
