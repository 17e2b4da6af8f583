"""A port and a decoder together, for as long as somebody looks: events, counts, and a pulled plug survived.

`poll` never raises for anything that happens on the way: a plug pulled is an `Unplugged`, and the port is
tried again until it is `Replugged`. Only the very first opening raises, because then a person is there who
mistyped. Clock and pause are handed in.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeAlias

from pydantic import computed_field

from mixer.board.frames import (
    BadCheck,
    BeganAnew,
    Decoder,
    Event,
    Frame,
    Lost,
    Misfit,
    Noise,
    Restarted,
    WrongVersion,
)
from mixer.errors import LinkError, PortGoneError, SilentBoardError, WrongDeviceError
from mixer.link.ports import Port
from mixer.runs.clock import Clock

RETRY_US = 500_000
QUIET_US = 1_000_000
GARBAGE_BYTES = 512
ZERO_BYTES = 16
"""So many zeros in a row are no ends of frames, of which each has one: they are a line that never rises."""


class MachineClock:
    """This machine's own monotonic clock: only for waiting and retrying, never for the log."""

    def now_us(self) -> int:
        """Microseconds since some start."""
        return time.monotonic_ns() // 1000


@dataclass(frozen=True, slots=True)
class Unplugged:
    """The port went away; it will be tried again."""

    said: str


@dataclass(frozen=True, slots=True)
class Replugged:
    """The port is back. The board may have been reset meanwhile."""


@dataclass(frozen=True, slots=True)
class Quiet:
    """The port is open but nothing has come for a second. Told once, until something comes."""


@dataclass(frozen=True, slots=True)
class Unreadable:
    """Plenty of bytes and no frame among them: another baud rate, or another device. Told once."""


@dataclass(frozen=True, slots=True)
class HeldLow:
    """Nothing but zeros: the wire that should carry the frames is held low. Told once, until more comes."""


SessionEvent: TypeAlias = Event | HeldLow | Unplugged | Replugged | Quiet | Unreadable


@dataclass(frozen=True, slots=True)
class Counts:
    """What has come and what has not, since the session began."""

    frames: int = 0
    lost: int = 0
    bad: int = 0
    """Frames with a wrong check, or misfits."""
    noise_bytes: int = 0
    restarts: int = 0
    unplugged: int = 0
    late: int = 0
    """How often a mix on the board began anew because a tick came late."""

    @computed_field
    @property
    def drop_rate(self) -> float:
        """Lost frames as a share of all that were sent, 0 to 1."""
        sent = self.frames + self.lost
        return self.lost / sent if sent else 0.0


def counted(counts: Counts, event: SessionEvent) -> Counts:
    """The counts after one more event."""
    match event:
        case Frame():
            counts = replace(counts, frames=counts.frames + 1)
        case Lost(count):
            counts = replace(counts, lost=counts.lost + count)
        case BadCheck() | Misfit() | WrongVersion():
            counts = replace(counts, bad=counts.bad + 1)
        case Noise(size):
            counts = replace(counts, noise_bytes=counts.noise_bytes + size)
        case Restarted():
            counts = replace(counts, restarts=counts.restarts + 1)
        case BeganAnew():
            counts = replace(counts, late=counts.late + 1)
        case Unplugged():
            counts = replace(counts, unplugged=counts.unplugged + 1)
    return counts


