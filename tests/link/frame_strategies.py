"""Frames, and the byte streams a bad cable makes of them."""

from hypothesis import strategies as st

from mixer.link.frames import BoardMix, Frame, encode

MIXES = st.builds(
    BoardMix,
    guard=st.integers(0, 4),
    wires=st.lists(st.integers(-32768, 32767), max_size=24).map(tuple),
)
FRAMES = st.builds(
    Frame,
    sequence=st.integers(0, 0xFFFF),
    time_us=st.integers(0, 0xFFFFFFFF),
    widths=st.lists(st.integers(0, 0xFFFF), max_size=16).map(tuple),
    contacts=st.integers(0, 255),
    battery_mv=st.none() | st.integers(0, 0xFFFE),
    mix=st.none() | MIXES,
)
PIECES = st.one_of(
    FRAMES.map(encode),
    st.binary(max_size=300),
    st.integers(1, 3000).map(lambda size: b"\x55" * size),
    st.just(b"\0"),
)
STREAMS = st.lists(PIECES, max_size=8).map(b"".join)


def frames_in_a_row(count: int, period_us: int = 20_000) -> list[Frame]:
    """Frames as a healthy board sends them, sequence and time running across their wraps."""
    return [
        Frame(
            (65_000 + n) & 0xFFFF,
            (2**32 - 10_000 + n * period_us) & 0xFFFFFFFF,
            (3000, 2000 + n % 9),
            1,
            7400,
        )
        for n in range(count)
    ]
