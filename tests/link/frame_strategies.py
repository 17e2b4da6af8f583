"""Frames, and the byte streams a bad cable makes of them."""

from hypothesis import strategies as st

from mixer.board.frames import (
    IDENTITY,
    WIRING,
    BoardMix,
    Frame,
    Identity,
    check_of,
    encode,
)


def sealed(body: bytes) -> bytes:
    """A body of any content, properly checked and stuffed by a second encoder."""
    content = body + check_of(body).to_bytes(2, "big")
    pieces = content.split(b"\0")
    return b"".join(bytes([len(piece) + 1]) + piece for piece in pieces) + b"\0"


def encode_wiring(wiring: str) -> bytes:
    """For which wires a board is built, as it stands on the wire."""
    return sealed(bytes([WIRING]) + bytes.fromhex(wiring or "00" * 6))


def encode_who(identity: Identity) -> bytes:
    """Who a board is, without its wiring."""
    tells = 0 if identity.wiring is None else 32
    mix = bytes.fromhex(identity.fingerprint or "00" * 6)
    return sealed(bytes([IDENTITY, identity.started | tells]) + mix + identity.board.encode("ascii"))


def encode_identity(identity: Identity) -> bytes:
    """All that a board says of itself at its start."""
    wiring = b"" if identity.wiring is None else encode_wiring(identity.wiring)
    return wiring + encode_who(identity)


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
PRINTS = st.just("") | st.integers(1, 16**12 - 1).map(lambda number: f"{number:012x}")
IDENTITIES = st.builds(
    Identity,
    board=st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E), min_size=1, max_size=16),
    fingerprint=PRINTS,
    started=st.integers(0, 31) | st.integers(64, 95),
    wiring=st.none() | PRINTS,
)
PIECES = st.one_of(
    FRAMES.map(encode),
    IDENTITIES.map(encode_identity),
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
