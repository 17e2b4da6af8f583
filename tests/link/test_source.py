"""A pulse reader on a port as a source."""

import re
import time
from collections.abc import Callable

import pytest

from mixer.board.frames import Frame, Identity, encode
from mixer.errors import NoPortError
from mixer.link.session import LinkSession
from mixer.link.source import open_source
from mixer.live.views.snapshot import Snapshot
from mixer.profile.aboard import Tunings
from tests.link.frame_strategies import encode_identity
from tests.link.identities import identity_of
from tests.link.loopback import LoopbackPort, loopback_pair
from tests.live.benches import Bench


class Board:
    """The far end of a cable: sends frames, can be pulled out and put back."""

    def __init__(self) -> None:
        self.sequence = 0
        self.near: LoopbackPort | None = None
        self.plug_in()

    def plug_in(self) -> None:
        """A fresh pair of ends."""
        self.next, self.far = loopback_pair()
        self.there = True

    def pull(self) -> None:
        """The cable comes out."""
        self.there = False
        self.far.close()

    def open(self) -> LoopbackPort:
        """The near end, where there is one."""
        if not self.there:
            raise NoPortError("there is no port", "plug it in")
        return self.next

    def send(self, pulses: tuple[int, ...], contacts: int = 0b1010) -> None:
        """One frame."""
        self.sequence += 1
        widths = tuple(2 * pulse for pulse in pulses)
        self.far.write(encode(Frame(self.sequence, self.sequence * 20_000, widths, contacts, 12_400, None)))


REST = (1500, 1502, 1500, 1234, 1000, 1000)
"""The carrier leaves the receiver's fourth channel alone."""


@pytest.fixture
def board() -> Board:
    """A board nobody has opened yet."""
    return Board()


def tunings_of(bench: Bench) -> Tunings:
    """What is in use on a bench."""
    return Tunings(bench.session.tuning.profile, bench.session.tuning.loadout)


def connect(bench: Bench, board: Board) -> None:
    """Open the link, without its own thread: tests poll it by hand."""
    session = LinkSession(board.open, pause=lambda _: None)
    bench.session.connect(open_source("loopback", tunings_of(bench), lambda: session))


def until(bench: Bench, holds: Callable[[Snapshot], bool], board: Board | None = None) -> Snapshot:
    """Frames of the clock until something holds; the reader's thread gets real time to run."""
    for _ in range(400):
        if board is not None and board.there:
            board.send(REST)
        snapshot = bench.run(1 / 30)
        if holds(snapshot):
            return snapshot
        time.sleep(0.005)
    raise AssertionError(snapshot.link)


def test_frames_drive_the_robot(bench: Bench, board: Board) -> None:
    """Pulses and contacts of the board are what the firmware reads; the counters count them."""
    connect(bench, board)
    assert bench.run(1 / 30).link.state in ("waiting", "connected")
    snapshot = until(
        bench, lambda seen: seen.link.state == "connected" and seen.channels[1].pulse_us == 1502, board
    )
    assert snapshot.transport.mode == "link"
    assert snapshot.link.frames > 0
    assert [contact.reading for contact in snapshot.contacts] == [0, 1, 0, 1]
    board.send((1600, 1502, 1500, 1234, 1000, 1000), 0b0101)
    snapshot = until(bench, lambda seen: seen.channels[0].arrived_us == 1600)
    assert [contact.reading for contact in snapshot.contacts] == [1, 0, 1, 0]


def test_a_link_opened_for_another_loadout_goes_by_the_bench(bench: Bench, board: Board) -> None:
    """The bare carrier has no contacts: what a link of the whole one knows of them would fit no tick."""
    whole = tunings_of(bench)
    bench.session.change_loadout("bare")
    assert len(bench.session.snapshot().contacts) < len(whole.plan.contacts)
    link = open_source("loopback", whole, lambda: LinkSession(board.open, pause=lambda _: None))
    bench.session.connect(link)
    assert bench.run(1 / 30).link.state in ("waiting", "connected")