class LinkSession:
    """Polls one board. Not for sharing between threads."""

    def __init__(
        self,
        opener: Callable[[], Port],
        clock: Clock | None = None,
        pause: Callable[[float], None] = time.sleep,
    ) -> None:
        """Open the port. Raises the opener's LinkError when that fails the first time."""
        self._opener = opener
        self._clock = clock or MachineClock()
        self._pause = pause
        self.counts = Counts()
        self._port: Port | None = opener()
        self._decoder = Decoder()
        self._last_byte_us = self._tried_us = self._clock.now_us()
        self._told_quiet = False
        self.zeros = 0
        """How many zeros have come since anything else did."""
        self._unread = 0
        """Bytes since the last frame; -1 once `Unreadable` has been told."""

    def poll(self, wait_s: float) -> list[SessionEvent]:
        """What has happened, waiting at most about `wait_s` for the first byte."""
        events = self._poll_port(self._port, wait_s) if self._port else self._try_again(wait_s)
        for event in events:
            self.counts = counted(self.counts, event)
        return events

    def close(self) -> None:
        """Give the port back."""
        if self._port:
            self._port.close()
            self._port = None
        self._tried_us = self._clock.now_us()

    def write(self, data: bytes) -> None:
        """Send bytes to the board. Raises PortGoneError while it is unplugged."""
        if self._port is None:
            raise PortGoneError("the board is unplugged", "plug it in again")
        self._port.write(data)

    def _poll_port(self, port: Port, wait_s: float) -> list[SessionEvent]:
        try:
            data = port.read(wait_s)
        except LinkError as error:
            self.close()
            return [Unplugged(error.said)]
        events: list[SessionEvent] = [*self._decoder.feed(data), *self._low(data)]
        return events + self._remarks(len(data), any(isinstance(event, Frame) for event in events))

    def _low(self, data: bytes) -> list[SessionEvent]:
        """A line held low reads as zeros, one after the other (or one for each break that is seen)."""
        before = self.zeros
        risen = data.rstrip(b"\0")
        self.zeros = len(data) - len(risen) if risen else before + len(data)
        return [HeldLow()] if before < ZERO_BYTES <= self.zeros else []

    def _remarks(self, size: int, framed: bool) -> list[SessionEvent]:
        now = self._clock.now_us()
        if size:
            self._last_byte_us = now
            self._told_quiet = False
        elif not self._told_quiet and now - self._last_byte_us >= QUIET_US:
            self._told_quiet = True
            return [Quiet()]
        if framed:
            self._unread = 0
        elif self._unread >= 0:
            self._unread += size
            if self._unread >= GARBAGE_BYTES:
                self._unread = -1
                return [Unreadable()]
        return []

    def _try_again(self, wait_s: float) -> list[SessionEvent]:
        now = self._clock.now_us()
        left_us = self._tried_us + RETRY_US - now
        if left_us > 0:
            self._pause(min(wait_s, left_us / 1e6))
            return []
        self._tried_us = now
        try:
            self._port = self._opener()
        except LinkError:
            return []
        self._decoder = Decoder()
        self._last_byte_us = self._clock.now_us()
        self._told_quiet = False
        self._unread = 0
        return [Replugged()]


def await_board(session: LinkSession, clock: Clock, within_s: float = 3.0) -> Frame:
    """The first frame, or an error that says why there is none.

    Raises:
        SilentBoardError: nothing came at all.
        WrongDeviceError: bytes came, but none that make a frame of this version; or only zeros.
        PortGoneError: the port went away.
    """
    end = clock.now_us() + int(within_s * 1e6)
    version = 0
    while clock.now_us() < end:
        for event in session.poll(0.05):
            match event:
                case Frame():
                    return event
                case Unplugged(said):
                    raise PortGoneError(said, "plug the board in again, then start anew")
                case WrongVersion(number):
                    version = number
    counts = session.counts
    if version:
        said = f"the board speaks version {version} of the frames"
        raise WrongDeviceError(
            said, "load the pulse reader that belongs to this Stickwright onto the board"
        )
    if counts.noise_bytes or counts.bad:
        said = f"{counts.noise_bytes} bytes came in {within_s:g} s, and no frame among them"
        raise WrongDeviceError(said, "check the baud rate, and that this port is the pulse reader's")
    if session.zeros:
        said = f"only zeros came in {within_s:g} s: the wire that carries the frames is held low"
        remedy = "is the board's TX on this adapter's RX and nowhere on ground, its level not inverted?"
        raise WrongDeviceError(said, remedy)
    remedy = "is the board powered, its TX on this adapter's RX, and ground on ground?"
    raise SilentBoardError(f"the port is open, and nothing came for {within_s:g} s", remedy)
