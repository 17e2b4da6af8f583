"""The guided receiver test on the bench, with a simulated receiver and person at the link."""

import asyncio
import json
from pathlib import Path

from mixer.board.frames import Frame
from mixer.link.rehearse.report import ReceiverKind
from mixer.link.session import Counts
from mixer.link.source import open_source
from mixer.live.bench.session import Session
from mixer.profile.aboard import Tunings
from tests.cli.boards import CART
from tests.link.receivers import Person, Receiver
from tests.tui.driving import bench
from tui.dialogs.windows import Ask

FRAME_US = 20_000


class Board:
    """A pulse reader with a receiver of one kind: one frame a poll while the transmitter's person acts."""

    def __init__(self, receiver: Receiver, order: tuple[str, ...]) -> None:
        self.person = Person(receiver)
        self.order = order
        self.counts = Counts()
        self.number = 0
        self.rehearsing = None
        self.said: list[str] = []

    def poll(self, wait_s: float) -> list[Frame]:
        """The next frame."""
        del wait_s
        now_us = self.number * FRAME_US
        running = self.rehearsing
        if running is not None and running.prompt is not None:
            answer = self.person.act(running.prompt, now_us)
            if answer and running.waited_s >= 0.25:
                running.shown()
                running.answer(answer[0])
        pulses = self.person.receiver.pulses(now_us, self.person.on_air())
        widths = tuple(2 * pulses.get(name, 0) for name in self.order)
        self.number += 1
        return [Frame(self.number & 0xFFFF, now_us & 0xFFFFFFFF, widths, 1, 7400)]

    def close(self) -> None:
        """Nothing to give back."""


def gone_through(folder: Path, kind: ReceiverKind) -> tuple[dict[str, object], str]:
    """The saved result of a whole rehearsal on the bench, and what the screen showed at its end."""
    robot = folder / "small.toml"
    robot.write_text(CART)
    board = Board(Receiver(kind), ("throttle", "steer", "arm"))

    def connect(session: Session) -> None:
        session.connect(open_source("board", Tunings(session.tuning.profile), lambda: board))
        session.link._stop.set()  # this test polls by itself, frame by frame
        session.link._thread.join()

    async def story() -> str:
        async with bench(folder, "small", prepare=connect, size=(160, 50)) as driven:
            assert isinstance(driven.app.screen, Ask)
            await driven.press("enter", "G")
            assert isinstance(driven.app.screen, Ask)
            await driven.press("enter")
            board.rehearsing = driven.app.bench.rehearsing
            assert board.rehearsing is not None
            for _ in range(20_000):
                if board.rehearsing.prompt is None:
                    break
                driven.session.link.poll_once()
                board.rehearsing.look()
            driven.run(0.2)
            shown = driven.text()
            await driven.press("enter")
            driven.app.screen.query_one("#typed").value = str(folder / "result.json")
            await driven.press("enter")
            return shown

    shown = asyncio.run(story())
    return json.loads((folder / "result.json").read_text()), shown


def test_a_receiver_that_stops_passes_on_the_bench(tmp_path: Path) -> None:
    """Wheels up, every step done, all passed, saved as JSON for the sheet."""
    result, shown = gone_through(tmp_path, ReceiverKind.STOPS)

    assert result["passed"] is True, result
    assert "every step passed" in shown


def test_a_receiver_that_holds_fails_on_the_bench(tmp_path: Path) -> None:
    """A receiver that repeats its last frame is found out, on the screen as well."""
    result, shown = gone_through(tmp_path, ReceiverKind.HOLDS)

    assert result["passed"] is False
    assert "not every step passed" in shown


def test_it_looks_at_the_link_alone_and_is_left_only_on_purpose(tmp_path: Path) -> None:
    """While it runs nobody else gets the sticks; G shows it again, s skips, ⌫ repeats, esc asks."""
    (tmp_path / "small.toml").write_text(CART)
    board = Board(Receiver(ReceiverKind.STOPS), ("throttle", "steer", "arm"))

    def connect(session: Session) -> None:
        session.connect(open_source("board", Tunings(session.tuning.profile), lambda: board))
        session.link._stop.set()
        session.link._thread.join()

    async def story() -> None:
        async with bench(tmp_path, "small", prepare=connect, size=(80, 24)) as driven:

            def passes(frames: int) -> None:
                for _ in range(frames):
                    driven.session.link.poll_once()
                driven.run(0.1)

            state = driven.app.bench
            await driven.press("enter", "M")
            assert driven.snapshot.transport.mode == "hand"
            await driven.press("G", "enter")
            running = state.rehearsing
            assert driven.snapshot.transport.mode == "link"
            for key in ("M", "O", "p"):
                await driven.press(key)
                assert "receiver test" in state.message[0]
                assert driven.snapshot.transport.mode == "link"
                assert driven.app.screen is driven.screen
            await driven.press("t")
            assert "receiver test (G)" in driven.text()
            await driven.press("G")
            assert (state.rehearsing, state.looking.drawer) == (running, "rehearse")
            passes(60)
            assert running.prompt.step == "stick throttle"
            await driven.press("s")
            passes(30)
            assert running.prompt.step == "stick steer"
            await driven.press("backspace")
            assert running.prompt.step == "stick throttle"
            await driven.press("escape")
            assert isinstance(driven.app.screen, Ask)
            await driven.press("escape")
            assert state.rehearsing is running
            await driven.press("escape", "down", "enter")
            assert state.rehearsing is None
            assert driven.snapshot.transport.mode == "link"
            await driven.press("M")
            assert driven.snapshot.transport.mode == "hand"

    asyncio.run(story())
