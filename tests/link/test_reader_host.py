"""The portable half of the pulse reader, compiled for this machine: edges to widths, frames to bytes."""

import ctypes as c
from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.board.frames import NO_MIX, NOT_MEASURED, Frame, Identity, encode
from tests.link.firmware import build_host
from tests.link.frame_strategies import FRAMES, IDENTITIES, encode_who, encode_wiring
from tests.link.reader import Reader

pytestmark = pytest.mark.needs_tool("gcc")

GAP = 5400


class CFrame(c.Structure):
    """`frame_t` of frame.h."""

    _fields_ = (
        ("sequence", c.c_uint16),
        ("time_us", c.c_uint32),
        ("contacts", c.c_uint8),
        ("battery_mv", c.c_uint16),
        ("channels", c.c_uint8),
        ("widths", c.POINTER(c.c_uint16)),
        ("outputs", c.c_uint8),
        ("guard", c.c_uint8),
        ("wires", c.POINTER(c.c_int16)),
    )


class CIdentity(c.Structure):
    """`identity_t` of frame.h."""

    _fields_ = (("started", c.c_uint8), ("fingerprint", c.c_char_p), ("board", c.c_char_p))


@pytest.fixture(scope="module")
def lib() -> c.CDLL:
    """The compiled writer of frames."""
    return build_host()


def edges_of(pulses: list[tuple[int, int, int]]) -> Iterator[tuple[int, int]]:
    """(time, levels) for pulses given as (wire, rise, width), same moments joined."""
    changes: dict[int, int] = {}
    for wire, rise, width in pulses:
        changes[rise] = changes.get(rise, 0) ^ (1 << wire)
        changes[rise + width] = changes.get(rise + width, 0) ^ (1 << wire)
    levels = 0
    for time in sorted(changes):
        levels ^= changes[time]
        yield time, levels


@given(
    st.lists(
        st.lists(st.tuples(st.integers(0, 20_000), st.integers(1, 9_999)), min_size=8, max_size=8),
        min_size=1,
        max_size=5,
    )
)
def test_widths_are_exact_whatever_overlaps(frames: list[list[tuple[int, int]]]) -> None:
    """Eight wires with pulses anywhere in each frame, across wraps of the clock: all widths exact."""
    reader = Reader(8)
    for number, frame in enumerate(frames):
        start = 7_000 + number * 40_011
        for time, levels in edges_of([(wire, start + at, width) for wire, (at, width) in enumerate(frame)]):
            reader.edge(time, levels)

        assert reader.take() == [width for _, width in frame]


def test_a_width_is_given_once() -> None:
    """Without a new pulse the next take says that none came."""
    reader = Reader(2)
    reader.edge(100, 0b01)
    reader.edge(3_100, 0b00)

    assert reader.take() == [3000, 0]
    assert reader.take() == [0, 0]


def test_a_pulse_across_a_take_comes_with_the_next() -> None:
    """A frame that is sent in the middle of a pulse does not cut it."""
    reader = Reader(1)
    reader.edge(100, 1)

    assert reader.take() == [0]
    reader.edge(3_100, 0)
    assert reader.take() == [3000]


@pytest.mark.parametrize("wraps", [0, 1, 2, 7])
def test_a_wire_that_hangs_high_gives_no_pulse(wraps: int) -> None:
    """However many wraps of the clock later it falls, it is never taken for a pulse."""
    reader = Reader(1)
    reader.edge(100, 1)
    reader.edge(3_100 + wraps * 65_536, 0)

    assert reader.take() == [3000 if wraps == 0 else 0]


def test_a_wire_that_was_high_at_the_start_gives_no_pulse() -> None:
    """Half a pulse at power-up is not measured."""
    reader = Reader(1, levels=1)
    reader.edge(700, 0)

    assert reader.take() == [0]


def train(start: int, widths: list[int]) -> list[tuple[int, int]]:
    """A pulse-sum train: a rise before, between and after the widths, each pulse 600 long."""
    rises = [start]
    for width in widths:
        rises.append(rises[-1] + width)
    return [edge for rise in rises for edge in ((rise, 1), (rise + 600, 0))]


def test_pulse_sum_gives_every_channel() -> None:
    """After a gap, a train's widths are the times between its rises, told once the next gap has come."""
    reader = Reader(4, pulse_sum=True)
    widths = [2000, 3001, 4000, 2500]
    for start in (10_000, 50_000, 90_001):
        for time, level in train(start, widths):
            reader.edge(time, level)
        last = start + sum(widths)
        reader.watch(last + GAP)
        early = reader.take()
        reader.watch(last + GAP + 1)

        assert early == [0, 0, 0, 0]
        assert reader.take() == ([0, 0, 0, 0] if start == 10_000 else widths), "the first one lacks its gap"


@pytest.mark.parametrize("widths", [[2000, 3000, 4000], [2000, 3000, 4000, 2500, 2200], [2000] * 300])
def test_a_train_with_too_few_or_too_many_channels_is_dropped_whole(widths: list[int]) -> None:
    """One edge more or less would make every later channel another's; then none counts."""
    reader = Reader(4, pulse_sum=True)
    for time, level in [*train(10_000, [3000] * 4), *train(60_000, widths)]:
        reader.edge(time, level)
    reader.watch(reader.now + GAP + 1)

    assert reader.take() == [0, 0, 0, 0]


@given(FRAMES)
def test_the_boards_encoder_writes_the_same_bytes(lib: c.CDLL, frame: Frame) -> None:
    """frame.c and frames.py agree byte for byte on every frame."""
    wires = frame.mix.wires if frame.mix else ()
    given = CFrame(
        frame.sequence,
        frame.time_us,
        frame.contacts,
        NOT_MEASURED if frame.battery_mv is None else frame.battery_mv,
        len(frame.widths),
        (c.c_uint16 * 16)(*frame.widths),
        len(wires) if frame.mix else NO_MIX,
        frame.mix.guard if frame.mix else 0,
        (c.c_int16 * 24)(*wires),
    )
    wire = c.create_string_buffer(b"\xaa" * 100, 100)
    lib.frame_encode.restype = c.c_uint8
    size = lib.frame_encode(c.byref(given), wire)

    assert wire.raw[:size] == encode(frame)
    assert wire.raw[97:] == b"\xaa" * 3


@given(IDENTITIES)
def test_the_board_says_who_it_is_in_the_same_bytes(lib: c.CDLL, identity: Identity) -> None:
    """frame.c and frames.py agree byte for byte here as well, and no more than the longest is written."""
    wiring = identity.wiring or ""
    given = CIdentity(identity.started, identity.fingerprint.encode(), identity.board.encode())
    wire = c.create_string_buffer(b"\xaa" * 40, 40)
    lib.identity_encode.restype = c.c_uint8
    size = lib.identity_encode(c.byref(given), wire)

    assert wire.raw[:size] == encode_who(replace(identity, wiring=wiring))
    assert wire.raw[28:] == b"\xaa" * 12

    told = c.create_string_buffer(b"\xaa" * 40, 40)
    lib.wiring_encode.restype = c.c_uint8
    size = lib.wiring_encode(c.c_char_p(wiring.encode()), told)

    assert told.raw[:size] == encode_wiring(wiring)
    assert told.raw[11:] == b"\xaa" * 29
