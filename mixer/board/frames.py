"""What the pulse reader says, byte by byte: a pure codec, bytes in and events out, no I/O.

On the wire a frame is ``COBS(body + check) + 00``. COBS (Cheshire and Baker, IEEE/ACM Transactions on
Networking 7(2), 1999) takes every zero out of the content, so that a zero always ends a frame: a reader
that starts in the middle, or meets garbage, is in step again at the next zero. `check` is CRC-16/IBM-3740
(polynomial 1021, start FFFF, not reflected, no final xor; "123456789" gives 29B1), high byte first, which
is ``binascii.crc_hqx(body, 0xFFFF)``; over body and check together it is 0.

The body of version 1, numbers unsigned and low byte first unless said otherwise:

    offset  bytes  field
    0       1      version, 1. Stays the first byte, and the check the last two, in every later version
    1       1      n, the number of channels, 0 to 16
    2       1      m, the number of outputs of a mix on the board, 0 to 24; FF where no mix runs there
    3       2      sequence, one more in each frame, wraps after 65535; 0 after a restart
    5       4      device time of the frame in µs, wraps after 2³² (71.6 minutes)
    9       1      contacts: bit k is the level read at input k (1 = high), not its meaning
    10      2      battery in mV; FFFF where it is not measured
    12      2n     pulse widths in half µs; 0 where no pulse came since the frame before
    12+2n   1      only with a mix: the guard's state, 0 to 4 as in `mixer.core.plan.Guard`
    13+2n   2m     only with a mix: what each output's wire carries, signed

Two more say which board this is, sent at the start and from time to time. The one that tells what runs
there has 129 first:

    0       1      129
    1       1      why the board started last: bits 0 power on, 1 reset pin, 2 supply too low, 3 watchdog,
                   4 its mix began anew without a start, since a tick came late; 0 where it cannot tell;
                   bit 5: it tells its wiring too, as firmware did not in the beginning
                   bit 6: since then more edges came than it had room for, and pulses were dropped
    2       6      the fingerprint of the mix on the board, its first hex digit the high half of the first
                   byte; all zero where none runs there
    8       n      the board's name, 1 to 16 printable ASCII characters

The one that tells its wiring, before the other at the start and in turn with it later, has 130:

    0       1      130
    1       6      the fingerprint of the wiring it is built for, likewise; all zero for one built without

A tick that comes late stops the robot: outputs at rest at once, the mix begun anew, bit 4 set from then on,
an identity frame, and frames go on from sequence 0 while device time goes on as it was.

With a mix on board there is one frame a tick, and its inputs are the frame's own: pulses in µs are
``(width + 1) >> 1``, contacts the bits above. So a reader with the same plan can run the same tick and
compare.

Longest body 93 bytes, longest frame on the wire 97 (`LONGEST`). FRAMES.md beside this file says the same to
people who write a reader in another language, with a worked example that the tests decode.
"""

import struct
from binascii import crc_hqx
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeAlias

from mixer.errors import MissingToolError

VERSION = 1
IDENTITY, WIRING = 129, 130
LONGEST_NAME = 16
MOST_CHANNELS = 16
MOST_CONTACTS = 8
MOST_OUTPUTS = 24
NO_MIX = 0xFF
NOT_MEASURED = 0xFFFF
LONGEST = 12 + 2 * MOST_CHANNELS + 1 + 2 * MOST_OUTPUTS + 2 + 2
"""Bytes of the longest frame on the wire: body, check, one byte of COBS overhead, the closing zero."""
NOISE_REPORT = 1024
"""How much more unended garbage makes the next `Noise`, so that a wrong baud rate is noticed at once."""

