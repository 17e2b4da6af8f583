"""A session: counts, a pulled plug survived, and plain words for silence and garbage."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from mixer.board.frames import Frame, Lost, Noise, Restarted, check_of, encode
from mixer.errors import LinkError, NoPortError, PortGoneError, SilentBoardError, WrongDeviceError
from mixer.link.ports import Port
from mixer.link.serial_port import open_serial
from mixer.link.session import HeldLow, LinkSession, Quiet, Replugged, Unplugged, Unreadable, await_board
from tests.clocks import HandClock
from tests.link.frame_strategies import frames_in_a_row
from tests.link.loopback import LoopbackPort, loopback_pair
from tests.link.ptys import PtyFarEnd

ANOTHER_VERSION = b"\x06\x02\x09\x09" + check_of(b"\x02\x09\x09").to_bytes(2, "big") + b"\0"


class Socket:
    """A place to plug boards into: gives a new loopback at each opening, or refuses."""

    def __init__(self) -> None:
        self.far: LoopbackPort | None = None
        self.refuses: LinkError | None = None

    def open(self) -> Port:
        """A port, or the error that is set."""
        if self.refuses:
            raise self.refuses
        near, self.far = loopback_pair("socket")
        return near


def session_on(socket: Socket, clock: HandClock) -> LinkSession:
    """A session that pauses by turning the clock."""
    return LinkSession(socket.open, clock, lambda seconds: clock.advance(round(seconds * 1e6)))


def test_counts_follow_the_events() -> None:
    """Frames, losses and noise are counted; the drop rate is lost over sent."""
    socket, clock = Socket(), HandClock()
    session = session_on(socket, clock)
    frames = frames_in_a_row(10)
    assert socket.far
    socket.far.write(b"\x07\x07\0" + b"".join(map(encode, frames[:4] + frames[6:])))

    events = session.poll(0)

    assert events[0] == Noise(2)
    assert Lost(2) in events
    assert (session.counts.frames, session.counts.lost, session.counts.noise_bytes) == (8, 2, 2)
    assert session.counts.drop_rate == pytest.approx(0.2)


def test_a_pulled_plug_is_told_and_survived() -> None:
    """Unplugged once, tried again each half second, replugged, and frames go on without a false loss."""
    socket, clock = Socket(), HandClock()
    session = session_on(socket, clock)
    assert socket.far
    socket.far.write(encode(Frame(50, 1_000_000, (3000,))))
    session.poll(0)
    socket.far.close()
    socket.refuses = NoPortError("there is no port", "")

    assert [type(event) for event in session.poll(0.1)] == [Unplugged]
    assert all(session.poll(0.1) == [] for _ in range(12))
    assert clock.now_us() >= 1_000_000, "waiting for the port must not spin"
    with pytest.raises(PortGoneError):
        session.write(b"x")
    socket.refuses = None
    events = [event for _ in range(12) for event in session.poll(0.1)]
    socket.far.write(encode(Frame(3, 60_000, (3000,))))

    assert events[-1:] == [Replugged()] or Replugged() in events
    assert session.poll(0) == [Frame(3, 60_000, (3000,))]
    assert session.counts.lost == 0


def test_the_first_opening_raises() -> None:
    """Somebody who mistyped is told at once."""
    socket = Socket()
    socket.refuses = NoPortError("there is no port x", "there is y")

    with pytest.raises(NoPortError):
        session_on(socket, HandClock())


def test_silence_is_told_once() -> None:
    """A second without bytes is one remark, until something comes again."""
    socket, clock = Socket(), HandClock()
    session = session_on(socket, clock)
    clock.advance(1_000_000)

    assert session.poll(0) == [Quiet()]
    clock.advance(5_000_000)
    assert session.poll(0) == []
    assert socket.far
    socket.far.write(encode(Frame(0, 1, ())))
    assert session.poll(0) == [Frame(0, 1, ())]
    clock.advance(1_000_000)
    assert session.poll(0) == [Quiet()]


def test_a_wire_held_low_is_told_once() -> None:
    """Zeros without end are remarked on as what they are; the ends of frames are none."""
    socket, clock = Socket(), HandClock()
    session = session_on(socket, clock)
    assert socket.far
    events = []
    for _ in range(9):
        socket.far.write(bytes(5))
        events += session.poll(0)
    assert events == [HeldLow()]
    for number in range(40):
        socket.far.write(encode(Frame(number, 20_000 * number + 1, (3000,))))
        events += session.poll(0)
    assert events.count(HeldLow()) == 1


def test_garbage_is_told_once() -> None:
    """Bytes that never make a frame are remarked on as such: a wrong baud rate or another device."""
    socket, clock = Socket(), HandClock()
    session = session_on(socket, clock)
    assert socket.far
    events = []
    for _ in range(50):
        socket.far.write(b"\xf8\x80\x00\x78" * 16)
        events += session.poll(0)

    assert events.count(Unreadable()) == 1


@pytest.mark.parametrize(
    ("sent", "error", "match"),
    [
        (b"", SilentBoardError, r"^the port is open, and nothing came for 3 s"),
        (b"\xf8\x80\x00\x78" * 16, WrongDeviceError, r"bytes came in 3 s, and no frame among them"),
        (bytes(64), WrongDeviceError, r"^only zeros came in 3 s: the wire .* is held low"),
        (ANOTHER_VERSION, WrongDeviceError, r"^the board speaks version 2 of the frames"),
    ],
    ids=["silence", "garbage", "held low", "another version"],
)
def test_waiting_for_a_board_that_is_none(sent: bytes, error: type[LinkError], match: str) -> None:
    """Silence and garbage each get their own message."""
    socket = Socket()

    class Ticking(HandClock):
        def now_us(self) -> int:
            self.advance(400_000)
            return super().now_us()

    clock = Ticking()
    session = session_on(socket, clock)
    assert socket.far
    socket.far.write(sent)

    with pytest.raises(error, match=match):
        await_board(session, clock)


@pytest.mark.needs_tool("serial")
def test_replug_by_reopening_the_same_path(tmp_path: Path) -> None:
    """Over real serial ports: the device behind a path vanishes, comes back, and frames flow again."""
    path = tmp_path / "board"
    clock = HandClock()

    def plug() -> PtyFarEnd:
        far = PtyFarEnd()
        path.unlink(missing_ok=True)
        path.symlink_to(far.path)
        return far

    def until(session: LinkSession, wanted: Callable[[object], bool]) -> object:
        for _ in range(200):
            for event in session.poll(0.02):
                if wanted(event):
                    return event
            clock.advance(100_000)
        raise AssertionError("what was waited for did not come")

    far = plug()
    session = LinkSession(lambda: open_serial(os.fspath(path)), clock, lambda _: None)
    far.write(encode(Frame(0, 1, (3000,))))
    assert until(session, lambda event: isinstance(event, Frame))
    far.close()
    path.unlink()
    assert until(session, lambda event: isinstance(event, Unplugged))
    again = plug()
    assert until(session, lambda event: isinstance(event, Replugged))
    again.write(encode(Frame(7, 9, (3000,))))

    assert until(session, lambda event: isinstance(event, Frame | Restarted)) == Frame(7, 9, (3000,))
    session.close()
    again.close()
