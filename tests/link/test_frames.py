"""The frame codec: round trips, any split, any bytes, and what each kind of damage is called."""

import random
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import mixer.board
from mixer.board.frames import (
    LATE,
    LONGEST,
    BadCheck,
    BeganAnew,
    BoardMix,
    Decoder,
    Event,
    Frame,
    Identity,
    Lost,
    Misfit,
    Noise,
    Restarted,
    WrongVersion,
    check_of,
    encode,
    microseconds_between,
)
from tests.link.frame_strategies import (
    FRAMES,
    IDENTITIES,
    PRINTS,
    STREAMS,
    encode_identity,
    encode_who,
    encode_wiring,
    frames_in_a_row,
    sealed,
)

PAGE = Path(mixer.board.__file__).with_name("FRAMES.md")


def decode_by_the_page(wire: bytes) -> tuple[bytes, int]:
    """Body and check remainder of one frame, written from FRAMES.md alone, bit by bit."""
    content, rest = bytearray(), wire[:-1]
    while rest:
        piece, rest = rest[1 : rest[0]], rest[rest[0] :]
        content += piece + (b"\0" if rest else b"")
    register = 0xFFFF
    for byte in content:
        register ^= byte << 8
        for _ in range(8):
            register = ((register << 1) ^ 0x1021) & 0xFFFF if register & 0x8000 else register << 1
    return bytes(content[:-2]), register


@given(FRAMES)
def test_a_frame_comes_back_as_it_was(frame: Frame) -> None:
    """Encode and feed are inverse, and a frame never takes more than LONGEST bytes."""
    wire = encode(frame)

    assert Decoder().feed(wire) == [frame]
    assert len(wire) <= LONGEST
    assert wire.find(b"\0") == len(wire) - 1


@given(IDENTITIES)
def test_what_a_board_says_of_itself_comes_back(identity: Identity) -> None:
    """Encode and feed are inverse; another length or name is a misfit, no other board."""
    wire = encode_who(identity)
    body = decode_by_the_page(wire)[0]

    assert Decoder().feed(encode_identity(identity)) == [identity]
    assert (body[0], bool(body[1] & 32)) == (0x81, identity.wiring is not None)
    assert body[2:8].hex() == (identity.fingerprint or "0" * 12)
    for damaged in (body[:8], body[:7], body + b"x" * 16, body[:-1] + b"\x7f"):
        assert [type(event) for event in Decoder().feed(b"\0" + sealed(damaged))] == [Misfit]


@given(IDENTITIES.filter(lambda identity: identity.wiring is not None), PRINTS)
def test_who_a_board_is_waits_for_its_wiring(identity: Identity, other: str) -> None:
    """Met in the middle, whichever comes first; another wiring comes with the next word of who it is."""
    who, wiring = encode_who(identity), encode_wiring(identity.wiring or "")
    body = decode_by_the_page(wiring)[0]

    assert (body[0], body[1:].hex()) == (0x82, identity.wiring or "0" * 12)
    assert Decoder().feed(who + wiring) == [identity]
    assert Decoder().feed(wiring + who + wiring + who) == [identity, identity]
    assert Decoder().feed(wiring + who + encode_wiring(other) + who)[1:] == [
        replace(identity, wiring=other)
    ]
    assert Decoder().feed(who + who) == []
    older = encode_who(replace(identity, wiring=None))
    assert Decoder().feed(wiring + who + older + who) == [identity, replace(identity, wiring=None)]
    for damaged in (body[:-1], body + b"\0"):
        assert [type(event) for event in Decoder().feed(b"\0" + sealed(damaged))] == [Misfit]


@given(FRAMES)
def test_the_page_for_other_readers_tells_the_truth(frame: Frame) -> None:
    """A decoder written from FRAMES.md alone reads what the encoder wrote."""
    body, remainder = decode_by_the_page(encode(frame))

    assert remainder == 0
    assert body[0] == 1
    assert body[1] == len(frame.widths)
    assert int.from_bytes(body[3:5], "little") == frame.sequence
    assert int.from_bytes(body[5:9], "little") == frame.time_us
    assert [int.from_bytes(body[12 + 2 * k : 14 + 2 * k], "little") for k in range(body[1])] == list(
        frame.widths
    )