_CHECK_START = 0xFFFF
_HEAD = struct.Struct("<BBBHIBH")
_WIDTHS = tuple(struct.Struct(f"<{count}H") for count in range(MOST_CHANNELS + 1))
_OUTPUTS = tuple(struct.Struct(f"<B{count}h") for count in range(MOST_OUTPUTS + 1))
_HIGHEST_GUARD = 4
_IDENTITY_HEAD = struct.Struct("<BB6s")
_WIRING = struct.Struct("<B6s")
_STARTS = (
    "power came",
    "its reset pin was pulled",
    "its supply was too low",
    "its watchdog had waited in vain",
)
LATE = 16
"""The bit of `started` that is set from the first late tick on."""
_TELLS_WIRING = 32
"""The bit beside it on the wire that is set where the wiring is told."""
FLOODED = 64
"""The bit that is set from the first time on that more edges came than the board had room for."""


@dataclass(frozen=True, slots=True)
class BoardMix:
    """What a mix that runs on the board made of this frame's pulses and contacts."""

    guard: int
    """The guard's state after the tick, 0 to 4."""
    wires: tuple[int, ...]
    """What each output's wire carries: µs, or a signed duty count."""


@dataclass(frozen=True, slots=True)
class Frame:
    """One reading of all wires."""

    sequence: int
    time_us: int
    """Device time, modulo 2³²."""
    widths: tuple[int, ...]
    """Half µs, one for each channel; 0 where no pulse came."""
    contacts: int = 0
    battery_mv: int | None = None
    mix: BoardMix | None = None

    @property
    def pulses_us(self) -> tuple[int, ...]:
        """Widths in whole µs, halves rounded up, as a mix on the board sees them; 0 where none came."""
        return tuple((width + 1) >> 1 for width in self.widths)

    def level(self, contact: int) -> int:
        """0 or 1: the level read at a contact."""
        return (self.contacts >> contact) & 1


@dataclass(frozen=True, slots=True)
class Identity:
    """Which board this is, what runs on it, and why it started last."""

    board: str
    fingerprint: str
    """Twelve hex digits of the profile whose mix runs there; empty where none does."""
    started: int = 0
    """Bits 0 to 4 and 6, as on the wire; 0 where the board cannot tell."""
    wiring: str | None = None
    """Twelve hex digits of the wiring it is built for; empty for a bare reader without a wiring.h, None for
    firmware too old to say."""

    def reasons(self) -> tuple[str, ...]:
        """Why it started last, in words."""
        return tuple(words for bit, words in enumerate(_STARTS) if self.started >> bit & 1)

    @property
    def story(self) -> str:
        """Why it started last and what has been since, in words; empty where it cannot tell."""
        reasons = " and ".join(self.reasons())
        said = [f"it started because {reasons}"] if reasons else []
        if self.late:
            said.append("a tick has come late since")
        if self.flooded:
            said.append("noise has made it drop pulses since")
        return ", ".join(said)

    @property
    def late(self) -> bool:
        """Whether a tick has come late since it started."""
        return bool(self.started & LATE)

    @property
    def flooded(self) -> bool:
        """Whether noise has made more edges since it started than it had room for."""
        return bool(self.started & FLOODED)


@dataclass(frozen=True, slots=True)
class Lost:
    """Frames that the board sent and that never arrived whole; stands before the frame that shows it."""

    count: int


@dataclass(frozen=True, slots=True)
class Restarted:
    """The board's clock went back: a reset, or another board. Stands before its first frame."""


@dataclass(frozen=True, slots=True)
class BeganAnew:
    """A tick came late on the board: its outputs went to rest and its mix began anew.

    Stands before the first frame after that; device time has gone on.
    """


@dataclass(frozen=True, slots=True)
class BadCheck:
    """A frame whose check does not fit: bytes were changed on the way."""

    size: int


@dataclass(frozen=True, slots=True)
class WrongVersion:
    """A whole frame in a version this reader does not know."""

    version: int


@dataclass(frozen=True, slots=True)
class Misfit:
    """A whole frame whose fields contradict each other, or its length, or whose clock stands still."""

    size: int


@dataclass(frozen=True, slots=True)
class Noise:
    """Bytes that are no frame: half of one after opening, another baud rate, another device."""

    size: int


Event: TypeAlias = (
    Frame | Identity | Lost | Restarted | BeganAnew | BadCheck | WrongVersion | Misfit | Noise
)


