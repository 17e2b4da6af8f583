"""Ticks and the time line."""

from hypothesis import given
from hypothesis import strategies as st

from mixer.runs.clock import tick_time


@given(st.integers(1, 20), st.integers(0, 10**12), st.integers(0, 10**12))
def test_a_moment_lies_in_its_tick(tick_ms: int, start: int, later: int) -> None:
    """A tick begins at or before each of its moments, and the next one after them."""
    time = tick_time(tick_ms, start)
    tick = time.tick_at(start + later)

    assert start + tick * tick_ms * 1000 <= start + later < start + (tick + 1) * tick_ms * 1000
