"""How many ticks are due: wall time handed in, simulated time out, nothing lost but what is said to be."""

MOST_CATCH_UP_S = 0.1
"""The most simulated time made up in one go at speed 1 (so many times as much at a higher speed)."""


class Pace:
    """Turns a clock's readings into ticks."""

    def __init__(self, tick_s: float, now_s: float) -> None:
        self.tick_s = tick_s
        self.skipped_s = 0.0
        """Simulated time left out after stalls, since the beginning."""
        self.skipped_now_s = 0.0
        """The same, by the last `due`."""
        self._last_s = now_s
        self._owed_s = 0.0

    def begin(self, now_s: float) -> None:
        """Nothing that came before is owed."""
        self._last_s, self._owed_s = now_s, 0.0

    def due(self, now_s: float, speed: float = 1.0) -> int:
        """Ticks to run now. A clock that runs backwards counts as standing still; speed 0 owes nothing."""
        passed = max(now_s - self._last_s, 0.0)
        self._last_s = now_s
        self._owed_s += passed * speed
        most = MOST_CATCH_UP_S * max(speed, 1.0)
        self.skipped_now_s = 0.0
        if self._owed_s > most + self.tick_s:
            ticks = int(most / self.tick_s + 1e-9)
            self.skipped_now_s = self._owed_s - ticks * self.tick_s
            self.skipped_s += self.skipped_now_s
            self._owed_s = 0.0
            return ticks
        ticks = int(self._owed_s / self.tick_s + 1e-9)
        self._owed_s -= ticks * self.tick_s
        return ticks