def test_a_board_with_another_mix_is_told(bench: Bench, board: Board) -> None:
    """What a board runs is shown and told once; a mix of which nothing is known is told as that."""
    prints = bench.session.tuning.profile.fingerprint()
    connect(bench, board)
    for runs, kind in (("", ""), ("0123456789ab", "unknown"), (prints, "this")):
        board.far.write(encode_identity(Identity("ATmega328P", runs, 1)))
        said = "ATmega328P", kind
        until(bench, lambda seen, said=said: (seen.link.board.name, seen.link.board.runs) == said, board)
    bench.run(1 / 30)  # what is told follows in the next picture
    told = [words for words in bench.words("link") if words.startswith("the board is ATmega328P: ")]
    assert [re.split("[,;]", words.partition(": ")[2])[0] for words in told] == [
        "it runs no mix",
        "it runs 0123456789ab",
        f"it runs {prints}",
    ]


def test_what_is_hidden_is_not_given_away_by_the_board(bench: Bench, board: Board) -> None:
    """While a blind comparison runs, what the board's mix differs in would say which tuning is in use."""
    tuning = bench.session.tuning
    connect(bench, board)
    board.far.write(encode_identity(identity_of(tuning.profile, board="rp2040")))
    until(bench, lambda seen: seen.link.board.runs == "this", board)
    assert tuning.set("shape.crawl.expo", 0.31) == ""
    tuning.hidden = True
    for _ in range(20):
        board.send(REST)
        assert bench.run(1 / 30).link.board.runs == "this"
        time.sleep(0.01)
    tuning.hidden = False
    seen = until(bench, lambda seen: seen.link.board.runs == "other", board)
    assert "shape.crawl.expo: 0.2 -> 0.31" in seen.link.board.told


def test_a_pulled_plug_is_shown_and_heals(bench: Bench, board: Board) -> None:
    """Pulled: lost, told, and the guard stops the robot by its own rules; plugged in again it is back."""
    connect(bench, board)
    until(bench, lambda seen: seen.guard.state == "resting", board)
    board.pull()
    lost = until(bench, lambda seen: seen.link.state == "lost")
    assert lost.link.unplugged == 1
    stopped = until(bench, lambda seen: seen.guard.state == "stopped")
    assert "no signal" in stopped.guard.why[0]
    board.plug_in()
    back = until(bench, lambda seen: seen.link.state == "connected" and seen.guard.signal, board)
    assert back.guard.state == "resting"
    words = bench.words("link")
    assert [word for word in words if "gone away" in word]
    assert bench.words("rule") == []


def test_an_open_link_without_frames_is_called_quiet(bench: Bench, board: Board) -> None:
    """Two tenths of a second without a frame, and it shows, though the port is open."""
    connect(bench, board)
    until(bench, lambda seen: seen.link.state == "connected", board)
    ticks = bench.session.snapshot().tick
    quiet = until(bench, lambda seen: seen.link.state == "quiet")
    assert (quiet.tick - ticks) * 0.002 < 0.4


def test_a_port_that_is_not_there_changes_nothing(bench: Bench) -> None:
    """The error is the port's own, and the hands stay the source."""

    def missing() -> LinkSession:
        raise NoPortError("there is no port /dev/none", "plug it in")

    with pytest.raises(NoPortError):
        bench.session.connect(open_source("/dev/none", tunings_of(bench), missing))
    assert bench.run(0.1).transport.mode == "hand"
    assert bench.session.link is None


def test_a_reader_that_dies_is_shown(bench: Bench) -> None:
    """Whatever ends the thread stands in the link's words instead of vanishing."""

    class Broken(LinkSession):
        """Opens, then fails in a way nobody foresaw."""

        def poll(self, wait_s: float) -> list[object]:  # type: ignore[override]
            """Fail."""
            del wait_s
            raise RuntimeError("unforeseen")

    board = Board()
    bench.session.connect(open_source("loopback", tunings_of(bench), lambda: Broken(board.open)))
    snapshot = until(bench, lambda seen: seen.link.state == "lost")
    assert "unforeseen" in snapshot.link.words