def _stuffing() -> tuple[Callable[[bytes], bytes], Callable[[bytes], bytes], type[Exception]]:
    """COBS both ways and its error, from the package `cobs`."""
    try:
        from cobs import cobs  # type: ignore[import-untyped]  # noqa: PLC0415
    except ImportError:
        raise MissingToolError("frames need the package cobs", "pip install pyserial cobs") from None
    return cobs.encode, cobs.decode, cobs.DecodeError


def check_of(body: bytes) -> int:
    """CRC-16/IBM-3740 of the body (RevEng catalogue; also known as CCITT-FALSE)."""
    return crc_hqx(body, _CHECK_START)


def encode(frame: Frame) -> bytes:
    """The frame as it stands on the wire, closing zero included.

    Raises:
        ValueError: a field does not fit its place in the table above.
    """
    mix = frame.mix
    channels, outputs = len(frame.widths), NO_MIX if mix is None else len(mix.wires)
    if channels > MOST_CHANNELS or (
        mix is not None and (outputs > MOST_OUTPUTS or mix.guard > _HIGHEST_GUARD)
    ):
        raise ValueError(f"{channels} channels, {mix}: at most {MOST_CHANNELS}, and {MOST_OUTPUTS} outputs")
    battery = NOT_MEASURED if frame.battery_mv is None else min(frame.battery_mv, NOT_MEASURED - 1)
    try:
        body = _HEAD.pack(
            VERSION, channels, outputs, frame.sequence, frame.time_us, frame.contacts, battery
        )
        body += _WIDTHS[channels].pack(*frame.widths)
        if mix is not None:
            body += _OUTPUTS[outputs].pack(mix.guard, *mix.wires)
    except struct.error as error:
        raise ValueError(f"{frame}: {error}") from None
    stuff, _, _ = _stuffing()
    return stuff(body + check_of(body).to_bytes(2, "big")) + b"\0"