def test_the_worked_examples_decode() -> None:
    """The byte strings printed in FRAMES.md are what is described above them."""
    printed = re.findall(r"^    ((?:[0-9a-f]{2} )+00)$", PAGE.read_text(encoding="utf-8"), re.MULTILINE)

    events = Decoder().feed(bytes.fromhex(" ".join(printed)))

    assert events == [
        Frame(7, 140_000, (3000, 2001, 0), 0b101, 11_100),
        Frame(8, 160_000, (3000,), 1, None, BoardMix(2, (1500, -255))),
        Identity("ATmega328P", "7f099dfe2faf", 1, "3da13a33f4b7"),
        Identity("ATmega328P", "7f099dfe2faf", 1),
    ]


@given(STREAMS, st.randoms(use_true_random=False))
def test_any_split_gives_the_same_events(stream: bytes, chance: random.Random) -> None:
    """How the bytes are cut on their way changes nothing, down to one at a time."""
    whole = Decoder().feed(stream)
    singly = Decoder()
    cut = Decoder()
    cuts = sorted(chance.randrange(len(stream) + 1) for _ in range(chance.randrange(6)))

    one_by_one: list[Event] = [event for byte in stream for event in singly.feed(bytes([byte]))]
    in_pieces = [event for a, b in pairwise([0, *cuts, len(stream)]) for event in cut.feed(stream[a:b])]

    assert one_by_one == whole
    assert in_pieces == whole


@given(st.binary(max_size=2000), st.integers(0, 400))
def test_a_zero_brings_the_decoder_back_into_step(garbage: bytes, more: int) -> None:
    """After any garbage and one zero, the next frames arrive."""
    decoder = Decoder()
    decoder.feed(garbage + b"\x01" * more)
    frames = frames_in_a_row(3)

    events = decoder.feed(b"\0" + b"".join(map(encode, frames)))

    assert [event for event in events if isinstance(event, Frame)][-3:] == frames


