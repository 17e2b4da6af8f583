"""The jitter report against numbers worked out by hand, and against Python's own statistics."""

import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.board.frames import Frame
from mixer.link.jitter import measure_jitter


def test_a_small_record_by_hand() -> None:
    """Widths 1500, 1501, 1499.5, missing, 1500 µs at 20 ms: every figure by hand."""
    widths = [3000, 3002, 2999, 0, 3000]
    report = measure_jitter(
        [Frame(n, n * 20_000, (width,)) for n, width in enumerate(widths)], ["throttle"]
    )

    channel = report.channels[0]
    assert (report.seconds, report.frames_hz, report.worst_frame_gap_ms) == (0.08, pytest.approx(50), 20)
    assert (channel.pulses, channel.middle_us, channel.peak_to_peak_us) == (4, 1500.0, 1.5)
    assert channel.deadband_us == 2
    assert channel.rate_hz == pytest.approx(50)
    assert channel.worst_gap_ms == 40


@given(st.lists(st.integers(2900, 3100), min_size=2, max_size=60))
def test_deviation_and_middle_agree_with_the_statistics_module(widths: list[int]) -> None:
    """Population deviation and median, as the standard library computes them; the band covers them all."""
    report = measure_jitter([Frame(n, n * 20_000, (w,)) for n, w in enumerate(widths)], ["throttle"])

    channel = report.channels[0]
    in_us = [width / 2 for width in widths]
    assert channel.deviation_us == pytest.approx(statistics.pstdev(in_us))
    assert channel.middle_us == statistics.median(in_us)
    assert all(abs(width - channel.middle_us) < channel.deadband_us for width in in_us)


def test_a_dead_wire_is_reported_as_such() -> None:
    """No pulses at all: none counted, and the gap is the whole record."""
    report = measure_jitter([Frame(n, n * 20_000, (0,)) for n in range(51)], ["throttle"])

    assert report.channels[0].pulses == 0
    assert report.channels[0].worst_gap_ms == 1000


def test_too_little_is_refused() -> None:
    """One frame has no period."""
    with pytest.raises(ValueError, match=r"^jitter needs at least two frames, got 1$"):
        measure_jitter([Frame(0, 0, (3000,))], ["throttle"])
