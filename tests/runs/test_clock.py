"""Ticks and the time line."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.runs.clock import HandClock, tick_time


@given(st.integers(1, 20), st.integers(0, 10**12), st.integers(0, 10**12))
def test_a_moment_lies_in_its_tick(tick_ms: int, start: int, later: int) -> None:
    """A tick begins at or before each of its moments, and the next one after them."""
    time = tick_time(tick_ms, start)
    tick = time.tick_at(start + later)

    assert start + tick * tick_ms * 1000 <= start + later < start + (tick + 1) * tick_ms * 1000


def test_hand_clock() -> None:
    """It stands still until turned on, and cannot be turned back."""
    clock = HandClock(5)
    clock.advance(20)

    assert clock.now_us() == clock.now_us() == 25
    with pytest.raises(ValueError, match=r"^a clock cannot be turned back by 1 µs$"):
        clock.advance(-1)