class Decoder:
    """Takes bytes in any split and gives events: the same bytes, however split, the same events.

    Never raises on any bytes and keeps at most `LONGEST` of them. A frame with a wrong check is told
    twice, as `BadCheck` when it ends and within the `Lost` that the next frame's sequence shows; so
    losses are counted from `Lost` alone.
    """

    def __init__(self) -> None:
        self._pending = b""
        self._skipped = 0
        """Bytes since the last zero that can be no frame any more; 0 while one still can."""
        self._in_step = False
        """Whether a zero has been seen: what comes before the first may be half a frame."""
        self._last: Frame | None = None
        self._told_late = False
        """Whether the board has told of a late tick since the last frame."""
        self._wiring: str | None = None
        """What the board has told of its wiring; None before, and of one that does not tell."""
        self._waits: Identity | None = None
        """Who the board is, until it has told its wiring."""
        _, self._unstuff, self._stuffing_error = _stuffing()

    def feed(self, data: bytes) -> list[Event]:
        """The events these bytes complete, in their order."""
        events: list[Event] = []
        *ended, rest = data.split(b"\0")
        for part in ended:
            self._end(part, events)
        self._keep(rest, events)
        return events

    def _end(self, part: bytes, events: list[Event]) -> None:
        if self._skipped or len(self._pending) + len(part) >= LONGEST:
            self._keep(part, events)
            left = self._skipped % NOISE_REPORT
            if left:
                events.append(Noise(left))
        elif self._pending or part:
            self._understand(self._pending + part, events)
        self._pending = b""
        self._skipped = 0
        self._in_step = True

    def _keep(self, part: bytes, events: list[Event]) -> None:
        """Hold on to bytes of a frame not yet ended, or count them once they are too many for one."""
        if not self._skipped and len(self._pending) + len(part) < LONGEST:
            self._pending += part
            return
        before = self._skipped
        self._skipped += len(self._pending) + len(part)
        self._pending = b""
        reports = self._skipped // NOISE_REPORT - before // NOISE_REPORT
        events.extend(Noise(NOISE_REPORT) for _ in range(reports))

    def _understand(self, coded: bytes, events: list[Event]) -> None:
        try:
            content = self._unstuff(coded)
        except self._stuffing_error:
            events.append(Noise(len(coded)))
            return
        if len(content) <= 2 or crc_hqx(content, _CHECK_START):
            events.append(BadCheck(len(coded)) if self._in_step else Noise(len(coded)))
        elif content[0] in (IDENTITY, WIRING):
            told = self._spoken(content)
            events.extend((Misfit(len(coded)),) if told is None else told)
        elif content[0] != VERSION:
            events.append(WrongVersion(content[0]))
        else:
            frame = _frame_of(content)
            events.extend((Misfit(len(coded)),) if frame is None else self._in_sequence(frame, len(coded)))

    def _spoken(self, content: bytes) -> tuple[Event, ...] | None:
        """What a board has said of itself, once it has said it whole; None where the fields do not fit."""
        if content[0] == WIRING:
            if len(content) != _WIRING.size + 2:
                return None
            self._wiring = _digits(_WIRING.unpack_from(content)[1])
            whole, self._waits = self._waits, None
            return () if whole is None else (replace(whole, wiring=self._wiring),)
        identity = _identity_of(content)
        self._told_late = identity is not None and identity.late
        if identity is None:
            return None
        if not content[1] & _TELLS_WIRING:
            self._wiring = self._waits = None
            return (identity,)
        if self._wiring is None:
            self._waits = identity
            return ()
        return (replace(identity, wiring=self._wiring),)

    def _in_sequence(self, frame: Frame, size: int) -> tuple[Event, ...]:
        last, self._last = self._last, frame
        told_late, self._told_late = self._told_late, False
        if last is None:
            return (frame,)
        passed = microseconds_between(last.time_us, frame.time_us)
        if passed <= 0:
            return (Restarted(), frame) if passed else (Misfit(size),)
        lost = (frame.sequence - last.sequence - 1) & 0xFFFF
        if told_late and lost and frame.sequence == 0:
            return (BeganAnew(), frame)
        return (Lost(lost), frame) if lost else (frame,)


def microseconds_between(earlier: int, later: int) -> int:
    """From one device time to another, both modulo 2³²: within ±2³¹ µs (35.8 minutes)."""
    return ((later - earlier + 0x80000000) & 0xFFFFFFFF) - 0x80000000


def _identity_of(content: bytes) -> Identity | None:
    """A checked body with its check, as the board's account of itself; None where the fields do not fit."""
    name = content[_IDENTITY_HEAD.size : -2]
    if not (1 <= len(name) <= LONGEST_NAME and all(0x20 <= letter < 0x7F for letter in name)):
        return None
    _, started, mix = _IDENTITY_HEAD.unpack_from(content)
    return Identity(name.decode("ascii"), _digits(mix), started & (127 - _TELLS_WIRING))


def _digits(fingerprint: bytes) -> str:
    return fingerprint.hex() if any(fingerprint) else ""


def _frame_of(content: bytes) -> Frame | None:
    """A checked body of version 1 with its check, as a frame; None where the fields do not fit."""
    if len(content) < _HEAD.size + 2:
        return None
    _, channels, outputs, sequence, time_us, contacts, battery = _HEAD.unpack_from(content)
    end = _HEAD.size + 2 * channels
    size = end + 2 if outputs == NO_MIX else end + 1 + 2 * outputs + 2
    if channels > MOST_CHANNELS or (outputs > MOST_OUTPUTS and outputs != NO_MIX) or len(content) != size:
        return None
    mix = None
    if outputs != NO_MIX:
        guard, *wires = _OUTPUTS[outputs].unpack_from(content, end)
        if guard > _HIGHEST_GUARD:
            return None
        mix = BoardMix(guard, tuple(wires))
    widths = _WIDTHS[channels].unpack_from(content, _HEAD.size)
    return Frame(sequence, time_us, widths, contacts, None if battery == NOT_MEASURED else battery, mix)
