"""Time that stands still until a test turns it on."""


class HandClock:
    """Whole microseconds, moved by hand."""

    def __init__(self) -> None:
        self.now = 0

    def now_us(self) -> int:
        """The time it was last set to, in µs."""
        return self.now

    def advance(self, by_us: int) -> None:
        """Turn it on."""
        self.now += by_us