@given(st.integers(0, 40), st.data())
def test_up_to_three_flipped_bits_never_pass(sequence: int, data: st.DataObject) -> None:
    """CRC-16 with 0x1021 finds every one-, two- and three-bit error of so short a frame."""
    body = decode_by_the_page(encode(Frame(sequence, 20_000, (3000, 2000, 0, 4000), 3, 8000)))[0]
    content = bytearray(body + check_of(body).to_bytes(2, "big"))
    places = st.lists(st.integers(0, 8 * len(content) - 1), min_size=1, max_size=3, unique=True)
    for place in data.draw(places):
        content[place // 8] ^= 1 << place % 8
    pieces = bytes(content).split(b"\0")
    wire = b"\0" + b"".join(bytes([len(piece) + 1]) + piece for piece in pieces) + b"\0"

    assert Decoder().feed(wire) == [BadCheck(len(wire) - 2)]


def test_lost_frames_are_counted_across_the_wrap() -> None:
    """Frames taken out of the stream are told before the next one, also where sequence and time wrap."""
    frames = frames_in_a_row(1200)
    kept = frames[:500] + frames[537:]

    events = Decoder().feed(b"".join(map(encode, kept)))

    assert events[500] == Lost(37)
    assert [event for event in events if not isinstance(event, Frame)] == [Lost(37)]


def test_a_restarted_board_is_no_loss() -> None:
    """When the board's clock goes back, that is a restart and the sequence starts anew."""
    decoder = Decoder()
    decoder.feed(encode(Frame(900, 18_000_000, (3000,))))

    assert decoder.feed(encode(Frame(0, 1_000, (3000,)))) == [Restarted(), Frame(0, 1_000, (3000,))]


@pytest.mark.parametrize("last", [7, 0xFFFE])
def test_a_late_tick_is_no_loss(last: int) -> None:
    """Frame 0 behind an identity with bit 4: the mix began anew, and nothing was lost on the cable."""
    late = encode_identity(Identity("ATmega328P", "7f099dfe2faf", 1 | LATE))
    before, after = encode(Frame(last, 140_000, (3000,))), encode(Frame(0, 181_000, (3000,)))
    events = Decoder().feed(before + late + after)
    assert [type(event) for event in events] == [Frame, Identity, BeganAnew, Frame]
    assert isinstance(events[1], Identity)
    assert (events[1].reasons(), events[1].late) == (("power came",), True)


def test_a_board_that_once_was_late_may_lose_frames_and_wrap() -> None:
    """Bit 4 stays set: what is lost later counts as lost, and a sequence that wraps is no late tick."""
    late = encode_identity(Identity("ATmega328P", "7f099dfe2faf", LATE))
    sent = encode(Frame(65_535, 140_000, (3000,))) + late + encode(Frame(0, 160_000, (3000,)))
    sent += late + encode(Frame(9, 340_000, (3000,))) + encode(Frame(0, 400_000, (3000,)))
    kinds = [type(event) for event in Decoder().feed(sent)]
    assert kinds == [Frame, Identity, Frame, Identity, Lost, Frame, Lost, Frame]


def test_each_damage_has_its_name() -> None:
    """Wrong check, unknown version, impossible fields, a stopped clock and plain noise are told apart."""
    good = Frame(1, 1000, (3000,))
    wire = encode(good)
    changed = wire[:-2] + bytes([wire[-2] ^ 1]) + b"\0"
    decoder = Decoder()

    assert decoder.feed(wire) == [good]
    assert decoder.feed(changed) == [BadCheck(len(wire) - 1)]
    assert decoder.feed(sealed(b"\x02\x09\x09")) == [WrongVersion(2)]
    assert decoder.feed(sealed(b"\x01\x11" + b"\xff" + bytes(9 + 34))) == [Misfit(49)]
    assert decoder.feed(sealed(b"\x01\x01\xff" + bytes(9))) == [Misfit(15)]
    assert decoder.feed(sealed(b"\x01\x00\x00" + bytes(9) + b"\x05")) == [Misfit(16)]
    assert decoder.feed(wire) == [Misfit(len(wire) - 1)]
    assert decoder.feed(b"\x09\x01\x00") == [Noise(2)]
    assert decoder.feed(b"\0\0\0") == []


def test_half_a_frame_after_opening_is_noise_not_damage() -> None:
    """What stands before the first zero may be half a frame; it is not held against the cable."""
    wire = encode(Frame(1, 1000, (3000, 2000, 2500)))

    assert [type(event) for event in Decoder().feed(wire[3:] + wire)] == [Noise, Frame]


def test_endless_garbage_is_told_in_time_and_not_kept() -> None:
    """A stream without a single zero (a wrong baud rate) gives noise as it goes, in bounded memory."""
    decoder = Decoder()

    events = [event for _ in range(1000) for event in decoder.feed(b"\xff" * 100)]

    assert events == [Noise(1024)] * (100_000 // 1024)
    assert len(decoder._pending) < LONGEST
    assert decoder.feed(b"\0") == [Noise(100_000 % 1024)]


@pytest.mark.parametrize(
    "frame",
    [
        Frame(-1, 0, ()),
        Frame(0, 2**32, ()),
        Frame(0, 0, (65536,)),
        Frame(0, 0, (1,) * 17),
        Frame(0, 0, (), 256),
        Frame(0, 0, (), 0, None, BoardMix(5, ())),
        Frame(0, 0, (), 0, None, BoardMix(0, (0,) * 25)),
        Frame(0, 0, (), 0, None, BoardMix(0, (40_000,))),
    ],
)
def test_what_does_not_fit_is_refused(frame: Frame) -> None:
    """A frame that the format cannot carry is refused, not bent."""
    with pytest.raises(ValueError, match=r"Frame|channels"):
        encode(frame)


def test_half_microseconds_round_up_and_missing_stays_missing() -> None:
    """Widths become the whole µs that a mix on the board sees."""
    assert Frame(0, 0, (3000, 3001, 0, 1)).pulses_us == (1500, 1501, 0, 1)


@given(st.integers(0, 2**32 - 1), st.integers(-(2**31), 2**31 - 1))
def test_device_time_differences_survive_the_wrap(start: int, step: int) -> None:
    """The difference of two wrapped times is the true one, within half the range."""
    assert microseconds_between(start, (start + step) % 2**32) == step


@settings(max_examples=20)
@given(st.binary(min_size=1, max_size=4000))
def test_no_bytes_raise(data: bytes) -> None:
    """Any bytes are answered with events."""
    assert all(isinstance(event, Event) for event in Decoder().feed(data))


@pytest.mark.long
@pytest.mark.timeout(600)
def test_ten_million_random_bytes_pass_no_more_than_the_check_must() -> None:
    """Fuzz: of 10^7 random bytes in random splits, no exception, few wrongly taken frames.

    Random bytes hold a zero every 256, so about 39,000 candidates; each passes the check with 2^-16 and
    would then have to fit version, counts and length as well. More than four that passed the check alone
    would be a broken check (p < 1e-3 by the Poisson tail at 0.6).
    """
    chance = random.Random(20240607)
    decoder = Decoder()
    passed = left = 0
    while left < 10_000_000:
        size = chance.randrange(1, 8000)
        left += size
        events = decoder.feed(chance.randbytes(size))
        passed += sum(isinstance(event, Frame | WrongVersion | Misfit) for event in events)

    assert passed <= 4
